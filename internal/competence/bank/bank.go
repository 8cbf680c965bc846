// Package bank is the questions by which a volunteer shows what they know: a fixed set in plain text files, and makers
// that compute new ones, with their answers, from a source of chance and the programme's own protocol.
//
// No number with a clinical meaning is typed beside its answer. What a made question asks is judged by the packages that
// run the day, so that a programme with other limits gets other answers. A quiz is the same for the same seed, which is
// how it can be shown again.
package bank

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"fairstick/internal/competence/cards"
	"fairstick/internal/protocol"
)

// Topic is what a question is about.
type Topic string

// The topics in the order of a day.
const (
	Eligibility Topic = "eligibility"
	Consent     Topic = "consent"
	Controls    Topic = "controls"
	Codes       Topic = "codes-and-lots"
	Technique   Topic = "technique"
	Infection   Topic = "infection-control"
	Sharps      Topic = "sharps-and-exposure"
	Reading     Topic = "reading-the-meter"
	Meaning     Topic = "interpretation"
	Criticals   Topic = "criticals"
	Wording     Topic = "wording"
	Privacy     Topic = "privacy"
	Waste       Topic = "waste"
	Closing     Topic = "closing"
)

// Topics lists the topics in the order of a day.
var Topics = []Topic{
	Eligibility, Consent, Controls, Codes, Technique, Infection, Sharps, Reading, Meaning, Criticals, Wording, Privacy, Waste, Closing,
}

// Valid reports whether t is one of Topics.
func (t Topic) Valid() bool { return slices.Contains(Topics, t) }

// Word gives the topic as people say it.
func (t Topic) Word() protocol.Text { return topicWords[t] }

var topicWords = map[Topic]protocol.Text{
	Eligibility: text("who may be screened", "a quién se puede medir"),
	Consent:     text("consent", "consentimiento"),
	Controls:    text("controls", "controles"),
	Codes:       text("codes and lots", "códigos y lotes"),
	Technique:   text("technique", "técnica"),
	Infection:   text("infection control", "control de infecciones"),
	Sharps:      text("sharps and exposure", "punzantes y exposición"),
	Reading:     text("reading LO, HI and errors", "leer LO, HI y errores"),
	Meaning:     text("what a reading means", "qué significa un valor"),
	Criticals:   text("critical readings", "valores críticos"),
	Wording:     text("words to participants", "palabras a participantes"),
	Privacy:     text("privacy", "privacidad"),
	Waste:       text("waste", "residuos"),
	Closing:     text("closing", "cierre"),
}

// Question is one question with its answers in both languages.
type Question struct {
	Key      string        `json:"key"` // stable; questions that one maker made share it
	Topic    Topic         `json:"topic"`
	From     cards.Level   `json:"from"` // the first level that is asked it
	Critical bool          `json:"critical,omitempty"`
	Stem     protocol.Text `json:"stem"`
	Options  []Option      `json:"options"` // 3 to 5
	Why      protocol.Text `json:"why"`
	Source   string        `json:"source"`          // a key of docs/sources.md
	Holds    []string      `json:"holds,omitempty"` // what the protocol must say for the answer to be right
	Made     bool          `json:"made,omitempty"`
}

// Option is one answer that is offered.
type Option struct {
	Text  protocol.Text `json:"text"`
	Right bool          `json:"right,omitempty"`
}

// Several reports whether more than one option is right, so that all of them must be chosen.
func (q Question) Several() bool { return len(q.right()) > 1 }

// right gives the places of the right options.
func (q Question) right() []int {
	var out []int
	for i, o := range q.Options {
		if o.Right {
			out = append(out, i)
		}
	}
	return out
}

// Validate says what is wrong with a question: a missing key, language, reason or source, an unknown topic or level, fewer than 3 or
// more than 5 options, options that read the same, or none or all of them right.
func (q Question) Validate() error {
	switch {
	case q.Key == "" || q.Source == "" || !q.Topic.Valid() || !q.From.Valid():
		return fmt.Errorf("question %q: key, source, topic (%q) or level (%q) is missing or unknown", q.Key, q.Topic, q.From)
	case len(q.Options) < 3 || len(q.Options) > 5:
		return fmt.Errorf("question %q has %d options, not 3 to 5", q.Key, len(q.Options))
	case len(q.right()) == 0 || len(q.right()) == len(q.Options):
		return fmt.Errorf("question %q: %d of %d options are right", q.Key, len(q.right()), len(q.Options))
	}
	for _, lang := range []string{"en", "es"} {
		if strings.TrimSpace(q.Stem[lang]) == "" || strings.TrimSpace(q.Why[lang]) == "" {
			return fmt.Errorf("question %q has no stem or reason in %q", q.Key, lang)
		}
		seen := map[string]bool{}
		for _, o := range q.Options {
			s := strings.ToLower(strings.TrimSpace(o.Text[lang]))
			if s == "" || seen[s] {
				return fmt.Errorf("question %q: an option is empty or stands there twice in %q: %q", q.Key, lang, s)
			}
			seen[s] = true
		}
	}
	return nil
}

// Maker computes questions of one kind.
type Maker struct {
	Key      string
	Topic    Topic
	From     cards.Level
	Critical bool
	Source   string
	make     func(r *rand.Rand, p protocol.Protocol) (draft, error)
}

// draft is what a maker computed; the first option is the right one until it is shuffled.
type draft struct {
	stem, why protocol.Text
	right     protocol.Text
	wrong     []protocol.Text
}

// Make computes a question. It is the same for the same state of the source of chance and the same protocol. The error is a
// *fault.Fault of a protocol that does not say what is asked.
func (m Maker) Make(r *rand.Rand, p protocol.Protocol) (Question, error) {
	d, err := m.make(r, p)
	if err != nil {
		return Question{}, fmt.Errorf("question %s: %w", m.Key, err)
	}
	q := Question{Key: m.Key, Topic: m.Topic, From: m.From, Critical: m.Critical, Stem: d.stem, Why: d.why, Source: m.Source, Made: true}
	q.Options = []Option{{Text: d.right, Right: true}}
	for _, w := range d.wrong {
		if !slices.ContainsFunc(q.Options, func(o Option) bool { return o.Text["en"] == w["en"] }) {
			q.Options = append(q.Options, Option{Text: w})
		}
	}
	r.Shuffle(len(q.Options), func(i, j int) { q.Options[i], q.Options[j] = q.Options[j], q.Options[i] })
	return q, q.Validate()
}

// Makers lists all makers in the order of the topics.
func Makers() []Maker {
	all := slices.Concat(eligibilityMakers, controlMakers, codeMakers, readingMakers, meaningMakers, criticalMakers, closingMakers)
	slices.SortStableFunc(all, func(a, b Maker) int { return slices.Index(Topics, a.Topic) - slices.Index(Topics, b.Topic) })
	return all
}

func text(en, es string) protocol.Text { return protocol.Text{"en": en, "es": es} }

// textf fills the same values into both languages.
func textf(en, es string, values ...any) protocol.Text {
	return text(fmt.Sprintf(en, values...), fmt.Sprintf(es, values...))
}
