package many

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/pprof"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/exchange"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/report"
	"fairstick/internal/store"
	"fairstick/internal/web"
)

// How the benchmark is asked for another record than the small one: how many visits it has, and a folder in which a record that was
// made is kept for the next run.
const (
	visitsEnv = "FAIRSTICK_BENCH_VISITS"
	folderEnv = "FAIRSTICK_BENCH_RECORD"
	askedEnv  = "FAIRSTICK_BENCH_ASKED" // a question for this process, which was started for it

	profileEnv = "FAIRSTICK_BENCH_PROFILE" // a file to which such a process writes where its time goes
)

func TestMain(m *testing.M) {
	if asked := os.Getenv(askedEnv); asked != "" {
		if err := answer(context.Background(), asked); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// Answer is what a process of its own measured: the question asked for the first time, and once more.
type Answer struct {
	N           int   // what was found
	Bytes       int64 // written, when the answer is a file
	Open        time.Duration
	First, Then Took
	PeakKB      int // most memory of the process, VmHWM
}

// Took is what an answer took by the clock and of the processor. On a busy machine the second says more.
type Took struct{ Wall, Processor time.Duration }

// question is one that is asked of the record. What it found is counted, so that no answer is quick because it is empty.
type question func(ctx context.Context, p *programme.Programme, r Record) (n int, bytes int64, err error)

func back(ask func(Record) programme.AskBack) question {
	return func(ctx context.Context, p *programme.Programme, r Record) (int, int64, error) {
		found, err := p.LookBack(ctx, ask(r))
		if err != nil {
			return 0, 0, err
		}
		return found.People, 0, nil
	}
}

func (r Record) all() programme.Span { return programme.Span{From: r.First, To: r.Last} }

// some is an event in the middle, and week the seven days from it on.
func (r Record) some() int { return r.Events / 2 }

func (r Record) week() (from, until civil.Date) {
	from = r.First.AddDays(r.First.DaysUntil(r.Last) / 2)
	return from, from.AddDays(6)
}

// year is the span of the fifty-odd events that many a programme has in a year; this record has them in seventeen days.
func (r Record) year() (from, until civil.Date) { return r.Last.AddDays(-18), r.Last.AddDays(-2) }

func export(what, ending string) question {
	return func(ctx context.Context, p *programme.Programme, r Record) (n int, bytes int64, err error) {
		f, err := os.Create(filepath.Join(filepath.Dir(r.Dir), "export"))
		if err != nil {
			return 0, 0, err
		}
		defer func() { _ = os.Remove(f.Name()) }()
		err = exchange.HandOut(ctx, p, programme.Actor{}, programme.HandOut{Reach: programme.Reach{From: r.First, Until: r.Last}}, what, ending, f)
		if err == nil {
			err = f.Sync()
		}
		if err != nil {
			return 0, 0, err
		}
		info, err := f.Stat()
		if err != nil {
			return 0, 0, err
		}
		return r.Visits(), info.Size(), f.Close()
	}
}

var questions = map[string]question{
	"season": func(ctx context.Context, p *programme.Programme, r Record) (int, int64, error) {
		f, err := p.Figures(ctx, programme.FiguresAsk{Span: r.all()})
		if err != nil {
			return 0, 0, err
		}
		_, err = report.Of("season", f)
		return f.All.N("tested"), 0, err
	},
	"rows": func(ctx context.Context, p *programme.Programme, r Record) (int, int64, error) {
		f, err := p.FigureRows(ctx, programme.RowsAsk{Span: r.all(), Figure: "seen", Most: 200})
		if err != nil {
			return 0, 0, err
		}
		return f.N, 0, nil
	},
	"list": func(ctx context.Context, p *programme.Programme, _ Record) (int, int64, error) {
		c, err := p.Calls(ctx)
		return len(c.Open) + len(c.Later), 0, err
	},
	"lot": back(func(r Record) programme.AskBack { return programme.AskBack{StripLot: LotName(r.some())} }),
	"screener": back(func(r Record) programme.AskBack {
		return programme.AskBack{Event: EventID(r.some()), Screener: StaffName(r.some()*4 + 2)}
	}),
	"meter": back(func(r Record) programme.AskBack { return programme.AskBack{Meter: MeterName(r.some() * 4)} }),
	"week": back(func(r Record) programme.AskBack {
		from, until := r.week()
		return programme.AskBack{FromDay: from.String(), UntilDay: until.String()}
	}),
	"control": back(func(r Record) programme.AskBack {
		return programme.AskBack{ControlLot: ControlName(r.some() / 100 * 2)}
	}),
	"fhir": export("fhir", ".ndjson"),
	"csv":  export("csv", ".zip"),
	"binder": func(ctx context.Context, p *programme.Programme, r Record) (int, int64, error) {
		from, until := r.year()
		b, err := p.Binder(ctx, programme.AskBinder{From: from.String(), To: until.String()})
		if err != nil {
			return 0, 0, err
		}
		return b.Visits, 0, paper.WriteDocument(io.Discard, paper.BinderDocument(b), paper.Letter)
	},
}

// pages are asked of the server as a browser asks for them.
var pages = map[string]func(Record) string{
	"page-list":   func(Record) string { return "/follow-up" },
	"page-season": func(r Record) string { return fmt.Sprintf("/reports/season?from=%s&to=%s", r.First, r.Last) },
}

// serve signs a lead in, and gives a question that reads a page.
func serve(ctx context.Context, p *programme.Programme, r Record, path string) (question, func(), error) {
	const device = "0000000000000000000000000000c0de"
	token, err := p.SignIn(ctx, device, r.Lead, r.PIN)
	if err != nil {
		return nil, nil, err
	}
	served := web.New(web.Options{Programme: p, Log: Options("").Log})
	srv := httptest.NewServer(served)
	ask := func(ctx context.Context, _ *programme.Programme, _ Record) (n int, bytes int64, err error) {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, srv.URL+path, nil)
		if err != nil {
			return 0, 0, err
		}
		req.AddCookie(&http.Cookie{Name: "fairstick_session", Value: token})
		req.AddCookie(&http.Cookie{Name: "fairstick_device", Value: device})
		answer, err := srv.Client().Do(req)
		if err != nil {
			return 0, 0, err
		}
		page, err := io.ReadAll(answer.Body)
		if err == nil && (answer.StatusCode != http.StatusOK || answer.Request.URL.RequestURI() != path) {
			err = fmt.Errorf("%s answers %s at %s", path, answer.Status, answer.Request.URL)
		}
		return len(page), 0, errors.Join(err, answer.Body.Close())
	}
	return ask, func() { srv.Close(); served.Close() }, nil
}

// answer asks one question in this process and writes down what it cost.
func answer(ctx context.Context, asked string) (err error) {
	var r Record
	name, folder, _ := strings.Cut(asked, "@")
	note, err := os.ReadFile(filepath.Join(folder, "made.json"))
	if err == nil {
		err = json.Unmarshal(note, &r)
	}
	if err != nil {
		return err
	}
	name, anew := strings.CutSuffix(name, "-anew")
	o := Options(r.Dir)
	o.ReadOnly = !anew && pages[name] == nil // a sign-in is written, and so is what was counted; a writer looks through the whole file first
	began := time.Now()
	st, err := store.Open(ctx, o)
	if err != nil {
		return err
	}
	a := Answer{Open: time.Since(began)}
	p := programme.New(st, Now, o.Log)
	ask := questions[name]
	if path := pages[name]; path != nil {
		var end func()
		if ask, end, err = serve(ctx, p, r, path(r)); err != nil {
			return err
		}
		defer end()
	}
	if ask == nil {
		return fmt.Errorf("many: no question %q", name)
	}
	if file := os.Getenv(profileEnv); file != "" {
		end, err := profile(file)
		if err != nil {
			return err
		}
		defer end()
	}
	for _, took := range []*Took{&a.First, &a.Then} {
		began, cpu := time.Now(), processor()
		if a.N, a.Bytes, err = ask(ctx, p, r); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		*took = Took{time.Since(began), processor() - cpu}
		if a.Bytes > 0 {
			break // an export is written once
		}
	}
	if a.PeakKB, err = peakKB(); err != nil {
		return err
	}
	if err := st.Close(); err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(a)
}

// profile writes where the processor's time goes to a file until it is ended.
func profile(file string) (end func(), err error) {
	f, err := os.Create(file)
	if err == nil {
		err = pprof.StartCPUProfile(f)
	}
	return func() { pprof.StopCPUProfile(); _ = f.Close() }, err
}

// processor is the time of the processor that this process has used.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func peakKB() (int, error) {
	f, err := os.Open("/proc/self/status")
	if err != nil {
		return 0, err
	}
	s := bufio.NewScanner(f)
	for s.Scan() {
		if rest, ok := strings.CutPrefix(s.Text(), "VmHWM:"); ok {
			n, err := strconv.Atoi(strings.TrimSuffix(strings.TrimSpace(rest), " kB"))
			return n, err
		}
	}
	return 0, io.ErrUnexpectedEOF
}

