package programme

import (
	"context"
	"regexp"
	"strings"

	"github.com/google/uuid"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
)

// Describe sets who the programme is.
type Describe struct {
	Act
	Name, Certificate, CertificateUntil string
	Contact, ContactHours, Emergency    string
	ExposureContact, ExposurePhone      string // who gives care after a needlestick or a splash of blood
	ExposureHours                       string
	Unit                                string
	LabelledUse                         bool
}

var phoneShape = regexp.MustCompile(`^[0-9+()\-./ x]{2,32}$`)

func (f *fields) phone(name, label, value string, required bool) string {
	v := f.text(name, label, value, required, 32)
	if v != "" && !phoneShape.MatchString(v) {
		f.say(name, "%s should be a telephone number: digits, spaces, + ( ) and - only.", label)
	}
	return v
}

func (f *fields) date(name, label, value string, required bool) civil.Date {
	if strings.TrimSpace(value) == "" {
		if required {
			f.say(name, "%s is missing.", label)
		}
		return civil.Date{}
	}
	d, err := civil.Parse(value)
	if err != nil {
		f.say(name, "%s: %v.", label, err)
	}
	return d
}

func (f *fields) expiry(name, label, value string, required bool) civil.Date {
	if strings.TrimSpace(value) == "" {
		if required {
			f.say(name, "%s is missing.", label)
		}
		return civil.Date{}
	}
	d, err := civil.ParseExpiry(value)
	if err != nil {
		f.say(name, "%s: %v.", label, err)
	}
	return d
}

// Describe records who the programme is. Only a lead may.
func (p *Programme) Describe(ctx context.Context, a Actor, c Describe) (Done, error) {
	return do(ctx, p, a, c.Act, "programme.describe", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		var f fields
		b := charter.Described{
			Name:             f.text("name", "The programme's name", c.Name, true, 80),
			Certificate:      f.text("certificate", "The certificate number", c.Certificate, true, 40),
			CertificateUntil: f.date("certificate_until", "The last day of the certificate", c.CertificateUntil, true),
			Contact:          f.phone("contact", "The telephone number for participants", c.Contact, true),
			ContactHours:     f.text("contact_hours", "The hours", c.ContactHours, true, 60),
			Emergency:        f.phone("emergency", "The emergency number", c.Emergency, true),
			ExposureContact:  f.text("exposure_contact", "The place that gives care after a needlestick", c.ExposureContact, false, 80),
			ExposurePhone:    f.phone("exposure_phone", "The number to call after a needlestick", c.ExposurePhone, false),
			ExposureHours:    f.text("exposure_hours", "The hours of that number", c.ExposureHours, false, 60),
			LabelledUse:      c.LabelledUse,
		}
		u, err := glucose.ParseUnit(c.Unit)
		if err != nil {
			f.say("unit", "Choose the unit that the meters show: mg/dL or mmol/L.")
		}
		b.Unit = u
		if c.LabelledUse && w.me != nil {
			b.LabelledUseSigned = w.me.ID
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(charter.Ref, b)
		return Done{ID: charter.Ref.ID}, err
	})
}

// DraftProtocol keeps a protocol text that is not signed yet.
type DraftProtocol struct {
	Act
	Protocol protocol.Protocol
}

// DraftProtocol records a draft. Only a lead may.
func (p *Programme) DraftProtocol(ctx context.Context, a Actor, c DraftProtocol) (Done, error) {
	return do(ctx, p, a, c.Act, "programme.draft-protocol", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		if err := c.Protocol.Validate(); err != nil {
			return Done{}, err
		}
		if _, err := rulesOf(c.Protocol); err != nil {
			return Done{}, err
		}
		ch, err := w.charter()
		if err != nil {
			return Done{}, err
		}
		if _, taken := ch.Version(c.Protocol.Version); taken {
			return Done{}, fault.BadField("version", "Version %s is signed already and cannot change. Give the new text a new version.", c.Protocol.Version)
		}
		_, err = w.append(charter.Ref, charter.ProtocolDrafted{Protocol: c.Protocol})
		return Done{ID: c.Protocol.Version}, err
	})
}

// SignProtocol puts the draft in force under two different names.
type SignProtocol struct {
	Act
	Version       string // the version that the two have read
	First, Second Sign
}

