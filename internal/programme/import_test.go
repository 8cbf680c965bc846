package programme_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// table turns lines of cells with bars between into rows; line 1 is the header.
func table(text string) []programme.ImportRow {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	header := strings.Split(lines[0], ";")
	var out []programme.ImportRow
	for i, l := range lines[1:] {
		r := programme.ImportRow{Line: i + 2, Values: map[string]string{}}
		for j, c := range strings.Split(l, ";") {
			if c = strings.TrimSpace(c); c != "" {
				r.Values[strings.TrimSpace(header[j])] = c
			}
		}
		out = append(out, r)
	}
	return out
}

func (h *hall) load(list, text string, dry bool) programme.Imported {
	h.t.Helper()
	done, err := h.P.ImportList(h.ctx, h.As("Lea Lead"), programme.ImportList{Act: h.Act(), List: list, Rows: table(text), Dry: dry})
	if err != nil {
		h.t.Fatal(err)
	}
	return done
}

var goodLists = map[string]string{
	programme.PeopleList:        "name;title;roles;languages;glove\nEve Example;third year;screener|desk;en|es;s\nFay Example;;runner;;",
	programme.VerificationsList: "name;role;from;until;note\nbob screener;screener;2027-01-01;2027-12-31;seen again\nDot Counsellor;counsellor;2027-01-01;2027-12-31;",
	programme.MetersList:        "label;serial;model;coding;unit;temp_low;temp_high;humidity_low;humidity_high\nM20;X-20;Type A;button;mg/dL;10;40;10;85.5\nM21;X-21;Type B;none;mmol/L;5.5;45;;",
	programme.StripLotsList:     "lot;models;chemistry;code;expiry;in_use;each_vial;per_vial;unit;range_1;range_2\nL20;Type A|Type B;gdh-fad;33;2027-02;90;no;50;mg/dL;92-128;265 - 359\nL21;Type A;unknown;;2027-02-10;expiry;unknown;25;mmol/L;5.1–7.1;",
	programme.ControlLotsList:   "lot;level;models;expiry;in_use_days\nK20;1;Type A;2027-02;90\nK20;2;Type A;2027-02;90",
	programme.DisinfectantsList: "name;contact_seconds;two_step;expiry\nOther wipes;60;yes;2027-02\nThird wipes;120;no;",
	programme.SuppliesList:      "name;pack;expiry;note\nLancets;box of 200;2027-02;\nGauze;;;any will do",
}

// A list is tried without a trace, added whole, and adding it again adds nothing.
func TestEveryListLoadsOnce(t *testing.T) {
	h := newHall(t)
	for list, text := range goodLists {
		before := h.entries()
		if got, want := h.load(list, text, true), (programme.Imported{Added: 2}); !cmp.Equal(got, want) {
			t.Errorf("%s tried: got %+v, want %+v", list, got, want)
		}
		if n := h.entries(); n != before {
			t.Errorf("%s tried: %d entries were recorded", list, n-before)
		}
		if got, want := h.load(list, text, false), (programme.Imported{Added: 2}); !cmp.Equal(got, want) {
			t.Errorf("%s: got %+v, want %+v", list, got, want)
		}
		if n := h.entries(); n != before+2 {
			t.Errorf("%s: %d entries were recorded, want 2", list, n-before)
		}
		if got, want := h.load(list, text, false), (programme.Imported{There: 2}); !cmp.Equal(got, want) {
			t.Errorf("%s again: got %+v, want %+v", list, got, want)
		}
		if n := h.entries(); n != before+2 {
			t.Errorf("%s again: %d entries were recorded, want 2", list, n-before)
		}
	}
	lots, err := programme.List[*stock.StripLot](h.ctx, h.P, stock.StripLotKind)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lots {
		if l.Details.Lot == "L20" {
			if r := l.Details.Ranges["2"]; r.Low.String() != "265 mg/dL" || r.High.String() != "359 mg/dL" {
				t.Errorf("level 2 of L20 is %s to %s", r.Low, r.High)
			}
		}
	}
}

func (h *hall) entries() int {
	h.t.Helper()
	r, err := h.store.Check(h.ctx)
	if err != nil {
		h.t.Fatal(err)
	}
	return r.Entries
}

func TestTheSameLoadingIsOneAct(t *testing.T) {
	h := newHall(t)
	cmd := programme.ImportList{Act: h.Act(), List: programme.SuppliesList, Rows: table(goodLists[programme.SuppliesList])}
	for range 2 {
		done, err := h.P.ImportList(h.ctx, h.As("Lea Lead"), cmd)
		if err != nil {
			t.Fatal(err)
		}
		if want := (programme.Imported{Added: 2}); !cmp.Equal(done, want) {
			t.Errorf("got %+v, want %+v", done, want)
		}
	}
}

