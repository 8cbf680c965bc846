package programme_test

import (
	"bytes"
	"image"
	"image/png"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// scan is an invented PDF of a size, filled from a fixed source.
func scan(size int, seed uint64) []byte {
	head, tail := "%PDF-1.7\n", "\n%%EOF\n"
	body := make([]byte, size-len(head)-len(tail))
	r := rand.New(rand.NewPCG(seed, 1))
	for i := range body {
		body[i] = byte(r.Uint32())
	}
	return append(append([]byte(head), body...), tail...)
}

func picture(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 4, 4))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// permit puts one task on the countdown, of which Ann is the owner.
func (h *hall) permit() string {
	h.t.Helper()
	d, err := h.P.PlanTask(h.ctx, h.As("Lea Lead"), programme.PlanTask{Act: h.Act(), Event: h.Event, What: "Room permit", Days: 10, Owner: h.ID("Ann Screener")})
	h.must(err)
	return d.ID
}

func (h *hall) attach(who, task, name string, data []byte) (string, error) {
	d, err := h.P.AttachEvidence(h.ctx, h.As(who), programme.AttachEvidence{Act: h.Act(), Event: h.Event, Task: task, Name: name, Data: data})
	return d.ID, err
}

func (h *hall) files(task string) []programme.Attachment {
	h.t.Helper()
	list, err := h.P.TaskFiles(h.ctx, h.Event, task)
	h.must(err)
	return list
}

// A file goes through the record and comes back byte for byte: in many parts, replaced by a newer one, after a backup was restored.
func TestEvidenceIsKept(t *testing.T) {
	h := ahead(t)
	task := h.permit()
	first, second := scan(600_000, 1), scan(5<<20, 2)
	one, err := h.attach("Ann Screener", task, `C:\letters\permit of the hall.pdf`, first)
	h.must(err)
	h.later(time.Hour)
	two, err := h.attach("Lea Lead", task, "permit, signed.pdf", second)
	h.must(err)
	list := h.files(task)
	if len(list) != 2 || list[0].ID != two || !list[0].Newest || list[1].ID != one || list[1].Newest || list[1].Name != "permit of the hall.pdf" || list[1].By != h.ID("Ann Screener") || list[0].Size != 5<<20 || list[0].Media != "application/pdf" || !list[0].Whole {
		t.Fatalf("%+v", list)
	}
	c := h.countdown(h.Event)
	for _, d := range c.Open {
		if d.Subject == task && (len(d.Files) != 2 || d.Files[0].ID != two) {
			t.Errorf("the countdown has %+v", d.Files)
		}
	}
	_, err = h.P.FinishTask(h.ctx, h.As("Ann Screener"), programme.FinishTask{Act: h.Act(), Event: h.Event, Task: task})
	h.must(err) // the file shows it; no words are needed
	h.checked()

	path := filepath.Join(t.TempDir(), "copy.fairstick")
	_, err = h.P.Backup(h.ctx, path, []byte("four heron paper lantern"))
	h.must(err)
	back, _, err := store.Restore(h.ctx, store.Options{Dir: t.TempDir() + "/again", Catalogue: programme.Catalogue(), Now: h.Clock.Now, Passphrase: func() ([]byte, error) { return []byte("four heron paper lantern"), nil }}, path)
	h.must(err)
	defer func() { h.must(back.Close()) }()
	p := programme.New(back, h.Clock.Now, nil)
	for id, want := range map[string][]byte{one: first, two: second} {
		for name, from := range map[string]*programme.Programme{"the record": h.P, "the restored one": p} {
			_, got, err := from.TaskFile(h.ctx, h.As("Sue Supervisor"), h.Event, task, id)
			h.must(err)
			if !bytes.Equal(got, want) {
				t.Errorf("%s gives %d bytes, %d were attached", name, len(got), len(want))
			}
		}
	}
	if r, err := p.Check(h.ctx); err != nil || len(r.Problems) > 0 {
		t.Errorf("%v %v", r.Problems, err)
	}
}