// in asks a question in a process of its own.
func in(b *testing.B, r Record, name string) (a Answer) {
	b.Helper()
	cmd := exec.CommandContext(b.Context(), os.Args[0])
	cmd.Env = append(os.Environ(), askedEnv+"="+name+"@"+filepath.Dir(r.Dir))
	var said, failed strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &failed
	if err := cmd.Run(); err != nil {
		b.Fatalf("%s: %v %s", name, err, failed.String())
	}
	if err := json.Unmarshal([]byte(said.String()), &a); err != nil {
		b.Fatalf("%s: %v in %q", name, err, said.String())
	}
	if a.N == 0 {
		b.Errorf("%s found nothing", name)
	}
	ms := func(t time.Duration) float64 { return float64(t.Microseconds()) / 1000 }
	b.ReportMetric(ms(a.First.Wall), "first-ms")
	b.ReportMetric(ms(a.First.Processor), "first-cpu-ms")
	if a.Bytes == 0 {
		b.ReportMetric(ms(a.Then.Wall), "then-ms")
		b.ReportMetric(ms(a.Then.Processor), "then-cpu-ms")
	}
	b.ReportMetric(ms(a.Open), "open-ms")
	b.ReportMetric(float64(a.PeakKB)/1000, "peak-MB")
	b.ReportMetric(float64(a.N), "found")
	b.ReportMetric(0, "ns/op")
	return a
}

