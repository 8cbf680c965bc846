package web

import (
	"fmt"
	"strings"
	"time"

	"fairstick/internal/download"
	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// downloadRoutes are the pages on which the memory of a meter is held against the log.
var downloadRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/close/meter/{meter}", Roles: senior, Handle: downloadShow},
	{Method: "POST", Path: "/events/{event}/close/meter/{meter}", Roles: senior, Upload: true, Handle: downloadSend},
}

// downloadView is the memory of one meter: the file, its columns, and what came of holding it against the log.
type downloadView struct {
	Page    ui.Page
	Fault   *fault.Fault
	May     bool // the day runs and is not signed
	File    officeForm
	Columns *downloadColumns // once a table was read
	Header  []string
	Sample  [][]string
	Bad     []programme.BadRow
	Result  *downloadResult
	Keep    *downloadKeep // the form that keeps the rows
}

// downloadColumns is the choice of columns; it carries the file.
type downloadColumns struct {
	Form   officeForm
	Hidden [][2]string
}

// downloadKeep carries the file once more, with its columns as they were chosen.
type downloadKeep struct {
	Form   dayForm
	Hidden [][2]string
	Label  string
}

type downloadResult struct {
	Heading string
	Good    bool
	Said    []string
	Rows    []downloadRow
}

// downloadRow is one difference, with where it is mended.
type downloadRow struct {
	What, Log, Meter string
	Mend             *ui.Link
}

func downloadShow(_ *Server, c *Context) error { return c.downloadAgain(nil, nil) }

// meterHere gives the day and the meter of the address.
func (c *Context) meterHere() (*programme.Day, *stock.Meter, error) {
	d, err := c.Day()
	if err != nil {
		return nil, nil, err
	}
	m := d.MeterByID(c.R.PathValue("meter"))
	if m == nil || !d.Event.Brought(m.ID) {
		return nil, nil, fault.New(fault.Missing, "no-such-meter", "This meter was not brought to the event.", "", "Choose one on the page Close.")
	}
	return d, m, nil
}

// triedDownload is a file as it was read by the columns that were chosen.
type triedDownload struct {
	text  string
	hex   bool
	table exchange.MeterTable
	cols  exchange.MeterColumns
	rows  []download.Row
	bad   []programme.BadRow
}

func (c *Context) downloadAgain(tried *triedDownload, f *fault.Fault) error {
	d, m, err := c.meterHere()
	if err != nil {
		return err
	}
	path := dayBase(d) + "/close/meter/" + m.ID
	v := downloadView{Page: c.dayPage(d, "Memory of meter "+m.Details.Label, "close"), Fault: f, May: d.Event.Phase == event.IsOpen || d.Event.Phase == event.IsDoorsClosed}
	v.Page.Back = &ui.Link{Href: dayBase(d) + "/close", Label: "Close the day"}
	v.Page.Lead = "What was downloaded from the meter is held against what was written down. Nothing is recorded until you have seen what differs."
	switch { // a refusal belongs to the columns once there is a table, to the file otherwise
	case tried != nil:
		v.File = downloadFile(c.dayForm("file", path, "", nil))
		v.Bad = tried.bad
		v.columns(c.dayForm("columns", path, "columns", f), tried)
		if f == nil {
			x, err := d.HoldMemory(m.ID, tried.rows)
			if err != nil {
				return err
			}
			v.Result = v.tell(d, x)
			v.keep(c, path, tried, x)
		}
	default:
		v.File = downloadFile(c.dayForm("file", path, "file", f))
		if x, ok := d.Download(m.ID); ok {
			v.Result = v.tell(d, x)
			v.Result.Heading = "In the record. " + v.Result.Heading
		}
	}
	return c.Show(f, DownloadPage(v))
}

func downloadFile(form dayForm) officeForm {
	file := optional(size(form.line("file", "File from the meter", ""), ui.Full, ui.File, "A table saved as CSV in UTF-8, or records in hexadecimal."))
	file.Accept = ".csv,.txt,.hex,text/csv,text/plain"
	text := optional(size(form.line("text", "Or paste it here", ""), ui.Full, ui.Area, "With its header row."))
	text.Rows, text.Private = 4, true
	hex := form.tick("hex", "The file has records of characteristic 0x2A18 in hexadecimal, one a line", false)
	return officeForm{Form: form, Submit: "Look at it", Upload: true, Parts: []part{{Items: []item{field(file), field(text), {Box: &hex}}}}}
}

