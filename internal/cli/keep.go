package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"runtime"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

const (
	passphraseEnv   = "FAIRSTICK_PASSPHRASE"
	passphraseTries = 3
)

// given gives the passphrase of a file or of the environment; ok is false when there is neither.
func (c *console) given() (passphrase []byte, ok bool, err error) {
	if c.pass == "" {
		p, ok := os.LookupEnv(passphraseEnv)
		return []byte(p), ok, nil
	}
	p, err := c.readPassphrase(c.pass)
	return p, err == nil, err
}

func (c *console) readPassphrase(file string) (passphrase []byte, err error) {
	info, err := os.Stat(file)
	if err == nil {
		passphrase, err = os.ReadFile(file)
	}
	if err != nil {
		return nil, fault.New(fault.Invalid, "passphrase-file", "The file of the passphrase, "+file+", cannot be read.", "", "Check its name.").Because(err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		fmt.Fprintf(c.err, "warning: other users of this computer can read the passphrase in %s; chmod 600 ends that.\n", file)
	}
	return bytes.TrimRight(passphrase, "\r\n"), nil
}

// terminal gives the terminal that somebody sits at; ok is false when the input is something else.
func (c *console) terminal() (fd int, ok bool) {
	f, isFile := c.in.(*os.File)
	if !isFile || !term.IsTerminal(int(f.Fd())) {
		return 0, false
	}
	return int(f.Fd()), true
}

// unseen asks at the terminal without showing what is typed.
func (c *console) unseen(fd int, question string) ([]byte, error) {
	fmt.Fprint(c.err, question)
	p, err := term.ReadPassword(fd)
	fmt.Fprintln(c.err)
	return p, err
}

// passphrase gives the passphrase of a record that needs one: from the file, the environment or the terminal. It is empty
// when there is none of these.
func (c *console) passphrase() ([]byte, error) {
	p, ok, err := c.given()
	if ok || err != nil {
		return p, err
	}
	fd, ok := c.terminal()
	if !ok {
		return nil, nil
	}
	return c.unseen(fd, "Passphrase of the record: ")
}

// again runs what asks for a passphrase, and once more when it was typed wrongly.
func (c *console) again(run func(ask func() ([]byte, error)) error) error {
	for try := 1; ; try++ {
		err := run(c.passphrase)
		_, env := os.LookupEnv(passphraseEnv)
		_, typed := c.terminal()
		if !programme.IsWrongPassphrase(err) || env || c.pass != "" || !typed || try == passphraseTries {
			return err
		}
		fmt.Fprintln(c.err, "This is not the passphrase. Look for capital letters and spaces, and try again.")
	}
}

// folder is a data folder whose opening speaks at the terminal when it takes long: at once, and again every ten seconds.
func (c *console) folder(dir string, ask func() ([]byte, error)) Folder {
	var said time.Time
	return Folder{Dir: dir, Passphrase: ask, Slow: func(sentence string) {
		if now := time.Now(); said.IsZero() || now.Sub(said) >= 10*time.Second {
			said = now
			fmt.Fprintln(c.err, sentence)
		}
	}}
}

// open opens a data folder.
func (c *console) open(ctx context.Context, dir string, look bool) (p *programme.Programme, closer io.Closer, err error) {
	err = c.again(func(ask func() ([]byte, error)) error {
		p, closer, err = c.app.Open(ctx, c.folder(dir, ask), look, c.log())
		return err
	})
	return p, closer, err
}

const passphraseRule = "At least 12 characters, or 4 words that do not belong together. A PIN is not enough."

// newPassphrase asks for a passphrase twice. It is empty when nobody is there to be asked, or when optional and nothing is
// typed.
func (c *console) newPassphrase(what string, optional bool) ([]byte, error) {
	fd, ok := c.terminal()
	if !ok {
		return nil, nil
	}
	fmt.Fprintln(c.err, passphraseRule)
	for try := 1; ; try++ {
		p, err := c.unseen(fd, what)
		if err != nil || len(p) == 0 && optional {
			return nil, err
		}
		err = programme.CheckPassphrase(p)
		if err == nil {
			same, e := c.unseen(fd, "The same once more: ")
			if e != nil {
				return nil, e
			}
			if bytes.Equal(p, same) {
				return p, nil
			}
			err = fault.New(fault.Invalid, "passphrase-typed", "The two are not the same.", "", "Type it twice.")
		}
		if try == passphraseTries {
			return nil, err
		}
		fmt.Fprintln(c.err, err)
	}
}

// firstPassphrase gives the passphrase of a new record; empty for none.
func (c *console) firstPassphrase(none bool) ([]byte, error) {
	if none {
		return nil, nil
	}
	p, ok, err := c.given()
	if err != nil {
		return nil, err
	}
	if !ok {
		p, err = c.newPassphrase("Passphrase of the new record, or nothing for none: ", true)
	}
	if err != nil || len(p) == 0 {
		return nil, err
	}
	return p, programme.CheckPassphrase(p)
}

const noPassphraseCaution = "The record has no passphrase: whoever takes this laptop can read the names and telephone numbers in it, unless its disk is encrypted.\nSet one with: fairstick passphrase"

func (c *console) passphraseCommand() *cobra.Command {
	var file string
	cmd := &cobra.Command{
		Use:   "passphrase",
		Short: "Set or change the passphrase that encrypts the record",
		Long: `Sets the passphrase of a record that has none, which encrypts the whole record, or changes it. Nobody can read the
record without it, and nobody can give it back to you: write it down and keep it away from the laptop.
` + passphraseRule + ` The record may not be in use by a running server.

The old passphrase is asked for, or read from --passphrase-file or FAIRSTICK_PASSPHRASE. Older backups keep the passphrase
of their day.`,
		Example: "  fairstick passphrase",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.setPassphrase(cmd.Context(), file)
		},
	}
	cmd.Flags().StringVar(&file, "new-passphrase-file", "", "file with the new passphrase (default: asked for)")
	return cmd
}

