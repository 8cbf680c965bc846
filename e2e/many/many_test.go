package many

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/exchange"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/report"
	"fairstick/internal/store"
)

// How the benchmark is asked for another record than the small one: how many visits it has, and a folder in which a record that was
// made is kept for the next run.
const (
	visitsEnv = "FAIRSTICK_BENCH_VISITS"
	folderEnv = "FAIRSTICK_BENCH_RECORD"
	askedEnv  = "FAIRSTICK_BENCH_ASKED" // a question for this process, which was started for it
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
	First, Then time.Duration
	PeakKB      int // most memory of the process, VmHWM
}

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

// some is an event in the middle.
func (r Record) some() int { return r.Events / 2 }

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
		return f.All.N("approached"), 0, err
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
		return len(c.Open) + len(c.Later) + c.Rested, 0, err
	},
	"lot":      back(func(r Record) programme.AskBack { return programme.AskBack{StripLot: LotName(r.some())} }),
	"vial":     back(func(r Record) programme.AskBack { return programme.AskBack{StripLot: LotName(r.some()), Vial: Vial(r.some())} }),
	"screener": back(func(r Record) programme.AskBack { return programme.AskBack{Event: EventID(r.some()), Screener: r.who(), FromTime: "10:00", UntilTime: "12:00"} }),
	"meter":    back(func(r Record) programme.AskBack { return programme.AskBack{Meter: MeterName(r.some() * 4)} }),
	"week": back(func(r Record) programme.AskBack {
		day := r.Last.AddDays(-r.First.DaysUntil(r.Last) / 2)
		return programme.AskBack{FromDay: day.String(), UntilDay: day.AddDays(6).String()}
	}),
	"control": back(func(r Record) programme.AskBack { return programme.AskBack{ControlLot: ControlName(r.some() / 100 * 2)} }),
	"fhir":    export("fhir", ".ndjson"),
	"csv":     export("csv", ".zip"),
	"binder": func(ctx context.Context, p *programme.Programme, r Record) (int, int64, error) {
		from := r.Last.AddDays(-18)
		b, err := p.Binder(ctx, programme.AskBinder{From: from.String(), To: r.Last.AddDays(-2).String()})
		if err != nil {
			return 0, 0, err
		}
		return b.Visits, int64(len(paper.BinderDocument(b).Sections)), nil
	},
}

func (r Record) who() string { return StaffName(r.some() * 4) }

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
	st, err := store.Open(ctx, Options(r.Dir))
	if err != nil {
		return err
	}
	p := programme.New(st, Now, Options("").Log)
	ask, ok := questions[name]
	if !ok {
		return fmt.Errorf("many: no question %q", name)
	}
	var a Answer
	for _, took := range []*time.Duration{&a.First, &a.Then} {
		began := time.Now()
		if a.N, a.Bytes, err = ask(ctx, p, r); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		*took = time.Since(began)
		if a.Bytes > 0 && a.First > time.Minute {
			break // an export is written once
		}
	}
	if err := st.Close(); err != nil {
		return err
	}
	if a.PeakKB, err = peakKB(); err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(a)
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
	b.ReportMetric(float64(a.First.Microseconds())/1000, "first-ms")
	b.ReportMetric(float64(a.Then.Microseconds())/1000, "then-ms")
	b.ReportMetric(float64(a.PeakKB)/1000, "peak-MB")
	b.ReportMetric(float64(a.N), "found")
	b.ReportMetric(0, "ns/op")
	return a
}

// shell asks the sqlite3 shell a question of a file three times, and gives the shortest time and what it wrote.
func shell(b *testing.B, file, sql string) (time.Duration, string) {
	b.Helper()
	path, err := exec.LookPath("sqlite3")
	if err != nil {
		b.Fatal("This benchmark holds its times against the sqlite3 shell, and there is none here. Install Debian's package sqlite3.")
	}
	best, out := time.Duration(0), ""
	for range 3 {
		cmd := exec.CommandContext(b.Context(), path, "-readonly", file)
		cmd.Stdin = strings.NewReader(sql)
		at := time.Now()
		said, err := cmd.CombinedOutput()
		if err != nil {
			b.Fatalf("the sqlite3 shell: %v %s", err, said)
		}
		if took := time.Since(at); best == 0 || took < best {
			best = took
		}
		out = string(said)
	}
	return best, strings.TrimSpace(out)
}

// against reports a time as a ratio to the shell's.
func against(b *testing.B, took, sh time.Duration) {
	b.Helper()
	b.ReportMetric(float64(sh.Microseconds())/1000, "shell-ms")
	b.ReportMetric(float64(took)/float64(sh), "of-shell")
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

// made gives the record, with 10,000 visits unless the environment asks for another number.
func made(b *testing.B) Record {
	b.Helper()
	visits := 10_000
	if s := os.Getenv(visitsEnv); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1000 {
			b.Fatalf("%s is %q; it should be a number of visits, 1000 or more.", visitsEnv, s)
		}
		visits = n
	}
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

var _ = civil.Date{}

// BenchmarkMany makes one record and asks it everything, each question in a process of its own.
func BenchmarkMany(b *testing.B) {
	r := made(b)
	db := filepath.Join(r.Dir, "fairstick.db")
	_ = db
	for _, name := range []string{"lot", "vial", "screener", "meter", "week", "control", "list", "season", "rows", "binder", "fhir", "csv"} {
		b.Run(name, func(b *testing.B) {
			for range b.N {
				in(b, r, name)
			}
		})
	}
}
