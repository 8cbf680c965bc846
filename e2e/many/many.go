// Package many makes a record with very many visits for benchmarks. It plays the invented season through the commands, and then
// copies the rows of its closed events, moved in days and with other meters, lots and people, as often as is asked for.
package many

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// What a record holds beside its visits: as many of each, in turn.
const (
	PerEvent = 50 // visits at each event
	perDay   = 3  // events on each day
	PerLot   = 10 // events with one lot of strips, a vial each
	Meters   = 200
	Staff    = 400
	Controls = 200 // lots of control solution
)

// Record is what was made.
type Record struct {
	Dir, Flat   string // Flat is a file with one plain row for each visit, for the same questions by hand
	Events      int
	First, Last civil.Date // days of the copied events
	Lead, PIN   string     // the person id of a lead who can sign in
	Rows        int        // written besides the season itself
	Took        time.Duration
}

// Visits is how many were copied.
func (r Record) Visits() int { return r.Events * PerEvent }

// Now is the moment at which the record stands: the invented day.
func Now() time.Time { return demo.Begins() }

// Options opens the record.
func Options(dir string) store.Options {
	return store.Options{Dir: dir, Catalogue: programme.Catalogue(), Now: Now, Log: slog.New(slog.DiscardHandler), Fleeting: true}
}

// Ids of the copies.
func EventID(e int) string    { return fmt.Sprintf("%08d-0000-7000-8000-00000000e0e0", e) }
func VisitID(e, n int) string { return fmt.Sprintf("%08d-%04d-7000-8000-000000001515", e, n) }
func LotID(e int) string      { return fmt.Sprintf("%08d-0000-7000-8000-000000010101", e/PerLot) }
func meterID(n int) string    { return fmt.Sprintf("%08d-0000-7000-8000-0000000e0e0e", n%Meters) }
func staffID(n int) string    { return fmt.Sprintf("%08d-0000-7000-8000-00000000aaaa", n%Staff) }
func controlID(n int) string  { return fmt.Sprintf("%08d-0000-7000-8000-00000000c0c0", n%Controls) }

// LotName, MeterName, StaffName, ControlName and Vial are what the copies are called.
func LotName(e int) string     { return fmt.Sprintf("MANY-%d", e/PerLot) }
func MeterName(n int) string   { return fmt.Sprintf("BM%d", n%Meters) }
func StaffName(n int) string   { return fmt.Sprintf("Many Invented %d", n%Staff) }
func ControlName(n int) string { return fmt.Sprintf("MANY-C%d", n%Controls) }
func Vial(e int) string        { return fmt.Sprintf("v%d", e%PerLot) }

// Make makes a record with so many events in a folder.
func Make(ctx context.Context, dir string, events int) (Record, error) {
	began := time.Now()
	r := Record{Dir: filepath.Join(dir, "data"), Flat: filepath.Join(dir, "flat.db"), Events: events}
	shapes, err := r.season(ctx)
	if err != nil {
		return r, err
	}
	if err := r.copies(shapes); err != nil {
		return r, err
	}
	r.Took = time.Since(began)
	note, err := json.Marshal(r)
	if err != nil {
		return r, err
	}
	return r, os.WriteFile(filepath.Join(dir, "made.json"), note, 0o600)
}

// Kept gives the record that an earlier Make left in a folder, once more as if this program had made it; ok is false when there is
// none of that size.
func Kept(ctx context.Context, dir string, events int) (r Record, ok bool, err error) {
	note, err := os.ReadFile(filepath.Join(dir, "made.json"))
	if errors.Is(err, os.ErrNotExist) {
		return r, false, nil
	}
	if err == nil {
		err = json.Unmarshal(note, &r)
	}
	if err != nil || r.Events != events {
		return r, false, err
	}
	by, shape, err := madeBy(ctx)
	if err != nil {
		return r, false, err
	}
	db, err := sqlite3.Open("file:" + filepath.Join(r.Dir, "fairstick.db"))
	if err != nil {
		return r, false, err
	}
	stood := ""
	if err := ask(db, `SELECT value FROM meta WHERE key = 'derived_shape'`, func(s *sqlite3.Stmt) { stood = s.ColumnText(0) }); err != nil {
		return r, false, errors.Join(err, db.Close())
	}
	if stood == shape {
		err = db.Exec(`UPDATE meta SET value = '` + strings.ReplaceAll(by, "'", "''") + `' WHERE key = 'derived_by'`)
	}
	return r, stood == shape, errors.Join(err, db.Close())
}

