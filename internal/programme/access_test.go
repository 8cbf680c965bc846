package programme_test

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net/netip"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// at is the context of a request from an address.
func (h *hall) at(addr string) context.Context {
	return programme.WithOrigin(h.ctx, programme.Origin{Addr: netip.MustParseAddr(addr)})
}

func (h *hall) in(ctx context.Context, device, name, pin string) error {
	_, err := h.P.SignIn(ctx, device, h.ID(name), pin)
	return err
}

// reopened is the programme as a restart finds it.
func (h *hall) reopened() *programme.Programme {
	return programme.New(h.store, h.Clock.Now, slog.New(slog.DiscardHandler))
}

// A stranger who guesses a lead's PIN is slowed and then locked, through a restart too; the lead's own device, the laptop
// and the stations of the programme still take the lead's PIN.
func TestAStrangerCannotLockTheLeadOut(t *testing.T) {
	h := newHall(t)
	home, wifi := h.at("192.168.1.10"), "192.168.1."
	h.must(h.in(home, "lead's phone", "Lea Lead", "4821"))
	h.must(h.in(h.at("192.168.1.11"), "test 2", "Ann Screener", "6174"))
	compared := 0
	for i := range 60 { // a fresh device and another address each time
		err := h.in(h.at(fmt.Sprint(wifi, 100+i)), fmt.Sprint("stranger ", i), "Lea Lead", fmt.Sprintf("%04d", 5000+i))
		if err != nil && strings.Contains(err.Error(), "do not belong together") {
			compared++
		}
		h.later(time.Minute)
	}
	if compared < 5 || compared > 12 {
		t.Errorf("%d guesses were compared in an hour, want 5 to 12", compared)
	}
	h.later(16 * time.Minute) // past every wait: guess until it is locked for good
	for i := range 12 {
		_ = h.in(h.at(wifi+"200"), fmt.Sprint("late ", i), "Lea Lead", "5555")
		h.later(16 * time.Minute)
	}
	h.refused("pin-wait", h.in(h.at(wifi+"201"), "new phone", "Lea Lead", "4821"))
	h.must(h.in(home, "lead's phone", "Lea Lead", "4821"))
	h.must(h.in(h.at(wifi+"11"), "test 2", "Lea Lead", "4821"))
	h.must(h.in(h.ctx, "laptop", "Lea Lead", "4821"))

	again := h.reopened()
	_, err := again.SignIn(h.at(wifi+"202"), "new phone", h.ID("Lea Lead"), "4821")
	h.refused("pin-wait", err)
	view, err := again.Access(h.ctx, h.As("Lea Lead"))
	h.must(err)
	lock := ""
	for _, l := range view.Locks {
		if l.Where == "strangers" && l.Person == h.ID("Lea Lead") {
			lock = l.Key
		}
	}
	if lock == "" {
		t.Fatalf("the lock is not shown: %+v", view.Locks)
	}
	h.refused("role", again.LiftLock(h.ctx, h.As("Ann Screener"), lock))
	h.must(again.LiftLock(h.ctx, h.As("Lea Lead"), lock))
	_, err = again.SignIn(h.at(wifi+"203"), "new phone", h.ID("Lea Lead"), "4821")
	h.must(err)
	if view, err = again.Access(h.ctx, h.As("Lea Lead")); err != nil || view.Notes[0].What != programme.NoteLifted {
		t.Errorf("notes %+v, %v", view.Notes, err)
	}
}

// One address that tries every name is shut out as a whole.
func TestAnAddressThatGuessesIsShutOut(t *testing.T) {
	h := newHall(t)
	ctx := h.at("10.0.0.77")
	for i := range 120 {
		_ = h.in(ctx, fmt.Sprint("d", i), []string{"Lea Lead", "Sue Supervisor", "Ann Screener", "Bob Screener", "Dot Counsellor"}[i%5], "3333")
		h.later(16 * time.Minute / 5)
	}
	h.refused("pin-wait", h.in(ctx, "d", "Cy Lapsed", "8396"))
	h.must(h.in(h.at("10.0.0.78"), "e", "Cy Lapsed", "8396"))
}

