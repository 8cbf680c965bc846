// Package rehearse is the practice day: situations in which people go wrong at a table, as data with their decision points, and the
// judgement of what somebody decided in them.
//
// A situation is made from a source of chance and the programme's own protocol. What is right follows from the packages that run
// the day, so that a programme with other rules practises those. Nothing here knows pages or a record: a decision is made on
// the scene's own card, or on a page of the day, and either way it arrives as the key of one of its choices.
package rehearse

import (
	"cmp"
	"errors"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"

	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// Page is where a decision is made.
type Page string

// The places of a decision: the scene's own card, or a page of the day, where what was done is looked at afterwards.
const (
	OnCard   Page = ""
	Desk     Page = "desk"     // the questions at the desk
	Reading  Page = "reading"  // what the meter shows, at a test station
	Control  Page = "control"  // a control run
	Code     Page = "code"     // the code of a meter
	Incident Page = "incident" // something happened
)

// The choices of a decision that is made on a page.
const (
	AsShown = "as-shown" // it was written as it was
	Bent    = "bent"     // something else was written
	Rounded = "rounded"  // the colleague's round number was written
	NotDone = "not-done" // nothing was written
)

// Try is an act that the program refuses on the day. A choice that names one is tried in the sandbox, and what the program says
// is kept for the debrief.
type Try string

// The acts that are tried.
const (
	TryExcluded Try = "excluded" // take somebody to a test station whom the desk has turned away
	TryMeter    Try = "meter"    // test with the meter of the scene
	TryVial     Try = "vial"     // test with the vial of the scene
	TryWet      Try = "wet"      // take the next person while the meter is wet
)

// Choice is one way to decide.
type Choice struct {
	Key   string        `json:"key"`
	Text  protocol.Text `json:"text"`
	Right bool          `json:"right,omitempty"`
	Harm  cards.Harm    `json:"harm,omitempty"` // what a wrong one can do
	Try   Try           `json:"try,omitempty"`
}

// Decision is one point at which somebody has to decide.
type Decision struct {
	Key     string        `json:"key"` // "insists.questions"
	At      Page          `json:"at,omitempty"`
	Ask     protocol.Text `json:"ask"`
	Choices []Choice      `json:"choices"` // of a page: NotDone is among them
	Why     protocol.Text `json:"why"`     // what the protocol says, and why
	Step    string        `json:"step"`    // key of the learning card
	Source  string        `json:"source"`  // key of docs/sources.md
}

// Choice finds a choice by its key.
func (d Decision) Choice(key string) (Choice, bool) {
	i := slices.IndexFunc(d.Choices, func(c Choice) bool { return c.Key == key })
	if i < 0 {
		return Choice{}, false
	}
	return d.Choices[i], true
}

// RightOne is the choice that the protocol has.
func (d Decision) RightOne() Choice {
	i := slices.IndexFunc(d.Choices, func(c Choice) bool { return c.Right })
	return d.Choices[i]
}

// Setting is what lies on the table of a scene. Only what a situation needs is set.
type Setting struct {
	Shown     string        `json:"shown,omitempty"`   // what the meter shows: a number, HI, LO or a code
	Rounded   string        `json:"rounded,omitempty"` // what a colleague would write
	Low, High glucose.Value `json:",omitzero"`         // printed on the vial for the control
	Level     string        `json:"level,omitempty"`   // of the control
	VialCode  string        `json:"vial_code,omitempty"`
	InUse     int           `json:"in_use,omitempty"` // days after opening
	Opened    int           `json:"opened,omitempty"` // days ago
	Fasting   bool          `json:"fasting,omitempty"`
}

// Group is what kind of trouble a situation is; every practice day has some of each.
type Group string

// The groups.
const (
	Person    Group = "person"
	Gear      Group = "gear"
	Technique Group = "technique"
	Urgent    Group = "urgent"
	Pressure  Group = "pressure"
)

// Groups lists the groups in the order in which a day brings them.
var Groups = []Group{Gear, Person, Technique, Pressure, Urgent}

// Situation is one scene with its decisions.
type Situation struct {
	Key       string        `json:"key"`
	Group     Group         `json:"group"`
	From      cards.Level   `json:"from"`
	Name      protocol.Text `json:"name"`
	Scene     protocol.Text `json:"scene"`
	Setting   Setting       `json:"setting"`
	Decisions []Decision    `json:"decisions"`
}

// Maker makes one situation.
type Maker struct {
	Key   string
	Group Group
	From  cards.Level // the first level that practises it
	Name  protocol.Text
	make  func(m *maker) error
}

// Makers lists the situations in the order of a day.
func Makers() []Maker {
	all := slices.Concat(gear, persons, technique, pressure, urgent)
	slices.SortStableFunc(all, func(a, b Maker) int { return slices.Index(Groups, a.Group) - slices.Index(Groups, b.Group) })
	return all
}

// errElsewhere is said by a situation that a protocol does not bear out; it is not drawn.
var errElsewhere = errors.New("rehearse: this protocol has other rules")

// maker is a situation in the making.
type maker struct {
	r    *rand.Rand
	p    protocol.Protocol
	unit glucose.Unit
	out  Situation
}

// at gives a value of the programme's unit from mg/dL.
func (m *maker) at(mg int) glucose.Value { return glucose.MgDL(mg).In(m.unit) }

// steps moves a value by the smallest steps of its unit.
func steps(v glucose.Value, n int) glucose.Value {
	v.Steps += n
	return v
}

// decide adds a decision; the choices of a card are shuffled.
func (m *maker) decide(d Decision) {
	d.Key = m.out.Key + "." + d.Key
	d.Choices = slices.Clone(d.Choices)
	if d.At == OnCard {
		m.r.Shuffle(len(d.Choices), func(i, j int) { d.Choices[i], d.Choices[j] = d.Choices[j], d.Choices[i] })
	}
	m.out.Decisions = append(m.out.Decisions, d)
}

// Make makes the situation; a protocol that has other rules gives an error that wraps errElsewhere.
func (x Maker) Make(r *rand.Rand, p protocol.Protocol, u glucose.Unit) (Situation, error) {
	m := &maker{r: r, p: p, unit: u, out: Situation{Key: x.Key, Group: x.Group, From: x.From, Name: x.Name}}
	if err := x.make(m); err != nil {
		return Situation{}, fmt.Errorf("situation %s: %w", x.Key, err)
	}
	return m.out, m.out.Validate()
}

// Validate says what is wrong with a situation.
func (s Situation) Validate() error {
	if s.Scene["en"] == "" || s.Scene["es"] == "" || len(s.Decisions) == 0 {
		return fmt.Errorf("situation %s has no scene in both languages, or no decision", s.Key)
	}
	for _, d := range s.Decisions {
		right, seen := 0, map[string]bool{}
		for _, c := range d.Choices {
			if c.Right {
				right++
			}
			if c.Text["en"] == "" || c.Text["es"] == "" || seen[c.Key] || seen["en"+c.Text["en"]] || seen["es"+c.Text["es"]] {
				return fmt.Errorf("decision %s: the choice %q is empty or stands there twice", d.Key, c.Key)
			}
			seen[c.Key], seen["en"+c.Text["en"]], seen["es"+c.Text["es"]] = true, true, true
		}
		_, known := cards.Find(d.Step)
		if right != 1 || len(d.Choices) < 2 || !known || d.Source == "" || d.Why["en"] == "" || d.Why["es"] == "" || d.Ask["en"] == "" || d.Ask["es"] == "" {
			return fmt.Errorf("decision %s: %d of %d choices are right, or step, source, question or reason is missing", d.Key, right, len(d.Choices))
		}
		if _, ok := d.Choice(NotDone); d.At != OnCard && !ok {
			return fmt.Errorf("decision %s is made on a page and cannot be left undone", d.Key)
		}
	}
	return nil
}

// Size is how many situations a practice day has, if the level has so many.
const Size = 7

// Day is a practice day: the situations in the order in which they come.
type Day struct {
	Seed       uint64       `json:"seed"`
	Level      cards.Level  `json:"level"`
	Unit       glucose.Unit `json:"unit"`
	Protocol   string       `json:"protocol"` // version
	Situations []Situation  `json:"situations"`
}

// Keys lists the situations of a day.
func (d Day) Keys() []string {
	out := make([]string, 0, len(d.Situations))
	for _, s := range d.Situations {
		out = append(out, s.Key)
	}
	return out
}

// Plan is what a day is drawn from.
type Plan struct {
	Seed  uint64
	Level cards.Level
	Unit  glucose.Unit
	Set   []string // keys of situations that a teacher chose; empty: drawn
}

// Draw makes the practice day of a plan under a protocol. One situation of each group that the level has comes at least, the rest by chance; none
// comes twice. A set that a teacher composed comes whole, as far as the protocol bears it out. The same plan and protocol give the
// same day. The error is a *fault.Fault.
func Draw(pl Plan, p protocol.Protocol) (Day, error) {
	if !pl.Level.Valid() {
		return Day{}, fault.BadField("level", "There is no level %q.", pl.Level)
	}
	chance := rand.New(rand.NewPCG(pl.Seed, 0x72656865))
	day := Day{Seed: pl.Seed, Level: pl.Level, Unit: cmp.Or(pl.Unit, glucose.MgPerDL), Protocol: p.Version}
	pool := map[Group][]Situation{}
	for _, x := range Makers() {
		if !pl.Level.Covers(x.From) && len(pl.Set) == 0 || len(pl.Set) > 0 && !slices.Contains(pl.Set, x.Key) {
			continue
		}
		s, err := x.Make(rand.New(rand.NewPCG(pl.Seed, place(x.Key))), p, day.Unit)
		if errors.Is(err, errElsewhere) {
			continue
		}
		if err != nil {
			return Day{}, err
		}
		pool[x.Group] = append(pool[x.Group], s)
	}
	var rest []Situation
	for _, g := range Groups {
		list := pool[g]
		chance.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		if len(pl.Set) == 0 && len(list) > 0 {
			day.Situations, list = append(day.Situations, list[0]), list[1:]
		}
		rest = append(rest, list...)
	}
	chance.Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
	for _, s := range rest {
		if len(day.Situations) < Size || len(pl.Set) > 0 {
			day.Situations = append(day.Situations, s)
		}
	}
	slices.SortStableFunc(day.Situations, func(a, b Situation) int { return slices.Index(Groups, a.Group) - slices.Index(Groups, b.Group) })
	if len(day.Situations) == 0 {
		return Day{}, fault.New(fault.Refused, "no-situations", "There is nothing to practise at this level.", "The protocol bears out none of the situations.", "Ask the lead.")
	}
	return day, nil
}

// place makes the chance of a situation its own, so that it is the same whatever comes beside it.
func place(key string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(key)) // never fails, by its contract
	return h.Sum64()
}

