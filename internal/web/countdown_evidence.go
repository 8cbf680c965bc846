package web

import (
	"fmt"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// evidenceRow is one file of a task.
type evidenceRow struct {
	Href string // where it is read; empty for those who may not, and for what is erased or not here yet
	Name string
	Who  string
	When string
	Kind string // form and size
	Says string // what became of it
}

var mediaWords = map[string]string{event.MediaPDF: "PDF", event.MediaJPEG: "JPEG", event.MediaPNG: "PNG"}

var mediaEnds = map[string]string{event.MediaPDF: ".pdf", event.MediaJPEG: ".jpg", event.MediaPNG: ".png"}

// fileSize writes a number of bytes for people.
func fileSize(n int) string {
	if n < 1_000_000 {
		return fmt.Sprintf("%d kB", max(1, (n+500)/1000))
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

func (c *Context) evidenceRow(task string, a programme.Attachment, name func(string) string) evidenceRow {
	r := evidenceRow{Name: a.Name, Who: name(a.By), When: civil.Of(a.At).Long(), Kind: mediaWords[a.Media] + ", " + fileSize(a.Size)}
	switch {
	case a.Erased != "":
		r.Name, r.Says = "Erased file", "Erased on "+civil.Of(a.ErasedAt).Long()+": "+a.Erased
	case !a.Whole:
		r.Name, r.Says = "A file from another laptop", "It has not arrived wholly."
	case !a.Newest:
		r.Says = "A newer file stands before it."
	}
	if c.holds(senior) && a.Erased == "" && a.Whole {
		r.Href = task + "/files/" + a.ID
	}
	return r
}

// evidence puts the files of a task and their forms on its page.
func (c *Context) evidence(v *taskView, d *programme.Day, t event.Task, base, refused string, f *fault.Fault) error {
	files, err := c.s.prog.TaskFiles(c.R.Context(), d.Event.ID, t.Task)
	if err != nil {
		return err
	}
	for _, a := range files {
		v.Files = append(v.Files, c.evidenceRow(base, a, d.NameOf))
	}
	if c.holds(senior) || c.Me.ID == t.Owner {
		form := c.dayForm("attach", base+"/files", refused, f)
		file := size(form.line("file", "The file", ""), ui.Full, ui.File, "A PDF, or a photo as JPEG or PNG, up to 5 MB. No participant may be named or seen on it.")
		file.Accept = ".pdf,.jpg,.jpeg,.png,application/pdf,image/jpeg,image/png"
		v.Attach = &officeForm{Form: form, Submit: "Attach the file", Upload: true, Parts: []part{{Items: []item{field(file)}}}}
	}
	if !c.holds(lead) {
		return nil
	}
	from, err := c.withPIN(people.Lead)
	if err != nil {
		return err
	}
	for _, a := range files {
		if a.Erased != "" {
			continue
		}
		form := c.dayForm("erase-"+a.ID, base+"/files/"+a.ID+"/erase", refused, f)
		v.Erase = append(v.Erase, thingForm{"Erase " + a.Name, officeForm{Form: form, Submit: "Erase it for good", Danger: true, Parts: []part{{
			Help:  "For a file that shows a person or does not belong here. Its key is destroyed, on every laptop; that there was a file stays in the record.",
			Items: append([]item{field(form.line("reason", "Why", ""))}, form.signature("sign", "Which lead answers for it?", from)...),
		}}}})
	}
	return nil
}

func (c *Context) taskPath() string { return c.countdownPath() + "/" + c.R.PathValue("task") }

func evidenceAdd(s *Server, c *Context) error {
	data, err := c.upload("file")
	if err == nil {
		_, err = s.prog.AttachEvidence(c.R.Context(), c.Actor(), programme.AttachEvidence{
			Act: c.Act(), Event: c.R.PathValue("event"), Task: c.R.PathValue("task"), Name: c.uploadName("file"), Data: data,
		})
	}
	if err != nil {
		return c.taskAgain("attach", fault.Of(err))
	}
	return c.Done(c.taskPath(), "The file is attached.")
}

// uploadName is what a file of the form is called on the device that sent it.
func (c *Context) uploadName(name string) string {
	file, head, err := c.R.FormFile(name)
	if err != nil { // nothing was sent, which the reading of it has said
		return ""
	}
	_ = file.Close()
	return head.Filename
}

// evidenceSend gives a file to be kept, never to be shown by the browser as a page of this program.
func evidenceSend(s *Server, c *Context) error {
	a, data, err := s.prog.TaskFile(c.R.Context(), c.Actor(), c.R.PathValue("event"), c.R.PathValue("task"), c.R.PathValue("file"))
	if err != nil {
		return err
	}
	c.W.Header().Set("Content-Security-Policy", "sandbox; default-src 'none'")
	return c.sendFile(a.Media, "evidence-"+civil.Of(a.At).String()+"-"+a.SHA256[:8]+mediaEnds[a.Media], data)
}

func evidenceErase(s *Server, c *Context) error {
	_, err := s.prog.EraseEvidence(c.R.Context(), c.Actor(), programme.EraseEvidence{
		Act: c.Act(), Event: c.R.PathValue("event"), Task: c.R.PathValue("task"), File: c.R.PathValue("file"), Reason: c.Form("reason"), Sign: c.Sign("sign"),
	})
	if err != nil {
		return c.taskAgain("erase-"+c.R.PathValue("file"), fault.Of(err))
	}
	return c.Done(c.taskPath(), "The file is erased. Nobody can read it any more.")
}
