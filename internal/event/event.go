// Package event is one screening day at one venue as a subject of the record: its plan, roster, opening checks, stock out
// and back, control runs, wiped meters, overrides and closing. Visits have their own subject.
package event

import (
	"sort"
	"sync"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// Kind is the subject kind of an event.
const Kind = "event"

// Ref names one event.
func Ref(id string) fact.Ref { return fact.Ref{Kind: Kind, ID: id} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, Planned{}, Cancelled{}, Reinstated{}, Posted{}, Unposted{}, Attended{}, Checked{}, RoomMeasured{}, StockMoved{}, ControlRun{},
		CauseAssigned{}, Overridden{}, MeterWiped{}, Opened{}, DoorsClosed{}, Counted{}, MemoryRead{}, DifferenceExplained{},
		Closed{}, CodeCompared{}, FormsPrinted{}, FormVoided{}, FormsBack{}, Corrected{}, ReadingsCompared{}, MemoryDownloaded{},
		TaskPlanned{}, TaskDone{}, TaskWaived{}, TaskReopened{})
	c.Subject(EvidenceKind, NewEvidence, EvidenceAttached{}, EvidencePiece{}, EvidenceErased{})
}

// Phase is how far an event has come.
type Phase string

// The phases of an event, in order.
const (
	IsPlanned     Phase = "planned"
	IsOpen        Phase = "open"
	IsDoorsClosed Phase = "doors-closed" // nobody new comes in; those inside are finished
	IsClosed      Phase = "closed"
	IsCancelled   Phase = "cancelled" // planned, and not held
)

// Post is a person's place on the roster.
type Post struct {
	Person  string    `json:"person"`
	Role    string    `json:"role"`
	Station string    `json:"station,omitempty"`
	Here    bool      `json:"here"`
	Told    bool      `json:"told"` // presence or absence has been written down
	Note    string    `json:"note,omitempty"`
	Since   time.Time `json:"since"`
}

// CheckMark is one opening check as it was ticked.
type CheckMark struct {
	OK   bool      `json:"ok"`
	Note string    `json:"note,omitempty"`
	By   string    `json:"by"`
	At   time.Time `json:"at"`
}