// madeBy says what a record made by this very program has written down about it.
func madeBy(ctx context.Context) (by, shape string, err error) {
	dir, err := os.MkdirTemp("", "empty")
	if err != nil {
		return "", "", err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	st, err := store.Create(ctx, Options(filepath.Join(dir, "data")))
	if err != nil {
		return "", "", err
	}
	if err := st.Close(); err != nil {
		return "", "", err
	}
	db, err := sqlite3.Open("file:" + filepath.Join(dir, "data", "fairstick.db"))
	if err != nil {
		return "", "", err
	}
	err = ask(db, `SELECT max(value) FILTER (WHERE key = 'derived_by'), max(value) FILTER (WHERE key = 'derived_shape') FROM meta`, func(s *sqlite3.Stmt) { by, shape = s.ColumnText(0), s.ColumnText(1) })
	return by, shape, errors.Join(err, db.Close())
}

func ask(db *sqlite3.Conn, sql string, row func(*sqlite3.Stmt)) error {
	s, _, err := db.Prepare(sql)
	if err != nil {
		return err
	}
	for s.Step() {
		row(s)
	}
	return s.Close()
}

// shapes are the rows that are copied.
type shapes struct {
	days                    []day
	meter, lot, control, by *shape
}

// day is one closed event of the invented season with its people.
type day struct {
	event    *shape
	visits   []*shape
	followed map[string]*shape // by the id of the visit
	date     civil.Date
	refs     map[string]string // the id of each meter, lot, control lot and person in it, to what it is
}

// season plays the invented season and reads what is copied of it.
func (r *Record) season(ctx context.Context) (out shapes, err error) {
	clock := demo.NewClock(demo.Begins())
	o := Options(r.Dir)
	o.Now = clock.Now
	st, err := store.Create(ctx, o)
	if err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	p := programme.New(st, clock.Now, o.Log)
	hints, err := demo.MakeSeason(ctx, p, clock)
	if err != nil {
		return out, err
	}
	staff, err := programme.List[*people.State](ctx, p, people.Kind)
	if err != nil {
		return out, err
	}
	for _, h := range hints {
		for _, x := range staff {
			if x.Details.Name == h.Name && x.Has(people.Lead) && r.Lead == "" {
				r.Lead, r.PIN = x.ID, h.PIN
			}
		}
	}
	meters, err := programme.List[*stock.Meter](ctx, p, stock.MeterKind)
	if err != nil {
		return out, err
	}
	lots, err := programme.List[*stock.StripLot](ctx, p, stock.StripLotKind)
	if err != nil {
		return out, err
	}
	controls, err := programme.List[*stock.ControlLot](ctx, p, stock.ControlLotKind)
	if err != nil {
		return out, err
	}
	what := map[string]string{}
	for _, x := range staff {
		what[x.ID] = "staff"
	}
	for _, x := range meters {
		what[x.ID] = "meter"
	}
	for _, x := range lots {
		what[x.ID] = "lot"
	}
	for _, x := range controls {
		what[x.ID] = "control"
	}
	out.meter, out.lot, out.control, out.by = shapeOf(stock.MeterKind, meters[0]), shapeOf(stock.StripLotKind, lots[0]), shapeOf(stock.ControlLotKind, controls[0]), shapeOf(people.Kind, staff[0])
	events, err := programme.List[*event.State](ctx, p, event.Kind)
	if err != nil {
		return out, err
	}
	err = st.Read(ctx, func(v *store.View) error {
		for _, ev := range events {
			if ev.Phase != event.IsClosed {
				continue
			}
			d := day{event: shapeOf(event.Kind, ev), followed: map[string]*shape{}, date: ev.Plan.Date, refs: what}
			visits, err := v.Children(visit.Kind, ev.ID)
			if err != nil {
				return err
			}
			for _, x := range visits {
				d.visits = append(d.visits, shapeOf(visit.Kind, x))
			}
			followed, err := v.Children(followup.Kind, ev.ID)
			if err != nil {
				return err
			}
			for _, x := range followed {
				d.followed[x.(*followup.State).ID] = shapeOf(followup.Kind, x)
			}
			out.days = append(out.days, d)
		}
		return nil
	})
	if err == nil && len(out.days) == 0 {
		err = errors.New("many: the invented season has no closed event")
	}
	return out, err
}

// shape is one state with the places in it that a copy changes. The state is the copy that was made last.
type shape struct {
	kind   string
	state  fact.State
	times  []placed[time.Time]
	dates  []placed[civil.Date]
	texts  []placed[string]
	keyed  []reflect.Value // maps whose keys may be ids
	before []reflect.Value
}

type placed[T any] struct {
	at  *T
	was T
}

// shapeOf takes a copy of a state apart.
func shapeOf(kind string, st fact.State) *shape {
	s := &shape{kind: kind}
	whole := reflect.New(reflect.TypeOf(st).Elem())
	data, err := json.Marshal(st)
	if err == nil {
		err = json.Unmarshal(data, whole.Interface())
	}
	if err != nil {
		panic("many: a state does not come back: " + err.Error())
	}
	s.state = whole.Interface().(fact.State)
	s.walk(whole.Elem())
	return s
}

func (s *shape) walk(v reflect.Value) {
	switch x := v.Addr().Interface().(type) {
	case *time.Time:
		if !x.IsZero() {
			s.times = append(s.times, placed[time.Time]{x, *x})
		}
		return
	case *civil.Date:
		if !x.IsZero() {
			s.dates = append(s.dates, placed[civil.Date]{x, *x})
		}
		return
	}
	switch v.Kind() {
	case reflect.String:
		if v.Len() == 36 { // an id
			at := v.Addr().Convert(reflect.TypeFor[*string]()).Interface().(*string)
			s.texts = append(s.texts, placed[string]{at, *at})
		}
	case reflect.Pointer:
		if !v.IsNil() {
			s.walk(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			s.walk(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				s.walk(v.Field(i))
			}
		}
	case reflect.Map:
		if v.Type().Key().Kind() == reflect.String && v.Len() > 0 {
			was := reflect.MakeMap(v.Type())
			for _, k := range v.MapKeys() {
				was.SetMapIndex(k, v.MapIndex(k))
			}
			s.keyed, s.before = append(s.keyed, v), append(s.before, was)
		}
	}
}

// move makes the state that of a copy so many days later, with other ids.
func (s *shape) move(days int, id func(string) string) {
	for _, x := range s.times {
		*x.at = x.was.AddDate(0, 0, days)
	}
	for _, x := range s.dates {
		*x.at = x.was.AddDays(days)
	}
	for _, x := range s.texts {
		*x.at = id(x.was)
	}
	for i, m := range s.keyed {
		m.Clear()
		for _, k := range s.before[i].MapKeys() {
			m.SetMapIndex(reflect.ValueOf(id(k.String())).Convert(k.Type()), s.before[i].MapIndex(k))
		}
	}
}

// until cuts off what had not happened yet; false when nothing is left.
func until(f *followup.State, now time.Time) bool {
	cut := func(at time.Time) bool { return at.After(now) }
	f.Attempts = slices.DeleteFunc(slices.Clone(f.Attempts), func(x followup.Attempt) bool { return cut(x.At) })
	f.Outcomes = slices.DeleteFunc(slices.Clone(f.Outcomes), func(x followup.Told) bool { return cut(x.At) })
	f.Results = slices.DeleteFunc(slices.Clone(f.Results), func(x followup.Result) bool { return cut(x.At) })
	f.Handed = slices.DeleteFunc(slices.Clone(f.Handed), func(x followup.Handover) bool { return cut(x.At) })
	f.Letters = slices.DeleteFunc(slices.Clone(f.Letters), func(x followup.Written) bool { return cut(x.At) })
	f.Openings = slices.DeleteFunc(slices.Clone(f.Openings), func(x followup.Opening) bool { return cut(x.At) })
	f.Held = nil
	return len(f.Attempts)+len(f.Outcomes)+len(f.Handed)+len(f.Letters)+len(f.Openings) > 0
}

// table writes rows, in a goroutine of its own.
type table struct {
	subject, mention, tallied, flat *sqlite3.Stmt
	rows                            int
	batch                           []row
	full                            chan []row
	ended                           chan error
}

type row struct {
	into   *sqlite3.Stmt
	values []any
}

const flatSQL = `CREATE TABLE visit (id TEXT PRIMARY KEY, event TEXT, day TEXT, ticket INTEGER, language TEXT, age INTEGER, phase TEXT, consented INTEGER, eligible INTEGER, tested INTEGER,
	basis TEXT, band TEXT, known INTEGER, critical INTEGER, refer INTEGER, written INTEGER, may_call INTEGER, slip INTEGER, explained INTEGER, repeats INTEGER, sticks INTEGER,
	wait INTEGER, stay INTEGER, tried INTEGER, reached INTEGER, told TEXT, told_on TEXT, said TEXT) STRICT, WITHOUT ROWID`

// copies writes the copies. The indexes are left out while it writes and made at the end.
func (r *Record) copies(s shapes) (err error) {
	db, err := sqlite3.Open("file:" + filepath.Join(r.Dir, "fairstick.db"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := db.Exec(`PRAGMA locking_mode = EXCLUSIVE; PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA cache_size = -100000; PRAGMA temp_store = FILE;
		ATTACH 'file:` + r.Flat + `' AS flat; PRAGMA flat.journal_mode = OFF; PRAGMA flat.synchronous = OFF`); err != nil {
		return err
	}
	var drop, make1 []string
	err = ask(db, `SELECT name, sql FROM main.sqlite_master WHERE type = 'index' AND tbl_name IN ('subject', 'mention', 'tally') AND sql IS NOT NULL`, func(q *sqlite3.Stmt) {
		drop, make1 = append(drop, "DROP INDEX "+q.ColumnText(0)), append(make1, q.ColumnText(1))
	})
	if err != nil {
		return err
	}
	if err := db.Exec("BEGIN; " + strings.Join(drop, "; ") + "; " + strings.Replace(flatSQL, "TABLE visit", "TABLE flat.visit", 1)); err != nil {
		return err
	}
	t := table{full: make(chan []row, 2), ended: make(chan error, 1)}
	for _, x := range []struct {
		at  **sqlite3.Stmt
		sql string
	}{
		{&t.subject, `INSERT INTO main.subject (kind, id, parent, label, last_recorded, last_arrived, state) VALUES (?, ?, ?, ?, '', 1, ?)`},
		{&t.mention, `INSERT INTO main.mention (kind, id, parent, name, value, at) VALUES (?, ?, ?, ?, ?, ?)`},
		{&t.tallied, `INSERT INTO main.tally (kind, parent, id, line) VALUES (?, ?, ?, ?)`},
		{&t.flat, `INSERT INTO flat.visit VALUES (` + strings.Repeat("?, ", 27) + `?)`},
	} {
		if *x.at, _, err = db.Prepare(x.sql); err != nil {
			return err
		}
	}
	go t.work()
	err = r.write(&t, s)
	t.full <- t.batch
	close(t.full)
	if err := errors.Join(err, <-t.ended); err != nil {
		return err
	}
	for _, x := range []*sqlite3.Stmt{t.subject, t.mention, t.tallied, t.flat} {
		if err := x.Close(); err != nil {
			return err
		}
	}
	r.Rows = t.rows
	if err := db.Exec(`INSERT INTO main.stamp SELECT id, 1 FROM main.subject WHERE kind = 'event' ON CONFLICT DO NOTHING; COMMIT; PRAGMA main.journal_mode = WAL`); err != nil {
		return err
	}
	if err := db.Close(); err != nil { // the shell cannot have it otherwise
		return err
	}
	return Shell(filepath.Join(r.Dir, "fairstick.db"), `PRAGMA synchronous = OFF; PRAGMA cache_size = -400000; PRAGMA threads = 2;
		ATTACH '`+strings.ReplaceAll(r.Flat, "'", "''")+`' AS flat; CREATE INDEX flat.visit_event ON visit (event); `+strings.Join(make1, "; ")+`;`)
}

// Shell runs SQL in the sqlite3 shell, which sorts indexes of this size faster than the engine in this program, and in more memory.
func Shell(file, sql string) error {
	path, err := exec.LookPath("sqlite3")
	if err != nil {
		return errors.New("this record is finished, and its times are held against, by the sqlite3 shell, and there is none here: install Debian's package sqlite3")
	}
	cmd := exec.CommandContext(context.Background(), path, "-bail", file)
	cmd.Stdin = strings.NewReader(sql)
	if said, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("the sqlite3 shell: %w %s", err, said)
	}
	return nil
}

func (r *Record) write(t *table, s shapes) error {
	put := func(x *shape, id, name string, set func(fact.State)) error {
		x.move(0, func(was string) string {
			if was == x.texts[0].was {
				return id
			}
			return was
		})
		set(x.state)
		return t.put(fact.Ref{Kind: x.kind, ID: id}, x.state)
	}
	for i := range Meters {
		if err := put(s.meter, meterID(i), MeterName(i), func(st fact.State) { st.(*stock.Meter).Details.Label = MeterName(i) }); err != nil {
			return err
		}
	}
	for i := range Staff {
		if err := put(s.by, staffID(i), StaffName(i), func(st fact.State) { st.(*people.State).Details.Name = StaffName(i) }); err != nil {
			return err
		}
	}
	for i := range Controls {
		if err := put(s.control, controlID(i), ControlName(i), func(st fact.State) { st.(*stock.ControlLot).Details.Lot = ControlName(i) }); err != nil {
			return err
		}
	}
	for i := 0; i < r.Events; i += PerLot {
		err := put(s.lot, LotID(i), LotName(i), func(st fact.State) {
			lot := st.(*stock.StripLot)
			lot.Details.Lot = LotName(i)
			vials := make([]stock.Container, PerLot)
			for j := range vials {
				vials[j] = lot.Vials[0]
				vials[j].Name = Vial(j)
			}
			lot.Vials = vials
		})
		if err != nil {
			return err
		}
	}
	r.Last = civil.Of(Now()).AddDays(-1)
	r.First = r.Last.AddDays(-(r.Events - 1) / perDay)
	for e := range r.Events {
		if err := r.day(t, s.days[e%len(s.days)], e); err != nil {
			return err
		}
	}
	return nil
}

// day writes one event with its people.
func (r *Record) day(t *table, d day, e int) error {
	date := r.Last.AddDays(-(r.Events - 1 - e) / perDay)
	days := d.date.DaysUntil(date)
	given := map[string]string{d.event.state.(*event.State).ID: EventID(e)}
	of := map[string]int{}
	id := func(was string) string {
		if now, ok := given[was]; ok {
			return now
		}
		what, ok := d.refs[was]
		if !ok {
			return was
		}
		n := of[what]
		of[what]++
		switch what {
		case "lot":
			given[was] = LotID(e)
		case "meter":
			given[was] = meterID(e*4 + n)
		case "control":
			given[was] = controlID(e/100*2 + n)
		default:
			given[was] = staffID(e*4 + n)
		}
		return given[was]
	}
	given[d.event.texts[0].was] = EventID(e)
	d.event.move(days, id)
	ev := d.event.state.(*event.State)
	ev.Plan.Name = fmt.Sprintf("Many %d", e)
	if err := t.put(event.Ref(EventID(e)), ev); err != nil {
		return err
	}
	for n := range PerEvent {
		x := d.visits[(e*PerEvent+n)%len(d.visits)]
		was := x.texts[0].was
		given[was] = VisitID(e, n)
		x.move(days, id)
		s := x.state.(*visit.State)
		s.Ticket = n + 1
		for i := range s.Readings {
			s.Readings[i].Vial = Vial(e)
		}
		if err := t.put(visit.Ref(s.ID), s); err != nil {
			return err
		}
		var f *followup.State
		if y := d.followed[was]; y != nil {
			y.move(days, id)
			whole := *y.state.(*followup.State)
			whole.Ticket = s.Ticket
			if f = &whole; until(f, Now()) {
				if err := t.put(followup.Ref(s.ID), f); err != nil {
					return err
				}
			} else {
				f = nil
			}
		}
		t.plain(date, s, f)
	}
	return nil
}

// put writes a state with what it mentions and counts as.
func (t *table) put(ref fact.Ref, st fact.State) error {
	data, err := json.Marshal(st)
	if err != nil {
		return err
	}
	parent, label := "", ""
	if x, ok := st.(interface{ Index() (parent, label string) }); ok {
		parent, label = x.Index()
	}
	t.row(t.subject, ref.Kind, ref.ID, parent, label, data)
	if x, ok := st.(fact.Mentioner); ok {
		for _, m := range x.Mentions() {
			t.row(t.mention, ref.Kind, ref.ID, parent, m.Name, m.Value, m.At.UnixMilli())
		}
	}
	if x, ok := st.(fact.Tallier); ok {
		t.row(t.tallied, ref.Kind, parent, ref.ID, x.Tally())
	}
	return nil
}

// plain writes a visit as somebody would write it who wants to count it by hand.
func (t *table) plain(day civil.Date, s *visit.State, f *followup.State) {
	c := s.Counts()
	known := slices.Contains(c.Yes, "known-diabetes")
	values := []any{s.ID, s.Event, day.String(), s.Ticket, c.Language, c.Age, string(c.Phase), c.Consented, c.Answered && c.Eligible, c.Tested, string(c.Basis), string(c.Band), known, c.Critical, c.Refer, c.Written, c.Call, c.Slip, c.Explained, c.Repeats, c.Sticks, c.WaitTest, c.Stay}
	var x followup.Tally
	on := ""
	if f != nil {
		x = f.Counts()
		if !x.On.IsZero() {
			on = x.On.String()
		} else if !x.ToldAt.IsZero() {
			on = civil.Of(x.ToldAt).String()
		}
	}
	t.row(t.flat, append(values, x.Tried, x.Reached, string(x.Told), on, string(x.Said))...)
}

// row hands a row to the writer.
func (t *table) row(s *sqlite3.Stmt, values ...any) {
	t.rows++
	if t.batch = append(t.batch, row{s, values}); len(t.batch) < 1000 {
		return
	}
	t.full <- t.batch
	t.batch = make([]row, 0, 1000)
}

// work writes what it is handed; after a failure it only takes.
func (t *table) work() {
	var err error
	for batch := range t.full {
		for _, x := range batch {
			if err == nil {
				err = x.write()
			}
		}
	}
	t.ended <- err
}

func (x row) write() error {
	for i, v := range x.values {
		var err error
		switch v := v.(type) {
		case string:
			err = x.into.BindText(i+1, v)
		case []byte:
			err = x.into.BindRawText(i+1, v)
		case int:
			err = x.into.BindInt(i+1, v)
		case int64:
			err = x.into.BindInt64(i+1, v)
		case bool:
			n := 0
			if v {
				n = 1
			}
			err = x.into.BindInt(i+1, n)
		default:
			err = fmt.Errorf("many: cannot write a %T", v)
		}
		if err != nil {
			return err
		}
	}
	return x.into.Exec()
}