// SignProtocol records two signatures under the draft: a lead's and a second person's.
func (p *Programme) SignProtocol(ctx context.Context, a Actor, c SignProtocol) (Done, error) {
	if c.First.Person != "" && c.First.Person == c.Second.Person {
		return Done{}, fault.BadField("second_person", "The second signature must be another person's.")
	}
	first, err := p.signed(ctx, c.First, people.Lead)
	if err != nil {
		return Done{}, ofSignature(err, "first")
	}
	second, err := p.signed(ctx, c.Second)
	if err != nil {
		return Done{}, ofSignature(err, "second")
	}
	return do(ctx, p, a, c.Act, "programme.sign-protocol", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		ch, err := w.charter()
		if err != nil {
			return Done{}, err
		}
		if ch.Draft == nil {
			return Done{}, fault.New(fault.Refused, "no-draft", "There is no draft to sign.", "", "Save a draft of the protocol first.")
		}
		if ch.Draft.Version != c.Version {
			return Done{}, fault.New(fault.Conflict, "draft-changed", "The draft changed while it was being read.",
				"A signature stands under one text only.", "Read the new draft and sign again.")
		}
		if _, err := rulesOf(*ch.Draft); err != nil {
			return Done{}, err
		}
		_, err = w.append(charter.Ref, charter.ProtocolSigned{
			Protocol: *ch.Draft,
			First:    charter.Signature{Person: first.ID, Name: first.Details.Name, Title: first.Details.Title},
			Second:   charter.Signature{Person: second.ID, Name: second.Details.Name, Title: second.Details.Title},
		})
		return Done{ID: c.Version}, err
	})
}

// ofSignature renames the fields of a refused signature where a form has more than one.
func ofSignature(err error, prefix string) error {
	f := *fault.Of(err)
	fields := map[string]string{}
	for name, says := range f.Fields {
		fields[strings.Replace(name, "sign_", prefix+"_", 1)] = says
	}
	f.Fields = fields
	return &f
}

// DescribePerson adds a person, or changes one when Person is given.
type DescribePerson struct {
	Act
	Person    string // empty: a new person
	Name      string
	Title     string
	Roles     []string
	Languages []string
	Glove     string
	PIN       string // empty: unchanged, or none yet
}

// DescribePerson records who a person is. Only a lead may; the first person of an empty logbook becomes its lead.
func (p *Programme) DescribePerson(ctx context.Context, a Actor, c DescribePerson) (Done, error) {
	hash := ""
	if c.PIN != "" {
		var err error
		if hash, err = hashPIN(c.PIN); err != nil {
			return Done{}, err
		}
	}
	d, err := do(ctx, p, a, c.Act, "person.describe", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		return w.describePerson(c, hash)
	})
	if err == nil && hash != "" {
		err = p.forgive(ctx, d.ID)
	}
	return d, err
}

func (w *work) describePerson(c DescribePerson, hash string) (Done, error) {
	var f fields
	b := people.Described{
		Name:      f.text("name", "The name", c.Name, true, 60),
		Title:     f.text("title", "The title", c.Title, false, 60),
		Languages: tidyAll(c.Languages),
		Glove:     strings.ToUpper(tidy(c.Glove)),
	}
	if b.Glove != "" {
		f.oneOf("glove", "The glove size", b.Glove, "XS", "S", "M", "L", "XL")
	}
	if len(c.Roles) == 0 {
		f.say("roles", "Choose at least one role.")
	}
	for _, r := range c.Roles {
		role := people.Role(tidy(r))
		if !role.Valid() {
			f.say("roles", "%q is not a role. Choose from: lead, supervisor, screener, counsellor, desk, runner.", r)
			continue
		}
		b.Roles = append(b.Roles, role)
	}
	all, err := w.tx.All(people.Kind)
	if err != nil {
		return Done{}, err
	}
	for _, st := range all {
		o := st.(*people.State)
		if o.ID != c.Person && strings.EqualFold(o.Details.Name, b.Name) {
			f.say("name", "%s is on the list already. Add an initial so that the two can be told apart.", b.Name)
		}
	}
	if err := f.err(); err != nil {
		return Done{}, err
	}
	id := c.Person
	if id == "" {
		id = w.id
	} else {
		old, err := load[*people.State](w, people.Ref(id))
		if err != nil {
			return Done{}, err
		}
		if old.Has(people.Lead) && !hasRole(b.Roles, people.Lead) && leads(all) == 1 {
			return Done{}, fault.BadField("roles", "%s is the only lead. Make somebody else a lead first.", old.Details.Name)
		}
	}
	if _, err := w.append(people.Ref(id), b); err != nil {
		return Done{}, err
	}
	if hash != "" {
		if _, err := w.append(people.Ref(id), people.PinSet{Hash: hash}); err != nil {
			return Done{}, err
		}
	}
	return Done{ID: id}, nil
}

func hasRole(list []people.Role, r people.Role) bool {
	for _, x := range list {
		if x == r {
			return true
		}
	}
	return false
}

func leads(all []fact.State) int {
	n := 0
	for _, st := range all {
		if s := st.(*people.State); s.Has(people.Lead) && s.Gone == "" {
			n++
		}
	}
	return n
}

// Verify records that a person may do a role from one day through another.
type Verify struct {
	Act
	Person      string
	Role        string
	From, Until string
	Note        string
}

// Verify records a verification. A lead or supervisor may, never for themselves.
func (p *Programme) Verify(ctx context.Context, a Actor, c Verify) (Done, error) {
	return do(ctx, p, a, c.Act, "person.verify", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		return w.verify(c)
	})
}