func (c *console) setPassphrase(ctx context.Context, file string) error {
	dir, err := c.dir()
	if err != nil {
		return err
	}
	var old []byte
	return c.again(func(ask func() ([]byte, error)) error {
		p, closer, err := c.app.Open(ctx, c.folder(dir, func() (_ []byte, err error) { old, err = ask(); return old, err }), false, c.log())
		if err != nil {
			return err
		}
		first := !p.Sealed()
		err = func() error {
			fresh, err := c.nextPassphrase(file)
			if err != nil {
				return err
			}
			return p.SetPassphrase(ctx, programme.Actor{}, old, fresh)
		}()
		if e := closer.Close(); err == nil {
			err = e
		}
		if err != nil {
			return err
		}
		if first {
			fmt.Fprintln(c.out, "The record is encrypted. Write the passphrase down and keep it away from the laptop: without it nobody can read the record again.")
		} else {
			fmt.Fprintln(c.out, "The passphrase is changed. Older backups keep the one of their day.")
		}
		return nil
	})
}

func (c *console) nextPassphrase(file string) ([]byte, error) {
	if file != "" {
		return c.readPassphrase(file)
	}
	return c.newPassphrase("New passphrase: ", false)
}

func (c *console) backupCommand() *cobra.Command {
	var verify bool
	cmd := &cobra.Command{
		Use:   "backup FILE",
		Short: "Write the whole record into one encrypted file, and prove that it can be read back",
		Long: `Writes everything that is in the record at this moment into one new file; a server may be at work. The file is always
encrypted: with the passphrase of the record, or for a record without one with a passphrase that is asked for. Then it is read
back, decrypted, opened and checked; only a file that passes is kept. A file that exists is never replaced.

With --verify nothing is written: the file is read to its end, opened and checked.`,
		Example: "  fairstick backup /media/stick/2026-10-10.backup\n  fairstick backup --verify /media/stick/2026-10-10.backup",
		Args:    exactly(1, "the name of the file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if verify {
				return c.verifyBackup(cmd.Context(), args[0])
			}
			return c.with(cmd.Context(), true, func(p *programme.Programme) error { return c.backup(cmd.Context(), p, args[0]) })
		},
	}
	cmd.Flags().BoolVar(&verify, "verify", false, "read a backup and check it, write nothing")
	return cmd
}

