package programme

import (
	"cmp"
	"context"
	"fmt"
	"sort"
	"strings"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// HistoryRow is one fact of a visit in words, with the corrections that stand in its place now.
type HistoryRow struct {
	At       time.Time
	Recorded string // hybrid clock; differs from At when it was written down later
	By       string // name
	Kind     string
	Said     string
	Struck   bool // a correction says that it did not happen, or happened to somebody else
	Later    []HistoryCorrection
}

// HistoryCorrection is what stands now in the place of a fact.
type HistoryCorrection struct {
	At     time.Time
	By     string
	Said   string
	Reason string
}

// History lists every fact of a visit in the order in which they happened, corrections beside what they correct. It holds
// no personal data. Only a lead or a supervisor may read it.
func (p *Programme) History(ctx context.Context, a Actor, eventID, visitID string) ([]HistoryRow, error) {
	d, err := p.Day(ctx, eventID)
	if err != nil {
		return nil, err
	}
	if me := d.Person(a.Person); me == nil || !me.Has(people.Lead) && !me.Has(people.Supervisor) {
		return nil, fault.New(fault.Denied, "role", "The history is for the lead and the supervisors.", "It shows who did what.", "Ask one of them to sign in here.")
	}
	if d.Visit(visitID) == nil {
		return nil, missing(visit.Ref(visitID))
	}
	var recs []fact.Record
	err = p.store.Read(ctx, func(v *store.View) error {
		recs, err = v.Records(visit.Ref(visitID))
		return err
	})
	if err != nil {
		return nil, err
	}
	return d.history(recs), nil
}

func (d *Day) history(recs []fact.Record) []HistoryRow {
	root, index := map[string]string{}, map[string]int{}
	var out []HistoryRow
	for _, r := range recs {
		if r.Corrects == "" {
			index[r.ID] = len(out)
			out = append(out, HistoryRow{At: r.At, Recorded: r.Recorded, By: d.NameOf(r.By), Kind: r.Body.FactKind(), Said: d.say(r.Body)})
			continue
		}
		target := cmp.Or(root[r.Corrects], r.Corrects)
		root[r.ID] = target
		i, ok := index[target]
		if !ok {
			continue // what it corrects has not arrived yet
		}
		row := &out[i]
		row.Later = append(row.Later, HistoryCorrection{At: r.At, By: d.NameOf(r.By), Said: d.say(r.Body), Reason: r.Reason})
		row.Struck = false
		switch r.Body.(type) {
		case fact.Struck, visit.ReadingMoved:
			row.Struck = true
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out
}

// say is one fact of a visit in words, without personal data.
func (d *Day) say(b fact.Body) string {
	zone := d.Event.Zone()
	switch b := b.(type) {
	case visit.Arrived:
		return fmt.Sprintf("Ticket %03d handed out, language %s", b.Ticket, b.Language)
	case visit.Consented:
		return "Consented to text " + b.Version + " (" + b.How + ")"
	case visit.Declined:
		return withWhy("Declined the "+b.What, b.Reason)
	case visit.Answered:
		if b.Eligible {
			return "Questions answered: may be tested"
		}
		return "Questions answered: not tested, because of " + cmp.Or(b.Reason, "an answer")
	case visit.Ate:
		if !b.Known {
			return "Last food: not known"
		}
		return "Last food: " + b.Last.In(zone).Format("Mon 2 Jan 15:04")
	case visit.ContactGiven:
		return "Contact kept sealed: " + permissionWords(true, b.Call)
	case visit.ContactRefused:
		return "No contact wanted"
	case visit.Called:
		return "Called by station " + b.Station + " (" + string(b.Step) + ")"
	case visit.PutBack:
		return withWhy("Put back in the line", b.Reason)
	case visit.ReadingTaken:
		return d.sayReading(b)
	case visit.ReadingMoved:
		return "Belongs to " + d.sayTicket(b.To)
	case visit.LancetBinned:
		return "Lancet seen into sharps"
	}
	return d.sayLater(b)
}

// sayLater goes on with the facts that come after the reading.
func (d *Day) sayLater(b fact.Body) string {
	zone := d.Event.Zone()
	switch b := b.(type) {
	case visit.Found:
		switch {
		case b.Finding == nil:
			return "Finding: none. " + b.Why
		case b.Repeat:
			return "Finding not given yet, a repeat is due. " + b.Because
		}
		return fmt.Sprintf("Finding: %s, %s. %s", b.Finding.Word.In("en"), b.Finding.Basis, b.Why)
	case visit.CareOpened:
		return "Care opened: " + CareWord(b.Cause)
	case visit.CareStep:
		return strings.TrimRight("Care: "+b.Step+" "+careChoice(d, b), " ")
	case visit.CareSigned:
		return "Care ended, signed by " + d.NameOf(b.Supervisor)
	case visit.Explained:
		return "Explained in " + b.Language + ", asked back: " + b.TeachBack
	case visit.SlipIssued:
		return "Slip handed over in " + b.Language
	case visit.Referred:
		return "Referred to " + cmp.Or(b.Route, "no place yet") + ", by " + b.By.In(zone).Format("Mon 2 Jan 2006")
	case visit.Left:
		return withWhy("Left", b.Reason)
	case visit.Finished:
		return "Finished"
	case visit.Corrected:
		return "Correction signed by " + d.NameOf(b.Signed) + ": " + sayChanges(b.Changes)
	case fact.Struck:
		return "Did not happen"
	}
	return b.FactKind()
}

func careChoice(d *Day, b visit.CareStep) string {
	if b.Step == stepSupervisor {
		return d.NameOf(b.Choice)
	}
	return cmp.Or(b.Choice, strings.Join(b.Signs, ", "))
}

func (d *Day) sayReading(b visit.ReadingTaken) string {
	meter, lot := "not recorded", "not recorded"
	if m := d.MeterByID(b.Meter); m != nil {
		meter = m.Details.Label
	}
	if l := d.StripLotByID(b.StripLot); l != nil {
		lot = l.Details.Lot
	}
	s := fmt.Sprintf("Reading %s (%s), meter %s, lot %s, vial %s", shown(b.Reading), b.Purpose, meter, lot, b.Vial)
	if b.From != nil {
		s += ", moved here from " + d.sayTicket(b.From.Visit)
	}
	return s
}

func (d *Day) sayTicket(id string) string {
	if v := d.Visit(id); v != nil {
		return fmt.Sprintf("ticket %03d", v.Ticket)
	}
	return "another ticket"
}

func sayChanges(list []fact.Change) string {
	parts := make([]string, len(list))
	for i, c := range list {
		parts[i] = c.What + ": " + c.Was + " to " + c.Now
	}
	return strings.Join(parts, "; ")
}

// CorrectionRow is one signed correction of an event.
type CorrectionRow struct {
	At      time.Time     `json:"at"`
	Kind    string        `json:"kind"`
	Ticket  int           `json:"ticket,omitempty"` // 0 for a control run
	Visit   string        `json:"-"`
	Changes []fact.Change `json:"changes"`
	Reason  string        `json:"reason"`
	By      string        `json:"signed_by"`
	Late    bool          `json:"after_closing"`
}

// Corrections lists the signed corrections of an event in the order in which they were made.
func (d *Day) Corrections() []CorrectionRow {
	var out []CorrectionRow
	for _, v := range d.Visits {
		for _, c := range v.Corrections {
			out = append(out, CorrectionRow{At: c.At, Kind: c.Kind, Ticket: v.Ticket, Visit: v.ID, Changes: c.Changes, Reason: c.Reason, By: d.NameOf(c.Signed), Late: c.Late})
		}
	}
	for _, c := range d.Event.Corrections {
		out = append(out, CorrectionRow{At: c.At, Kind: c.Kind, Changes: c.Changes, Reason: c.Reason, By: d.NameOf(c.Signed), Late: c.Late})
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out
}

// CorrectionCount is how many corrections of a kind an event has.
type CorrectionCount struct {
	Kind string `json:"kind"`
	N    int    `json:"n"`
	Late int    `json:"after_closing"`
}

// correctionCounts counts the corrections by kind, in the order of CorrectionKinds.
func (d *Day) correctionCounts() []CorrectionCount {
	n := map[string]*CorrectionCount{}
	for _, c := range d.Corrections() {
		if n[c.Kind] == nil {
			n[c.Kind] = &CorrectionCount{Kind: c.Kind}
		}
		n[c.Kind].N++
		if c.Late {
			n[c.Kind].Late++
		}
	}
	var out []CorrectionCount
	for _, k := range CorrectionKinds {
		if c := n[k]; c != nil {
			out = append(out, *c)
		}
	}
	return out
}

// ReissueSlip says that a corrected slip was handed over, sent or posted after a visit had ended.
type ReissueSlip struct {
	Act
	Visit, Language, Size string
}

// ReissueSlip records a slip of the finding that stands for a visit that has ended, also after the event was closed.
func (p *Programme) ReissueSlip(ctx context.Context, a Actor, c ReissueSlip) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.reissue-slip", func(w *work) (Done, error) {
		if err := w.need(explainRoles...); err != nil {
			return Done{}, err
		}
		v, err := load[*visit.State](w, visit.Ref(c.Visit))
		if err != nil {
			return Done{}, err
		}
		if v.Finding() == nil || !v.Phase().Ended() {
			return Done{}, refuse("no-reissue", fmt.Sprintf("Ticket %03d has not ended with a result.", v.Ticket), "A slip is given at Explain while the person is here.", "Open the ticket at Explain.")
		}
		var f fields
		f.oneOf("language", "The language", c.Language, Languages...)
		f.oneOf("size", "The paper", c.Size, "half-letter", "a5", "screen")
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.SlipIssued{Language: c.Language, Size: c.Size, Finding: v.FoundID})
		return Done{ID: v.ID}, err
	})
}

// SlipDue reports whether a slip that was handed out shows another finding than the one that stands.
func SlipDue(v *visit.State) bool {
	n := len(v.Slips)
	return n > 0 && v.Slips[n-1].Finding != v.FoundID
}

// SlipsDue lists the visits that have ended and whose slip must be replaced.
func (d *Day) SlipsDue() []*visit.State {
	var out []*visit.State
	for _, v := range d.Visits {
		if v.Phase().Ended() && SlipDue(v) {
			out = append(out, v)
		}
	}
	return out
}
