package exchange

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// stockHead are the columns of the stock as it stands, one lot or supply a row.
var stockHead = []string{
	"id", "name", "unit", "expiry", "on_hand", "places", "at_events", "received", "found", "used_at_events", "disposed", "lost", "state", "reason", "price_of_one_minor", "currency", "worth_minor",
}

// WriteStock writes the stock as CSV. Prices are in minor units: the mean of the programme's own invoices.
func WriteStock(w io.Writer, lines []programme.StockLine) error {
	rows := make([][]string, 0, len(lines))
	for _, l := range lines {
		var places []string
		for _, p := range l.Places {
			places = append(places, p.Place+" "+strconv.Itoa(p.N))
		}
		state, reason := "may be used", ""
		switch {
		case l.Hold != nil && l.Hold.Kind == stock.InRecall:
			state, reason = "recalled", l.Hold.Source+": "+l.Hold.Reason
		case l.Hold != nil:
			state, reason = "quarantine", l.Hold.Reason
		case l.Withdrawn != "":
			state, reason = "withdrawn", l.Withdrawn
		case l.Expired:
			state = "expired"
		case !l.Kept:
			state = "not counted"
		}
		expiry := ""
		if !l.Expiry.IsZero() {
			expiry = l.Expiry.String()
		}
		row := []string{l.Key, l.Name, l.Unit, expiry, strconv.Itoa(l.OnHand), strings.Join(places, "; "), strconv.Itoa(l.AtEvents), strconv.Itoa(l.Received), strconv.Itoa(l.Found), strconv.Itoa(l.Used), strconv.Itoa(l.Disposed), strconv.Itoa(l.Lost), state, reason, "", "", ""}
		if l.Price != nil {
			row[14], row[15], row[16] = strconv.FormatFloat(l.Price.Mean, 'f', 2, 64), l.Price.Currency, strconv.FormatInt(l.Value, 10)
		}
		rows = append(rows, row)
	}
	return writeRows(w, stockHead, rows)
}

// WriteTrace writes what a lot touched as CSV: one row for each participant, by ticket, and one for each control run. It holds
// no name, and does not say who may be called.
func WriteTrace(w io.Writer, t *programme.LotTrace) error {
	var rows [][]string
	for _, d := range t.Events {
		for _, x := range d.People {
			rows = append(rows, []string{t.Name, d.Name, d.Date.String(), "person", strconv.Itoa(x.Ticket), moment(x.Readings[0].At), x.Readings[0].Meter, strings.Join(x.Vials(), ", "), "", "", "", strconv.Itoa(len(x.Readings)), strconv.FormatBool(x.Counts)})
		}
		for _, r := range d.Runs {
			rows = append(rows, []string{t.Name, d.Name, d.Date.String(), "control", "", moment(r.At), r.Meter, r.Vial, r.Bottle, r.Level, r.Verdict, "", ""})
		}
	}
	return writeRows(w, []string{"lot", "event", "date", "what", "ticket", "at", "meter", "vial", "bottle", "level", "verdict", "readings", "told"}, rows)
}

func writeRows(w io.Writer, head []string, rows [][]string) error {
	out := csv.NewWriter(w)
	if err := out.Write(head); err != nil {
		return err
	}
	for _, r := range rows {
		line := make([]string, len(r))
		for i, s := range r {
			line[i] = asText(s)
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
