package exchange

import (
	"io"
	"strconv"
	"strings"

	"fairstick/internal/programme"
)

// lookBackHead are the columns of a look-back, one reading or one control run a row.
var lookBackHead = []string{
	"event", "date", "what", "ticket", "at", "reading", "purpose", "result_rests_on_it", "meter", "strip_lot", "vial", "station", "screener", "supervisor", "supervisors_present", "bottle", "level", "verdict",
}

// WriteLookBack writes whom a question touched as CSV: one row for each reading, by ticket, and one for each control run. It holds
// no participant's name and does not say who may be called.
func WriteLookBack(w io.Writer, b *programme.Affected) error {
	var rows [][]string
	for _, d := range b.Events {
		for _, x := range d.People {
			for _, r := range x.Readings {
				rows = append(rows, []string{
					d.Name, d.Date.String(), "reading", strconv.Itoa(x.Ticket), moment(r.At.In(d.Zone)), r.Shown, r.Purpose, strconv.FormatBool(r.Counts), r.Meter, r.Lot, r.Vial, r.Station, r.Screener, r.Supervisor,
					strings.Join(r.Present, "; "), "", "", "",
				})
			}
		}
		for _, r := range d.Runs {
			rows = append(rows, []string{d.Name, d.Date.String(), "control", "", moment(r.At.In(d.Zone)), "", "", "", r.Meter, "", r.Vial, "", "", "", "", r.Bottle, r.Level, r.Verdict})
		}
	}
	return writeRows(w, lookBackHead, rows)
}