// text is a text in both languages.
func text(en, es string) protocol.Text { return protocol.Text{"en": en, "es": es} }

// textf fills the same values into both languages.
func textf(en, es string, values ...any) protocol.Text {
	return text(fmt.Sprintf(en, values...), fmt.Sprintf(es, values...))
}

// join puts sentences one after the other, language by language.
func join(parts ...protocol.Text) protocol.Text {
	out := protocol.Text{}
	for _, lang := range []string{"en", "es"} {
		var said []string
		for _, p := range parts {
			if s := strings.TrimSpace(p.In(lang)); s != "" {
				said = append(said, s)
			}
		}
		out[lang] = strings.Join(said, " ")
	}
	return out
}

func right(key, en, es string) Choice { return Choice{Key: key, Text: text(en, es), Right: true} }

func wrong(key string, h cards.Harm, en, es string) Choice {
	return Choice{Key: key, Text: text(en, es), Harm: h}
}

func (c Choice) trying(t Try) Choice {
	c.Try = t
	return c
}

// written are the choices of something that is to be written as the meter shows it.
func written(more ...Choice) []Choice {
	return append([]Choice{
		right(AsShown, "Written as it stands there.", "Anotado tal como aparece."),
		wrong(Bent, cards.Validity, "Something else was written.", "Se anotó otra cosa."),
		wrong(NotDone, cards.Validity, "Nothing was written.", "No se anotó nada."),
	}, more...)
}