// Many guesses at once gain nothing over one after the other.
func TestGuessesAtOnce(t *testing.T) {
	h := newHall(t)
	var wg sync.WaitGroup
	var mu sync.Mutex
	compared := 0
	for i := range 40 {
		wg.Go(func() {
			err := h.in(h.at("10.0.0.9"), "x", "Lea Lead", fmt.Sprintf("%04d", 6000+i))
			if err != nil && strings.Contains(err.Error(), "do not belong together") {
				mu.Lock()
				compared++
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	if compared != 5 {
		t.Errorf("%d guesses were compared, want the 4 free ones and the one that costs a wait", compared)
	}
}

// A session is good on its own device, until it is idle, changed roles or PIN, ended, blocked or twelve hours old.
func TestSessionsEnd(t *testing.T) {
	h := newHall(t)
	lead := h.As("Lea Lead")
	sign := func(device string) string {
		t.Helper()
		token, err := h.P.SignIn(h.ctx, device, h.ID("Ann Screener"), "6174")
		h.must(err)
		return token
	}
	gone := func(device, token string) {
		t.Helper()
		_, err := h.P.Who(h.ctx, device, token)
		h.refused("sign-in", err)
	}
	token := sign("a")
	gone("b", token)
	h.later(19 * time.Minute)
	_, err := h.P.Who(h.ctx, "a", token)
	h.must(err)
	h.later(21 * time.Minute)
	_, err = h.P.Watcher(h.ctx, "a", token) // a stream goes on, and is no use
	h.must(err)
	_, err = h.P.Who(h.ctx, "a", token)
	h.refused("idle", err)
	if who := h.P.Idle(h.ctx, "a", token); who == nil || who.Details.Name != "Ann Screener" {
		t.Errorf("the lock knows nobody: %v", who)
	}
	if _, err = h.reopened().Who(h.ctx, "a", token); err == nil {
		t.Error("a restart opened an idle session")
	}
	h.must(h.P.SetIdle(h.ctx, lead, 120))
	_, err = h.reopened().Who(h.ctx, "a", token)
	h.must(err)
	for _, bad := range []int{0, 4, 121, -1} {
		h.refused("field-idle", h.P.SetIdle(h.ctx, lead, bad))
	}

	describe := programme.DescribePerson{Person: h.ID("Ann Screener"), Name: "Ann Screener", Roles: []string{"screener", "desk"}}
	token = sign("a")
	_, err = h.P.DescribePerson(h.ctx, lead, describe)
	h.must(err)
	gone("a", token)
	describe.PIN = "9182"
	token = sign("a")
	_, err = h.P.DescribePerson(h.ctx, lead, describe)
	h.must(err)
	gone("a", token)

	one, err := h.P.SignIn(h.ctx, "a", h.ID("Ann Screener"), "9182")
	h.must(err)
	two, err := h.P.SignIn(h.ctx, "b", h.ID("Ann Screener"), "9182")
	h.must(err)
	view, err := h.P.Access(h.ctx, lead)
	h.must(err)
	if len(view.Sessions) != 2 || view.IdleMinutes != 120 {
		t.Fatalf("%+v", view)
	}
	h.refused("role", h.P.EndSession(h.ctx, h.As("Ann Screener"), view.Sessions[0].Key))
	h.must(h.P.EndSessionsOf(h.ctx, lead, h.ID("Ann Screener")))
	gone("a", one)
	gone("b", two)

	three, err := h.P.SignIn(h.ctx, "c", h.ID("Ann Screener"), "9182")
	h.must(err)
	view, err = h.P.Access(h.ctx, lead)
	h.must(err)
	device := view.Sessions[0].Device
	own := programme.WithOrigin(h.ctx, programme.Origin{Device: "c"})
	h.refused("own-device", h.P.BlockDevice(own, lead, device, true))
	h.must(h.P.BlockDevice(h.ctx, lead, device, true))
	gone("c", three)
	_, err = h.P.SignIn(h.ctx, "c", h.ID("Ann Screener"), "9182")
	h.refused("device-blocked", err)
	_, err = h.reopened().SignIn(h.ctx, "c", h.ID("Ann Screener"), "9182")
	h.refused("device-blocked", err)
	h.must(h.P.BlockDevice(h.ctx, lead, device, false))
	four, err := h.P.SignIn(h.ctx, "c", h.ID("Ann Screener"), "9182")
	h.must(err)
	for range 13 { // in use all day, and still not longer than twelve hours
		h.later(55 * time.Minute)
		_, err = h.P.Who(h.ctx, "c", four)
		h.must(err)
	}
	h.later(10 * time.Minute)
	gone("c", four)
}

// openToAll are the commands that every person of the programme may give: whoever is nearest writes down what happened.
// Their pages may ask for more.
var openToAll = map[string]bool{
	"OpenCare": true, "CareStep": true, "LeaveVisit": true, "MarkHere": true, "Attend": true,
	"BringStock": true, "CheckOff": true, "MeasureRoom": true, "CompareCode": true, "CountBack": true, "ReadMemory": true, "RecordDownload": true,
	"OpenVial": true, "OpenBottle": true, "ThrowVial": true, "ThrowBottle": true, "VoidMeter": true, "WipeMeter": true,
	"ReportIncident": true, "DescribeIncident": true, "IncidentStep": true, "CloseIncident": true,
	"CountStock": true, // a runner may count; the rest of the stock is for a lead or supervisor
	"TakeQuiz":   true, "RecordRehearsal": true,
}

// decidedLater are refused by what they hold: a list by its rows, a gate by the role that it names for its signature, a task
// of the countdown by whose it is, an observation and a second form of it by their signatures, letters by those who wait for one, a
// look-back by its question.
var decidedLater = map[string]bool{
	"ImportList": true, "Override": true, "FinishTask": true, "AttachEvidence": true, "RecordObservation": true, "RecordSecondForm": true, "MakeLetters": true, "OpenLookBack": true,
}

// Every command refuses the weakest role, unless it stands in the list above. Commands are found by their shape, so a new
// one must be placed.
func TestARunnerIsRefused(t *testing.T) {
	h := opened(t, func(p *demo.Programme) {
		p.People = append(p.People, demo.Person{Name: "Rue Runner", PIN: "7392", Roles: []string{"runner"}}, demo.Person{Name: "Ray Runner", PIN: "7394", Roles: []string{"runner"}})
	})
	g := h.guest("1", demo.Guest{})
	named := map[string]string{
		"Event": h.Event, "Visit": g.ID, "Meter": h.ID("M1"), "StripLot": h.ID("A"), "ControlLot": h.ID("control 1"), "Disinfectant": h.ID("wipes"),
		"Person": h.ID("Bob Screener"), "List": "people", "Vial": "A1", "Bottle": "c1", "Reason": "because", "Level": "1", "Step": "aid",
	}
	door := reflect.ValueOf(h.P)
	actor := reflect.TypeFor[programme.Actor]()
	sign := reflect.TypeFor[programme.Sign]()
	tried := 0
	for i := range door.NumMethod() {
		m, name := door.Method(i), door.Type().Method(i).Name
		kind := m.Type()
		if kind.NumIn() != 3 || kind.In(1) != actor || kind.In(2).Kind() != reflect.Struct {
			continue
		}
		cmd := reflect.New(kind.In(2)).Elem()
		signers := []programme.Sign{h.Sign("Ray Runner"), h.Sign("Rue Runner")}
		for f := range cmd.NumField() {
			if cmd.Type().Field(f).Type == sign {
				cmd.Field(f).Set(reflect.ValueOf(signers[0]))
				signers = signers[1:]
			}
			if cmd.Field(f).Kind() == reflect.String {
				cmd.Field(f).SetString(named[cmd.Type().Field(f).Name])
			}
		}
		out := m.Call([]reflect.Value{reflect.ValueOf(h.ctx), reflect.ValueOf(h.As("Rue Runner")), cmd})
		err, _ := out[len(out)-1].Interface().(error)
		key := ""
		if err != nil {
			key = fault.Of(err).Key
		}
		tried++
		denied := key == "role" || key == "signature-role" || decidedLater[name] && key != ""
		if denied == openToAll[name] {
			t.Errorf("%s: a runner gets %q (%v); open to all: %v", name, key, err, openToAll[name])
		}
	}
	if tried < 45 {
		t.Errorf("only %d commands were found", tried)
	}
}

// A lead erases a name: no counts change, the key is gone here, and gone on a laptop that hears of it.
func TestErasure(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{Contact: programme.Contact{Allow: true, Call: true, Name: "Zebulon Marked", Phone: "555 987 6543"}})
	lead := h.As("Lea Lead")
	before, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	erase := programme.EraseContact{Act: h.Act(), Visit: g.ID, Reason: programme.EraseAsked, Sign: h.Sign("Lea Lead")}
	_, err = h.P.EraseContact(h.ctx, h.As("Sue Supervisor"), erase)
	h.refused("role", err)
	other := erase
	other.Sign = h.Sign("Sue Supervisor")
	_, err = h.P.EraseContact(h.ctx, lead, other)
	h.refused("signature-role", err)
	other = erase
	other.Reason = "bored"
	_, err = h.P.EraseContact(h.ctx, lead, other)
	h.refused("fields", err)
	_, err = h.P.EraseContact(h.ctx, lead, erase)
	h.must(err)
	_, err = h.P.EraseContact(h.ctx, lead, erase) // a second press
	h.must(err)
	erase.Act = h.Act()
	_, err = h.P.EraseContact(h.ctx, lead, erase)
	h.refused("erased-already", err)

	state, err := h.P.Erasing(h.ctx, lead, g.ID)
	h.must(err)
	if state.KeyKept || state.Kept || state.Erasure == nil || !state.Erasure.At.Equal(h.Clock.Now().Truncate(time.Millisecond)) || state.Signed != "Lea Lead" {
		t.Errorf("%+v", state)
	}
	if _, found, err := h.P.OpenContact(h.ctx, lead, g.ID); found || err != nil {
		t.Errorf("the contact is still there: %v %v", found, err)
	}
	_, err = h.P.Contact(h.ctx, h.As("Cy Lapsed"), programme.Contact{Act: h.Act(), Visit: g.ID, Allow: true, Name: "Zebulon Marked", Phone: "555"})
	h.refused("erased", err)
	after, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	if !reflect.DeepEqual(before, after) {
		t.Errorf("the report changed:\n%+v\n%+v", before, after)
	}
	rep, err := h.store.Check(h.ctx)
	h.must(err)
	if !rep.OK() || rep.Erased != 1 {
		t.Errorf("check: %+v", rep)
	}
}

// A laptop that gets the facts one after the other destroys the key when it hears of the erasure.
func TestErasureReachesOtherLaptops(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{Contact: programme.Contact{Allow: true, Call: true, Name: "Zebulon Marked", Phone: "555 987 6543"}})
	other, err := store.Create(h.ctx, store.Options{Dir: filepath.Join(t.TempDir(), "other"), Catalogue: programme.Catalogue(), Now: h.Clock.Now})
	h.must(err)
	defer func() { h.must(other.Close()) }()
	give := func() {
		t.Helper()
		h.must(h.store.Read(h.ctx, func(v *store.View) error {
			run, err := v.Run(h.store.Node(), 0)
			if err != nil {
				return err
			}
			_, err = other.Absorb(h.ctx, run)
			return err
		}))
	}
	has := func() (kept bool) {
		t.Helper()
		h.must(other.Read(h.ctx, func(v *store.View) (err error) { kept, err = v.HasKey(visit.Ref(g.ID)); return err }))
		return kept
	}
	give()
	h.must(other.Write(h.ctx, func(tx *store.Tx) error { // as a restored copy that has the key
		_, err := tx.Seal(visit.Ref(g.ID), []byte("x"))
		return err
	}))
	if !has() {
		t.Fatal("the copy has no key to begin with")
	}
	_, err = h.P.EraseContact(h.ctx, h.As("Lea Lead"), programme.EraseContact{Act: h.Act(), Visit: g.ID, Reason: programme.EraseRetention, Sign: h.Sign("Lea Lead")})
	h.must(err)
	give()
	if has() {
		t.Error("the copy kept the key after it heard of the erasure")
	}
}

// Somebody who must still be called is erased only when a lead says so.
func TestErasureAsksBeforeAnOpenCall(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{Contact: programme.Contact{Allow: true, Call: true, Name: "Zebulon Marked", Phone: "555 987 6543"}})
	_, err := h.P.OpenCare(h.ctx, h.As("Ann Screener"), programme.OpenCare{Act: h.Act(), Visit: g.ID, Note: "confused"})
	h.must(err)
	erase := programme.EraseContact{Act: h.Act(), Visit: g.ID, Reason: programme.EraseAsked, Sign: h.Sign("Lea Lead")}
	_, err = h.P.EraseContact(h.ctx, h.As("Lea Lead"), erase)
	h.refused("call-open", err)
	erase.Confirmed = true
	_, err = h.P.EraseContact(h.ctx, h.As("Lea Lead"), erase)
	h.must(err)
}

// No byte on the disk and no line of the log holds a name or a number that was given for a call.
func TestNothingPersonalOnTheDisk(t *testing.T) {
	h := opened(t)
	var said bytes.Buffer
	p := programme.New(h.store, h.Clock.Now, slog.New(slog.NewTextHandler(&said, &slog.HandlerOptions{Level: slog.LevelDebug})))
	const name, phone = "Zebulon Marked", "555 987 6543"
	g := h.guest("1", demo.Guest{})
	act := h.Act()
	for range 2 {
		_, err := p.Contact(h.ctx, h.As("Cy Lapsed"), programme.Contact{Act: act, Visit: g.ID, Allow: true, Call: true, Name: name, Phone: phone})
		h.must(err)
	}
	if c, found, err := p.OpenContact(h.ctx, h.As("Lea Lead"), g.ID); err != nil || !found || c.Name != name {
		t.Fatalf("%+v %v %v", c, found, err)
	}
	files, err := filepath.Glob(filepath.Join(h.store.Dir(), "*"))
	h.must(err)
	looked := 0
	for _, f := range files {
		data, err := os.ReadFile(f)
		h.must(err)
		looked += len(data)
		for _, secret := range []string{name, "Zebulon", phone, "9876543"} {
			if bytes.Contains(data, []byte(secret)) {
				t.Errorf("%s holds %q", filepath.Base(f), secret)
			}
		}
	}
	if looked < 100_000 {
		t.Errorf("only %d bytes were looked at", looked)
	}
	if strings.Contains(said.String(), "Zebulon") || strings.Contains(said.String(), "987") {
		t.Errorf("the log says %s", said.String())
	}
}