// columns shows what the columns of the file are taken for.
func (v *downloadView) columns(form dayForm, tried *triedDownload) {
	if tried.hex {
		return
	}
	t, g := tried.table, tried.cols
	v.Header, v.Sample = t.Header, t.Sample(3)
	choose := func(name, label, value, none, help string) item {
		in := size(form.line(name, label, ""), ui.Full, ui.Select, help)
		in.Value = value
		if none != "" {
			in.Optional = true
			in.Options = append(in.Options, ui.Option{Value: "", Label: none})
		}
		for _, h := range t.Header {
			if h != "" {
				in.Options = append(in.Options, ui.Option{Value: h, Label: h})
			}
		}
		return field(in)
	}
	order := size(form.line("order", "Dates in numbers", ""), ui.Full, ui.Select, "")
	order.Value, order.Optional = g.Order, true
	order.Options = []ui.Option{{Value: "", Label: "As they allow only one way"}, {Value: "ymd", Label: "Year, month, day"}, {Value: "mdy", Label: "Month, day, year"}, {Value: "dmy", Label: "Day, month, year"}}
	fixed := size(form.line("fixed", "Unit, when no column has it", ""), ui.Full, ui.Select, "")
	fixed.Value = string(g.Fixed)
	fixed.Options = []ui.Option{{Value: string(glucose.MgPerDL), Label: string(glucose.MgPerDL)}, {Value: string(glucose.MmolPerL), Label: string(glucose.MmolPerL)}}
	f := officeForm{Form: form, Submit: "Look again", Upload: true, Parts: []part{{Items: []item{
		choose("column_time", "Time, or date and time", g.Time, "", ""), choose("column_date", "Date", g.Date, "no column of its own", ""), field(order),
		choose("column_value", "Value", g.Value, "", ""), choose("column_unit", "Unit", g.Unit, "no column", ""), field(fixed),
		choose("column_control", "What marks a control", g.Control, "nothing", ""), choose("column_sequence", "The meter's own numbers", g.Sequence, "none", ""),
	}}}}
	v.Columns = &downloadColumns{Form: f, Hidden: [][2]string{{"text", tried.text}, {"chosen", "yes"}}}
}

// hidden is the file and its columns for the next form.
func (t *triedDownload) hidden() [][2]string {
	out := [][2]string{{"text", t.text}}
	if t.hex {
		return append(out, [2]string{"hex", "yes"})
	}
	g := t.cols
	return append(out, [2]string{"chosen", "yes"}, [2]string{"column_time", g.Time}, [2]string{"column_date", g.Date}, [2]string{"column_value", g.Value}, [2]string{"column_unit", g.Unit},
		[2]string{"column_control", g.Control}, [2]string{"column_sequence", g.Sequence}, [2]string{"order", g.Order}, [2]string{"fixed", string(g.Fixed)})
}

func (v *downloadView) keep(c *Context, path string, tried *triedDownload, x programme.Downloaded) {
	if !v.May || x.Day == 0 || len(tried.bad) > 0 {
		return
	}
	v.Keep = &downloadKeep{Form: c.dayForm("keep", path, "", nil), Hidden: append(tried.hidden(), [2]string{"add", "yes"}), Label: "Keep " + plural(x.Day, "row", "rows") + " of the day"}
}

// tell says what came of holding a memory against the log.
func (v *downloadView) tell(d *programme.Day, x programme.Downloaded) *downloadResult {
	zone := d.Event.Zone()
	out := &downloadResult{Good: x.Unlike() == 0 && x.Day > 0}
	out.Heading = fmt.Sprintf("%d of %s of the day agree with the log.", x.Same, plural(x.Day, "row", "rows"))
	for _, k := range x.Clocks {
		out.Said = append(out.Said, fmt.Sprintf("%s This rests on %s; they scatter by %d seconds.", k.Words(), plural(k.N, "reading", "readings"), int(k.Spread.Round(time.Second)/time.Second)))
	}
	if len(x.Clocks) > 1 {
		out.Said = append(out.Said, "The clock was set during the day.")
	}
	if len(x.Clocks) == 0 && x.Day+x.Others > 0 {
		out.Said = append(out.Said, "Too few readings agree to tell how the meter's clock was.")
	}
	if x.Others > 0 {
		out.Said = append(out.Said, plural(x.Others, "row is", "rows are")+" of other days.")
	}
	for _, f := range x.Differences {
		out.Rows = append(out.Rows, downloadLine(d, x, f, zone))
	}
	return out
}

