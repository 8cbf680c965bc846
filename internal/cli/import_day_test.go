package cli_test

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"os"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/cli"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// counter is an invented programme at noon of a day that was wholly on paper: its list, roster, stock and checks are
// typed, its doors were never opened in the record.
type counter struct {
	*demo.Stage
	t   *testing.T
	dir string
	opt store.Options
}

func newCounter(t *testing.T) *counter {
	t.Helper()
	proof := []demo.Proof{{Role: "screener", From: "2026-01-01", Until: "2026-12-31"}, {Role: "counsellor", From: "2026-01-01", Until: "2026-12-31"}}
	set := demo.Programme{
		Describe: programme.Describe{Name: "Counter Programme", Certificate: "INVENTED-3", CertificateUntil: "2026-12-31", Contact: "555 0100", ContactHours: "9 to 5", Emergency: "911", Unit: "mg/dL", LabelledUse: true},
		Lead:     demo.Person{Name: "Lea Lead", PIN: "4821", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People:   []demo.Person{{Name: "Ann Both", PIN: "6174", Roles: []string{"screener", "counsellor"}, Verified: proof, Post: "screener", Station: "1"}},
		Meters:   []demo.Meter{{Label: "M1", Serial: "C-1", Coding: "none"}},
		Lots:     []demo.Lot{{Lot: "A", Code: "17", Expiry: "2026-12", InUse: "90", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"}, Vials: []demo.Opened{{Name: "A1", On: "2026-06-01"}}}},
		Controls: []demo.Solution{{Lot: "C1", Level: "1", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c1", On: "2026-06-01"}}}, {Lot: "C2", Level: "2", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c2", On: "2026-06-01"}}}},
		Wipe:     programme.DescribeDisinfectant{Name: "Wipes", ContactSeconds: 60},
		Plan: programme.PlanEvent{
			Name: "Counter Fair", Venue: "Counter", Address: "1 Invented Lane", Date: "2026-06-20", Doors: "09:00", Ends: "13:00", Zone: "UTC", Expected: 5,
			Routes: []event.Route{{Name: "Invented Clinic", Phone: "555 0111"}}, Urgent: event.Route{Name: "Invented Urgent Care", Phone: "555 0112"},
		},
	}
	clock := demo.NewClock(time.Date(2026, 6, 20, 7, 0, 0, 0, time.UTC))
	c := &counter{t: t, dir: t.TempDir(), opt: store.Options{Dir: t.TempDir() + "/data", Catalogue: programme.Catalogue(), Now: clock.Now, Log: slog.New(slog.DiscardHandler)}}
	ctx := t.Context()
	st, err := store.Create(ctx, c.opt)
	c.must(err)
	c.Stage = demo.NewStage(programme.New(st, clock.Now, c.opt.Log), clock, time.UTC, civil.MustParse("2026-06-20"))
	c.must(c.Build(ctx, set))
	lead := c.As("Lea Lead")
	_, err = c.P.MeasureRoom(ctx, lead, programme.MeasureRoom{Act: c.Act(), Event: c.Event, Celsius: "21"})
	c.must(err)
	_, err = c.P.BringStock(ctx, lead, programme.BringStock{Act: c.Act(), Event: c.Event, Strips: map[string]int{c.ID("A"): 50}, Lancets: 60, Sharps: 2, Meters: []string{c.ID("M1")}})
	c.must(err)
	c.must(c.Roster(ctx, set))
	c.must(c.CheckAll(ctx, "Lea Lead"))
	c.must(st.Close())
	clock.Set(c.Time("12:00"))
	return c
}

func (c *counter) must(err error) {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
}

func (c *counter) file(name, text string) string {
	c.t.Helper()
	path := c.dir + "/" + name
	c.must(os.WriteFile(path, []byte(text), 0o600))
	return path
}

// run runs a command line and wants an exit code; it gives what was written.
func (c *counter) run(want int, in string, args ...string) string {
	c.t.Helper()
	app := cli.App{
		DataDir: func() (string, error) { return c.opt.Dir, nil },
		Open: func(ctx context.Context, _ cli.Folder, _ bool, log *slog.Logger) (*programme.Programme, io.Closer, error) {
			st, err := store.Open(ctx, c.opt)
			if err != nil {
				return nil, nil, err
			}
			return programme.New(st, c.opt.Now, log), st, nil
		},
	}
	var out, errOut bytes.Buffer
	if got := cli.Run(c.t.Context(), app, args, strings.NewReader(in), &out, &errOut); got != want {
		c.t.Fatalf("%v: exit code %d, want %d\n%s%s", args, got, want, &out, &errOut)
	}
	return out.String() + errOut.String()
}

func (c *counter) contains(text string, parts ...string) {
	c.t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			c.t.Errorf("want %q in:\n%s", p, text)
		}
	}
}