// shell asks the sqlite3 shell a question of a file three times, and gives the least that it took and what it wrote.
func shell(b *testing.B, file, sql string) (least Took, out string) {
	b.Helper()
	for i := range 3 {
		path, err := exec.LookPath("sqlite3")
		if err != nil {
			b.Fatal("This benchmark holds its times against the sqlite3 shell, and there is none here. Install Debian's package sqlite3.")
		}
		cmd := exec.CommandContext(b.Context(), path, "-readonly", "-bail", file)
		cmd.Stdin = strings.NewReader(sql)
		at := time.Now()
		said, err := cmd.CombinedOutput()
		if err != nil {
			b.Fatalf("the sqlite3 shell: %v %s", err, said)
		}
		t := Took{time.Since(at), cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()}
		if i == 0 || t.Processor < least.Processor {
			least.Processor = t.Processor
		}
		if i == 0 || t.Wall < least.Wall {
			least.Wall = t.Wall
		}
		out = strings.TrimSpace(string(said))
	}
	return least, out
}

// against reports the first answer as a ratio to the shell's, by the clock and by the time of the processor.
func against(b *testing.B, a Answer, sh Took) {
	b.Helper()
	b.ReportMetric(float64(sh.Wall.Microseconds())/1000, "shell-ms")
	b.ReportMetric(float64(a.First.Wall)/float64(sh.Wall), "of-shell")
	b.ReportMetric(float64(a.First.Processor)/float64(sh.Processor), "cpu-of-shell")
}

// rawWrite is how long it takes to write as many bytes to a file of the same disk and have them there.
func rawWrite(b *testing.B, dir string, n int64) time.Duration {
	b.Helper()
	f, err := os.Create(filepath.Join(dir, "raw"))
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = os.Remove(f.Name()) }()
	began, chunk := time.Now(), make([]byte, 1<<16)
	for left := n; left > 0; left -= int64(len(chunk)) {
		if _, err := f.Write(chunk[:min(left, int64(len(chunk)))]); err != nil {
			b.Fatal(err)
		}
	}
	if err := f.Sync(); err != nil {
		b.Fatal(err)
	}
	took := time.Since(began)
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	return took
}