var downloadWords = map[string]string{
	download.Value: "The value differs", download.NotInMeter: "Not in the meter", download.NotInLog: "Nobody wrote it down", download.Unit: "The unit differs",
	download.Marked: "Control or person", download.Time: "The times differ",
}

func downloadLine(d *programme.Day, x programme.Downloaded, f download.Difference, zone *time.Location) downloadRow {
	row := downloadRow{What: downloadWords[f.Kind], Log: "nothing", Meter: "nothing"}
	if f.Row != nil {
		row.Meter = fmt.Sprintf("%s, its clock %s", f.Row.Reading, f.Row.At.In(zone).Format("2 Jan 2006 15:04"))
	}
	if f.Kind == download.Time {
		row.What += fmt.Sprintf(" by %d minutes", int(f.By.Abs().Round(time.Minute)/time.Minute))
	}
	if f.Entry == nil {
		return row
	}
	about := x.Logged[f.Entry.ID]
	row.Log = fmt.Sprintf("Control level %s: %s at %s", about.Level, f.Entry.Reading, clockOr(f.Entry.At, zone))
	row.Mend = &ui.Link{Href: dayBase(d) + "/correct-run/" + f.Entry.ID, Label: "Correct the control"}
	if about.Visit != "" {
		row.Log = fmt.Sprintf("Ticket %s: %s at %s", ticketText(about.Ticket), f.Entry.Reading, clockOr(f.Entry.At, zone))
		row.Mend = &ui.Link{Href: dayBase(d) + "/correct/" + about.Visit + "/reading?reading=" + f.Entry.ID, Label: "Correct ticket " + ticketText(about.Ticket)}
	}
	if f.Kind == download.Time {
		row.Mend = nil // the time of a reading is that of its entry
	}
	return row
}

func downloadSend(s *Server, c *Context) error {
	d, m, err := c.meterHere()
	if err != nil {
		return err
	}
	text, err := c.imported()
	if err != nil {
		return c.downloadAgain(nil, fault.Of(err))
	}
	tried := &triedDownload{text: text, hex: c.Form("hex") == "yes"}
	zone := d.Event.Zone()
	if tried.hex {
		tried.rows, tried.bad, err = exchange.ReadMeterHex(strings.NewReader(text), zone, d.Protocol.Plausible)
		if err != nil {
			return c.downloadAgain(nil, fault.Of(err))
		}
	} else {
		if tried.table, err = exchange.ReadMeterTable(strings.NewReader(text)); err != nil {
			return c.downloadAgain(nil, fault.Of(err))
		}
		tried.cols = tried.table.Guess(m.Details.Unit)
		if c.Form("chosen") == "yes" {
			tried.cols = exchange.MeterColumns{
				Time: c.Form("column_time"), Date: c.Form("column_date"), Value: c.Form("column_value"), Unit: c.Form("column_unit"), Control: c.Form("column_control"),
				Sequence: c.Form("column_sequence"), Order: c.Form("order"), Fixed: glucose.Unit(c.Form("fixed")),
			}
		}
		if tried.rows, tried.bad, err = tried.table.Rows(tried.cols, zone, d.Protocol.Plausible); err != nil {
			return c.downloadAgain(tried, fault.Of(err))
		}
	}
	if c.Form("add") != "yes" || len(tried.bad) > 0 {
		return c.downloadAgain(tried, nil)
	}
	if _, err := s.prog.RecordDownload(c.R.Context(), c.Actor(), programme.RecordDownload{Act: c.Act(), Event: d.Event.ID, Meter: m.ID, Rows: tried.rows}); err != nil {
		return c.downloadAgain(tried, fault.Of(err))
	}
	return c.Done(dayBase(d)+"/close", "The memory of meter "+m.Details.Label+" is in the record. What differs stands under Sums.")
}
