// Package fhir writes events of the record as FHIR R4: a bundle of the type collection, or NDJSON with one resource a line.
//
// It writes one event at a time and holds no more than that, however long the span. The ids follow from the ids of the
// record, so that the same record gives the same bytes, and a receiver that is sent an event twice finds the same resources.
//
// Nobody has a Patient unless they allowed that their name is kept and whoever exports has asked for names. Everybody else
// is a logical reference: the id of their visit, which says nothing to whoever does not hold the record. FHIR needs some
// subject there, since a ServiceRequest without one is invalid and a Consent without one breaks its rules ppc-2 and ppc-5.
// The subject of a control run is its meter: it is an observation of a device, never of a person.
package fhir

import (
	"encoding/json"
	"strings"
	"time"

	"github.com/google/uuid"

	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// style is how resources point at each other.
type style int

// The styles of references.
const (
	inBundle style = iota // urn:uuid, for entries of a bundle
	inLines               // Type/id, for NDJSON
)

// space is the name space of the ids (a random UUID, chosen once).
var space = uuid.MustParse("5b0c2ea3-7e0b-4d0e-9a53-0f7d6c1c2b94")

// ID gives the id of a resource that stands for something of the record.
func ID(kind string, of ...string) string {
	return uuid.NewSHA1(space, []byte(kind+"\x00"+strings.Join(of, "\x00"))).String()
}

// number keeps the digits of a value as the meter showed them.
func number(v glucose.Value) json.Number { return json.Number(v.Number()) }

// builder makes the resources of one event.
type builder struct {
	style style
	x     *programme.Leaving
	zone  *time.Location
	put   func(Resource) error
	err   error
	calls map[string]programme.FollowUp // by the id of the visit
	said  map[string]bool               // what several events share and was written already, by id
}

// write hands a resource on; the first error ends everything.
func (b *builder) write(r Resource) {
	if b.err == nil {
		b.err = b.put(r)
	}
}

// share hands on a resource that several events or visits point at, once.
func (b *builder) share(r Resource) {
	if _, id := r.About(); !b.said[id] {
		b.said[id] = true
		b.write(r)
	}
}

func (b *builder) to(kind string, of ...string) Reference {
	id := ID(kind, of...)
	if b.style == inBundle {
		return Reference{Reference: "urn:uuid:" + id}
	}
	return Reference{Reference: kind + "/" + id}
}

func (b *builder) at(kind string, of ...string) *Reference {
	r := b.to(kind, of...)
	return &r
}

func head(kind string, of ...string) Head { return Head{ResourceType: kind, ID: ID(kind, of...)} }

// record is the identifier of something by its id in the record.
func record(id string) Identifier { return Identifier{System: uri, Value: "urn:uuid:" + id} }

// moment writes a time with the offset of the event; empty for none.
func (b *builder) moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(b.zone).Format("2006-01-02T15:04:05.000-07:00")
}

// build makes the resources of one event, in an order that follows from the record alone: what is pointed at comes first.
// What the events of a span share is made once for as long as said is the same map, which never holds a visit.
func build(x *programme.Leaving, style style, said map[string]bool, put func(Resource) error) error {
	b := &builder{style: style, x: x, zone: x.Zone, put: put, said: said, calls: map[string]programme.FollowUp{}}
	for _, f := range x.FollowUps() {
		b.calls[f.Visit.ID] = f
	}
	b.surroundings()
	for _, r := range x.Event.Runs {
		b.control(r)
	}
	for i := range x.Going {
		if b.err != nil {
			break
		}
		b.visit(&x.Going[i])
	}
	return b.err
}