func TestEvidenceIsRefused(t *testing.T) {
	h := ahead(t)
	task := h.permit()
	for _, x := range []struct {
		name string
		data []byte
		says string
	}{
		{"nothing.pdf", nil, "The file is empty."},
		{"large.pdf", scan(5<<20+1, 1), "larger than 5 MB"},
		{"page.pdf", []byte("<html><script>alert(1)</script></html>"), "no PDF, JPEG or PNG, whatever its name says"},
		{"cut.pdf", scan(4000, 1)[:1500], "cut short"},
	} {
		_, err := h.attach("Lea Lead", task, x.name, x.data)
		if f := fault.Of(err); err == nil || f.Kind != fault.Invalid || !strings.Contains(f.Fields["file"], x.says) {
			t.Errorf("%s: %v", x.name, err)
		}
	}
	_, err := h.attach("Bob Screener", task, "permit.png", picture(t)) // not the owner
	h.refused("role", err)
	_, err = h.attach("Lea Lead", "nothing", "permit.png", picture(t))
	h.refused("no-such-task", err)
	if list := h.files(task); len(list) != 0 {
		t.Errorf("something was kept: %+v", list)
	}

	again := programme.AttachEvidence{Act: h.Act(), Event: h.Event, Task: task, Name: "../../etc/permit\x00.png", Data: picture(t)}
	var id string
	for range 2 { // a second press
		d, err := h.P.AttachEvidence(h.ctx, h.As("Lea Lead"), again)
		h.must(err)
		id = d.ID
	}
	if list := h.files(task); len(list) != 1 || list[0].Name != "permit.png" || list[0].Media != "image/png" {
		t.Errorf("%+v", list)
	}
	_, err = h.attach("Lea Lead", task, "another name.png", picture(t))
	h.refused("attached-already", err)
	for i := range 9 {
		_, err := h.attach("Lea Lead", task, "more.pdf", scan(300, uint64(i)))
		h.must(err)
	}
	if _, err = h.attach("Lea Lead", task, "more.pdf", scan(300, 99)); !fault.Is(err, "field") && fault.Of(err).Fields["file"] == "" {
		t.Errorf("an eleventh file: %v", err)
	}
	_, _, err = h.P.TaskFile(h.ctx, h.As("Ann Screener"), h.Event, task, id)
	h.refused("role", err)
	_, _, err = h.P.TaskFile(h.ctx, h.As("Lea Lead"), h.Event, "another", id)
	h.refused("no-such-file", err)
}

// A file that shows a person is erased: nobody can read it, that it was there stays.
func TestEvidenceIsErased(t *testing.T) {
	h := ahead(t)
	task := h.permit()
	older, err := h.attach("Lea Lead", task, "letter.pdf", scan(300, 1))
	h.must(err)
	h.later(time.Minute)
	id, err := h.attach("Lea Lead", task, "crowd.png", picture(t))
	h.must(err)
	erase := programme.EraseEvidence{Act: h.Act(), Event: h.Event, Task: task, File: id, Reason: "faces of guests", Sign: h.Sign("Sue Supervisor")}
	_, err = h.P.EraseEvidence(h.ctx, h.As("Lea Lead"), erase)
	h.refused("signature-role", err)
	erase.Sign = h.Sign("Lea Lead")
	wrong := erase
	wrong.Task = "another"
	_, err = h.P.EraseEvidence(h.ctx, h.As("Lea Lead"), wrong)
	h.refused("no-such-file", err)
	_, err = h.P.EraseEvidence(h.ctx, h.As("Lea Lead"), erase)
	h.must(err)
	list := h.files(task)
	if len(list) != 2 || list[0].Erased != "faces of guests" || list[0].Name != "" || list[0].Newest || list[1].ID != older || !list[1].Newest {
		t.Errorf("%+v", list)
	}
	_, _, err = h.P.TaskFile(h.ctx, h.As("Lea Lead"), h.Event, task, id)
	h.refused("evidence-erased", err)
	erase.ID = h.Act().ID
	_, err = h.P.EraseEvidence(h.ctx, h.As("Lea Lead"), erase)
	h.refused("erased-already", err)
	h.checked()
}
