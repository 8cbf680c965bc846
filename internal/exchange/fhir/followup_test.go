package fhir

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/followup"
	"fairstick/internal/programme"
	"fairstick/internal/testrecord"
)

// seasonDays are the closed events of the invented season as they leave the record.
func seasonDays(t *testing.T) func(names bool) []*programme.Leaving {
	t.Helper()
	clock := demo.NewClock(demo.Begins())
	p, _ := testrecord.Open(t, clock.Now)
	if _, err := demo.MakeSeason(context.Background(), p, clock); err != nil {
		t.Fatal(err)
	}
	return func(names bool) (out []*programme.Leaving) {
		err := p.HandOut(t.Context(), programme.Actor{}, programme.HandOut{Names: names}, func(walk programme.Walk) error {
			return walk(func(x *programme.Leaving) error {
				if x.Event.Phase == event.IsClosed {
					out = append(out, x)
				}
				return nil
			})
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
}

// What came of a referral and every try stand in the file as R4 wants them, and what was told of a test stands there as words alone.
func TestFollowUpsLeave(t *testing.T) {
	days, s := seasonDays(t), schema(t)
	type row struct{ Status, Business, Reason, Told, Tries, Done string }
	got := map[string]row{}
	for _, x := range days(true) {
		doc := asBundle(t, x)
		valid(t, s, doc)
		for _, l := range splitLines(asLines(t, x)) {
			valid(t, s, []byte(l))
		}
		names, tasks, there := map[string]string{}, map[string]string{}, map[string]bool{}
		for _, r := range entries(t, doc) {
			id := "urn:uuid:" + text(r["id"])
			there[id] = true
			switch r["resourceType"] {
			case "Patient":
				names[id] = text(r["name"].([]any)[0].(thing)["text"])
			case "Task":
				who := names[text(r["for"].(thing)["reference"])]
				tasks[id] = who
				w := row{Status: text(r["status"]), Business: inWords(r["businessStatus"]), Reason: inWords(r["statusReason"])}
				if list, ok := r["output"].([]any); ok {
					var told []string
					for _, o := range list {
						o := o.(thing)
						told = append(told, text(o["valueDate"])+text(o["valueString"])+inWords(o["valueCodeableConcept"]))
						if v, ok := o["valueCodeableConcept"].(thing); ok && v["coding"] != nil {
							t.Errorf("%s: what a clinician is said to have found has a code of ours: %v", who, v)
						}
					}
					w.Told = strings.Join(told, "; ")
				}
				if p, ok := r["executionPeriod"].(thing); !ok || (p["end"] != nil) != (w.Status == "completed") {
					t.Errorf("%s: from %v", who, r["executionPeriod"])
				}
				got[who] = w
			case "Communication":
				who := tasks[text(r["partOf"].([]any)[0].(thing)["reference"])]
				w := got[who]
				w.Tries += inWords(r["medium"].([]any)[0]) + " " + inWords(r["statusReason"]) + "; "
				w.Done += map[string]string{"completed": "+", "not-done": "-"}[text(r["status"])]
				got[who] = w
				if text(r["sent"]) == "" || !there[text(r["sender"].(thing)["reference"])] || r["note"] != nil || r["payload"] != nil {
					t.Errorf("a try without time or caller, or with words: %v", r)
				}
			}
		}
	}
	want := map[string]row{
		"Gus Invented":   {"completed", "seen", "", "2026-04-24; a1c 7.4 %; diabetes", "phone reached; phone reached; ", "++"},
		"Fina Inventada": {"completed", "seen", "", "2026-06-30; a1c 5.9 %; prediabetes", "phone no-answer; phone reached; phone reached; ", "-++"},
		"Hana Invented":  {"completed", "declined", "feels-well", "", "phone reached; ", "+"},
		"Jana Inventada": {"completed", "seen", "", "2026-06-19; fasting-lab 121 mg/dL; test-again", "phone reached; phone reached; ", "++"},
		"Ivo Invented":   {"failed", "wrong-number", "", "", "phone wrong-number; ", "-"},
		"Kit Invented":   {"failed", "unreachable", "", "", "phone no-answer; phone left-message; text sent; phone no-answer; ", "-++-"},
		"Lia Inventada":  {"completed", "seen", "", "2026-08-20; a1c 5.4 %; neither", "phone reached; phone reached; ", "++"},
		"Milo Invented":  {"in-progress", "scheduled", "", "2026-10-22", "phone reached; ", "+"},
		"Nora Inventada": {"in-progress", "calling", "", "", "phone no-answer; phone left-message; ", "-+"},
		"Otto Invented":  {"in-progress", "scheduled", "", "2026-10-09", "phone busy; phone reached; ", "-+"},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	for _, x := range days(false) {
		doc := asBundle(t, x)
		valid(t, s, doc)
		for name := range want {
			if bytes.Contains(doc, []byte(name)) {
				t.Errorf("%s stands in a file without names", name)
			}
		}
		if n := counts(entries(t, doc)); n["Patient"] != 0 || n["Communication"] == 0 {
			t.Errorf("%d patients, %d tries", n["Patient"], n["Communication"])
		}
	}
}

// inWords gives the text of a CodeableConcept; empty for none.
func inWords(v any) string {
	c, _ := v.(thing)
	return text(c["text"])
}

// The status of a Task that the invented season does not show.
func TestTaskStatus(t *testing.T) {
	tried := &followup.State{Last: "x"}
	for want, f := range map[string]programme.FollowUp{
		"requested":   {May: true, State: &followup.State{}}, // somebody looked at the number
		"in-progress": {May: true, State: tried, Status: followup.NotYet},
		"completed":   {May: false, State: tried, Status: followup.AlreadyKnown},
		"cancelled":   {May: false, State: tried, Status: followup.Scheduled},
		"on-hold":     {May: true, State: tried, Status: followup.Unreachable, Task: &followup.Task{}},
		"failed":      {May: true, State: tried, Status: followup.BadNumber},
	} {
		if got := taskStatus(f); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}