func (c *console) backup(ctx context.Context, p *programme.Programme, file string) error {
	var passphrase []byte
	if !p.Sealed() {
		var ok bool
		var err error
		if passphrase, ok, err = c.given(); err == nil && !ok {
			fmt.Fprintln(c.err, "The record has no passphrase; the backup gets one of its own.")
			passphrase, err = c.newPassphrase("Passphrase of the backup: ", false)
		}
		if err != nil {
			return err
		}
	}
	b, err := p.Backup(ctx, file, passphrase)
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "%s: %s. It was read back, opened and checked.\n", file, holds(b.Manifest))
	return c.troubles(b)
}

// holds says what a backup holds.
func holds(m programme.Manifest) string {
	if m.Entries == 0 {
		return "no entries yet"
	}
	return fmt.Sprintf("%d entries of %d laptops, the last of %s", m.Entries, len(m.Chains), m.Last.Local().Format("2006-01-02 15:04"))
}

// troubles says what the check of a backup found.
func (c *console) troubles(b programme.Backup) error {
	for _, s := range b.Report.Problems {
		fmt.Fprintln(c.out, "problem:", s)
	}
	if n := len(b.Report.Problems); n > 0 {
		return fault.New(fault.Unusable, "record-damaged", fmt.Sprintf("What is in the backup has %d problems; the record had them too.", n), "Figures made from it cannot be trusted.",
			"Keep it, and look for an older backup without them.")
	}
	return nil
}

func (c *console) verifyBackup(ctx context.Context, file string) error {
	var b programme.Backup
	err := c.again(func(ask func() ([]byte, error)) (err error) {
		b, err = c.app.VerifyBackup(ctx, Folder{Passphrase: ask}, file, c.log())
		return err
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "%s: %s, made %s. It was read to its end, opened and checked.\n", file, holds(b.Manifest), b.Manifest.Made.Local().Format("2006-01-02 15:04"))
	return c.troubles(b)
}

func (c *console) restoreCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "restore FILE",
		Short: "Make a new data folder from a backup",
		Long: `Reads a backup into a new, empty data folder and checks it. The laptop gets a name of its own in the record, so that it
and the old one may both go on. The record is encrypted, with the passphrase of the backup.`,
		Example: "  fairstick restore /media/stick/2026-10-10.backup --data ~/screening",
		Args:    exactly(1, "the name of a backup"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.restore(cmd.Context(), args[0])
		},
	}
}

func (c *console) restore(ctx context.Context, file string) error {
	dir, err := c.dir()
	if err != nil {
		return err
	}
	return c.again(func(ask func() ([]byte, error)) (err error) {
		p, m, closer, err := c.app.Restore(ctx, c.folder(dir, ask), file, c.log())
		if err != nil {
			return err
		}
		defer func() {
			if e := closer.Close(); err == nil {
				err = e
			}
		}()
		fmt.Fprintf(c.out, "The record is in %s: %s. The backup was made %s.\n", dir, holds(m), m.Made.Local().Format("2006-01-02 15:04"))
		if age := time.Since(m.Made); age > 24*time.Hour {
			fmt.Fprintf(c.out, "What was recorded in the %d days since then is not in it.\n", int(age.Hours()/24))
		}
		r, err := p.Check(ctx)
		if err != nil {
			return err
		}
		return c.checked(r)
	})
}
