package programme

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/logbook"
	"fairstick/internal/people"
	"fairstick/internal/store"
)

// AttachEvidence is a file that shows that a task is done.
type AttachEvidence struct {
	Act
	Event, Task string
	Name        string // as the file is called
	Data        []byte
}

// AttachEvidence records a file beside a task: what it is, its SHA-256 and its bytes, sealed in parts under a key of its own. A
// newer file stands before an older one, which stays. A lead, a supervisor or the owner of the task may, also when the task is done
// or the event is closed.
func (p *Programme) AttachEvidence(ctx context.Context, a Actor, c AttachEvidence) (Done, error) {
	return do(ctx, p, a, c.Act, "evidence.attach", func(w *work) (Done, error) {
		ev, err := load[*event.State](w, event.Ref(c.Event))
		if err != nil {
			return Done{}, err
		}
		t, ok := ev.TaskOf(c.Task)
		if !ok {
			return Done{}, noTask()
		}
		if w.me == nil || w.me.ID != t.Owner {
			if err := w.need(people.Lead, people.Supervisor); err != nil {
				return Done{}, err
			}
		}
		b, err := w.evidence(ev.ID, t.Task, c.Data)
		if err != nil {
			return Done{}, err
		}
		ref := event.EvidenceRef(logbook.NewID(w.now))
		if b.Name, err = w.tx.Seal(ref, []byte(fileName(c.Name))); err != nil {
			return Done{}, err
		}
		if _, err := w.append(ref, b); err != nil {
			return Done{}, err
		}
		n := 0
		for part := range slices.Chunk(c.Data, event.EvidencePart) {
			n++
			sealed, err := w.tx.Seal(ref, part)
			if err != nil {
				return Done{}, err
			}
			if _, err := w.append(ref, event.EvidencePiece{N: n, Sealed: sealed}); err != nil {
				return Done{}, err
			}
		}
		return Done{ID: ref.ID}, nil
	})
}

// evidence looks at a file before it is kept.
func (w *work) evidence(eventID, task string, data []byte) (event.EvidenceAttached, error) {
	var b event.EvidenceAttached
	switch {
	case len(data) == 0:
		return b, fault.BadField("file", "The file is empty. Choose another one.")
	case len(data) > event.MostEvidence:
		return b, fault.BadField("file", "The file is larger than 5 MB. Take a smaller photo, or save the PDF smaller.")
	}
	if b.Media = event.MediaOf(data); b.Media == "" {
		return b, fault.BadField("file", "The file is no PDF, JPEG or PNG, whatever its name says, or it is cut short. Save it as one of these.")
	}
	sum := sha256.Sum256(data)
	b.Event, b.Task, b.Size, b.SHA256, b.Parts = eventID, task, len(data), hex.EncodeToString(sum[:]), (len(data)+event.EvidencePart-1)/event.EvidencePart
	files, err := w.files(eventID, task)
	if err != nil {
		return b, err
	}
	kept := 0
	for _, e := range files {
		if e.Erased() {
			continue
		}
		kept++
		if e.Details.SHA256 == b.SHA256 {
			return b, fault.New(fault.Conflict, "attached-already", fmt.Sprintf("This very file is attached to the task since %s.", e.At.Format("2 Jan 2006")), "", "Nothing more to do.").
				Field("file", "This very file is attached already.")
		}
	}
	if kept >= event.MostFilesEach {
		return b, fault.BadField("file", "This task has %d files. Put what belongs together into one PDF.", kept)
	}
	return b, nil
}

// files lists the files of a task, the first attached first.
func (w *work) files(eventID, task string) ([]*event.Evidence, error) {
	all, err := listed[*event.Evidence](w.tx.Children(event.EvidenceKind, eventID))
	return slices.DeleteFunc(all, func(e *event.Evidence) bool { return e.Details.Task != task }), err
}