// Room is one measurement of the room.
type Room struct {
	RoomMeasured
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// Run is one control run with who did it and when, and the cause that was assigned to it afterwards.
type Run struct {
	ControlRun
	ID     string    `json:"id"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Cause  string    `json:"cause,omitempty"`
	Action string    `json:"action,omitempty"`
	Found  *Finder   `json:"found,omitempty"` // of the cause
}

// Finder is who wrote down the cause of a control run, and when.
type Finder struct {
	By string    `json:"by"`
	At time.Time `json:"at"`
}

// Override is a gate that was passed with a signed reason.
type Override struct {
	Overridden
	At time.Time `json:"at"`
}

// Wipe is the last disinfection of a meter and how many there were.
type Wipe struct {
	Start        time.Time `json:"start"`
	Seconds      int       `json:"seconds"`
	Disinfectant string    `json:"disinfectant"`
	By           string    `json:"by"`
	Count        int       `json:"count"`
}

// Until is the moment when the surface has been wet for the labelled time.
func (w Wipe) Until() time.Time { return w.Start.Add(time.Duration(w.Seconds) * time.Second) }

// Code is the last comparison of the code on a meter with the code on a vial.
type Code struct {
	Lot   string    `json:"lot"`
	Shown string    `json:"shown"`
	At    time.Time `json:"at"`
}

// Explanation is the signed reason for a difference at closing.
type Explanation struct {
	Difference int       `json:"difference"`
	Note       string    `json:"note"`
	By         string    `json:"by"`
	At         time.Time `json:"at"`
}

// Download is the rows of a meter's memory with who brought them and when.
type Download struct {
	MemoryDownloaded
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// Correction is a signed correction with when it was made and by whom it was typed.
type Correction struct {
	Corrected
	ID string    `json:"id"`
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// Stock is what was brought or taken back: strips by lot, and the things that are counted one by one.
type Stock struct {
	Strips  map[string]int `json:"strips,omitempty"` // by strip lot id
	Lancets int            `json:"lancets"`
	Sharps  int            `json:"sharps"` // containers
	Meters  []string       `json:"meters,omitempty"`
}

// Load is stock that was brought at a moment.
type Load struct {
	Stock
	At time.Time `json:"at"`
}

// State is an event as it stands.
type State struct {
	ID            string                 `json:"id"`
	Plan          Planned                `json:"plan"`
	Phase         Phase                  `json:"phase"`
	Roster        []Post                 `json:"roster,omitempty"`
	Turns         []Turn                 `json:"turns,omitempty"` // who came and went, as it was written down
	Checks        map[string]CheckMark   `json:"checks,omitempty"`
	Rooms         []Room                 `json:"rooms,omitempty"`
	Out           Stock                  `json:"out"`
	Back          *Stock                 `json:"back,omitempty"`
	Loads         []Load                 `json:"loads,omitempty"` // what adds up to Out
	BackAt        time.Time              `json:"back_at,omitzero"`
	Runs          []Run                  `json:"runs,omitempty"`
	Overrides     []Override             `json:"overrides,omitempty"`
	Wipes         map[string]Wipe        `json:"wipes,omitempty"`     // by meter id
	Codes         map[string]Code        `json:"codes,omitempty"`     // by meter id
	Memory        map[string]int         `json:"memory,omitempty"`    // rows in the meter's memory, by meter id
	Downloads     map[string]Download    `json:"downloads,omitempty"` // what was downloaded from the meter, by meter id
	Explained     map[string]Explanation `json:"explained,omitempty"`
	Corrections   []Correction           `json:"corrections,omitempty"`
	Compared      map[string]bool        `json:"compared,omitempty"`    // readings held against a meter's memory, by fact id
	Printed       []FormsPrinted         `json:"printed,omitempty"`     // paper forms
	VoidForms     map[int]string         `json:"void_forms,omitempty"`  // reason by number
	BlankForms    []FormRange            `json:"blank_forms,omitempty"` // counted back
	Cancelled     *Cancelled             `json:"cancelled,omitempty"`
	Opened        *Opened                `json:"opened,omitempty"`
	OpenedAt      time.Time              `json:"opened_at"`
	DoorsClosedAt time.Time              `json:"doors_closed_at"`
	ClosedAt      time.Time              `json:"closed_at"`
	ClosedBy      string                 `json:"closed_by,omitempty"`
	ClosingNote   string                 `json:"closing_note,omitempty"`
	Tasks         []Task                 `json:"tasks,omitempty"` // of the countdown, in the order in which they were planned
}

// New gives an event before any fact.
func New(id string) fact.State { return &State{ID: id, Phase: IsPlanned} }

// Index keeps events in the order of their dates.
func (s *State) Index() (parent, label string) { return "", s.Plan.Date.String() + " " + s.Plan.Name }

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case Planned:
		s.Plan = b
	case Posted:
		s.post(b, r.At)
	case Unposted:
		s.Roster = removePost(s.Roster, b.Person)
	case Attended:
		s.Turns = append(s.Turns, Turn{Person: b.Person, Here: b.Here, At: r.At})
		for i := range s.Roster {
			if p := &s.Roster[i]; p.Person == b.Person {
				p.Here, p.Told, p.Note = b.Here, true, b.Note
			}
		}
	case Checked:
		put(&s.Checks, b.Check, CheckMark{OK: b.OK, Note: b.Note, By: r.By, At: r.At})
	case RoomMeasured:
		s.Rooms = append(s.Rooms, Room{RoomMeasured: b, At: r.At, By: r.By})
		sort.SliceStable(s.Rooms, func(i, j int) bool { return s.Rooms[i].At.Before(s.Rooms[j].At) })
	case StockMoved:
		s.move(b)
		s.Loads = append(s.Loads, Load{Stock: Stock(b), At: r.At})
	case ControlRun:
		s.Runs = append(s.Runs, Run{ControlRun: b, ID: r.ID, At: r.At, By: r.By})
		sort.SliceStable(s.Runs, func(i, j int) bool { return s.Runs[i].At.Before(s.Runs[j].At) })
	case CauseAssigned:
		for i := range s.Runs {
			if s.Runs[i].ID == b.Run {
				s.Runs[i].Cause, s.Runs[i].Action, s.Runs[i].Found = b.Cause, b.Action, &Finder{By: r.By, At: r.At}
			}
		}
	case Overridden:
		s.Overrides = append(s.Overrides, Override{Overridden: b, At: r.At})
	case MeterWiped:
		w := Wipe{Start: r.At, Seconds: b.Seconds, Disinfectant: b.Disinfectant, By: r.By, Count: s.Wipes[b.Meter].Count + 1}
		if old, ok := s.Wipes[b.Meter]; ok && old.Start.After(w.Start) {
			old.Count++
			w = old
		}
		put(&s.Wipes, b.Meter, w)
	case CodeCompared:
		put(&s.Codes, b.Meter, Code{Lot: b.StripLot, Shown: b.Shown, At: r.At})
	case FormsPrinted, FormVoided, FormsBack:
		s.forms(b)
	case MemoryRead:
		put(&s.Memory, b.Meter, b.Rows)
	case MemoryDownloaded:
		put(&s.Downloads, b.Meter, Download{MemoryDownloaded: b, At: r.At, By: r.By})
		put(&s.Memory, b.Meter, len(b.Rows))
	case DifferenceExplained:
		put(&s.Explained, b.Equality, Explanation{Difference: b.Difference, Note: b.Note, By: r.By, At: r.At})
	case Counted:
		back := Stock(b)
		s.Back, s.BackAt = &back, r.At
	case Corrected:
		s.Corrections = append(s.Corrections, Correction{Corrected: b, ID: r.ID, At: r.At, By: r.By})
	case ReadingsCompared:
		for _, id := range b.Readings {
			put(&s.Compared, id, true)
		}
	case TaskPlanned, TaskDone, TaskWaived, TaskReopened:
		s.task(r)
	default:
		s.turn(r)
	}
}

// forms applies the facts about paper forms.
func (s *State) forms(body fact.Body) {
	switch b := body.(type) {
	case FormsPrinted:
		s.Printed = append(s.Printed, b)
	case FormVoided:
		put(&s.VoidForms, b.Form, b.Reason)
	case FormsBack:
		s.BlankForms = b.Forms
	}
}

// turn applies the facts that move an event to another phase.
func (s *State) turn(r fact.Record) {
	switch b := r.Body.(type) {
	case Cancelled:
		if s.Phase == IsPlanned { // it may have been opened meanwhile on another laptop
			s.Cancelled, s.Phase = &b, IsCancelled
		}
	case Reinstated:
		if s.Phase == IsCancelled {
			s.Cancelled, s.Phase = nil, IsPlanned
		}
	case Opened:
		s.Cancelled = nil
		s.Opened, s.OpenedAt, s.Phase = &b, r.At, IsOpen
	case DoorsClosed:
		s.DoorsClosedAt, s.Phase = r.At, IsDoorsClosed
	case Closed:
		s.ClosedAt, s.ClosedBy, s.ClosingNote, s.Phase = r.At, r.By, b.Note, IsClosed
	}
}

func (s *State) post(b Posted, at time.Time) {
	for i := range s.Roster {
		if p := &s.Roster[i]; p.Person == b.Person {
			p.Role, p.Station, p.Since = b.Role, b.Station, at
			return
		}
	}
	s.Roster = append(s.Roster, Post{Person: b.Person, Role: b.Role, Station: b.Station, Since: at})
}

func removePost(list []Post, person string) []Post {
	out := list[:0:0]
	for _, p := range list {
		if p.Person != person {
			out = append(out, p)
		}
	}
	return out
}

func (s *State) move(b StockMoved) {
	for lot, n := range b.Strips {
		if s.Out.Strips == nil {
			s.Out.Strips = map[string]int{}
		}
		s.Out.Strips[lot] += n
	}
	s.Out.Lancets += b.Lancets
	s.Out.Sharps += b.Sharps
	for _, m := range b.Meters {
		if !contains(s.Out.Meters, m) {
			s.Out.Meters = append(s.Out.Meters, m)
		}
	}
}

func contains(list []string, x string) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

func put[K comparable, V any](m *map[K]V, k K, v V) {
	if *m == nil {
		*m = map[K]V{}
	}
	(*m)[k] = v
}

// PostOf finds a person's place on the roster.
func (s *State) PostOf(person string) (Post, bool) {
	for _, p := range s.Roster {
		if p.Person == person {
			return p, true
		}
	}
	return Post{}, false
}

// Present counts the people on the roster who are here, by role.
func (s *State) Present() map[string]int {
	n := map[string]int{}
	for _, p := range s.Roster {
		if p.Here {
			n[p.Role]++
		}
	}
	return n
}

// OverrideOf finds the latest override of a gate.
func (s *State) OverrideOf(gate string) (Override, bool) {
	for i := len(s.Overrides) - 1; i >= 0; i-- {
		if s.Overrides[i].Gate == gate {
			return s.Overrides[i], true
		}
	}
	return Override{}, false
}

// RunsOf lists the runs of one meter, oldest first.
func (s *State) RunsOf(meter string) []Run {
	var out []Run
	for _, r := range s.Runs {
		if r.Meter == meter {
			out = append(out, r)
		}
	}
	return out
}

// Brought reports whether a meter was brought to this event.
func (s *State) Brought(meter string) bool { return contains(s.Out.Meters, meter) }

// Zone gives the time zone of the event; the zone of the machine when the plan names none that is known.
func (s *State) Zone() *time.Location {
	if s.Plan.Zone == "" {
		return time.Local
	}
	if z, ok := zones.Load(s.Plan.Zone); ok {
		return z.(*time.Location)
	}
	z, err := time.LoadLocation(s.Plan.Zone)
	if err != nil {
		return time.Local
	}
	zones.Store(s.Plan.Zone, z)
	return z
}

// zones keeps the zones that were loaded by their names: a list of referrals asks for them by the thousand.
var zones sync.Map

// Day is the calendar day of an instant at the event.
func (s *State) Day(t time.Time) civil.Date { return civil.Of(t.In(s.Zone())) }

// EmergencyNumber gives the number to call at this event: its own, else the programme's.
func (s *State) EmergencyNumber(programme string) string {
	if s.Plan.Emergency != "" {
		return s.Plan.Emergency
	}
	return programme
}