// One bad row keeps the good ones out, and each bad cell is named.
func TestBadRowsAreNamedAndNothingIsAdded(t *testing.T) {
	for name, c := range map[string]struct {
		list, text string
		added      int
		there      int
		bad        []programme.BadRow
	}{
		"people": {programme.PeopleList, "name;roles;glove\nEve Example;desk;\nEve Example;runner;\nAnn Screener;desk;\nBob Screener;screener;\n;desk;\nFay Example;chief;XXL", 1, 1, []programme.BadRow{
			{Line: 3, Column: "name", Sentence: "This repeats line 2."},
			{Line: 4, Column: "name", Sentence: "This is on the list with other details. Change it on its page, or make the row the same."},
			{Line: 6, Column: "name", Sentence: "The name is missing."},
			{Line: 7, Column: "glove", Sentence: `The glove size cannot be "XXL". Choose one of: XS, S, M, L, XL.`},
			{Line: 7, Column: "roles", Sentence: `"chief" is not a role. Choose from: lead, supervisor, screener, counsellor, desk, runner.`},
		}},
		"verifications": {programme.VerificationsList, "name;role;from;until\nNobody Known;screener;2027-01-01;2027-12-31\nLea Lead;supervisor;2027-01-01;2027-12-31\nBob Screener;desk;2027-01-01;2026-12-31\nBob Screener;screener;2026-01-01;2026-12-31", 0, 1, []programme.BadRow{
			{Line: 2, Column: "name", Sentence: `"Nobody Known" is not on the list of people. Add the person first.`},
			{Line: 3, Column: "name", Sentence: "Nobody can verify themselves. Ask another lead or supervisor to record it."},
			{Line: 4, Column: "role", Sentence: "Bob Screener does not hold the role desk. Give the role first."},
			{Line: 4, Column: "until", Sentence: "The last day is before the first day."},
		}},
		"meters": {programme.MetersList, "label;serial;model;coding;unit;temp_low;temp_high\nM30;T-1;Type A;none;mg/dL;10;40\nM31;X-31;Type A;none;mg/dL;ten;40\nM32;X-32;Type A;magic;;40;10", 0, 0, []programme.BadRow{
			{Line: 2, Column: "serial", Sentence: "Meter M1 already has this serial number."},
			{Line: 3, Column: "temp_low", Sentence: `The lowest temperature should be a plain number such as 21.5; "ten" was typed.`},
			{Line: 4, Column: "coding", Sentence: `How the code is set cannot be "magic". Choose one of: none, chip, button.`},
			{Line: 4, Column: "temp_low", Sentence: "Temperatures from 40 to 10 degrees Celsius cannot be right. Look at the insert again."},
			{Line: 4, Column: "unit", Sentence: "Choose the unit that the meter shows: mg/dL or mmol/L."},
		}},
		"strip lots": {programme.StripLotsList, "lot;models;chemistry;expiry;in_use;each_vial;per_vial;unit;range_1;range_2\nL30;Type A;gdh-fad;2027-13;90;no;50;mg/dL;92-128;\nL31;Type A;gdh-fad;2027-02;90;no;50;mg/dL;92;\nL32;Type A;gdh-fad;2027-02;90;no;50;mg/dL;128-92;5.1-7.2\nL33;Type A;gdh-fad;2027-02;90;no;many;mg/dL;;", 0, 0, []programme.BadRow{
			{Line: 2, Column: "expiry", Sentence: `The expiry: "2027-13" is not an expiry; write it like 2026-08-31, or 2026-08 for the end of August 2026.`},
			{Line: 3, Column: "range_1", Sentence: `Write the range as printed, like 92-128; "92" was typed.`},
			{Line: 4, Column: "range_1", Sentence: "The range for level 1 runs from 128 to 92. The first number must be the smaller."},
			{Line: 4, Column: "range_2", Sentence: "The range for level 2 needs two numbers in mg/dL, as printed on the vial."},
			{Line: 5, Column: "per_vial", Sentence: `Strips in a vial should be a whole number; "many" was typed.`},
		}},
		"disinfectants": {programme.DisinfectantsList, "name;contact_seconds;two_step\nA wipe;60;perhaps\nB wipe;;no\nC wipe;3;no", 0, 0, []programme.BadRow{
			{Line: 2, Column: "two_step", Sentence: `Whether it takes two wipes should be yes or no; "perhaps" was typed.`},
			{Line: 3, Column: "contact_seconds", Sentence: "The contact time in seconds is missing."},
			{Line: 4, Column: "contact_seconds", Sentence: "The contact time in seconds must be from 5 to 1800; 3 was given."},
		}},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHall(t)
			before := h.entries()
			for _, dry := range []bool{true, false} {
				want := programme.Imported{Added: c.added, There: c.there, Bad: c.bad}
				if d := cmp.Diff(want, h.load(c.list, c.text, dry)); d != "" {
					t.Errorf("dry %v (-want +got):\n%s", dry, d)
				}
			}
			if n := h.entries(); n != before {
				t.Errorf("%d entries were recorded", n-before)
			}
		})
	}
}