// visitsAsked is how many visits the record has: 10,000 unless the environment asks for another number.
func visitsAsked(b *testing.B) int {
	b.Helper()
	s := os.Getenv(visitsEnv)
	if s == "" {
		return 10_000
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1000 {
		b.Fatalf("%s is %q; it should be a number of visits, 1000 or more.", visitsEnv, s)
	}
	return n
}

// made gives the record, made or kept.
func made(b *testing.B) Record {
	b.Helper()
	visits := visitsAsked(b)
	dir := os.Getenv(folderEnv)
	if dir == "" {
		dir = b.TempDir()
	}
	r, ok, err := Kept(b.Context(), dir, visits/PerEvent)
	if err != nil {
		b.Fatal(err)
	}
	if !ok {
		if err := os.RemoveAll(filepath.Join(dir, "data")); err != nil {
			b.Fatal(err)
		}
		if err := os.RemoveAll(filepath.Join(dir, "flat.db")); err != nil {
			b.Fatal(err)
		}
		if err := os.MkdirAll(dir, 0o700); err != nil {
			b.Fatal(err)
		}
		if r, err = Make(b.Context(), dir, visits/PerEvent); err != nil {
			b.Fatal(err)
		}
	}
	info, err := os.Stat(filepath.Join(r.Dir, "fairstick.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d visits at %d events from %s to %s; %d rows written in %s, %d MB", r.Visits(), r.Events, r.First, r.Last, r.Rows, r.Took.Round(time.Second), info.Size()>>20)
	return r
}

// seasonByHand counts a season as somebody would who has one plain row for each visit: whole and by
// event, but without the partings by language, age and so on that the report has too. Only the first row is written out.
func seasonByHand() string {
	sums := []string{"count(*)", "sum(tested)", "sum(tested AND band <> '')", "sum(refer)"}
	for _, c := range []string{
		"consented", "eligible", "phase = 'not-eligible'", "phase = 'declined'", "phase = 'gone' AND NOT tested", "known", "tested AND known", "tested AND repeats > 0", "critical", "tested AND slip", "tested AND explained", "refer AND written AND may_call",
		"refer AND written AND NOT may_call", "refer AND NOT written", "refer AND tried", "refer AND reached", "refer AND told = 'seen'", "refer AND told = 'seen' AND julianday(told_on) - julianday(day) <= 30", "refer AND told = 'seen' AND julianday(told_on) - julianday(day) <= 90",
		"refer AND told = 'scheduled'", "refer AND told = 'not-yet'", "refer AND told = 'declined'", "refer AND told = 'wrong-number'", "refer AND told = 'already-known'", "refer AND said = 'diabetes' AND NOT known",
	} {
		sums = append(sums, "sum("+c+")")
	}
	for _, basis := range []string{"", " AND basis = 'fasting'", " AND basis = 'random'"} {
		for _, band := range protocol.Bands {
			sums = append(sums, "sum(tested AND band = '"+string(band)+"'"+basis+")")
		}
	}
	all := strings.Join(sums, ", ")
	return "SELECT sum(tested), sum(refer) FROM visit;\n.output /dev/null\nSELECT " + all + " FROM visit;\n" +
		"SELECT event, " + all + ", avg(wait), max(wait), avg(stay), max(stay), sum(sticks) FROM visit GROUP BY event;"
}

// lotByHand is the look-back of a lot as one would ask it of the tables.
func (r Record) lotByHand() string {
	return fmt.Sprintf(`SELECT s.parent, s.label, json_extract(s.state, '$.readings[0].at'), json_extract(s.state, '$.readings[0].meter'), json_extract(s.state, '$.readings[0].by'), json_extract(s.state, '$.readings[0].supervisor'),
		json_extract(s.state, '$.readings[0].vial'), json_extract(s.state, '$.readings[0].reading'), json_extract(s.state, '$.call')
		FROM subject s WHERE s.kind = 'visit' AND s.id IN (SELECT id FROM mention WHERE kind = 'visit' AND name = 'strip-lot' AND value = '%s') ORDER BY s.parent, s.label;`, LotID(r.some()))
}

// listByHand asks the tables who of the last 120 days may be called and was not told to be done with. It does not work out what is due
// next for whom, nor who had as many calls as are enough.
func (r Record) listByHand() string {
	return fmt.Sprintf(`SELECT e.label, v.label, json_extract(v.state, '$.language'), json_extract(f.state, '$.attempts[#-1].at'), json_extract(f.state, '$.outcomes[#-1].outcome')
		FROM subject e CROSS JOIN mention m ON m.kind = 'visit' AND m.parent = e.id AND m.name = 'referral' AND m.value = 'asked' CROSS JOIN subject v ON v.kind = 'visit' AND v.id = m.id
		LEFT JOIN subject f ON f.kind = 'followup' AND f.id = v.id
		WHERE e.kind = 'event' AND e.label >= '%s' AND json_extract(v.state, '$.referral.call') AND coalesce(json_extract(f.state, '$.outcomes[#-1].outcome'), '') NOT IN ('seen', 'declined', 'already-known')
		ORDER BY e.label, v.label;`, r.Last.AddDays(-119))
}

// BenchmarkMany makes one record and asks it everything, each question first and once more in a process of its own. With
// FAIRSTICK_BENCH_VISITS the record has another size than 10,000 visits, and with FAIRSTICK_BENCH_RECORD it is kept in a folder.
func BenchmarkMany(b *testing.B) {
	r := made(b)
	db := filepath.Join(r.Dir, "fairstick.db")
	ask := func(name string, more func(*testing.B, Answer)) {
		b.Run(name, func(b *testing.B) {
			for range b.N {
				if count := map[string]string{"season-anew": "figures", "list-anew": "rested"}[name]; count != "" {
					if err := Shell(db, "DELETE FROM counted WHERE name = '"+count+"';"); err != nil {
						b.Fatal(err)
					}
				}
				a := in(b, r, name)
				if more != nil {
					more(b, a)
				}
			}
		})
	}
	ask("lot", func(b *testing.B, a Answer) {
		sh, rows := shell(b, db, r.lotByHand())
		if n := strings.Count(rows, "\n") + 1; n != a.N {
			b.Errorf("%d people by hand, %d by the look-back", n, a.N)
		}
		against(b, a, sh)
	})
	for _, name := range []string{"screener", "meter", "week", "control"} {
		ask(name, nil)
	}
	season := func(b *testing.B, a Answer) {
		sh, said := shell(b, r.Flat, seasonByHand())
		if tested, _, _ := strings.Cut(said, "|"); a.N < r.Visits()/2 || r.all().From == r.First && tested != strconv.Itoa(a.N-r.before(b, db)) {
			b.Errorf("%s tested by hand, %d by the report", tested, a.N)
		}
		against(b, a, sh)
	}
	list := func(b *testing.B, a Answer) {
		sh, rows := shell(b, db, r.listByHand())
		b.ReportMetric(float64(strings.Count(rows, "\n")+1), "by-hand")
		against(b, a, sh)
	}
	ask("season-anew", season)
	ask("season", season)
	ask("list-anew", list)
	ask("list", list)
	for _, name := range []string{"rows", "page-list", "page-season", "binder"} {
		ask(name, nil)
	}
	for _, name := range []string{"fhir", "csv"} {
		ask(name, func(b *testing.B, a Answer) {
			b.ReportMetric(float64(a.N)/a.First.Wall.Seconds(), "visits/s")
			b.ReportMetric(float64(a.Bytes)/1e6, "MB")
			b.ReportMetric(float64(a.First.Wall)/float64(rawWrite(b, filepath.Dir(r.Dir), a.Bytes)), "of-writing")
		})
	}
}

// before is how many of the invented season itself, which is not in the flat file, were tested in the days of the copies.
func (r Record) before(b *testing.B, db string) int {
	b.Helper()
	_, said := shell(b, db, fmt.Sprintf(`SELECT count(*) FROM tally t WHERE t.kind = 'visit' AND t.parent IN (SELECT id FROM subject WHERE kind = 'event' AND label >= '%s' AND label < '%s' AND id NOT LIKE '________-0000-7000-8000-00000000e0e0')
		AND json_array_length((SELECT state FROM subject s WHERE s.kind = 'visit' AND s.id = t.id), '$.readings') > 0;`, r.First, r.Last.AddDays(1)))
	n, err := strconv.Atoi(said)
	if err != nil {
		b.Fatal(err)
	}
	return n
}
