// Package fact is what every recorded fact carries, whatever its subject: who, when, about what, and in which order it is
// folded into a state. The subjects define the bodies; the logbook keeps them; neither needs to know the other.
package fact

import (
	"encoding/json"
	"fmt"
	"reflect"
	"sort"
	"time"
)

// Ref names one subject of the record: a visit, an event, a meter.
type Ref struct {
	Kind string `json:"kind"`
	ID   string `json:"id"`
}

// Body is the content of one fact. Bodies are plain structs that marshal to JSON.
type Body interface {
	// FactKind gives the stable name of this sort of fact, for example "visit.reading-taken".
	FactKind() string
}

// Meta is what every fact carries beside its body.
type Meta struct {
	ID       string    // UUID; also the idempotency key of the act
	Node     string    // the laptop whose chain holds it
	Seq      uint64    // 1, 2, 3 ... per node
	At       time.Time // when it happened
	Recorded string    // hybrid logical clock; sorts as text
	By       string    // person id; empty for the programme itself
	Corrects string    // id of the fact that this one corrects; empty for an ordinary fact
	Reason   string    // why it was corrected
}

// Record is one fact about one subject.
type Record struct {
	Meta
	Subject Ref
	Body    Body
}

// Before is the order in which facts are folded: recorded, then node, then seq.
func (r Record) Before(o Record) bool {
	if r.Recorded != o.Recorded {
		return r.Recorded < o.Recorded
	}
	if r.Node != o.Node {
		return r.Node < o.Node
	}
	return r.Seq < o.Seq
}

// Struck is the body of a correction which says that the corrected fact did not happen.
type Struck struct{}

// FactKind implements Body.
func (Struck) FactKind() string { return "struck" }

// State is what a subject amounts to after its facts. Apply must be total: it ignores a body that it does not know and
// never fails, since a fact that is in the record has happened.
type State interface {
	Apply(Record)
}

// Settle orders the records of one subject and puts each correction in the place of what it corrects. The corrected
// record keeps its own Meta, takes the body of the latest correction, and is left out when that is Struck. Corrections of
// unknown facts are left out: they take effect when the fact arrives.
func Settle(records []Record) []Record {
	sorted := append([]Record(nil), records...)
	sort.SliceStable(sorted, func(i, j int) bool { return sorted[i].Before(sorted[j]) })
	latest := map[string]Body{}
	root := map[string]string{} // a correction may itself be corrected: follow to the first fact
	for _, r := range sorted {
		if r.Corrects == "" {
			continue
		}
		target := r.Corrects
		if up, ok := root[target]; ok {
			target = up
		}
		root[r.ID] = target
		latest[target] = r.Body
	}
	out := sorted[:0:0]
	for _, r := range sorted {
		if r.Corrects != "" {
			continue
		}
		if body, ok := latest[r.ID]; ok {
			if _, struck := body.(Struck); struck {
				continue
			}
			r.Body = body
		}
		out = append(out, r)
	}
	return out
}

// Fold settles the records and applies them to a fresh state.
func Fold[S State](fresh S, records []Record) S {
	for _, r := range Settle(records) {
		fresh.Apply(r)
	}
	return fresh
}

// Catalogue knows every kind of subject and of body, so that the logbook can read what the subjects wrote.
type Catalogue struct {
	bodies   map[string]reflect.Type
	subjects map[string]func(id string) State
}

// NewCatalogue makes a catalogue that knows Struck and nothing else.
func NewCatalogue() *Catalogue {
	c := &Catalogue{bodies: map[string]reflect.Type{}, subjects: map[string]func(string) State{}}
	c.bodies[Struck{}.FactKind()] = reflect.TypeOf(Struck{})
	return c
}

// Subject registers a kind of subject: how its state begins and which bodies it understands. It panics when a name is
// taken, since that is a mistake of the programmer.
func (c *Catalogue) Subject(kind string, fresh func(id string) State, bodies ...Body) {
	if _, taken := c.subjects[kind]; taken {
		panic("fact: subject registered twice: " + kind)
	}
	c.subjects[kind] = fresh
	for _, b := range bodies {
		k := b.FactKind()
		if _, taken := c.bodies[k]; taken {
			panic("fact: body registered twice: " + k)
		}
		c.bodies[k] = reflect.TypeOf(b)
	}
}

// Fresh gives the empty state of a subject; ok is false for an unknown kind.
func (c *Catalogue) Fresh(ref Ref) (state State, ok bool) {
	f, ok := c.subjects[ref.Kind]
	if !ok {
		return nil, false
	}
	return f(ref.ID), true
}

// Subjects lists the registered kinds in alphabetical order.
func (c *Catalogue) Subjects() []string { return keys(c.subjects) }

// Bodies lists the registered kinds of body in alphabetical order.
func (c *Catalogue) Bodies() []string { return keys(c.bodies) }

func keys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

// Decode reads a body of a kind from JSON. Unknown kinds and malformed JSON are errors; unknown fields are kept out
// silently, so that an older program can read what a newer one wrote.
func (c *Catalogue) Decode(kind string, data []byte) (Body, error) {
	t, ok := c.bodies[kind]
	if !ok {
		return nil, fmt.Errorf("fact: unknown kind %q", kind)
	}
	p := reflect.New(t)
	if err := json.Unmarshal(data, p.Interface()); err != nil {
		return nil, fmt.Errorf("fact: %s: %w", kind, err)
	}
	return p.Elem().Interface().(Body), nil
}

// Mention is something that a state points at: a visit mentions the meter that read it. The store keeps mentions beside
// the state, so that "who was tested with this lot" is one look-up.
type Mention struct {
	Name  string    // for example "meter"
	Value string    // for example the meter's id
	At    time.Time // when the state last had to do with it
}

// Mentioner is a state that points at other things.
type Mentioner interface {
	Mentions() []Mention
}

// Tallier is a state that counts in reports. Tally says in one short line what it counts as: what a report over a season reads
// instead of the state. Only the package of the state knows how the line is written. It holds no personal data.
type Tallier interface {
	Tally() string
}

// Indexed is a state with a parent, under which it can be listed in the order of its label.
type Indexed interface {
	Index() (parent, label string)
}
