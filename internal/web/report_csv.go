package web

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/programme"
)

// csvColumn is one column of the report as CSV with what stands in it.
type csvColumn struct{ Name, Holds string }

// reportColumns are the columns of the report as CSV, one measured thing a row. The page shows them beside the file.
var reportColumns = []csvColumn{
	{"section", "which part of the report: outcomes, bands, referrals, arrivals, waits, care, repeats, controls, overrides, incidents, by-meter, by-screener, by-lot, strips, lancets, sums, staff"},
	{"item", "what the row is about: a band, a ticket, a meter, a lot, a person of the staff"},
	{"measure", "what was counted or measured"},
	{"value", "a count, a number or a word"},
	{"denominator", "what the count is of; empty where there is none"},
	{"share", "the proportion, 0 to 1; empty where there is none"},
	{"low95", "lower end of its 95 % Wilson interval"},
	{"high95", "upper end of its 95 % Wilson interval"},
	{"unit", "people, readings, strips, lancets, min, mg/dL or mmol/L"},
	{"note", "words beside it: a reason, a time (RFC 3339), an explanation"},
}

// csvSheet writes the rows of one report.
type csvSheet struct{ w *csv.Writer }

// inert keeps a spreadsheet from running a text as a formula: such a text gets an apostrophe in front. Numbers below zero stay numbers.
func inert(s string) string {
	if s == "" {
		return s
	}
	if strings.ContainsRune("=+@\t\r", rune(s[0])) {
		return "'" + s
	}
	if s[0] == '-' {
		if _, err := strconv.ParseFloat(s, 64); err != nil {
			return "'" + s
		}
	}
	return s
}

func (c csvSheet) row(section, item, measure, value, of, unit, note string) error {
	return c.cells(section, item, measure, value, of, "", "", "", unit, note)
}

func (c csvSheet) cells(cells ...string) error {
	out := make([]string, len(cells))
	for i, s := range cells {
		out[i] = inert(s)
	}
	return c.w.Write(out)
}

func (c csvSheet) share(section, item, measure string, s programme.Share, unit string) error {
	number := func(p *float64) string {
		if p == nil {
			return ""
		}
		return strconv.FormatFloat(*p, 'f', 4, 64)
	}
	return c.cells(section, item, measure, fmt.Sprint(s.N), fmt.Sprint(s.Of), number(s.P), number(s.Low), number(s.High), unit, "")
}

