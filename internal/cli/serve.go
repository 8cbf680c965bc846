package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

const defaultAddr = "127.0.0.1:8420"

func (c *console) demoCommand() *cobra.Command {
	var at Address
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Enter an invented screening day in mid-morning",
		Long: `Makes an invented screening day, with three closed events of the season before it, and serves its pages on this
laptop. Everything in it is invented; the page of signing in shows the PINs. Each start begins the same day again. The address is printed on the first line.`,
		Example: "  fairstick demo\n  fairstick demo --addr 127.0.0.1:9000",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir := c.data
			if dir == "" {
				dir = filepath.Join(os.TempDir(), fmt.Sprintf("fairstick-demo-%d", os.Getuid()))
			}
			return c.app.Demo(cmd.Context(), dir, at, Version(), c.log(), func(url, print string) {
				c.ready(url, print)
				fmt.Fprintln(c.out, "Everything here is invented. Choose a name and use the PIN shown beside it. Press Ctrl-C to stop.")
			})
		},
	}
	cmd.Flags().StringVar(&at.Addr, "addr", defaultAddr, "address to serve on; port 0 takes a free one")
	return cmd
}

func (c *console) ready(url, fingerprint string) {
	fmt.Fprintln(c.out, url)
	if fingerprint != "" {
		fmt.Fprintf(c.out, "Phones on this network open this address; the page Phones shows it as a code to scan. Compare the certificate's SHA-256:\n%s\n", fingerprint)
	}
}

func (c *console) serveCommand() *cobra.Command {
	var at Address
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Serve the pages of your programme",
		Long: `Serves the pages of your programme's record. Without --lan only this laptop can open them. With --lan phones and
tablets on the local network can, over an encrypted connection with a certificate that this laptop makes itself.`,
		Example: "  fairstick serve\n  fairstick serve --lan --addr 0.0.0.0:8420",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := c.dir()
			if err != nil {
				return err
			}
			if at.LAN && !cmd.Flags().Changed("addr") {
				at.Addr = "0.0.0.0:8420"
			}
			return c.again(func(ask func() ([]byte, error)) error {
				return c.app.Serve(cmd.Context(), c.folder(dir, ask), at, Version(), c.log(), func(url, print string, locked bool) {
					c.ready(url, print)
					if locked {
						fmt.Fprintln(c.out, "The record is locked: open the address on this laptop and type the passphrase there.")
					}
					fmt.Fprintln(c.out, "The record is in", dir+". Press Ctrl-C to stop.")
				})
			})
		},
	}
	cmd.Flags().StringVar(&at.Addr, "addr", defaultAddr, "address to serve on; port 0 takes a free one")
	cmd.Flags().BoolVar(&at.LAN, "lan", false, "serve phones on the local network, encrypted")
	cmd.Flags().StringVar(&at.Copy, "copy", "", "folder on a stick or another disk where a second copy is kept, now and at later starts")
	cmd.Flags().BoolVar(&at.Public, "allow-public", false, "also answer on an address of the open internet")
	return cmd
}

func (c *console) initCommand() *cobra.Command {
	var f programme.Founding
	var none bool
	cmd := &cobra.Command{
		Use:   "init",
		Short: "Make the record of a new programme and its first lead",
		Long: `Makes an empty record, its first lead and the default protocol as a draft. What is not given by flags is asked for.
The PIN is read from standard input, so that it does not stay in the shell's history. A passphrase encrypts the record: it is
asked for at the terminal, or read from --passphrase-file or FAIRSTICK_PASSPHRASE; without one the record is not encrypted.`,
		Example: "  fairstick init --programme \"Larkfield Sugar Check\" --lead \"Odile Marchetti\"",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := c.dir()
			if err != nil {
				return err
			}
			in := bufio.NewReader(c.in)
			for _, q := range []struct {
				ask string
				to  *string
			}{{"Name of the programme: ", &f.Programme}, {"Name of its lead: ", &f.Lead}, {"PIN of the lead, four to six digits: ", &f.PIN}} {
				if *q.to == "" {
					if *q.to, err = ask(c, in, q.ask); err != nil {
						return err
					}
				}
			}
			return c.found(cmd.Context(), dir, f, none)
		},
	}
	cmd.Flags().StringVar(&f.Programme, "programme", "", "name of the programme")
	cmd.Flags().StringVar(&f.Lead, "lead", "", "name of its first lead")
	cmd.Flags().BoolVar(&none, "no-passphrase", false, "do not ask for a passphrase and do not encrypt the record")
	return cmd
}

func (c *console) found(ctx context.Context, dir string, f programme.Founding, none bool) (err error) {
	if err := programme.CheckFounding(f); err != nil {
		return err
	}
	passphrase, err := c.firstPassphrase(none)
	if err != nil {
		return err
	}
	p, closer, err := c.app.Create(ctx, Folder{Dir: dir, Passphrase: func() ([]byte, error) { return passphrase, nil }}, c.log())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closer.Close()) }()
	if _, err := p.Found(ctx, f); err != nil {
		return err
	}
	if !p.Sealed() {
		fmt.Fprintln(c.out, noPassphraseCaution)
	}
	fmt.Fprintf(c.out, "The record of %s is in %s.\nNext: fairstick serve, then sign in as %s and open Set-up.\n", f.Programme, dir, f.Lead)
	return nil
}

func ask(c *console, in *bufio.Reader, question string) (string, error) {
	fmt.Fprint(c.out, question)
	line, err := in.ReadString('\n')
	line = strings.TrimSpace(line)
	if line == "" {
		return "", fault.New(fault.Invalid, "no-answer", "No answer was given to: "+strings.TrimSuffix(strings.TrimSpace(question), ":")+".", "", "Run fairstick init again, or give it by a flag.").Because(err)
	}
	return line, nil
}