// fileName is the last part of a name as a device gave it.
func fileName(name string) string {
	name = tidy(path.Base(strings.ReplaceAll(name, `\`, "/")))
	if r := []rune(name); len(r) > 80 {
		name = string(r[:80])
	}
	if strings.Trim(name, "./") == "" {
		return "file"
	}
	return name
}

// Attachment is one file of a task as it is listed.
type Attachment struct {
	ID, Event, Task string
	Name            string // empty when it was erased, or its key is not here yet
	Media           string
	Size            int // bytes
	SHA256          string
	At              time.Time
	By              string // person id
	Newest          bool   // of its task; the others were replaced
	Whole           bool   // every part has arrived
	Erased          string // why it was erased; empty while it is there
	ErasedAt        time.Time
}

// readAttachments lists the files of an event, of each task the newest first.
func readAttachments(v *store.View, eventID string) ([]Attachment, error) {
	all, err := listed[*event.Evidence](v.Children(event.EvidenceKind, eventID))
	if err != nil {
		return nil, err
	}
	var out []Attachment
	for _, e := range all {
		a := Attachment{ID: e.ID, Event: eventID, Task: e.Details.Task, Media: e.Details.Media, Size: e.Details.Size, SHA256: e.Details.SHA256, At: e.At, By: e.By, Whole: e.Whole()}
		if e.Gone != nil {
			a.Erased, a.ErasedAt = e.Gone.Reason, e.GoneAt
		} else if name, err := v.Open(event.EvidenceRef(e.ID), e.Details.Name); err == nil {
			a.Name = string(name)
		} else {
			a.Whole = false // its key has not come from the other laptop yet
		}
		out = append(out, a)
	}
	slices.SortStableFunc(out, func(a, b Attachment) int {
		return cmp.Or(cmp.Compare(a.Task, b.Task), b.At.Compare(a.At), cmp.Compare(b.ID, a.ID))
	})
	task := ""
	for i := range out {
		if a := &out[i]; a.Erased == "" && (task == "" || a.Task != task) {
			a.Newest, task = true, a.Task
		}
	}
	return out, nil
}

func ofTask(all []Attachment, task string) []Attachment {
	var out []Attachment
	for _, a := range all {
		if a.Task == task {
			out = append(out, a)
		}
	}
	return out
}

// TaskFiles lists the files of a task, the newest first, those that were replaced or erased too.
func (p *Programme) TaskFiles(ctx context.Context, eventID, task string) (out []Attachment, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		all, err := readAttachments(v, eventID)
		out = ofTask(all, task)
		return err
	})
	return out, err
}

// TaskFile gives the bytes of one file of a task. Only a lead or a supervisor may read it. A file that is not as it was attached is
// not given.
func (p *Programme) TaskFile(ctx context.Context, a Actor, eventID, task, id string) (Attachment, []byte, error) {
	var out Attachment
	var data []byte
	err := p.store.Read(ctx, func(v *store.View) error {
		me, ok, err := v.State(people.Ref(a.Person))
		if err != nil {
			return err
		}
		if !ok || !me.(*people.State).Has(people.Lead) && !me.(*people.State).Has(people.Supervisor) {
			return fault.New(fault.Denied, "role", "Files of the countdown are for the lead and the supervisors.", "They may show more than they should.", "Ask one of them to sign in here.")
		}
		all, err := readAttachments(v, eventID)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(all, func(x Attachment) bool { return x.ID == id && x.Task == task })
		if i < 0 {
			return missing(event.EvidenceRef(id))
		}
		out = all[i]
		switch {
		case out.Erased != "":
			return fault.New(fault.Missing, "evidence-erased", "This file was erased: "+strings.TrimSuffix(out.Erased, ".")+".", "Its key was destroyed; nobody can read it any more.", "Attach another one.")
		case !out.Whole:
			return fault.New(fault.Missing, "evidence-partly", "Not all of this file has arrived from the other laptop.", "", "Copy the record again, then open it.")
		}
		data, err = readEvidence(v, out.ID)
		return err
	})
	return out, data, err
}

// readEvidence puts the parts of a file together and compares them with what was attached.
func readEvidence(v *store.View, id string) ([]byte, error) {
	ref := event.EvidenceRef(id)
	recs, err := v.Records(ref)
	if err != nil {
		return nil, err
	}
	damaged := func(cause error) error {
		return fault.New(fault.Refused, "evidence-damaged", "This file is not as it was attached.", "It is not given, since it would prove nothing.", "Run `fairstick check`, and restore a backup if it names a problem.").Because(cause)
	}
	var head event.EvidenceAttached
	parts := map[int][]byte{}
	for _, r := range fact.Settle(recs) {
		switch b := r.Body.(type) {
		case event.EvidenceAttached:
			head = b
		case event.EvidencePiece:
			if parts[b.N], err = v.Open(ref, b.Sealed); err != nil {
				return nil, damaged(err)
			}
		}
	}
	var whole bytes.Buffer
	for n := range head.Parts {
		whole.Write(parts[n+1])
	}
	if sum := sha256.Sum256(whole.Bytes()); whole.Len() != head.Size || hex.EncodeToString(sum[:]) != head.SHA256 {
		return nil, damaged(nil)
	}
	return whole.Bytes(), nil
}

// checkEvidence reads every file that can be read, one after another.
func (p *Programme) checkEvidence(ctx context.Context) (problems []string, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		all, err := listed[*event.Evidence](v.All(event.EvidenceKind))
		if err != nil {
			return err
		}
		for _, e := range all {
			if e.Erased() || !e.Whole() {
				continue
			}
			if _, err := readEvidence(v, e.ID); err != nil {
				problems = append(problems, fmt.Sprintf("File %s, attached to task %s of event %s: %s", e.ID, e.Details.Task, e.Details.Event, fault.Of(err).Sentence))
			}
		}
		return ctx.Err()
	})
	return problems, err
}

// EraseEvidence makes a file unreadable for good: it shows a person, or does not belong here.
type EraseEvidence struct {
	Act
	Event, Task, File, Reason string
	Sign                      Sign // of a lead
}

// EraseEvidence records the erasure under a lead's signature and destroys the key of the file. That there was a file, who attached it
// and its checksum stay.
func (p *Programme) EraseEvidence(ctx context.Context, a Actor, c EraseEvidence) (Done, error) {
	signer, err := p.signed(ctx, c.Sign, people.Lead)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "evidence.erase", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		e, err := load[*event.Evidence](w, event.EvidenceRef(c.File))
		if err != nil {
			return Done{}, err
		}
		switch {
		case e.Details.Event != c.Event || e.Details.Task != c.Task:
			return Done{}, missing(event.EvidenceRef(c.File))
		case e.Erased():
			return Done{}, fault.New(fault.Conflict, "erased-already", "This file is erased already.", "", "Nothing more to do here.")
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.EvidenceRef(e.ID), event.EvidenceErased{Reason: reason, Signed: signer.ID})
		return Done{ID: e.ID}, err
	})
}