func (w *work) verify(c Verify) (Done, error) {
	if w.me != nil && w.me.ID == c.Person {
		return Done{}, fault.New(fault.Denied, "verify-self", "Nobody can verify themselves.",
			"A verification is another person's word.", "Ask another lead or supervisor to record it.")
	}
	who, err := load[*people.State](w, people.Ref(c.Person))
	if err != nil {
		return Done{}, err
	}
	var f fields
	role := people.Role(tidy(c.Role))
	if !role.Valid() {
		f.say("role", "Choose the role that was verified.")
	} else if !who.Has(role) {
		f.say("role", "%s does not hold the role %s. Give the role first.", who.Details.Name, role)
	}
	from := f.date("from", "The first day", c.From, true)
	until := f.date("until", "The last day", c.Until, true)
	if !from.IsZero() && !until.IsZero() && until.Before(from) {
		f.say("until", "The last day is before the first day.")
	}
	note := f.text("note", "The note", c.Note, false, 200)
	if err := f.err(); err != nil {
		return Done{}, err
	}
	_, err = w.append(people.Ref(c.Person), people.Verified{Role: role, From: from, Until: until, By: w.actor.Person, Note: note})
	return Done{ID: c.Person}, err
}

// WithdrawVerification ends a person's verifications for a role.
type WithdrawVerification struct {
	Act
	Person, Role, Reason string
}

// WithdrawVerification records the end of a verification with its reason. A lead or supervisor may.
func (p *Programme) WithdrawVerification(ctx context.Context, a Actor, c WithdrawVerification) (Done, error) {
	return do(ctx, p, a, c.Act, "person.withdraw", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		if _, err := load[*people.State](w, people.Ref(c.Person)); err != nil {
			return Done{}, err
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if !people.Role(c.Role).Valid() {
			f.say("role", "Choose the role.")
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if _, err := w.append(people.Ref(c.Person), people.VerificationWithdrawn{Role: people.Role(c.Role), Reason: reason}); err != nil {
			return Done{}, err
		}
		return Done{ID: c.Person}, w.endTraining(c.Person, people.Role(c.Role), reason, p.today())
	})
}

// Leave says that a person no longer takes part, or, with Back, that they do again.
type Leave struct {
	Act
	Person, Reason string
	Back           bool
}

// Leave records that a person left or came back. Only a lead may; the last lead cannot leave.
func (p *Programme) Leave(ctx context.Context, a Actor, c Leave) (Done, error) {
	return do(ctx, p, a, c.Act, "person.leave", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		who, err := load[*people.State](w, people.Ref(c.Person))
		if err != nil {
			return Done{}, err
		}
		if c.Back {
			_, err = w.append(people.Ref(c.Person), people.Returned{})
			return Done{ID: c.Person}, err
		}
		all, err := w.tx.All(people.Kind)
		if err != nil {
			return Done{}, err
		}
		if who.Has(people.Lead) && leads(all) == 1 {
			return Done{}, fault.New(fault.Refused, "last-lead", who.Details.Name+" is the only lead.",
				"Without a lead nobody could set anything up.", "Make somebody else a lead first.")
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(people.Ref(c.Person), people.Left{Reason: reason})
		return Done{ID: c.Person}, err
	})
}

// Founding is what an empty logbook needs before anybody can sign in.
type Founding struct {
	Programme string
	Lead      string
	PIN       string
}

// Found records the first lead of an empty logbook and the default protocol as a draft. It is refused once somebody is
// on record.
func (p *Programme) Found(ctx context.Context, c Founding) (Done, error) {
	hash, err := hashPIN(c.PIN)
	if err != nil {
		return Done{}, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, Actor{}, Act{ID: id.String()}, "programme.found", func(w *work) (Done, error) {
		all, err := w.tx.All(people.Kind)
		if err != nil {
			return Done{}, err
		}
		if len(all) > 0 {
			return Done{}, fault.New(fault.Refused, "founded", "This logbook already has people in it.", "",
				"Sign in as a lead and add people there.")
		}
		var f fields
		name := f.text("programme", "The programme's name", c.Programme, true, 80)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		d, err := w.describePerson(DescribePerson{Name: c.Lead, Roles: []string{string(people.Lead), string(people.Supervisor)}}, hash)
		if err != nil {
			return Done{}, err
		}
		if _, err := w.append(charter.Ref, charter.Described{Name: name}); err != nil {
			return Done{}, err
		}
		_, err = w.append(charter.Ref, charter.ProtocolDrafted{Protocol: protocol.Default()})
		return d, err
	})
}

// CheckFounding tells what is wrong with a founding before a folder is made for it.
func CheckFounding(c Founding) error {
	var f fields
	f.text("programme", "The programme's name", c.Programme, true, 80)
	f.text("lead", "The lead's name", c.Lead, true, 60)
	if err := f.err(); err != nil {
		return err
	}
	return weakPIN(c.PIN)
}
