package web

import (
	"net/url"
	"testing"

	"fairstick/internal/about"
	"fairstick/internal/charter"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// FuzzPaperForm types anything into a form. Nothing may break, and a normal value reads as itself: it travels along as a
// hidden field while differences are settled.
func FuzzPaperForm(f *testing.F) {
	d := &programme.Day{Event: &event.State{ID: "e"}, Protocol: protocol.Default(), Charter: &charter.State{Asks: []string{about.Race, about.Sex, about.Zip, about.Easy}}}
	d.Event.Plan.Zone = "UTC"
	fields := paperFieldsOf(typedForm(d))
	for _, seed := range []string{
		"arrived=0931&language=es&agrees=yes&consent_how=read&consent_time=9:33&ate_day=today&last_food=7.15&outcome=tested",
		"reading1_time=905&reading1_value=0104&reading1_again=104&reading1_washed=yes&reading1_lancet=no&reading1_misfires=1&reading3_value=HI",
		"answer_crisis-signs=none&answer_crisis-signs=vomiting&answer_age=052&ate_day=not-known&last_food=1&agrees=no&outcome=left",
		"care_for=signs&care_sugar2_choice=given&care_sugar2_time=2400&care_signs_signs=none&referral=Invented+clinic.&contact_allow=yes&contact_call=",
		"about_race=asian&about_race=prefer-not&about_sex=male&about_zip3=021&about_zip3_not=yes&about_skipped=yes&about_easy=partly&agrees=yes",
		"about_zip3=02139&about_race=white&about_race=asian&agrees=no&about_skipped=&about_sex=other",
		"arrived=%00%ff&reason=%F0%9F%98%80&told=high&reading6_wiped=23%3A59&contact_private_name=Ada",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, query string) {
		form, err := url.ParseQuery(query)
		if err != nil {
			return
		}
		typed := paperTyping{}
		for _, field := range fields {
			v, wrong := field.read(form[field.Name])
			if wrong != "" {
				continue
			}
			typed[field.Name] = v
			if field.Kind == paperTypedSeveral {
				continue // travels square by square
			}
			if again, wrong := field.read([]string{v}); again != v || wrong != "" {
				t.Errorf("%s: %q reads as %q, and that as %q %s", field.Name, form[field.Name], v, again, wrong)
			}
		}
		visit, refused := paperVisit(d, 1, typed)
		if refused == nil && (visit.Arrived.IsZero() || visit.Outcome == "" || visit.Language == "") {
			t.Errorf("%q was read without an arrival, a language or an outcome: %+v", query, visit)
		}
		for _, r := range visit.Readings {
			if refused == nil && (r.Shown == "" || r.Meter == "") {
				t.Errorf("a reading without a value or a meter: %+v", r)
			}
		}
		if kept := withoutPrivate(fields, typed); kept[programme.PrivateField("name")] != "" {
			t.Error("a name is kept")
		}
	})
}
