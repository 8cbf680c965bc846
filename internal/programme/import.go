package programme

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"sort"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// The lists that can be loaded from a file.
const (
	PeopleList        = "people"
	VerificationsList = "verifications"
	MetersList        = "meters"
	StripLotsList     = "strip-lots"
	ControlLotsList   = "control-lots"
	DisinfectantsList = "disinfectants"
	SuppliesList      = "supplies"
)

// MaxImportRows is how many rows one import may have: a writer that is busy for long would hold up the day.
const MaxImportRows = 500

// ImportRow is one row of a list as it was typed: text by the name of its column.
type ImportRow struct {
	Line   int               // in the file, from 1
	Values map[string]string // an absent column and an empty cell are the same
}

// ImportList loads rows into one list. Dry tries everything and records nothing.
type ImportList struct {
	Act
	List string
	Rows []ImportRow
	Dry  bool
}

// BadRow says what is wrong with one cell of one row.
type BadRow struct {
	Line     int    `json:"line"`
	Column   string `json:"column"`
	Sentence string `json:"sentence"`
}

// Imported is what came of an import. With any bad row nothing is recorded, and Added counts the good ones.
type Imported struct {
	Added int      `json:"added"` // rows added, or that would be added
	There int      `json:"there"` // rows that say what the record has already
	Bad   []BadRow `json:"bad,omitempty"`
}

// What became of one row.
var (
	errThere  = errors.New("programme: the record has this row already")
	errDiffer = errors.New("programme: the record has this row with other details")
)

// ImportList loads a list in one command: each row passes the same checks as on its page, and either all new rows are
// recorded or none. A row that says what is there already adds nothing; a row that says something else about a thing that
// is there is a bad row, since a file should not overwrite what somebody typed. Only a lead may.
func (p *Programme) ImportList(ctx context.Context, a Actor, c ImportList) (Imported, error) {
	load, known := loaders[c.List]
	if !known {
		return Imported{}, fault.New(fault.Missing, "no-such-list", fmt.Sprintf("There is no list called %q.", c.List), "",
			"Choose one of: people, verifications, meters, strip-lots, control-lots, disinfectants, supplies.")
	}
	if len(c.Rows) == 0 {
		return Imported{}, fault.BadField("file", "There are no rows under the header.")
	}
	if len(c.Rows) > MaxImportRows {
		return Imported{}, fault.BadField("file", "The list has %d rows; load at most %d at once.", len(c.Rows), MaxImportRows)
	}
	act := c.Act
	if c.Dry {
		act.ID = ""
	}
	var tried Imported
	out, err := do(ctx, p, a, act, "import."+c.List, func(w *work) (Imported, error) {
		if err := w.need(people.Lead); err != nil {
			return Imported{}, err
		}
		var err error
		if tried, err = w.importRows(load, c.Rows); err != nil {
			return Imported{}, err
		}
		if c.Dry || len(tried.Bad) > 0 {
			return Imported{}, errDry
		}
		return tried, nil
	})
	if errors.Is(err, errDry) {
		return tried, nil
	}
	return out, err
}

func (w *work) importRows(load loader, rows []ImportRow) (Imported, error) {
	var out Imported
	ids, err := load.ids(w)
	if err != nil {
		return out, err
	}
	w.before = w.unlessThere
	command, err := uuid.Parse(w.id)
	if err != nil {
		return out, err
	}
	seen := map[string]int{}
	for i, r := range rows {
		row := &importing{values: r.Values}
		key := load.key(row)
		if first, twice := seen[key]; twice && strings.Trim(key, "\x00") != "" {
			out.Bad = append(out.Bad, BadRow{r.Line, load.column, fmt.Sprintf("This repeats line %d.", first)})
			continue
		}
		seen[key] = r.Line
		// Each row has an id of its own that follows from the command's, so that a repeated command makes the same.
		w.id, w.first = uuid.NewSHA1(command, []byte(strconv.Itoa(i))).String(), true
		err := load.row(w, row, ids[load.about(row)])
		switch {
		case err == nil:
			out.Added++
		case errors.Is(err, errThere):
			out.There++
		default:
			var f *fault.Fault
			switch {
			case errors.Is(err, errDiffer):
				out.Bad = append(out.Bad, BadRow{r.Line, load.column, "This is on the list with other details. Change it on its page, or make the row the same."})
			case errors.As(err, &f):
				out.Bad = append(out.Bad, badRows(r.Line, load.column, f)...)
			default:
				return out, err
			}
		}
	}
	return out, nil
}

