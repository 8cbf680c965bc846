package web

import (
	"fmt"
	"strconv"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// setupView is the hub of the lead: what is set up and what is missing.
type setupView struct {
	Page    ui.Page
	Needs   []setupNeed
	Missing int
	Lists   []ui.Link
	Quality []ui.Link
	Laptop  []ui.Link
}

type setupNeed struct {
	Href, Name, Says, Do string
	Done                 bool
}

// needPaths leads from a need to the page on which it is met.
var needPaths = map[string]string{
	"programme": "/setup/programme", "protocol": "/setup/protocol", "people": "/people", "disinfectants": "/disinfectants",
	"meters": "/meters", "strips": "/strips", "controls": "/controls-solution", "events": "/events",
}

func setupShow(s *Server, c *Context) error {
	state, err := s.prog.SetUp(c.R.Context())
	if err != nil {
		return err
	}
	missing := state.Missing()
	sentence := "Everything that a programme needs before its day is here."
	if missing > 0 {
		sentence = fmt.Sprintf("%d of %s are still missing before an event can open.", missing, plural(len(state.Needs), "thing", "things"))
	}
	v := setupView{Page: c.officePage("Set-up", sentence, "setup", &ui.Link{Href: "/", Label: "Start"}), Missing: missing}
	for _, n := range state.Needs {
		v.Needs = append(v.Needs, setupNeed{Href: needPaths[n.Key], Name: n.Name, Says: n.Says, Do: n.Do, Done: n.Done})
	}
	for _, l := range []struct {
		href, label string
		count       int
	}{
		{"/people", "People", len(state.People)},
		{"/meters", "Meters", len(state.Meters)},
		{"/strips", "Strip lots", len(state.StripLots)},
		{"/controls-solution", "Control solution", len(state.ControlLots)},
		{"/disinfectants", "Disinfectants", len(state.Disinfectants)},
		{"/supplies", "Other supplies", len(state.Supplies)},
		{"/events", "Events", len(state.Events)},
		{"/stock", "Stock: levels, expiry, orders", len(state.StripLots) + len(state.ControlLots) + len(state.Disinfectants) + len(state.Supplies)},
	} {
		v.Lists = append(v.Lists, ui.Link{Href: l.href, Label: l.label, Count: strconv.Itoa(l.count)})
	}
	v.Quality = []ui.Link{
		{Href: "/quality", Label: "Quality: can each meter be trusted?"},
		{Href: "/look-back", Label: "Look-back: whom did it touch?"},
		{Href: "/inspection", Label: "Inspection binder"},
		{Href: "/planning", Label: "Planning: what do our plans rest on?"},
		{Href: "/setup/questions", Label: "Questions: what do we ask people about themselves?"},
		{Href: "/setup/languages", Label: "Languages: in which can we speak to people?"},
	}
	v.Laptop = []ui.Link{
		{Href: "/keep", Label: "Keeping the record: passphrase, second copy, backup"},
		{Href: "/retention", Label: "How long records are kept: yearly review, erasure"},
		{Href: "/export", Label: "Export: what may leave the record, and what has left with names"},
		{Href: "/phones", Label: "Phones: the code to scan"},
		{Href: "/access", Label: "Access: who is signed in where"},
	}
	return c.Render(200, SetupPage(v))
}

func programmeShow(s *Server, c *Context) error { return c.programmeAgain(nil) }

func (c *Context) programmeAgain(f *fault.Fault) error {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	d := ch.Details
	form := c.dayForm("programme", "/setup/programme", "programme", f)
	units := form.choice("unit", "Which unit do your meters show?", string(d.Unit), ui.Option{Value: string(glucose.MgPerDL), Label: "mg/dL"}, ui.Option{Value: string(glucose.MmolPerL), Label: "mmol/L"})
	units.Row = true
	contact := form.line("contact", "Telephone that participants may call", d.Contact)
	contact.MaxLength = 32
	label := form.tick("labelled_use", "I read what the meters are labelled for, and I decide to use them for screening", d.LabelledUse)
	label.Help = "Many meters are labelled to follow known diabetes, not to find it. A reading can neither diagnose nor rule out. Without this tick no event opens."
	v := officeForm{Form: form, Submit: "Save the programme", Parts: []part{
		{ID: "name", Heading: "The programme", Items: []item{field(form.line("name", "Name of the programme", d.Name))}},
		{ID: "certificate", Heading: "Certificate", Help: "A fair tests under a certificate of waiver (42 CFR 493.15 and 493.35). An event after its last day does not open.", Items: []item{
			field(size(form.line("certificate", "Number of the certificate of waiver", d.Certificate), ui.Medium, ui.Text, "")),
			field(size(form.line("certificate_until", "Last day of the certificate", d.CertificateUntil.String()), ui.Medium, ui.Date, "")),
		}},
		{ID: "contact", Heading: "For participants", Help: "This stands on every slip.", Items: []item{
			field(size(contact, ui.Medium, ui.Tel, "")),
			field(size(form.line("contact_hours", "When somebody answers it", d.ContactHours), ui.Medium, ui.Text, "For example Monday to Friday, 9:00 to 16:00")),
		}},
		{ID: "emergency", Heading: "Emergency", Items: []item{
			field(size(form.line("emergency", "Number of the emergency services", d.Emergency), ui.Short, ui.Tel, "An event may have another one in its plan.")),
		}},
		{ID: "exposure", Heading: "After a needlestick", Help: "Where somebody goes who was stuck by a used lancet or got blood in an eye. It is shown with the first aid; without a number no event opens.", Items: []item{
			field(optional(size(form.line("exposure_contact", "Place that gives care after an exposure", d.ExposureContact), ui.Full, ui.Text, ""))),
			field(optional(size(form.line("exposure_phone", "Its telephone", d.ExposurePhone), ui.Medium, ui.Tel, ""))),
			field(optional(size(form.line("exposure_hours", "When somebody answers there", d.ExposureHours), ui.Medium, ui.Text, "And where to go outside these hours"))),
		}},
		{ID: "unit", Heading: "Unit", Items: []item{pick(units)}},
		{ID: "label", Heading: "Labelled use", Items: []item{tickBox(label)}},
	}}
	p := c.officePage("Programme", "Who you are, and who answers when a participant calls.", "setup", toSetup())
	return c.Show(f, OfficeForm(p, v))
}

func programmeSave(s *Server, c *Context) error {
	_, err := s.prog.Describe(c.R.Context(), c.Actor(), programme.Describe{
		Act: c.Act(), Name: c.Form("name"), Certificate: c.Form("certificate"),
		CertificateUntil: c.Form("certificate_until"), Contact: c.Form("contact"), ContactHours: c.Form("contact_hours"), Emergency: c.Form("emergency"),
		ExposureContact: c.Form("exposure_contact"), ExposurePhone: c.Form("exposure_phone"), ExposureHours: c.Form("exposure_hours"),
		Unit: c.Form("unit"), LabelledUse: c.Form("labelled_use") == "yes",
	})
	if err != nil {
		return c.programmeAgain(fault.Of(err))
	}
	return c.Done("/setup", "The programme is saved.")
}
