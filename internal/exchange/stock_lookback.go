package exchange

import (
	"io"
	"strconv"

	"fairstick/internal/programme"
)

// WriteSupplyTrace writes what a lot of a supply may have touched as CSV: one row for each event, with counts alone. Brought, used
// and back are empty for what is not counted out to events, wipes for anything but a disinfectant.
func WriteSupplyTrace(w io.Writer, t *programme.SupplyTrace) error {
	rows := make([][]string, 0, len(t.Days))
	for _, d := range t.Days {
		row := []string{t.Line.Name, string(t.Knows), d.Name, d.Date.String(), "", "", "", "", strconv.Itoa(d.Tested), strconv.Itoa(d.Touched)}
		if d.Trip != nil {
			row[4], row[5], row[6] = strconv.Itoa(d.Trip.Brought), strconv.Itoa(d.Trip.Used), strconv.Itoa(d.Trip.Back)
		}
		if t.Knows == programme.KnownWiped {
			row[7] = strconv.Itoa(d.Wipes)
		}
		rows = append(rows, row)
	}
	return writeRows(w, []string{"supply", "known_by", "event", "date", "brought", "used", "back", "wipes", "people_tested", "people_touched"}, rows)
}