func badRows(line int, column string, f *fault.Fault) []BadRow {
	if len(f.Fields) == 0 {
		return []BadRow{{line, column, strings.TrimSpace(f.Sentence + " " + f.Do)}}
	}
	var out []BadRow
	for name, sentence := range f.Fields {
		if name == "ranges" {
			name = "range_1"
		}
		out = append(out, BadRow{line, name, sentence})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Column < out[j].Column })
	return out
}

// unlessThere stops a fact about something that the record has already: with errThere when it says the same.
func (w *work) unlessThere(ref fact.Ref, body fact.Body) error {
	st, ok, err := w.tx.State(ref)
	if err != nil || !ok {
		return err
	}
	var old fact.Body
	switch s := st.(type) {
	case *people.State:
		v, verifies := body.(people.Verified)
		if !verifies {
			old = s.Details
			break
		}
		for _, x := range s.Verifications {
			if x.Role == v.Role && x.From == v.From && x.Until == v.Until {
				return errThere
			}
		}
		return nil
	case *stock.Meter:
		old = s.Details
	case *stock.StripLot:
		old = s.Details
	case *stock.ControlLot:
		old = s.Details
	case *stock.Disinfectant:
		old = s.Details
	case *stock.Supply:
		old = s.Details
	}
	if reflect.DeepEqual(old, body) {
		return errThere
	}
	return errDiffer
}

// importing is one row while it is read; a number that is none is kept as a fault of its column.
type importing struct {
	fields
	values map[string]string
}

func (r *importing) text(column string) string { return tidy(r.values[column]) }

// several reads the values of a cell that may hold more than one.
func (r *importing) several(column string) []string {
	return tidyAll(strings.FieldsFunc(r.values[column], func(c rune) bool { return c == '|' || c == ',' || c == ';' }))
}

func (r *importing) whole(column, label string) int {
	v := r.text(column)
	if v == "" {
		r.say(column, "%s is missing.", label)
		return 0
	}
	n, err := strconv.Atoi(v)
	if err != nil || len(v) > 9 {
		r.say(column, "%s should be a whole number; %q was typed.", label, v)
	}
	return n
}

func (r *importing) number(column, label string) *float64 {
	if n, ok := r.decimal(column, label, r.values[column], false); ok {
		return &n
	}
	return nil
}

func (r *importing) yes(column, label string) bool {
	switch strings.ToLower(r.text(column)) {
	case "yes":
		return true
	case "no":
		return false
	}
	r.say(column, "%s should be yes or no; %q was typed.", label, r.text(column))
	return false
}

// ranges reads the columns range_LEVEL, each "low-high" as printed.
func (r *importing) ranges() []RangeText {
	var columns []string
	for c := range r.values {
		if strings.HasPrefix(c, RangePrefix) && r.text(c) != "" {
			columns = append(columns, c)
		}
	}
	sort.Strings(columns)
	var out []RangeText
	for _, c := range columns {
		low, high, ok := strings.Cut(strings.ReplaceAll(r.text(c), "–", "-"), "-")
		if !ok {
			r.say(c, "Write the range as printed, like 92-128; %q was typed.", r.text(c))
			continue
		}
		out = append(out, RangeText{Level: strings.TrimPrefix(c, RangePrefix), Low: low, High: high})
	}
	return out
}

// RangePrefix begins the name of a column that holds the printed range of one level of control.
const RangePrefix = "range_"

// loader is how one list is loaded.
type loader struct {
	column string                                          // the column that names the thing
	key    func(*importing) string                         // what no two rows of a file may share
	about  func(*importing) string                         // the key in ids of the thing that the row is about
	ids    func(*work) (map[string]string, error)          // what the record has already
	row    func(w *work, r *importing, there string) error // records one row; there is the id of what the row is about
}

func joined(parts ...string) string {
	for i, p := range parts {
		parts[i] = strings.ToLower(tidy(p))
	}
	return strings.Join(parts, "\x00")
}

// known lists what the record has of a kind, by key.
func known[S fact.State](kind string, key func(S) (key, id string)) func(*work) (map[string]string, error) {
	return func(w *work) (map[string]string, error) {
		all, err := listed[S](w.tx.All(kind))
		if err != nil {
			return nil, err
		}
		out := make(map[string]string, len(all))
		for _, s := range all {
			k, id := key(s)
			out[k] = id
		}
		return out, nil
	}
}

func knownPeople(w *work) (map[string]string, error) {
	return known(people.Kind, func(s *people.State) (string, string) { return joined(s.Details.Name), s.ID })(w)
}

// described runs the description of a row unless a number of it could not be read.
func described(r *importing, describe func() (Done, error)) error {
	if err := r.err(); err != nil {
		return err
	}
	_, err := describe()
	return err
}
