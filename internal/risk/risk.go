// Package risk computes the two published questionnaires about the risk of diabetes that screening programmes use on
// paper: the seven items of Bang et al. with the weight chart of the ADA/CDC form, and the Finnish score (FINDRISC) in its
// form of 26 points.
//
// Points and bands are tables with their source beside them, and every item of a result keeps its own points, so that a
// page can show the sum as the paper form does. Heights, weights and waists are exact integers: a limit printed in pounds
// is met or not met by a weight in kilograms without any rounding. A score asks or does not ask for a laboratory test; it
// says nothing about whether somebody has diabetes, and its sentences are worded so.
package risk

import (
	"fmt"
	"strconv"

	"fairstick/internal/fault"
)

// Score names one of the questionnaires.
type Score string

// The questionnaires.
const (
	ScoreADA      Score = "ada"      // Bang et al. 2009, as printed on the ADA/CDC form
	ScoreFindrisc Score = "findrisc" // Lindström and Tuomilehto 2003, form of 26 points
)

// Scores lists both in a fixed order.
var Scores = []Score{ScoreADA, ScoreFindrisc}

// Text is a sentence or label for people in the two languages of the result slip.
type Text struct{ En, Es string }

// In gives the text in a language; any language other than "es" gives English.
func (t Text) In(lang string) string {
	if lang == "es" {
		return t.Es
	}
	return t.En
}

// Sex is the answer to the form's question man or woman; both scores give points by it.
type Sex string

// The answers that the forms know.
const (
	Male   Sex = "male"
	Female Sex = "female"
)

// Answer is yes or no; the empty answer means not asked.
type Answer string

// The two answers.
const (
	Yes Answer = "yes"
	No  Answer = "no"
)

// Item is one line of a questionnaire with the points it gave.
type Item struct {
	Item   string // stable name, for example "blood-pressure"
	Answer string // what was answered: "yes", "52", "215 lb, 5 ft 10 in"
	Points int
	Label  Text // what was asked, in short
	Shown  Text // the answer for people, with the limit that it met
}

// Band is a range of totals, both ends included.
type Band struct {
	Key      string // stable name, for example "increased"
	From, To int
	Word     Text
	Meaning  Text // one or two sentences for the person
}

// Result is a questionnaire's outcome. Total is the sum of the items' points.
type Result struct {
	Score  Score
	Total  int
	Max    int // the most points that the form can give
	Items  []Item
	Band   Band
	Cut    int    // the total from which the person is told to ask for a laboratory test
	Source string // the publication and the form
	Notes  []Text // what the reader must know about the form
}

// Increased reports whether the total has reached the cut point.
func (r Result) Increased() bool { return r.Total >= r.Cut }

// result sums the items and finds the band. The bands cover 0 to the form's most points; a test holds them to it.
func result(s Score, items []Item, bands []Band, cut int, source string, notes []Text) Result {
	r := Result{Score: s, Max: bands[len(bands)-1].To, Items: items, Cut: cut, Source: source, Notes: notes}
	for _, it := range items {
		r.Total += it.Points
	}
	for _, b := range bands {
		if b.From <= r.Total {
			r.Band = b
		}
	}
	return r
}

// ageStep is a lower end of an age group in whole years and its points.
type ageStep struct{ from, points int }

func agePoints(steps []ageStep, age int) int {
	points := 0
	for _, s := range steps {
		if age >= s.from {
			points = s.points
		}
	}
	return points
}

// Limits of sense, ours: they catch a slip of the pen or a wrong unit, nothing else. Ages in whole years. Both forms are
// for adults; Bang's people were 20 or older, those of the Finnish score 35 to 64 (the latter from memory; check).
const (
	minAge, maxAge = 18, 120
)

var (
	minHeight, maxHeight = centimetres(90), centimetres(250)
	minWaist, maxWaist   = centimetres(40), centimetres(250)
	minWeight, maxWeight = kilograms(25), kilograms(400)
)

// check collects what is wrong with the answers: the first fault speaks, and every bad field keeps its message.
type check struct{ f *fault.Fault }

func (c *check) bad(field, sentence, why, do string) {
	if c.f == nil {
		c.f = fault.New(fault.Invalid, "risk-"+field, sentence, why, do)
	}
	c.f = c.f.Field(field, sentence)
}

// err gives a nil error when nothing is wrong.
func (c *check) err() error {
	if c.f == nil {
		return nil
	}
	return c.f
}

func (c *check) age(age int) {
	if age < minAge || age > maxAge {
		c.bad("age", fmt.Sprintf("An age of %d years cannot be scored.", age), "Both questionnaires are for adults.",
			fmt.Sprintf("Give whole years from %d to %d.", minAge, maxAge))
	}
}

func (c *check) sex(s Sex) {
	if s != Male && s != Female {
		c.bad("sex", "The form asks male or female.", "Some points depend on it.", "Give male or female, or leave the score out.")
	}
}

func (c *check) answer(field string, label Text, a Answer) {
	switch a {
	case Yes, No:
	case "":
		c.missing(field, label)
	default:
		c.bad(field, fmt.Sprintf("%q is no answer to: %s.", string(a), label.En), "The form gives points for yes or for no alone.",
			"Give yes or no; if the person does not know, leave the score out.")
	}
}

func (c *check) missing(field string, label Text) {
	c.bad(field, "Not answered: "+label.En+".", "The total stands only when every item is answered.",
		"Ask; if the person does not know, leave the score out.")
}

func (c *check) length(field string, label Text, l, low, high Length) {
	switch {
	case l.IsZero():
		c.missing(field, label)
	case l.um < low.um || l.um > high.um:
		c.bad(field, fmt.Sprintf("%s: %s cannot be right.", label.En, l), "A wrong unit gives wrong points.",
			fmt.Sprintf("Give a length from %s to %s with its unit.", low, high))
	}
}

func (c *check) weight(w Weight) {
	switch {
	case w.IsZero():
		c.missing("weight", weightLabel)
	case w.units < minWeight.units || w.units > maxWeight.units:
		c.bad("weight", fmt.Sprintf("Weight: %s cannot be right.", w), "A wrong unit gives wrong points.",
			fmt.Sprintf("Give a weight from %s to %s with its unit.", minWeight, maxWeight))
	}
}

var (
	ageLabel    = Text{"Age in years", "Edad en años"}
	heightLabel = Text{"Height", "Estatura"}
	weightLabel = Text{"Weight", "Peso"}
)

// same is an answer that reads alike in both languages.
func same(s string) Text { return Text{s, s} }

func shownAnswer(a Answer) Text {
	if a == Yes {
		return Text{"yes", "sí"}
	}
	return Text{"no", "no"}
}

// ageItem is the first line of both forms.
func ageItem(age int, steps []ageStep) Item {
	years := strconv.Itoa(age)
	return Item{"age", years, agePoints(steps, age), ageLabel, same(years)}
}

// asked makes an item of a yes-or-no question that gives points when the answer is on.
func asked(name string, label Text, a, on Answer, points int) Item {
	it := Item{Item: name, Answer: string(a), Label: label, Shown: shownAnswer(a)}
	if a == on {
		it.Points = points
	}
	return it
}
