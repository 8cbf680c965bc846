package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"fairstick/internal/visit"
)

// arrive hands out a ticket and gives the address of the visit.
func (v *visitor) arrive(language string) string {
	v.m.t.Helper()
	v.get(v.m.event + "/desk")
	v.want(http.StatusOK)
	v.send(v.m.event+"/desk", form("language", language))
	path := v.to
	v.follow()
	v.want(http.StatusOK)
	return path
}

// answer goes through the questions as they come: the key of each is looked up in what is given, "no" when it is not there.
func (v *visitor) answer(path string, given map[string]url.Values) {
	v.m.t.Helper()
	for range 20 {
		key := ""
		for _, f := range inputTag.FindAllStringSubmatch(v.body, -1) {
			if f[1] == "key" {
				key = f[2]
			}
		}
		if key == "" {
			return
		}
		typed := form("answer", "no")
		if g, ok := given[key]; ok {
			typed = g
		}
		v.send(path+"/questions", typed)
		if v.status != http.StatusOK {
			return
		}
	}
	v.m.t.Fatal("the questions do not end")
}

var adult = map[string]url.Values{"crisis-signs": form("answer", "none"), "age": form("answer", "52")}

func TestDeskJourneyInSpanish(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	path := v.arrive("es")
	v.see("Le pinchamos el lado de un dedo", "Sí, estoy de acuerdo", "Show in English", "Read aloud")
	v.send(path+"/consent", form("agree", "yes"))
	v.want(http.StatusUnprocessableEntity)
	v.see("How the text was given was not chosen.")
	v.send(path+"/consent", form("agree", "yes", "how", "read-aloud"))
	v.follow()
	v.see("¿Se siente muy mal en este momento?", "Question 1 of 8")
	v.send(path+"/questions", form("answer", "none"))
	v.want(http.StatusOK)
	v.see("¿Cuántos años tiene?")
	v.send(path+"/questions", form("answer", "5x"))
	v.want(http.StatusUnprocessableEntity)
	v.see("Give the age in whole years.", `value="crisis-signs=none"`)
	v.answer(path, adult)
	v.follow()
	v.see("¿Cuándo comió por última vez", "02:47 today or earlier counts as fasting (8 hours).")
	v.send(path+"/ate", form("ate_day", "today", "ate_at", "23:30"))
	v.want(http.StatusUnprocessableEntity)
	v.see("Was it yesterday?", `value="23:30"`)
	v.send(path+"/ate", form("ate_day", "yesterday", "ate_at", "23:30"))
	v.follow()
	v.see("Last ate 23:30 yesterday, 11 h 17 min ago: counts as fasting.", "¿Podemos guardar su nombre")
	v.get(path + "?step=contact&allow=yes")
	v.send(path+"/contact", form("contact_name", "Nadie Inventado", "call", "yes"))
	v.want(http.StatusUnprocessableEntity)
	v.see("Nadie Inventado")
	v.send(path+"/contact", form("contact_name", "Nadie Inventado", "contact_phone", "555 0177", "call", "yes"))
	v.follow()
	v.see("¿Quiere contarnos algo sobre usted?", "Hispano o latino", "Prefiero no decirlo", "Saltar todas")
	v.send(path+"/about", form("about_race", "hispanic", "about_insurance", "prefer-not", "lang", "es"))
	v.follow()
	if said := m.ticket(30).About.Line(); said != "race=hispanic insurance=prefer-not doctor= first-time=" {
		t.Errorf("they said %q of themself", said)
	}
	v.see("wait for a test seat", "Por favor espere", "030", `value="en"`)
	x := m.ticket(30)
	if x.Phase() != visit.AtTest || !x.Call || x.Consent.How != "read-aloud" || x.Consent.Language != "es" {
		t.Errorf("the visit stands as %s, call %v, consent %+v", x.Phase(), x.Call, x.Consent)
	}
	if strings.Contains(string(x.Sealed), "Inventado") {
		t.Error("the name stands unsealed in the record")
	}
}

func TestDeskTwoPressesGiveOneTicket(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	before := len(m.day().Visits)
	v.get(m.event + "/desk")
	v.send(m.event+"/desk", form("language", "en"))
	first := v.to
	v.post(m.event+"/desk", v.fields)
	v.want(http.StatusSeeOther)
	if v.to != first || len(m.day().Visits) != before+1 {
		t.Errorf("the second press went to %q after %q and made %d tickets, want 1", v.to, first, len(m.day().Visits)-before)
	}
}

func TestDeskExcludesKindlyAndCounts(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	path := v.arrive("en")
	v.send(path+"/consent", form("agree", "yes", "how", "read"))
	v.follow()
	given := map[string]url.Values{"crisis-signs": form("answer", "none"), "age": form("answer", "61"), "known-diabetes": form("answer", "yes")}
	v.answer(path, given)
	v.want(http.StatusOK)
	v.see("Your own care team can help you best.", "Where to go", "close this ticket")
	if m.ticket(30).Answers != nil {
		t.Fatal("one press on Yes has ended the visit before the desk was sure")
	}
	v.send(path+"/questions", nil)
	v.follow()
	v.see("Counted as:", "already knows about diabetes", "Next ticket")
	if got := m.ticket(30).Phase(); got != visit.NotEligible {
		t.Errorf("the visit is %s, want not-eligible", got)
	}
}

func TestDeskSignsCallForHelp(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	path := v.arrive("en")
	v.send(path+"/consent", form("agree", "yes", "how", "read"))
	v.follow()
	v.send(path+"/questions", form("answer", "none", "sign", "breathing"))
	v.want(http.StatusUnprocessableEntity)
	v.see("Signs are ticked, but None was pressed.")
	v.send(path+"/questions", form("answer", "signs", "sign", "breathing"))
	v.want(http.StatusSeeOther)
	if want := strings.Replace(path, "/desk/", "/care/", 1); v.to != want {
		t.Fatalf("after a sign the page is %q, want %q", v.to, want)
	}
	v.follow()
	v.see("Unwell", "911", "14 Invented Row, Tamsin Green", "A supervisor goes to the person")
	o := m.as("Dev Mahr")
	o.get(m.event + "/explain")
	o.see("Ticket 030:")
}

func TestDeskDeclineAndLeave(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	path := v.arrive("en")
	v.send(path+"/consent", form("agree", "no"))
	v.follow()
	v.see("Said no. It is counted.", "Next ticket")
	if x := m.ticket(30); x.Phase() != visit.HasDeclined || x.Declined.What != "consent" {
		t.Errorf("ticket 30 is %s, %+v", x.Phase(), x.Declined)
	}
	path = v.arrive("en")
	v.send(path+"/leave", form("reason", "bus"))
	v.follow()
	v.see("Went away. It is counted.")
	if x := m.ticket(31); x.Phase() != visit.Gone || x.Left.Reason != "bus" {
		t.Errorf("ticket 31 is %s, %+v", x.Phase(), x.Left)
	}
}