func TestLoadingIsRefused(t *testing.T) {
	h := newHall(t)
	rows := table(goodLists[programme.SuppliesList])
	var many []programme.ImportRow
	for i := range programme.MaxImportRows + 1 {
		many = append(many, programme.ImportRow{Line: i + 2, Values: map[string]string{"name": fmt.Sprint("Thing ", i)}})
	}
	for name, c := range map[string]struct {
		who, list string
		rows      []programme.ImportRow
		key       string
	}{
		"supervisor": {"Sue Supervisor", programme.SuppliesList, rows, "role"},
		"no rows":    {"Lea Lead", programme.SuppliesList, nil, "field-file"},
		"too many":   {"Lea Lead", programme.SuppliesList, many, "field-file"},
		"no list":    {"Lea Lead", "shoes", rows, "no-such-list"},
	} {
		if _, err := h.P.ImportList(h.ctx, h.As(c.who), programme.ImportList{Act: h.Act(), List: c.list, Rows: c.rows}); !fault.Is(err, c.key) {
			t.Errorf("%s: got %v, want %s", name, err, c.key)
		}
	}
}

// What somebody withdrew does not come back by loading the old file again.
func TestAWithdrawnVerificationStaysWithdrawn(t *testing.T) {
	h := newHall(t)
	if _, err := h.P.WithdrawVerification(h.ctx, h.As("Sue Supervisor"), programme.WithdrawVerification{Act: h.Act(), Person: h.ID("Bob Screener"), Role: "screener", Reason: "a stick through the pad"}); err != nil {
		t.Fatal(err)
	}
	got := h.load(programme.VerificationsList, "name;role;from;until\nBob Screener;screener;2026-01-01;2026-12-31", false)
	if want := (programme.Imported{There: 1}); !cmp.Equal(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
	bob, err := programme.One[*people.State](h.ctx, h.P, people.Ref(h.ID("Bob Screener")))
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := bob.VerifiedOn(people.Screener, h.Date); ok {
		t.Error("Bob is verified again")
	}
}

func TestSetUpNamesWhatIsMissing(t *testing.T) {
	open := func(h *hall) []string {
		t.Helper()
		s, err := h.P.SetUp(h.ctx)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, n := range s.Needs {
			if !n.Done {
				out = append(out, n.Key+": "+n.Says)
				if n.Do == "" {
					t.Errorf("%s does not say what to do", n.Key)
				}
			}
		}
		if len(out) != s.Missing() {
			t.Errorf("%d are missing, Missing says %d", len(out), s.Missing())
		}
		return out
	}
	h := newHall(t)
	if got := open(h); len(got) != 0 {
		t.Errorf("a programme that is set up lacks %q", got)
	}
	h.Clock.Set(h.Clock.Now().AddDate(1, 0, 0))
	want := []string{
		"programme: The certificate of waiver ended on 31 Dec 2026.",
		"people: 6 on the list, 6 of them with a PIN; 0 screeners verified today; 2 who may supervise.",
		"strips: 0 in date, of 2 on the list.",
		"controls: No solution in date for level 1 and 2.",
		"events: No event is planned from today on.",
	}
	if d := cmp.Diff(want, open(h)); d != "" {
		t.Errorf("a year later (-want +got):\n%s", d)
	}
}

func TestARouteWithoutANameIsNotLostInSilence(t *testing.T) {
	h := newHall(t)
	plan := h.set.Plan
	plan.Act, plan.Event = h.Act(), h.Event
	plan.Routes = append(plan.Routes, plan.Routes[0])
	plan.Routes[1].Name = ""
	_, err := h.P.PlanEvent(h.ctx, h.As("Lea Lead"), plan)
	if f := fault.Of(err); f == nil || f.Fields["route_2_name"] != "The name of the place is missing." {
		t.Errorf("got %v", err)
	}
}
