// Package ui is the set of parts that every page is built from: the shell, the form fields, the marks of the six bands, the
// number pad, the countdown, tables and refusals. Pages compose them and write no markup of their own for these things, so
// that one place keeps the promises made to people: a label for every field, a word beside every colour, no inline style or
// script, the same mark for the same band everywhere. Parameters are typed structs; a part reads no clock.
package ui

import (
	"time"

	"fairstick/internal/fault"
)

// Link leads to another page. Count, when given, stands beside the label ("Waiting 3").
type Link struct {
	Href    string
	Label   string
	Count   string
	Current bool   // this is the page we are on
	Lang    string // of the label, where it is not the page's
}

// Alert is one critical matter, shown at the top of every screen until it is handled.
type Alert struct {
	Key    string // stable and unique among the alerts; stilling its sound is remembered by it
	Word   string // "Critical" when empty
	Text   string // "Ticket 14: HI mg/dL at 10:41. Stay with the person."
	Href   string
	Action string // label of the link, "Go there" when empty
}

// Page is what the shell needs to know.
type Page struct {
	Lang      string // "en" when empty; "es" changes the shell's own words too
	Title     string // the heading of the page
	Lead      string // one sentence under the heading; may be empty
	Ticket    string // ticket number, printed as a stub beside the heading; may be empty
	Programme string
	Station   string // "Desk", "Test 2", "Board"; may be empty
	Who       string // name of the person signed in; empty when nobody is
	Role      string // "screener"
	HandOver  string // address where the next person signs in; no link when empty
	Demo      bool   // shows the strip "Invented demo data"
	Practice  bool   // shows the strip "Practice" and says so in the title
	Scene     *Scene // what happens in the practice day, and the way back to it; may be nil
	Nav       []Link
	Back      *Link // leads back without loss; may be nil
	Alerts    []Alert
	Note      string // what the page before has done, shown as a notice of tone Done; may be empty
	Live      string // address of the event stream that keeps fragments true; no stream when empty
	Wide      bool   // office and board: the whole width of a laptop
	Switch    string // address to come back to when the language of the interface is changed here; no switch when empty
}

// Scene is shown on each page of a practice day under its strip.
type Scene struct {
	Text, Task string
	Back       Link
}

// Sheet is the frame around fields. It posts unless Get is set.
type Sheet struct {
	ID      string // "form" when empty
	Action  string
	Get     bool
	Upload  bool   // the form carries a file
	Command string // id of the command, so that a second press never makes a second fact
	Again   string // id of what takes the answer's place whenever something is changed, for a form that asks (Get)
	Draft   string // names what is filled in, for example "desk-<visit>"; kept on the device under it. No draft when empty
}

// Kind says what a field takes.
type Kind string

// The kinds of field.
const (
	Text     Kind = "text"
	Number   Kind = "number" // digits and a point; a text field with a number keyboard, so that nothing is rounded or spun
	Date     Kind = "date"
	Time     Kind = "time"
	Tel      Kind = "tel"
	Email    Kind = "email"
	PIN      Kind = "pin"
	Password Kind = "password"
	Area     Kind = "area"
	Select   Kind = "select"
	File     Kind = "file"
)

// Width is how much of the line a field takes.
type Width string

// The widths of a field.
const (
	Full   Width = ""
	Short  Width = "short"  // a few figures
	Medium Width = "medium" // a date, a name
)

// Input is one labelled field. Label is required; Error stands beside the field and is tied to it for screen readers.
type Input struct {
	ID           string // "f-"+Name when empty; give one when a name occurs twice on a page
	Name         string
	Label        string
	Help         string
	Error        string
	Value        string
	Kind         Kind   // Text when empty
	Unit         string // printed at the end of the field
	Optional     bool   // says so beside the label; every other field is required
	OptionalWord string // "optional" when empty
	Private      bool   // personal or secret: never kept in a draft on the device
	ReadOnly     bool
	Focus        bool // the page begins here
	Width        Width
	Autocomplete string // "off" when empty
	Min, Max     string // for Date and Time
	MaxLength    int
	Rows         int    // for Area; 3 when 0
	Accept       string // for File
	Options      []Option
}

