package web

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// keepView is how the record is kept: encrypted or not, when it locks, where its copy is, when it was last backed up.
type keepView struct {
	Page     ui.Page
	Failed   *fault.Fault // what the last try to encrypt said
	Sealed   bool
	CanLock  bool
	Idle     int
	Copy     programme.CopyState
	CopyLine string
	Backup   string
	NoBackup bool
}

func toKeep() *ui.Link { return &ui.Link{Href: "/keep", Label: "Keeping the record"} }

func (c *Context) keepPage(title, sentence string) ui.Page {
	p := c.page(title)
	p.Lead, p.Back = sentence, toKeep()
	return p
}

func keepShow(s *Server, c *Context) error {
	house := s.prog.House()
	v := keepView{Page: c.page("Keeping the record"), Sealed: s.prog.Sealed(), Copy: s.prog.CopyState()}
	v.Page.Lead, v.Page.Back = "Who can read it when the laptop is gone, and where else it is.", toSetup()
	v.CanLock = v.Sealed && house.Lock != nil
	if house.Failed != nil {
		v.Failed = house.Failed()
	}
	var err error
	if v.Idle, err = s.prog.RecordIdle(c.R.Context()); err != nil {
		return err
	}
	now := s.prog.Now()
	v.CopyLine = copyLine(v.Copy, now)
	last, ok := s.prog.LastBackup()
	v.NoBackup = !ok
	if ok {
		v.Backup = fmt.Sprintf("The last one was made %s and holds %s. It was read back and checked.", ago(last.At, now), entries(last.Entries))
	}
	return c.Render(http.StatusOK, KeepPage(v))
}

func entries(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return strconv.Itoa(n) + " entries"
}

// ago says when something was, by the clock of this laptop.
func ago(t, now time.Time) string {
	t = t.In(now.Location())
	if t.Format(time.DateOnly) == now.Format(time.DateOnly) {
		return "today at " + t.Format("15:04")
	}
	return "on " + t.Format("2 January 2006 at 15:04")
}

func copyLine(s programme.CopyState, now time.Time) string {
	switch {
	case s.Dir == "":
		return "None is kept. When this laptop fails, everything since the last backup is lost."
	case s.Fault != nil && s.Behind > 0:
		return fmt.Sprintf("It has not been written since %s and lacks %s.", s.Since.In(now.Location()).Format("15:04"), entries(s.Behind))
	case s.Fault != nil:
		return "It has not been written since " + s.Since.In(now.Location()).Format("15:04") + "."
	case s.Whole.IsZero():
		return "It is being made in " + s.Dir + "."
	case s.Behind > 0:
		return fmt.Sprintf("In %s; %s are being written.", s.Dir, entries(s.Behind))
	}
	return "In " + s.Dir + "; it holds everything."
}

func keepLock(s *Server, c *Context) error {
	if err := s.prog.LockNow(c.R.Context(), c.Actor()); err != nil {
		return err
	}
	return c.Go("/")
}

// keepForm is a page of one act.
type keepForm struct {
	Page   ui.Page
	Fault  *fault.Fault
	Sealed bool
	Idle   string
	Copy   programme.CopyState
	Line   string
	Dir    string
	Here   bool // the form was typed on the laptop itself
}

func keepPassphraseShow(_ *Server, c *Context) error { return c.passphraseForm(nil) }

func (c *Context) passphraseForm(f *fault.Fault) error {
	v := keepForm{Fault: f, Sealed: c.s.prog.Sealed(), Here: onLaptop(c.R)}
	if v.Sealed {
		v.Page = c.keepPage("Change the passphrase", "The record stays as it is; only what opens it changes. Older backups keep the passphrase of their day.")
	} else {
		v.Page = c.keepPage("Encrypt the record", "Whoever takes this laptop could read the names and telephone numbers in it. With a passphrase they cannot.")
	}
	return c.Show(f, KeepPassphrasePage(v))
}

func keepPassphrase(s *Server, c *Context) error {
	fresh := c.R.PostFormValue("passphrase")
	if !onLaptop(c.R) {
		return c.passphraseForm(fault.New(fault.Refused, "laptop-only", "The passphrase is set on the laptop itself.", "It would travel over the network otherwise.", "Open this page there."))
	}
	if fresh != c.R.PostFormValue("again") {
		return c.passphraseForm(fault.BadField("again", "The two passphrases are not the same. Type both again."))
	}
	sealed := s.prog.Sealed()
	err := s.prog.SetPassphrase(c.R.Context(), c.Actor(), []byte(c.R.PostFormValue("old")), []byte(fresh))
	if err != nil {
		f := fault.Of(err)
		if programme.IsWrongPassphrase(err) {
			wrong := *f
			wrong.Fields = nil
			f = wrong.Field("old", "Wrong passphrase.")
		}
		return c.passphraseForm(f)
	}
	if sealed {
		return c.Done("/keep", "The passphrase is changed.")
	}
	return c.Done("/keep", "Write the passphrase down and keep it away from the laptop: without it nobody can read the record.")
}

