package programme_test

import (
	"log/slog"
	"testing"

	"fairstick/internal/programme"
)

// A first typing outlives the process, holds nothing personal, and is refused for a form that holds no visit.
func TestTypings(t *testing.T) {
	h := opened(t)
	lead, desk := h.As("Lea Lead"), h.As("Cy Lapsed")
	if _, err := h.P.FormsPrinted(h.ctx, lead, programme.FormsPrinted{Act: h.Act(), Event: h.Event, Language: "es", Count: 4}); err != nil {
		t.Fatal(err)
	}
	h.must(h.P.KeepTyping(h.ctx, desk, h.Event, 2, map[string]string{"arrived": "09:31", "reason": ""}))
	later := programme.New(h.store, h.Clock.Now, slog.New(slog.DiscardHandler))
	kept, ok, err := later.Typing(h.ctx, h.Event, 2)
	if err != nil || !ok || kept.By != desk.Person || !kept.At.Equal(h.Clock.Now()) || len(kept.Fields) != 1 || kept.Fields["arrived"] != "09:31" {
		t.Errorf("kept: %+v %v %v", kept, ok, err)
	}
	if all, err := later.Typings(h.ctx, h.Event); err != nil || len(all) != 1 || all[2].Fields["arrived"] != "09:31" {
		t.Errorf("all: %v %v", all, err)
	}
	h.must(h.P.KeepTyping(h.ctx, lead, h.Event, 2, map[string]string{"arrived": "09:32"}))
	if kept, _, err = later.Typing(h.ctx, h.Event, 2); err != nil || kept.Fields["arrived"] != "09:32" || kept.By != lead.Person {
		t.Errorf("a later typing takes the place of an earlier one: %+v %v", kept, err)
	}
	if all, err := later.Typings(h.ctx, "another"); err != nil || len(all) != 0 {
		t.Errorf("another event has %v %v", all, err)
	}

	name := programme.PrivateField("name")
	h.refused("field-"+name, h.P.KeepTyping(h.ctx, desk, h.Event, 3, map[string]string{name: "Ada Invented"}))
	if _, err := h.P.VoidForm(h.ctx, lead, programme.VoidForm{Act: h.Act(), Event: h.Event, Form: 3, Reason: "torn"}); err != nil {
		t.Fatal(err)
	}
	if _, err := h.P.FormsBack(h.ctx, lead, programme.FormsBack{Act: h.Act(), Event: h.Event, Forms: "4"}); err != nil {
		t.Fatal(err)
	}
	typed := map[string]string{"arrived": "09:31"}
	h.refused("form-void", h.P.KeepTyping(h.ctx, desk, h.Event, 3, typed))
	h.refused("form-blank", h.P.KeepTyping(h.ctx, desk, h.Event, 4, typed))
	h.refused("no-such-form", h.P.KeepTyping(h.ctx, desk, h.Event, 5, typed))
	h.refused("sign-in", h.P.KeepTyping(h.ctx, programme.Actor{}, h.Event, 2, typed))
	h.must(h.P.ForgetTyping(h.ctx, h.Event, 2))
	if _, ok, err := later.Typing(h.ctx, h.Event, 2); ok || err != nil {
		t.Errorf("a forgotten typing is still there: %v %v", ok, err)
	}
}
