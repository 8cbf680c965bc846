package web

import (
	"bytes"
	"context"
	"html"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/testrecord"
)

// office is an invented programme with its pages, and a session for each person who asks for one.
type office struct {
	*demo.Stage
	t      testing.TB
	server *Server
	tokens map[string]string
}

func officeSetting() demo.Programme {
	proof := func(role string) []demo.Proof {
		return []demo.Proof{{Role: role, From: "2026-01-01", Until: "2026-12-31"}}
	}
	return demo.Programme{
		Describe: programme.Describe{Name: "Office Test Programme", Certificate: "INVENTED-7", CertificateUntil: "2026-12-31", Contact: "555 0100", ContactHours: "9 to 5", Emergency: "911", Unit: "mg/dL", LabelledUse: true},
		Lead:     demo.Person{Name: "Lea Lead", PIN: "4821", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People: []demo.Person{
			{Name: "Sue Supervisor", PIN: "5093", Title: "PharmD, licensed", Roles: []string{"supervisor"}},
			{Name: "Ann Screener", PIN: "6174", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener", Station: "1"},
			{Name: "Bob Screener", PIN: "7285", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener", Station: "2"},
			{Name: "Cy Lapsed", PIN: "8396", Roles: []string{"screener", "desk"}, Verified: []demo.Proof{{Role: "screener", From: "2025-01-01", Until: "2026-05-01"}}},
			{Name: "Dot Counsellor", PIN: "9407", Roles: []string{"counsellor"}, Verified: proof("counsellor"), Post: "counsellor"},
			{Name: "Rae Runner", PIN: "9518", Roles: []string{"runner"}},
		},
		Meters: []demo.Meter{{Label: "M1", Serial: "T-1", Coding: "button"}},
		Lots: []demo.Lot{{
			Lot: "A", Code: "17", Expiry: "2026-12", InUse: "90", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"},
			Vials: []demo.Opened{{Name: "A1", On: "2026-06-01"}},
		}},
		Controls: []demo.Solution{{Lot: "C1", Level: "1", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c1", On: "2026-06-01"}}}, {Lot: "C2", Level: "2", Expiry: "2026-12"}},
		Wipe:     programme.DescribeDisinfectant{Name: "Test wipes", ContactSeconds: 90, TwoStep: true},
		Supplies: []programme.DescribeSupply{{Name: "Cotton", Pack: "bag of 100"}},
		Plan: programme.PlanEvent{
			Name: "Test Fair", Venue: "Test Hall", Address: "1 Invented Lane", Date: "2026-06-20", Doors: "09:00", Ends: "13:00", Zone: "UTC", Expected: 20,
			Routes: []event.Route{{Name: "Invented Clinic", Phone: "555 0111"}}, Urgent: event.Route{Name: "Invented Urgent Care", Phone: "555 0112"},
		},
	}
}

func newOffice(t testing.TB) *office {
	t.Helper()
	clock := demo.NewClock(time.Date(2026, 6, 20, 7, 0, 0, 0, time.UTC))
	p, _ := testrecord.Open(t, clock.Now)
	o := &office{t: t, Stage: demo.NewStage(p, clock, time.UTC, civil.MustParse("2026-06-20")), server: New(Options{Programme: p, Log: slog.New(slog.DiscardHandler)}), tokens: map[string]string{}}
	t.Cleanup(o.server.Close)
	return o
}

// setUp is a programme that has everything before its day.
func setUp(t testing.TB) *office {
	t.Helper()
	o := newOffice(t)
	if err := o.Build(t.Context(), officeSetting()); err != nil {
		t.Fatal(err)
	}
	o.Clock.Set(o.Time("08:00"))
	return o
}

// founded is a programme that has a lead and nothing else.
func founded(t *testing.T) *office {
	t.Helper()
	o := newOffice(t)
	d, err := o.P.Found(t.Context(), programme.Founding{Programme: "Empty Programme", Lead: "Lea Lead", PIN: "4821"})
	if err != nil {
		t.Fatal(err)
	}
	o.Name("Lea Lead", d.ID)
	o.SetPIN("Lea Lead", "4821")
	return o
}

type answer struct {
	status   int
	location string
	body     string
	header   http.Header
}

// text is what a reader sees of a page: no marks, entities resolved, one space between words.
func (a answer) text() string {
	return strings.Join(strings.Fields(html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(a.body, " "))), " ")
}

// officeDevice is the one laptop of the office.
const officeDevice = "0123456789abcdef0123456789abcdef"

func (o *office) ask(who string, r *http.Request) answer {
	o.t.Helper()
	if who != "" {
		if o.tokens[who] == "" {
			s := o.Sign(who)
			token, err := o.P.SignIn(context.Background(), officeDevice, s.Person, s.PIN)
			if err != nil {
				o.t.Fatal(err)
			}
			o.tokens[who] = token
		}
		r.AddCookie(&http.Cookie{Name: sessionCookie, Value: o.tokens[who]})
		r.AddCookie(&http.Cookie{Name: deviceCookie, Value: officeDevice})
	}
	w := httptest.NewRecorder()
	o.server.ServeHTTP(w, r)
	body, err := io.ReadAll(w.Result().Body)
	if err != nil {
		o.t.Fatal(err)
	}
	return answer{w.Code, w.Header().Get("Location"), string(body), w.Header()}
}

func (o *office) get(who, path string) answer {
	o.t.Helper()
	return o.ask(who, httptest.NewRequestWithContext(context.Background(), "GET", path, nil))
}

// post sends a form; a field is given as "name=value".
func (o *office) post(who, path string, fields ...string) answer {
	o.t.Helper()
	v := url.Values{"command": {newCommand()}}
	for _, f := range fields {
		name, value, _ := strings.Cut(f, "=")
		if name == "command" {
			v.Set(name, value)
			continue
		}
		v.Add(name, value)
	}
	r := httptest.NewRequestWithContext(context.Background(), "POST", path, strings.NewReader(v.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return o.ask(who, r)
}

// send uploads a file with the fields of a form.
func (o *office) send(who, path, name, content string) answer {
	o.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, err := range []error{w.WriteField("command", newCommand()), func() error {
		f, err := w.CreateFormFile(name, "file")
		if err == nil {
			_, err = f.Write([]byte(content))
		}
		return err
	}(), w.Close()} {
		if err != nil {
			o.t.Fatal(err)
		}
	}
	r := httptest.NewRequestWithContext(context.Background(), "POST", path, &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return o.ask(who, r)
}

// want checks a page by its status and by what it must and, with ! before it, must not say.
func (o *office) want(a answer, status int, says ...string) {
	o.t.Helper()
	if a.status != status {
		o.t.Errorf("status %d, want %d: %.600s", a.status, status, a.text())
	}
	for _, s := range says {
		not, isNot := strings.CutPrefix(s, "!")
		if isNot && (strings.Contains(a.text(), not) || strings.Contains(a.body, not)) {
			o.t.Errorf("the page says %q", not)
		}
		if !isNot && !strings.Contains(a.text(), s) && !strings.Contains(a.body, s) {
			o.t.Errorf("the page does not say %q", s)
		}
	}
	if o.t.Failed() && testing.Verbose() {
		o.t.Log(a.text())
	}
}

// goes checks that a form was taken and where it leads.
func (o *office) goes(a answer, to string) {
	o.t.Helper()
	if a.status != http.StatusSeeOther || a.location != to {
		o.t.Fatalf("got %d to %q, want 303 to %q: %.900s", a.status, a.location, to, a.text())
	}
}

func TestOfficePagesByRole(t *testing.T) {
	o := setUp(t)
	ev, sue := "/events/"+o.Event, "/people/"+o.ID("Sue Supervisor")
	for path, c := range map[string]struct {
		who  string // the least who may: "lead", "senior" or "all"
		says []string
	}{
		"/setup":                      {"lead", []string{"Set-up", "The programme is ready.", "Certificate INVENTED-7 until 31 Dec 2026. Readings in mg/dL.", `!<b class="count nowrap">`}},
		"/setup/programme":            {"lead", []string{"INVENTED-7", "2026-12-31", "555 0100", `value="mg/dL" checked`}},
		"/setup/protocol":             {"lead", []string{"In force", "Lea Lead; Sue Supervisor, PharmD, licensed", "70 to 99 mg/dL", "3.9 to 5.5 mmol/L", "from 300 mg/dL", "¿Cuántos años tiene?", "!Sign it"}},
		"/setup/protocol/edit":        {"lead", []string{`name="limits.fasting.mg/dL.raised_from" type="text" value="100"`}},
		"/people":                     {"all", []string{"Sue Supervisor, PharmD, licensed", "screener until 31 Dec 2026", "screener ended 1 May 2026", "with a PIN"}},
		"/people/new":                 {"lead", []string{"A new person", "Only its hash is kept."}},
		sue:                           {"senior", []string{"PharmD, licensed"}},
		"/meters":                     {"all", []string{"M1", "set by a button", "for several people, read on 20 Jun 2026"}},
		"/meters/new":                 {"lead", []string{"A new meter", "°C"}},
		"/meters/" + o.ID("M1"):       {"all", []string{"Test wipes", "10 to 40 °C", "Lea Lead, 20 Jun 2026"}},
		"/strips":                     {"all", []string{"A1 (until 30 Aug 2026)", "31 Dec 2026"}},
		"/strips/new":                 {"lead", []string{"Level 2, from"}},
		"/strips/" + o.ID("A"):        {"all", []string{"96 to 144 mg/dL", "252 to 340 mg/dL", "30 Aug 2026", "GDH-FAD"}},
		"/controls-solution":          {"all", []string{"C1", "c1 (until 30 Aug 2026)"}},
		"/controls-solution/new":      {"lead", []string{`value="90"`}},
		"/disinfectants":              {"all", []string{"Test wipes", "wet for 1:30, after a first wipe to clean"}},
		"/disinfectants/new":          {"lead", nil},
		"/supplies":                   {"all", []string{"Cotton", "bag of 100"}},
		"/supplies/new":               {"lead", nil},
		"/lists/people/import":        {"lead", []string{"languages", "Download an example", "Load verifications"}},
		"/lists/meters/example.csv":   {"lead", []string{"label,serial,model"}},
		"/lists/strip-lots/import":    {"lead", []string{"range_1"}},
		"/events":                     {"all", []string{"Test Fair", "20 Jun 2026", "Test Hall"}},
		"/events/new":                 {"lead", []string{"Invented Clinic"}},
		ev:                            {"all", []string{"1 Invented Lane", "Invented Clinic, 555 0111", "Doors 09:00 to 13:00"}},
		ev + "/roster":                {"all", []string{"Nobody is on the roster yet."}},
		"/setup/protocol?version=1.0": {"lead", nil},
	} {
		t.Run(strings.ReplaceAll(path, "/", " "), func(t *testing.T) {
			o := &office{Stage: o.Stage, t: t, server: o.server, tokens: o.tokens}
			if a := o.get("", path); a.status != http.StatusSeeOther || a.location != "/sign-in?to="+escapeQuery(path) {
				t.Errorf("not signed in: %d to %q", a.status, a.location)
			}
			if path == "/setup/protocol?version=1.0" {
				o.want(o.get("Lea Lead", path), 404, "There is no version")
				return
			}
			o.want(o.get("Lea Lead", path), 200, c.says...)
			for who, may := range map[string]bool{"Sue Supervisor": c.who != "lead", "Rae Runner": c.who == "all"} {
				if may {
					o.want(o.get(who, path), 200)
				} else {
					o.want(o.get(who, path), 403, who+" may not open this page.")
				}
			}
		})
	}
}

func TestOfficePagesOfAnEmptyProgramme(t *testing.T) {
	o := founded(t)
	for path, says := range map[string][]string{
		"/setup": {
			"9 of 9 things are still missing", "The certificate of waiver and the telephone numbers are not on record.", "No protocol has been signed.",
			"0 reviewed for use on several people, of 0 on the list.", "No solution in date for level 1 and 2.", "No event is planned from today on.", "!The programme is ready.",
		},
		"/setup/programme":   {"Empty Programme"},
		"/setup/protocol":    {"Draft, not signed", "Sign version 2026.1", "No version has been signed yet.", "!What changes"},
		"/meters":            {"No meter is on the list yet.", "Add a meter", "Load from a file"},
		"/strips":            {"No lot of strips is on the list yet."},
		"/controls-solution": {"No control solution is on the list yet."},
		"/disinfectants":     {"No disinfectant is on the list yet."},
		"/supplies":          {"No other supply is on the list yet."},
		"/events":            {"No event is planned yet."},
		"/people":            {"Lea Lead", "none recorded"},
	} {
		o.want(o.get("Lea Lead", path), 200, says...)
	}
	for _, path := range []string{"/meters/none", "/strips/none", "/controls-solution/none", "/disinfectants/none", "/supplies/none", "/people/none", "/events/none", "/events/none/roster", "/lists/shoes/import", "/lists/shoes/example.csv"} {
		o.want(o.get("Lea Lead", path), 404)
	}
}

// A lead sets a whole programme up through the forms, and the hub counts down.
func TestAProgrammeIsSetUpThroughTheForms(t *testing.T) {
	o := founded(t)
	lead := "Lea Lead"
	o.goes(o.post(lead, "/setup/programme", "name=Forms Programme", "certificate=INVENTED-9", "certificate_until=2026-12-31", "contact=555 0100", "contact_hours=9 to 5", "emergency=911",
		"exposure_contact=Invented Occupational Health", "exposure_phone=555 0190", "unit=mg/dL", "labelled_use=yes"), "/setup")
	added := func(a answer, list string) string {
		t.Helper()
		if a.status != http.StatusSeeOther || !strings.HasPrefix(a.location, list) {
			t.Fatalf("got %d to %q, want 303 to %s: %.900s", a.status, a.location, list, a.text())
		}
		return strings.TrimPrefix(a.location, list)
	}
	ann := added(o.post(lead, "/people", "name=Ann Screener", "roles=screener", "roles=supervisor", "pin=6174", "languages=en, es"), "/people/")
	o.Name("Ann Screener", ann)
	o.SetPIN("Ann Screener", "6174")
	o.goes(o.post(lead, "/people/"+ann+"/verify", "role=screener", "from=2026-01-01", "until=2026-12-31", "note=three sticks"), "/people/"+ann)
	o.want(o.post(lead, "/setup/protocol/sign", "version=2026.1", "first_person="+o.ID(lead), "first_pin=4821", "second_person="+ann, "second_pin=1111"), 403, "The name and the PIN do not belong together.", `id="f-second_pin-error"`)
	o.goes(o.post(lead, "/setup/protocol/sign", "version=2026.1", "first_person="+o.ID(lead), "first_pin=4821", "second_person="+ann, "second_pin=6174"), "/setup/protocol")
	o.goes(o.post(lead, "/disinfectants", "name=Form wipes", "contact_seconds=60", "two_step=yes"), "/disinfectants")
	wipe := regexp.MustCompile(`/disinfectants/([0-9a-f-]{36})`).FindStringSubmatch(o.get(lead, "/disinfectants").body)[1]
	meter := added(o.post(lead, "/meters", "label=M1", "serial=F-1", "model=Type A", "coding=none", "unit=mg/dL", "temp_low=10", "temp_high=40,5"), "/meters/")
	o.want(o.get(lead, "/meters/"+meter), 200, "Nobody has signed that the instructions of meter M1 were read.", "10 to 40.5 °C")
	o.goes(o.post(lead, "/meters/"+meter+"/review", "several_people=yes", "disinfect=Wipe twice", "disinfectants="+wipe, "insert=January 2025", "sign_person="+o.ID(lead), "sign_pin=4821"), "/meters/"+meter)
	lot := added(o.post(lead, "/strips", "lot=S1", "models=Type A, Type B", "chemistry=gdh-fad", "expiry=2026-12", "in_use=90", "each_vial=no", "per_vial=50", "unit=mg/dL",
		"range_1_low=96", "range_1_high=144", "range_2_low=252", "range_2_high=340"), "/strips/")
	o.goes(o.post(lead, "/strips/"+lot+"/open", "vial=", "on=2026-06-19"), "/strips/"+lot)
	o.want(o.get(lead, "/strips/"+lot), 200, "Fits Type A, Type B.", "96 to 144 mg/dL", "19 Jun 2026", "17 Sep 2026")
	o.goes(o.post(lead, "/strips/"+lot+"/throw", "container=1", "reason=left open"), "/strips/"+lot)
	o.want(o.get(lead, "/strips/"+lot), 200, "discarded: left open")
	for _, level := range []string{"1", "2"} {
		added(o.post(lead, "/controls-solution", "lot=C"+level, "level="+level, "models=Type A", "expiry=2026-12", "in_use_days=90"), "/controls-solution/")
	}
	o.goes(o.post(lead, "/supplies", "name=Gauze", "pack=100"), "/supplies")
	ev := added(o.post(lead, "/events", "name=Form Fair", "venue=Form Hall", "address=2 Invented Lane", "date=2026-06-20", "doors=09:00", "ends=13:00", "zone=UTC", "expected=40",
		"route_1_name=Invented Clinic", "route_1_phone=555 0111"), "/events/")
	o.want(o.get(lead, "/setup"), 200, "The programme is ready.", `!<b class="count nowrap">`)
	o.want(o.get(lead, "/events/"+ev), 200, "Before it can open", "No meter is written down as brought.")
	o.goes(o.post(lead, "/events/"+ev+"/roster", "person="+ann, "role=screener", "station=T1"), "/events/"+ev+"/roster")
	o.goes(o.post(lead, "/events/"+ev+"/roster/here", "person="+ann, "here=yes"), "/events/"+ev+"/roster")
	o.want(o.get(lead, "/events/"+ev+"/roster"), 200, "1 person is here to test or counsel, under 0 supervisors. The protocol wants 2 for each supervisor and allows 4 at most.", "No supervisor is written down as here.")
}

// A refused form says what is wrong beside the field and keeps what was typed and the id of the command.
func TestRefusedFormsKeepWhatWasTyped(t *testing.T) {
	o := setUp(t)
	ev, meter, lot := "/events/"+o.Event, "/meters/"+o.ID("M1"), "/strips/"+o.ID("A")
	id := newCommand()
	for name, c := range map[string]struct {
		path   string
		fields []string
		status int
		says   []string
	}{
		"programme": {
			"/setup/programme",
			[]string{"name=Kept Name", "certificate_until=31.12.2026", "contact=call me", "unit="},
			422,
			[]string{`value="Kept Name"`, `value="call me"`, `id="f-contact-error"`, "should be a telephone number", `id="f-unit-error"`, `id="f-certificate_until-error"`},
		},
		"person":         {"/people", []string{"name=ann screener", "roles=desk", "pin=1234"}, 422, []string{"This PIN is one of the first that anyone would try.", `value="ann screener"`, `value="desk" checked`, `!value="1234"`}},
		"person twice":   {"/people", []string{"name=ann screener", "roles=desk"}, 422, []string{"is on the list already", `id="f-name-error"`}},
		"verify self":    {"/people/" + o.ID("Lea Lead") + "/verify", []string{"role=lead", "from=2026-01-01", "until=2026-12-31"}, 403, []string{"Nobody can verify themselves."}},
		"verify":         {"/people/" + o.ID("Rae Runner") + "/verify", []string{"role=screener", "from=2026-02-01", "until=2026-01-01", "note=kept note"}, 422, []string{"does not hold the role screener", "before the first day", `value="kept note"`}},
		"last lead":      {"/people/" + o.ID("Lea Lead") + "/leave", []string{"reason=moved away"}, 409, []string{"is the only lead", `value="moved away"`}},
		"empty PIN":      {"/people/" + o.ID("Rae Runner") + "/pin", []string{"pin="}, 422, []string{"Type the new PIN"}},
		"meter":          {"/meters", []string{"label=M1", "serial=X", "model=Type A", "coding=chip", "unit=mg/dL", "temp_low=cold", "temp_high=40"}, 422, []string{`value="cold"`, "plain number such as 21.5", `value="chip" checked`}},
		"meter edited":   {meter, []string{"label=M1", "serial=", "model=Type A", "coding=chip", "unit=mg/dL", "temp_low=10", "temp_high=40"}, 422, []string{"The serial number is missing."}},
		"review":         {meter + "/review", []string{"several_people=yes", "insert=May 2026", "disinfect=Wipe it", "sign_person=" + o.ID("Rae Runner"), "sign_pin=9518"}, 403, []string{"Rae Runner may not sign for this.", "Wipe it</textarea>", `value="May 2026"`}},
		"review, PIN":    {meter + "/review", []string{"several_people=yes", "insert=May 2026", "disinfect=Wipe it", "sign_person=" + o.ID("Sue Supervisor"), "sign_pin=1111"}, 403, []string{`id="f-sign_pin-error"`, `!href="#f-pin"`}},
		"return":         {meter + "/return", []string{"reason=new battery", "sign_person=" + o.ID("Lea Lead"), "sign_pin=4821"}, 409, []string{"is not in quarantine"}},
		"strips":         {"/strips", []string{"lot=B", "models=Type A", "chemistry=gdh-fad", "expiry=2026-12", "in_use=soon", "each_vial=no", "per_vial=50", "unit=mg/dL", "range_1_low=144", "range_1_high=96"}, 422, []string{`value="soon"`, "nor the word expiry", "The first number must be the smaller.", `id="f-range_1"`, `value="144"`}},
		"strips open":    {lot + "/open", []string{"vial=A1", "on=2026-06-02"}, 422, []string{"is written down already", `value="2026-06-02"`}},
		"strips empty":   {lot + "/withdraw", []string{"reason="}, 422, []string{"The reason is missing."}},
		"wipes":          {"/disinfectants", []string{"name=Kept wipes", "contact_seconds=2 minutes"}, 422, []string{"Kept wipes", "whole number", `value="2 minutes"`}},
		"controls":       {"/controls-solution", []string{"lot=C9", "level=1", "models=Type A", "expiry=2026-12", "in_use_days=0"}, 422, []string{"must be from 1 to 1000", `value="C9"`}},
		"supply":         {"/supplies", []string{"name=", "note=kept note"}, 422, []string{"The name is missing.", `value="kept note"`}},
		"event":          {"/events", []string{"name=Kept Fair", "venue=Hall", "date=2026-06-21", "doors=13:00", "ends=9:00", "route_2_phone=555 0113"}, 422, []string{"which is not after they open", `id="f-route_2_name-error"`, `value="555 0113"`}},
		"event edited":   {ev, []string{"name=", "venue=Hall", "date=2026-06-21", "doors=09:00", "ends=13:00", "zone=Mars/Base"}, 422, []string{"is not a time zone", `value="Mars/Base"`}},
		"roster":         {ev + "/roster", []string{"person=" + o.ID("Cy Lapsed"), "role=screener", "station=T9"}, 409, []string{"Cy Lapsed was verified as screener until 1 May 2026.", `value="T9"`, "Give this post to somebody who is verified"}},
		"roster, role":   {ev + "/roster", []string{"person=" + o.ID("Rae Runner"), "role=desk"}, 409, []string{"Rae Runner does not hold the role desk."}},
		"not rostered":   {ev + "/roster/here", []string{"person=" + o.ID("Rae Runner"), "here=yes"}, 409, []string{"This person is not on the roster."}},
		"no override":    {ev + "/roster/override", []string{"reason=short of people", "sign_person=" + o.ID("Lea Lead"), "sign_pin=4821"}, 409, []string{"No supervisor is written down as here."}},
		"sign nothing":   {"/setup/protocol/sign", []string{"version=2026.1", "first_person=" + o.ID("Lea Lead"), "first_pin=4821", "second_person=" + o.ID("Sue Supervisor"), "second_pin=5093"}, 409, []string{"There is no draft to sign."}},
		"import nothing": {"/lists/meters/import", nil, 422, []string{"Choose a file or paste a table first."}},
		"import damaged": {"/lists/meters/import", []string{"text=label,shoe\nM1,8"}, 422, []string{`"shoe" is not a column of this list`, "label,shoe"}},
	} {
		t.Run(name, func(t *testing.T) {
			o := &office{Stage: o.Stage, t: t, server: o.server, tokens: o.tokens}
			a := o.post("Lea Lead", c.path, append(c.fields, "command="+id)...)
			o.want(a, c.status, c.says...)
			if !strings.Contains(a.body, `value="`+id+`"`) && name != "not rostered" && name != "sign nothing" && name != "return" && name != "no override" && name != "verify self" {
				t.Error("the command's id was not kept")
			}
		})
	}
}

func TestOfficeFormsByRole(t *testing.T) {
	o := setUp(t)
	ev := "/events/" + o.Event
	for _, path := range []string{
		"/setup/programme", "/setup/protocol/sign", "/setup/protocol/edit", "/people", "/people/" + o.ID("Rae Runner"), "/people/" + o.ID("Rae Runner") + "/pin",
		"/people/" + o.ID("Rae Runner") + "/leave", "/meters", "/meters/" + o.ID("M1"), "/strips", "/strips/" + o.ID("A"), "/controls-solution", "/disinfectants", "/supplies", "/events", ev, "/lists/people/import",
	} {
		o.want(o.post("Sue Supervisor", path), 403, "Sue Supervisor may not open this page.")
	}
	for _, path := range []string{"/people/" + o.ID("Sue Supervisor") + "/verify", "/meters/" + o.ID("M1") + "/review", "/strips/" + o.ID("A") + "/withdraw", ev + "/roster", ev + "/roster/override"} {
		o.want(o.post("Ann Screener", path), 403, "Ann Screener may not open this page.")
	}
	o.want(o.post("", "/people", "name=Eve"), 401)
	if a := o.get("Rae Runner", "/meters/"+o.ID("M1")); strings.Contains(a.body, "<form") {
		t.Error("a runner is offered a form on the page of a meter")
	}
}

func TestRosterRatioIsPassedWithASignature(t *testing.T) {
	o := setUp(t)
	if err := o.Roster(t.Context(), officeSetting()); err != nil {
		t.Fatal(err)
	}
	roster := "/events/" + o.Event + "/roster"
	o.want(o.get("Lea Lead", roster), 200, "3 people are here to test or counsel, under 1 supervisor.", "the protocol wants 2 for each", "Sign a reason", "verified")
	o.want(o.get("Ann Screener", roster), 200, "!Sign a reason", "!Post this person")
	o.want(o.post("Lea Lead", roster+"/override", "reason=kept reason", "sign_person="+o.ID("Lea Lead"), "sign_pin=0000"), 403, `value="kept reason"`)
	o.goes(o.post("Lea Lead", roster+"/override", "reason=one is ill", "sign_person="+o.ID("Lea Lead"), "sign_pin=4821"), roster)
	o.want(o.get("Lea Lead", roster), 200, "Lea Lead signed for 3:1 at 08:00: one is ill", "!Sign a reason")
	o.goes(o.post("Ann Screener", roster+"/here", "person="+o.ID("Ann Screener"), "here=no"), roster)
	o.want(o.post("Ann Screener", roster+"/here", "person="+o.ID("Bob Screener"), "here=no"), 403)
	o.goes(o.post("Lea Lead", roster+"/here", "person="+o.ID("Bob Screener"), "here=off"), roster)
	o.want(o.get("Lea Lead", roster), 200, "not here", "!: Bob Screener")
}

func TestQuarantineAndReturnOfAMeter(t *testing.T) {
	o := setUp(t)
	m := "/meters/" + o.ID("M1")
	o.goes(o.post("Sue Supervisor", m+"/quarantine", "reason=Cracked display"), m)
	o.want(o.get("Rae Runner", m), 200, "In quarantine. It tests nobody.", "Cracked display. Sue Supervisor, 20 Jun 2026, 08:00.")
	o.want(o.get("Lea Lead", "/setup"), 200, "1 in quarantine.", "1 of 9 things are still missing")
	o.want(o.post("Sue Supervisor", m+"/return", "reason=Glass replaced", "sign_person="+o.ID("Sue Supervisor"), "sign_pin=0001"), 403, `value="Glass replaced"`)
	o.goes(o.post("Sue Supervisor", m+"/return", "reason=Glass replaced", "sign_person="+o.ID("Sue Supervisor"), "sign_pin=5093"), m)
	o.want(o.get("Lea Lead", m), 200, "!In quarantine", "returned from quarantine", "Glass replaced")
}