func keepIdleShow(s *Server, c *Context) error {
	n, err := s.prog.RecordIdle(c.R.Context())
	if err != nil {
		return err
	}
	return c.idleForm(nil, strconv.Itoa(n))
}

func (c *Context) idleForm(f *fault.Fault, minutes string) error {
	v := keepForm{Fault: f, Idle: minutes, Sealed: c.s.prog.Sealed()}
	v.Page = c.keepPage("When the record locks itself", "After this long without anybody at work, the passphrase is asked again. It never locks while an event is open.")
	return c.Show(f, KeepIdlePage(v))
}

func keepIdle(s *Server, c *Context) error {
	n, err := c.Int("idle", "Minutes")
	if err == nil {
		err = s.prog.SetRecordIdle(c.R.Context(), c.Actor(), n)
	}
	if err != nil {
		return c.idleForm(fault.Of(err), c.Form("idle"))
	}
	if n == 0 {
		return c.Done("/keep", "The record does not lock itself.")
	}
	return c.Done("/keep", fmt.Sprintf("The record locks after %d minutes without use.", n))
}

func keepCopyShow(s *Server, c *Context) error { return c.copyForm(nil, s.prog.CopyState().Dir) }

func (c *Context) copyForm(f *fault.Fault, dir string) error {
	v := keepForm{Fault: f, Sealed: c.s.prog.Sealed(), Copy: c.s.prog.CopyState(), Dir: dir}
	v.Line = copyLine(v.Copy, c.s.prog.Now())
	v.Page = c.keepPage("Second copy", "Every entry is also written to a stick or another disk within about a second. If this laptop fails, the copy is served from another one.")
	return c.Show(f, KeepCopyPage(v))
}

func keepCopy(s *Server, c *Context) error {
	dir := c.Form("copy")
	if c.Form("act") == "stop" {
		dir = ""
	} else if dir == "" {
		return c.copyForm(fault.BadField("copy", "Name a folder on a stick or another disk."), "")
	}
	if err := s.prog.SetCopy(c.R.Context(), c.Actor(), dir, c.Form("anew") == "yes"); err != nil {
		return c.copyForm(fault.Of(err), dir)
	}
	if dir == "" {
		return c.Done("/keep", "No second copy is kept from now on. What is in the old one stays there.")
	}
	return c.Done("/keep", "The second copy is being made. Look here again in a moment.")
}

func keepBackupShow(_ *Server, c *Context) error { return c.backupForm(nil) }

func (c *Context) backupForm(f *fault.Fault) error {
	v := keepForm{Fault: f, Sealed: c.s.prog.Sealed()}
	v.Page = c.keepPage("Backup", "The whole record in one encrypted file. It is read back and checked before you get it, which takes a moment.")
	return c.Show(f, KeepBackupPage(v))
}

// backupTime bounds the sending of a backup to a slow device.
const backupTime = 10 * time.Minute

func keepBackup(s *Server, c *Context) error {
	var passphrase []byte
	if !s.prog.Sealed() {
		passphrase = []byte(c.R.PostFormValue("passphrase"))
		if string(passphrase) != c.R.PostFormValue("again") {
			return c.backupForm(fault.BadField("again", "The two passphrases are not the same. Type both again."))
		}
	}
	dir, err := os.MkdirTemp("", "fairstick-download-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(dir) }() // encrypted
	name := "fairstick-" + s.prog.Now().Format("2006-01-02-1504") + ".backup"
	b, err := s.prog.Backup(c.R.Context(), filepath.Join(dir, name), passphrase)
	if err != nil {
		return c.backupForm(fault.Of(err))
	}
	if n := len(b.Report.Problems); n > 0 {
		return c.backupForm(fault.New(fault.Unusable, "record-damaged", fmt.Sprintf("The record has %d problems, and so would its backup.", n),
			"Figures made from it cannot be trusted.", "Run fairstick check on the laptop, and keep your older backups."))
	}
	f, err := os.Open(b.Path)
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }() // only read
	if err := http.NewResponseController(c.W).SetWriteDeadline(time.Now().Add(backupTime)); err != nil {
		s.log.Debug("no deadline for a download", "err", err)
	}
	h := c.W.Header()
	h.Set("Content-Type", "application/octet-stream")
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	h.Set("Content-Length", strconv.FormatInt(b.Size, 10))
	if _, err := io.Copy(c.W, f); err != nil {
		s.log.Debug("a backup was not taken to its end", "err", err)
	}
	return nil
}