const (
	dayHeader  = "form;arrived;outcome;consent_time;consent_how;answer_crisis_signs;answer_age;answer_known_diabetes;answer_pregnancy;answer_icodextrin;answer_bleeding;answer_fainted;answer_arm;last_food;contact;reading1_time;reading1_value;reading1_meter;reading1_strip_lot;reading1_vial;reading1_station;reading1_screener;reading1_washed;reading1_sharps;reading1_wiped;explained;explained_by;teach_back;slip;ended\n"
	dayVisit   = "1;9:10;tested;9:12;read;none;46;no;no;no;no;no;no;7:00;no;9:20;112;M1;A;A1;1;Ann Both;yes;yes;9:21;9:30;Ann Both;own-words;yes;9:40\n"
	unwiped    = "2;9:15;tested;9:16;read;none;51;no;no;no;no;no;no;7:00;no;9:25;104;M1;A;A1;1;Ann Both;yes;yes;;9:35;Ann Both;own-words;yes;9:45\n"
	dayRuns    = "time,meter,strip_lot,vial,control_lot,bottle,value,operator\n8:10,M1,A,A1,C1,c1,118,Ann Both\n8:12,M1,A,A1,C2,c2,300,Ann Both\n"
	whichEvent = "2026-06-20"
)

func TestImportDay(t *testing.T) {
	c := newCounter(t)
	visits, runs := c.file("visits.csv", dayHeader+dayVisit), c.file("runs.csv", dayRuns)
	day := []string{"import", "day", visits, "--controls", runs, "--event", whichEvent}
	c.contains(c.run(1, "", day...), "The event is not open yet.", "--opened")
	day = append(day, "--opened", "8:55")
	c.contains(c.run(0, "", day...), "1 visits and 2 control runs would be added, 0 and 0 are there already. Nothing was recorded")
	c.contains(c.run(0, "", append(day, "--add")...), "1 visits and 2 control runs were added, 0 and 0 were there already.")
	c.contains(c.run(0, "", append(day, "--add")...), "0 visits and 0 control runs were added, 1 and 2 were there already.")
	c.contains(c.run(0, "", "report", "day", whichEvent), "tested", "1 of 1")

	c.file("visits.csv", dayHeader+strings.Replace(dayVisit, ";112;", ";1118;", 1)+"3;9:75;left;x"+strings.Repeat(";", 40)+"x\n")
	c.contains(c.run(2, "", append(day, "--add")...), "visits.csv line 2, column reading1_value", "visits.csv line 3, column arrived", "stands under no column", "cells are not right; nothing was recorded.")

	c.file("visits.csv", dayHeader+dayVisit+unwiped)
	c.contains(c.run(0, "", day...), "visits.csv line 3, column reading1_wiped: would have been refused on the day", "1 visits and 0 control runs would be added")
	c.contains(c.run(1, "", append(day, "--add")...), "1 things would have been refused on the day; nothing was recorded.", "--accept")
	c.contains(c.run(1, "9999\n", append(day, "--add", "--accept", "nobody wrote it down")...), "do not belong together")
	c.contains(c.run(0, "4821\n", append(day, "--add", "--accept", "nobody wrote it down")...), "1 visits and 0 control runs were added, 1 and 2 were there already.")
	c.contains(c.run(0, "", "report", "day", whichEvent, "--json"), `"paper:not-wiped"`, `"nobody wrote it down"`)
	c.contains(c.run(0, "", "check"), "were checked")
}
