package charter

import (
	"testing"

	"fairstick/internal/fact"
)

// The examples are those of published rules; each names where it is from.
func TestExampleLeadTimes(t *testing.T) {
	want := map[string]int{ // the days of the source that stands beside each of them
		"timetable": 90, "partner": 42, "county-notice": 30, "state-licence": 21, "university-request": 21, "college-application": 14, "supplies-request": 14,
		"certificate-extension": 10, "county-changes": 1, "after-form": 14,
	}
	list := ExampleLeadTimes()
	if len(list) != len(want) {
		t.Errorf("%d examples, want %d", len(list), len(want))
	}
	for _, x := range list {
		if d, ok := want[x.Key]; !ok || d != x.Days || x.After != (x.Key == "after-form") {
			t.Errorf("%s: %d days, after %v", x.Key, x.Days, x.After)
		}
		if x.What == "" || x.Source == "" || !x.Example || x.Owner != "" {
			t.Errorf("%+v says not what it is or where it is from", x)
		}
		delete(want, x.Key)
	}
	list[0].What = "changed"
	if ExampleLeadTimes()[0].What == "changed" {
		t.Error("the list that was handed out is the list itself")
	}
}

func TestTheLatestListHolds(t *testing.T) {
	s := New("programme").(*State)
	if _, ok := s.LeadTimes.Find("a"); ok {
		t.Error("found on no list")
	}
	for _, days := range []int{10, 20} {
		s.Apply(fact.Record{Body: LeadTimesAdopted{Times: []LeadTime{{Key: "a", Days: days}}}})
	}
	if x, ok := s.LeadTimes.Find("a"); !ok || x.Days != 20 {
		t.Errorf("%+v", x)
	}
}
