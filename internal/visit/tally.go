package visit

import (
	"slices"
	"strings"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// Tally is what a visit counts as in a report. Every figure about people is a question to one of these.
type Tally struct {
	Phase     Phase
	Consented bool
	Answered  bool // the questions were asked
	Eligible  bool
	Reason    string // how the report counts somebody who was not eligible, or what was declined
	Tested    bool   // there is a value: a number, LO or HI
	Basis     protocol.Basis
	Band      protocol.Band // of the finding that stands; empty while there is none
	Critical  bool
	Refer     bool   // the finding asks for a referral
	Written   bool   // the referral is written down
	Call      bool   // and may be called about
	Care      string // what care was opened for; empty for none
	Slip      bool
	Explained bool
	Contact   bool // contact was given

	Ticket   int
	Language string
	Age      int      // whole years; 0 when it was not asked
	Yes      []string // keys of the questions that were answered with yes
	About    string   // what they chose to say about themself, as a line of package about

	First, Repeats, Rechecks, Errors, Sticks, Misfires int

	Arrived                     time.Time // to the minute, UTC
	WaitTest, WaitExplain, Stay int       // whole minutes; -1 when it did not come to that
	Renewed                     time.Time // when the contact was put right last, to the millisecond; zero for never
}

// OfContact is the kind of a correction of name, telephone or address.
const OfContact = "contact"

// Tally implements fact.Tallier.
func (s *State) Tally() string { return s.Counts().line() }

// Counts gives what a visit counts as.
func (s *State) Counts() Tally {
	t := Tally{
		Phase: s.Phase(), Consented: s.Consent != nil, Answered: s.Answers != nil, Tested: s.Tested(), Slip: len(s.Slips) > 0, Explained: s.Explained != nil,
		About: s.About.Line(), Contact: s.Contact != nil && *s.Contact, Ticket: s.Ticket, Language: s.Language, Sticks: s.Sticks(), Misfires: s.Misfires(),
		Arrived:  s.Times.Arrived.UTC().Truncate(time.Minute),
		WaitTest: between(s.Times.DeskDone, s.Times.TestCalled), WaitExplain: between(s.Times.Found, s.Times.ExplCalled), Stay: between(s.Times.Arrived, s.Times.Ended),
	}
	if a := s.Answers; a != nil {
		t.Eligible = a.Eligible
		for key, said := range a.Answers {
			if said == protocol.Yes {
				t.Yes = append(t.Yes, key)
			}
		}
		slices.Sort(t.Yes)
		t.Age = wholeYears(a.Answers["age"])
	}
	switch t.Phase {
	case NotEligible:
		t.Reason = s.Answers.Counted
	case HasDeclined:
		t.Reason = s.Declined.What
	}
	if f := s.Finding(); f != nil {
		t.Basis, t.Band, t.Critical, t.Refer = f.Basis, f.Band, f.Critical, f.Refer
	}
	if s.Referral != nil {
		t.Written, t.Call = true, s.Referral.Call
	}
	for _, x := range s.Corrections {
		if x.Kind == OfContact && x.At.After(t.Renewed) {
			t.Renewed = x.At.UTC()
		}
	}
	if s.Care != nil {
		t.Care = s.Care.Cause
	}
	for _, r := range s.Readings {
		switch {
		case r.Reading.Kind == glucose.Error:
			t.Errors++
		case r.Purpose == First:
			t.First++
		case r.Purpose == Repeat:
			t.Repeats++
		case r.Purpose == Recheck:
			t.Rechecks++
		}
	}
	return t
}

// wholeYears reads an age as the protocol accepted it; 0 for none.
func wholeYears(s string) int {
	n := 0
	for _, c := range s {
		if c < '0' || c > '9' || n > 999 {
			return 0
		}
		n = n*10 + int(c-'0')
	}
	return n
}

func between(from, to time.Time) int {
	if from.IsZero() || to.IsZero() || to.Before(from) {
		return -1
	}
	return int(to.Sub(from).Minutes())
}

func (t Tally) line() string {
	var l fact.Line
	l.Text(string(t.Phase))
	for _, yes := range []bool{t.Consented, t.Answered, t.Eligible, t.Tested, t.Critical, t.Refer, t.Written, t.Call, t.Slip, t.Explained, t.Contact} {
		l.Flag(yes)
	}
	for _, s := range []string{t.Reason, string(t.Basis), string(t.Band), t.Care, t.Language, strings.Join(t.Yes, " "), t.About} {
		l.Text(s)
	}
	for _, n := range []int{t.Ticket, t.Age, t.First, t.Repeats, t.Rechecks, t.Errors, t.Sticks, t.Misfires, minuteOf(t.Arrived), t.WaitTest, t.WaitExplain, t.Stay, milliOf(t.Renewed)} {
		l.Int(n)
	}
	return l.String()
}

func minuteOf(t time.Time) int {
	if t.IsZero() {
		return 0
	}
	return int(t.Unix() / 60)
}

func milliOf(t time.Time) int {
	if t.IsZero() {
		return 0
	}
	return int(t.UnixMilli())
}

// ReadTally reads what State.Tally wrote.
func ReadTally(line string) (Tally, error) {
	r := fact.ReadLine(line)
	var t Tally
	t.Phase = Phase(r.Text())
	t.Consented, t.Answered, t.Eligible, t.Tested, t.Critical, t.Refer = r.Flag(), r.Flag(), r.Flag(), r.Flag(), r.Flag(), r.Flag()
	t.Written, t.Call, t.Slip, t.Explained, t.Contact = r.Flag(), r.Flag(), r.Flag(), r.Flag(), r.Flag()
	t.Reason, t.Basis, t.Band, t.Care, t.Language = r.Text(), protocol.Basis(r.Text()), protocol.Band(r.Text()), r.Text(), r.Text()
	if s := r.Text(); s != "" {
		t.Yes = strings.Split(s, " ")
	}
	t.About = r.Text()
	t.Ticket, t.Age, t.First, t.Repeats, t.Rechecks, t.Errors = r.Int(), r.Int(), r.Int(), r.Int(), r.Int(), r.Int()
	t.Sticks, t.Misfires = r.Int(), r.Int()
	arrived := r.Int()
	t.WaitTest, t.WaitExplain, t.Stay = r.Int(), r.Int(), r.Int()
	renewed := r.Int()
	if arrived != 0 {
		t.Arrived = time.Unix(int64(arrived)*60, 0).UTC()
	}
	if renewed != 0 {
		t.Renewed = time.UnixMilli(int64(renewed)).UTC()
	}
	return t, r.Err()
}
