// Package cli is the command line. Calculators read flags and need no record; the others open a data folder through the
// App that the composition root hands in. Errors go to standard error in one or two lines; bad cells of a file have a line each.
//
// Exit codes: 0 done, 1 the act was refused or went wrong, 2 what was typed cannot be right.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// App is what the commands need from the composition root.
type App struct {
	DataDir func() (string, error)
	// Open opens a data folder; with look, other processes may be writing.
	Open func(ctx context.Context, at Folder, look bool, log *slog.Logger) (*programme.Programme, io.Closer, error)
	// Create makes a new, empty data folder; it is encrypted when the passphrase is not empty.
	Create func(ctx context.Context, at Folder, log *slog.Logger) (*programme.Programme, io.Closer, error)
	// Serve serves the pages of a data folder until the context ends; it calls ready with the address first. A record whose
	// passphrase nobody gives is served locked.
	Serve func(ctx context.Context, at Folder, a Address, version string, log *slog.Logger, ready Ready) error
	// Restore makes a new data folder from a backup; VerifyBackup only reads the backup and checks it.
	Restore      func(ctx context.Context, at Folder, file string, log *slog.Logger) (*programme.Programme, programme.Manifest, io.Closer, error)
	VerifyBackup func(ctx context.Context, at Folder, file string, log *slog.Logger) (programme.Backup, error)
	// Demo makes the invented day in a folder and serves it until the context ends.
	Demo func(ctx context.Context, dir string, at Address, version string, log *slog.Logger, ready func(url, fingerprint string)) error
}

// Folder is a data folder and who is asked for its passphrase, at most once and only if it needs one. An empty answer
// means that nobody gives one.
type Folder struct {
	Dir        string
	Passphrase func() ([]byte, error)
	Slow       func(sentence string) // told about once a second what opening does, when that takes long; nil tells nobody
}

// Ready is told where the pages are; locked says that the first one asks for the passphrase.
type Ready func(url, fingerprint string, locked bool)

// Address is where the pages are served.
type Address struct {
	Addr string
	LAN  bool

	Public bool
	Copy   string // folder of a second copy; empty for the one that was set before
}

// console is what a command reads and writes.
type console struct {
	app      App
	in       io.Reader
	out, err io.Writer
	data     string
	pass     string // file of the passphrase
	verbose  bool
}

// Run runs one command line and gives the exit code.
func Run(ctx context.Context, app App, args []string, in io.Reader, out, errOut io.Writer) int {
	c := &console{app: app, in: in, out: out, err: errOut}
	root := c.root()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	return c.say(err)
}

// say writes an error and its hint and gives its exit code.
func (c *console) say(err error) int {
	var f *fault.Fault
	if !errors.As(err, &f) {
		said, _, _ := strings.Cut(err.Error(), ": strconv.") // how a number could not be read is no news to a person
		fmt.Fprintf(c.err, "error: %s\nhint: fairstick --help lists the commands and what they take.\n", said)
		return 2
	}
	if f.Kind == fault.Internal && errors.Unwrap(f) != nil {
		fmt.Fprintf(c.err, "error: %s (%s)\n", f.Sentence, errors.Unwrap(f))
		return 1
	}
	line := f.Sentence
	if f.Why != "" {
		line += " " + f.Why
	}
	fmt.Fprintf(c.err, "error: %s\n", line)
	if f.Do != "" {
		fmt.Fprintf(c.err, "hint: %s\n", f.Do)
	}
	if f.Kind == fault.Invalid {
		return 2
	}
	return 1
}

func (c *console) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "fairstick",
		Short: "Run a community blood-glucose screening programme",
		Long: `Fairstick runs a community blood-glucose screening programme from one laptop without internet:
set-up, two levels of control on every meter, desk, test, explain, board, closing and report.

A meter reading can neither diagnose nor rule out diabetes. Local rules and licensed people decide;
symptoms outrank the number.

Exit codes: 0 done; 1 the act was refused or went wrong; 2 what was typed cannot be right.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Version:       Version(),
	}
	root.PersistentFlags().StringVar(&c.data, "data", "", "folder of the record (default: the system's usual place, or FAIRSTICK_DATA)")
	root.PersistentFlags().StringVar(&c.pass, "passphrase-file", "", "file with the passphrase of the record, readable by you alone (default: asked for, or FAIRSTICK_PASSPHRASE)")
	root.PersistentFlags().BoolVarP(&c.verbose, "verbose", "v", false, "write a log to standard error")
	root.AddCommand(c.demoCommand(), c.serveCommand(), c.initCommand(), c.interpretCommand(), c.riskCommand(), c.planCommand(), c.compareCommand(), c.controlsCommand(), c.reportCommand(), c.checkCommand(), c.lookBackCommand(), c.importCommand(), c.exportCommand(), c.formsCommand(),
		c.passphraseCommand(), c.backupCommand(), c.restoreCommand())
	return root
}

// Version is the version of this program from its build.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "development"
	}
	return info.Main.Version
}

func (c *console) log() *slog.Logger {
	if c.verbose {
		return slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelDebug}))
	}
	return slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
}

// dir is the data folder that the flags or the system name.
func (c *console) dir() (string, error) {
	if c.data != "" {
		return c.data, nil
	}
	return c.app.DataDir()
}

// with opens the record, runs a command on it and closes it.
func (c *console) with(ctx context.Context, look bool, run func(*programme.Programme) error) (err error) {
	dir, err := c.dir()
	if err != nil {
		return err
	}
	p, closer, err := c.open(ctx, dir, look)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closer.Close()) }()
	return run(p)
}

// noArgs refuses words that a command does not take.
func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return fmt.Errorf("%s takes no words, but got %q", cmd.CommandPath(), args[0])
	}
	return nil
}

// exactly asks for a number of words.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n {
			return fmt.Errorf("%s needs %s", cmd.CommandPath(), what)
		}
		return nil
	}
}