// Option is one possible answer.
type Option struct {
	Value    string
	Label    string
	Hint     string // a second line on a tile
	Band     string // puts the mark of a band on the tile; may be empty
	Disabled bool
}

// Pick is a question answered by one of a few large tiles.
type Pick struct {
	ID       string // "f-"+Name when empty
	Name     string
	Legend   string
	Help     string
	Error    string
	Value    string
	Options  []Option
	Optional bool
	Row      bool // tiles side by side, for two or three short answers
}

// Ask is a question answered by yes or no, or by "not known" when Unsure is given. Values are "yes", "no" and "unsure".
type Ask struct {
	ID     string
	Name   string
	Legend string
	Help   string
	Error  string
	Value  string
	Yes    string // "Yes" when empty
	No     string // "No" when empty
	Unsure string // label of the third answer; no third answer when empty
}

// Box is a tick box with the whole row as its target.
type Box struct {
	ID       string // "f-"+Name, and "-"+Value when a Value is given
	Name     string
	Value    string // "yes" when empty
	Label    string
	Help     string
	HelpLang string // when it differs from that of the page
	Error    string
	Checked  bool
	Required bool
}

// Pad is a number field with its own keys on the page. Its value is what was typed: "95", "5.3", "LO", "HI", or "E" and the
// figures of an error code ("E3").
type Pad struct {
	ID      string // "f-"+Name when empty
	Name    string
	Label   string
	Help    string
	Error   string
	Value   string
	Unit    string // printed on the key row and beside the figures
	Decimal bool   // has a point key
	Reading bool   // has the keys LO, HI and Error
	Secret  bool   // shows dots, for a PIN
	MaxLen  int    // 5 when 0
	Focus   bool
}

// Timer counts down on the page. It is rendered as at Now and runs on in the browser; without scripts the text says when it
// ends by the wall clock.
type Timer struct {
	ID      string // unique on the page
	Text    string // "Wipe the meter"
	Done    string // "The meter is dry. Ready for the next person."
	Start   time.Time
	Now     time.Time // of the same zone as Start
	Seconds int
	Compact bool // for a strip or a table
}

// Figure is a count with its denominator, and a link to its rows.
type Figure struct {
	Label  string
	Number string
	Of     string // "of 128 tested"
	Note   string
	Href   string
}

// Tone says what a notice is about.
type Tone string

// The tones of a notice.
const (
	Plain   Tone = "plain"
	Done    Tone = "done"    // it is in the record
	Caution Tone = "caution" // read this before you go on
	Stop    Tone = "stop"    // do not go on
)

// Step is one page of a job.
type Step struct {
	Label string
	Href  string // may be empty
	State StepState
}

// StepState says how far a step is.
type StepState string

// The states of a step.
const (
	StepDone StepState = "done"
	StepNow  StepState = "now"
	StepNext StepState = "next"
)

// Col is one column of a table.
type Col struct {
	Label string
	Num   bool // figures, set to the right
}

// Grid is a table of rows given as children. Stack turns each row into a small card on a phone, where every cell shows its
// Label; without it the table scrolls inside its own frame.
type Grid struct {
	ID      string
	Caption string
	Cols    []Col
	Stack   bool // on a phone each cell on a line of its own, below its word
	Short   bool // with Stack: on a phone short cells side by side, each below its word
}

// Sift is a field that narrows a list by typing. Target is the id of the list or table.
type Sift struct {
	Target string
	Label  string // "Find in this list" when empty
}

// Message gives what a fault says about one field; "" when it says nothing or there is no fault.
func Message(f *fault.Fault, name string) string {
	if f == nil {
		return ""
	}
	return f.Fields[name]
}

// Waiting is one ticket on the board.
type Waiting struct {
	Ticket  string
	Href    string
	Minutes int
	Note    string // "Spanish", "repeat after washing"; may be empty
	Late    bool   // has waited longer than the programme wants; said in words too
	Urgent  bool   // critical or low: stands out from all others
	Word    string // what is urgent, "Critical" when empty
}

// Gear is one meter on the board's strip.
type Gear struct {
	Name  string // "Meter 3"
	State string // the word: "Cleared", "Controls first", "Wiping", "Out of use"
	Note  string // "lot 4471, 38 strips"
	Href  string
	Ready bool // may test people now
	Out   bool // quarantined or out of use
}
