package exchange

import (
	"bytes"
	"io"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// oldest is the age from which Safe Harbor lets ages be told as one group: "all ages over 89" become "90 or older"
// (45 CFR 164.514(b)(2)(i)(C)).
const oldest = 90

// fewSpeakers is how many people must share a language before it is told: less would single them out (the size below which
// the CMS cell-size policy suppresses counts, ResDAC 2024).
const fewSpeakers = 11

// deidentifiedFields are the columns of a release without the 18 identifiers of Safe Harbor (45 CFR 164.514(b)(2)). What is
// not here is left out on purpose: dates but the year, times, places, tickets, ids of the record, meters, lots, free text,
// staff, and the answers to questions of the programme's own.
var deidentifiedFields = []Field{
	{Name: "row", Type: asInteger, Means: "number of the row in this file, after they were put in random order; it leads nowhere", Must: true},
	{Name: "year", Type: asYear, Means: "year of the screening", Must: true},
	{Name: "age", Type: asString, Means: "whole years as told; 90+ for everybody over 89; empty when not told"},
	{Name: "language", Type: asString, Means: "language tag; other when fewer than 11 people of this file share it"},
	{Name: "outcome", Type: asString, Means: "what became of the visit", Words: outcomeWords, Must: true},
	{Name: "basis", Type: asString, Means: "fasting or not", Words: basisWords},
	{Name: "kind", Type: asString, Means: "number, LO or HI", Words: []string{string(glucose.Numeric), string(glucose.Low), string(glucose.High)}},
	{Name: "value", Type: asNumber, Means: "the reading that counts, in its own unit; empty for LO and HI"},
	{Name: "unit", Type: asString, Means: "unit that the meter showed", Words: unitWords},
	{Name: "band", Type: asString, Means: "band of the protocol", Words: bandWords()},
	{Name: "readings", Type: asInteger, Means: "values shown by a meter", Must: true},
	{Name: "referred", Type: asBoolean, Means: "advised to see somebody", Must: true},
	{Name: "agreed", Type: asBoolean, Means: "said yes to that advice"},
	{Name: "followup", Type: asString, Means: "what came of it, without a day; empty for whoever was not referred", Words: placeWords},
}

// Deidentified gathers rows without identifiers. They leave in random order, so all of them are held: about 60 bytes each.
type Deidentified struct {
	rows      bytes.Buffer
	ends      []int
	languages map[string]int
}

// NewDeidentified begins a release.
func NewDeidentified() *Deidentified { return &Deidentified{languages: map[string]int{}} }

// Event takes in the visits of one event.
func (d *Deidentified) Event(x *programme.Leaving) error {
	year := strconv.Itoa(x.Event.Plan.Date.Time(time.UTC).Year())
	places := map[string]string{}
	for _, f := range x.FollowUps() {
		places[f.Visit.ID] = f.Row().Place
	}
	for i := range x.Going {
		v := &x.Going[i]
		d.languages[v.Language]++
		readings := 0
		for _, r := range v.Readings {
			if r.Reading.Kind != glucose.Error {
				readings++
			}
		}
		row := []string{year, d.age(v), v.Language, outcome(v.State), "", "", "", "", "", whole(readings), saysYes(v.Referral != nil), "", ""}
		if counting, ok := v.Counting(); ok && v.Finding() != nil {
			f := v.Finding()
			row[4], row[5], row[6], row[7], row[8] = string(f.Basis), string(counting.Reading.Kind), digits(counting.Reading), string(counting.Reading.Unit), string(f.Band)
		}
		if v.Referral != nil {
			row[11], row[12] = saysYes(v.Referral.Agreed), places[v.ID]
		}
		d.rows.WriteString(strings.Join(row, "\t"))
		d.ends = append(d.ends, d.rows.Len())
	}
	return nil
}

// age gives the age as Safe Harbor lets it be told.
func (d *Deidentified) age(v *programme.LeavingVisit) string {
	if v.Answers == nil {
		return ""
	}
	n, err := strconv.Atoi(strings.TrimSpace(v.Answers.Answers["age"]))
	switch {
	case err != nil || n < 0:
		return ""
	case n >= oldest:
		return "90+"
	}
	return strconv.Itoa(n)
}

// Write writes the release as a zip of one CSV and its dictionary. The order comes from the source of chance that is passed
// in, which must not be foreseeable: crypto/rand behind it.
func (d *Deidentified) Write(w io.Writer, chance *rand.Rand) error {
	t := Table{Name: "people", Title: "One row for each participant, without identifiers", Key: []string{"row"}, Fields: deidentifiedFields}
	t.rows = func(_ *programme.Leaving, put func(...string) error) error {
		order := chance.Perm(len(d.ends))
		for n, i := range order {
			start := 0
			if i > 0 {
				start = d.ends[i-1]
			}
			cells := strings.Split(string(d.rows.Bytes()[start:d.ends[i]]), "\t")
			if d.languages[cells[2]] < fewSpeakers {
				cells[2] = "other"
			}
			if err := put(append([]string{whole(n + 1)}, cells...)...); err != nil {
				return err
			}
		}
		return nil
	}
	never := time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC) // the file says nothing of when it was made
	return writeZip(w, never, []Table{t}, packaged{
		Name: "fairstick-deidentified", Title: "Community blood-glucose screening, without identifiers",
		Description: "The 18 identifiers of 45 CFR 164.514(b)(2) were left out. Whoever releases it must still know of nothing by which it could point at somebody. Show no count from 1 to 10 that is made from it.",
	}, func(each func(*programme.Leaving) error) error { return each(nil) })
}