// writeReportCSV writes the report as one tidy table.
func writeReportCSV(w io.Writer, r programme.Report) error {
	c := csvSheet{csv.NewWriter(w)}
	var bad error
	put := func(err error) {
		if bad == nil {
			bad = err
		}
	}
	n := func(i int) string { return strconv.Itoa(i) }
	header := make([]string, len(reportColumns))
	for i, col := range reportColumns {
		header[i] = col.Name
	}
	put(c.cells(header...))
	o := r.Outcomes
	put(c.row("outcomes", "event", "name", r.Name, "", "", r.Date))
	for _, x := range []struct {
		item string
		n    int
		of   int
	}{
		{"arrived", o.Arrived, r.Expected},
		{"tested", o.Tested, o.Arrived},
		{"left-before-test", o.Left, o.Arrived},
		{"not-eligible", o.NotEligible, o.Arrived},
		{"declined", o.Declined, o.Arrived},
		{"unfinished", o.Unfinished, o.Arrived},
		{"left-after-test", o.LeftAfter, o.Tested},
		{"slips", o.Slips, o.Tested},
		{"explained", o.Explained, o.Tested},
	} {
		put(c.row("outcomes", x.item, "people", n(x.n), n(x.of), "people", ""))
	}
	for _, k := range sortedKeys(o.ByReason) {
		put(c.row("outcomes", k, "not tested, by reason", n(o.ByReason[k]), n(o.NotEligible+o.Declined), "people", ""))
	}
	for _, k := range sortedKeys(r.Languages) {
		put(c.row("outcomes", k, "language", n(r.Languages[k]), n(o.Arrived), "people", ""))
	}
	for _, b := range r.ByBand {
		put(c.share("bands", b.Band, b.Basis, b.Share, "people"))
	}
	put(c.share("referrals", "all", "advised to see someone", r.Referrals.Share, "people"))
	put(c.row("referrals", "may-be-called", "people", n(r.Referrals.Call), n(r.Referrals.N), "people", ""))
	put(c.row("referrals", "no-permission", "people", n(r.Referrals.NoCall), n(r.Referrals.N), "people", ""))
	for _, h := range r.Arrivals {
		put(c.row("arrivals", h.Hour, "people", n(h.N), n(o.Arrived), "people", ""))
	}
	for _, x := range r.Waits {
		for _, m := range []struct {
			name string
			f    float64
		}{{"median", x.Median}, {"ninetieth percentile", x.P90}, {"longest", x.Most}} {
			put(c.row("waits", x.Step, m.name, strconv.FormatFloat(m.f, 'f', 1, 64), n(x.N), "min", ""))
		}
	}
	put(c.care(r))
	for _, x := range r.Repeats {
		put(c.row("repeats", ticketText(x.Ticket), "counts", x.Counts, "", "", strings.Join(x.Values, ", ")+". "+x.Why))
	}
	for _, x := range r.Controls {
		note := x.Verdict + "; range " + x.Low + " to " + x.High + "; lot " + x.Lot + ", vial " + x.Vial + "; " + x.At.Format(time.RFC3339) + "; " + x.Operator
		if x.Cause != "" {
			note += "; " + x.Cause + ": " + x.Action
		}
		put(c.row("controls", x.Meter, "level "+x.Level, x.Shown, "", x.Unit, note))
	}
	for _, x := range r.Overrides {
		put(c.row("overrides", x.Gate, x.About, x.Reason, "", "", x.By+"; "+x.At.Format(time.RFC3339)))
	}
	for _, x := range r.Incidents {
		put(c.row("incidents", x.Kind, cmp.Or(x.Phase, "count"), n(x.N), "", "incidents", fmt.Sprintf("%d open", x.Open)))
	}
	for _, x := range r.Corrections {
		put(c.row("corrections", x.Kind, "count", n(x.N), "", "corrections", fmt.Sprintf("%d after closing", x.Late)))
	}
	put(c.groups("by-meter", r.ByMeter))
	put(c.groups("by-screener", r.ByScreener))
	put(c.groups("by-lot", r.ByLot))
	for _, s := range r.Strips {
		for _, m := range []struct {
			name string
			n    int
		}{{"readings", s.Readings}, {"meter errors", s.Errors}, {"controls", s.Controls}, {"left, computed", s.Left}} {
			put(c.row("strips", s.Lot, m.name, n(m.n), n(s.Brought), "strips", ""))
		}
	}
	for _, k := range sortedKeys(r.Lancets) {
		put(c.row("lancets", k, "count", n(r.Lancets[k]), "", "lancets", ""))
	}
	for _, e := range r.Equalities {
		note := e.Sentence()
		if e.Explained != nil {
			note += ". " + e.Explained.Note
		}
		put(c.row("sums", e.Name, "difference", n(e.Difference), "", "", note))
	}
	for _, s := range r.Staff {
		here := "absent"
		if s.Here {
			here = "here"
		}
		put(c.row("staff", s.Name, s.Role, here, "", "", strings.TrimSpace("station "+s.Station+" verified "+s.Verified)))
	}
	if bad != nil {
		return bad
	}
	c.w.Flush()
	return c.w.Error()
}

func (c csvSheet) care(r programme.Report) error {
	for _, x := range r.Criticals {
		ticket := ticketText(x.Ticket)
		if err := c.row("care", ticket, "opened", x.Opened.Format(time.RFC3339), "", "", x.Cause); err != nil {
			return err
		}
		if x.There != nil {
			if err := c.row("care", ticket, "supervisor there", x.There.Format(time.RFC3339), "", "", ""); err != nil {
				return err
			}
		}
		if x.Signed != nil {
			if err := c.row("care", ticket, "signed", x.Signed.Format(time.RFC3339), "", "", x.By); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c csvSheet) groups(section string, rows []programme.GroupRow) error {
	for _, g := range rows {
		for _, m := range []struct {
			name string
			n    int
			unit string
		}{{"readings", g.Readings, "readings"}, {"meter errors", g.Errors, "readings"}, {"people", g.People, "people"}} {
			if err := c.row(section, g.Name, m.name, strconv.Itoa(m.n), "", m.unit, ""); err != nil {
				return err
			}
		}
		for _, k := range sortedKeys(g.Bands) {
			if err := c.row(section, g.Name, "band "+k, strconv.Itoa(g.Bands[k]), strconv.Itoa(g.People), "people", ""); err != nil {
				return err
			}
		}
	}
	return nil
}
