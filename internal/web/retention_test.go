package web

import (
	"net/http"
	"strings"
	"testing"

	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/retention"
)

// The yearly review: times are adopted under two names, the dry run says who must stay, the erasure has its proof.
func TestRetentionPages(t *testing.T) {
	m := newMarket(t)
	v := m.as(leadName)
	v.get("/setup")
	v.see(`href="/retention"`)
	v.get("/retention")
	v.want(http.StatusOK)
	v.see("These times are proposals.", "29 CFR 1904.33", "None. Look again next year.", "5 years after the end of the year")
	v.seeNot("Erase what can go")
	m.clock.Set(m.clock.Now().AddDate(1, 1, 0))
	v = m.as(leadName)
	v.get("/retention")
	v.see("Tamsin Green Market", "This was the dry run", "Erase what can go")
	names := form("first_person", m.person(leadName), "first_pin", m.pins[leadName], "second_person", m.person("Tobias Wren"), "second_pin", m.pins["Tobias Wren"])
	v.send("/retention/erase", names)
	v.want(http.StatusConflict)
	v.see("The programme has not adopted its times yet.")
	rules := form("first_person", m.person(leadName), "first_pin", m.pins[leadName], "second_person", m.person("Tobias Wren"), "second_pin", m.pins["Tobias Wren"])
	for _, r := range retention.Proposed {
		rules.Set("months_"+string(r.Class), "12")
		rules.Set("source_"+string(r.Class), "our college, minutes of 3 May")
	}
	rules.Set("months_contacts", "forever")
	v.get("/retention")
	v.send("/retention/rules", rules)
	v.want(http.StatusUnprocessableEntity)
	v.see("should be a whole number")
	rules.Set("months_contacts", "6")
	v.send("/retention/rules", rules)
	v.follow()
	v.see("signed by "+leadName+" and Tobias Wren", "6 months", "our college, minutes of 3 May")
	r, err := m.prog.Retention(t.Context(), programme.Actor{Person: m.person(leadName)})
	if err != nil || r.Erase == 0 {
		t.Fatalf("%+v %v", r, err)
	}
	names.Set("expect", "99")
	v.send("/retention/erase", names)
	v.want(http.StatusConflict)
	v.see("The list has changed since it was shown.")
	names.Del("expect")
	v.get("/retention")
	if r.Waiting > 0 {
		v.send("/retention/erase", names)
		v.want(http.StatusConflict)
		v.see("Confirm that nobody will be able to call these people.")
		names.Set("confirmed", "yes")
	}
	v.send("/retention/erase", names)
	v.follow()
	v.see("The keys are gone on this laptop.", "No backup is known on this laptop.", "0 of ", "destroyed by hand")
	proof := v.path
	for _, size := range []string{"", "?size=a4"} {
		v.get(proof + "/proof.pdf" + size)
		if v.status != http.StatusOK || !strings.HasPrefix(v.body, "%PDF-") {
			t.Errorf("proof%s: %d", size, v.status)
		}
	}
	v.get("/retention")
	v.see(proof)
	v.get("/retention/proof/none")
	v.want(http.StatusNotFound)
	other := m.as("Tobias Wren")
	other.get("/retention")
	other.want(http.StatusForbidden)
	if events, err := programme.List[*event.State](t.Context(), m.prog, event.Kind); err != nil || len(events) == 0 {
		t.Error(err)
	}
}
