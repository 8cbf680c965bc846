package exchange

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/programme"
)

// One reading and one control run a row, times in the zone of the event, and nothing that a spreadsheet would run.
func TestWriteLookBack(t *testing.T) {
	var out strings.Builder
	at := time.Date(2026, 6, 20, 14, 30, 0, 0, time.UTC)
	zone := time.FixedZone("there", -4*3600)
	b := &programme.Affected{Events: []programme.BackDay{{
		Name: "=Fair", Date: civil.MustParse("2026-06-20"), Zone: zone,
		People: []programme.BackPerson{{Ticket: 7, MayCall: true, Readings: []programme.BackReading{{At: at, Shown: "101 mg/dL", Purpose: "first", Counts: true, Meter: "M1", Lot: "A", Vial: "A1", Station: "2", Screener: "Bob", Supervisor: "Sue", Present: []string{"Sue", "Lea"}}}}},
		Runs:   []programme.BackRun{{At: at, Meter: "M1", Vial: "A1", Bottle: "c1", Level: "1", Verdict: "in-range"}},
	}}}
	if err := WriteLookBack(&out, b); err != nil {
		t.Fatal(err)
	}
	want := `event,date,what,ticket,at,reading,purpose,result_rests_on_it,meter,strip_lot,vial,station,screener,supervisor,supervisors_present,bottle,level,verdict
'=Fair,2026-06-20,reading,7,2026-06-20T10:30:00-04:00,101 mg/dL,first,true,M1,A,A1,2,Bob,Sue,Sue; Lea,,,
'=Fair,2026-06-20,control,,2026-06-20T10:30:00-04:00,,,,M1,,A1,,,,,c1,1,in-range
`
	if out.String() != want {
		t.Errorf("got\n%s", out.String())
	}
}
