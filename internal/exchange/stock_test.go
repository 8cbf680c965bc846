package exchange

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// A name or a reason that a spreadsheet would run is kept as text; prices stand in minor units.
func TestStockFiles(t *testing.T) {
	var out strings.Builder
	lines := []programme.StockLine{
		{Key: "supply.1", Name: "=cmd()", Unit: "pieces", Kept: true, OnHand: 5, Places: []programme.StockPlace{{Place: "Van", N: 5}}, Received: 5, Price: &stock.Price{Mean: 39.8, Currency: "USD"}, Value: 199},
		{Key: "strip-lot.2", Name: "Strip lot A", Unit: "strips", Expiry: civil.MustParse("2026-12-31"), Hold: &stock.Hold{Kind: stock.InRecall, Source: "@maker", Reason: "reads low"}},
		{Key: "supply.3", Name: "Old", Expired: true, Kept: true},
		{Key: "supply.4", Name: "New"},
		{Key: "supply.5", Name: "Wet", Hold: &stock.Hold{Kind: stock.InQuarantine, Reason: "wet"}},
		{Key: "strip-lot.6", Name: "Gone", Withdrawn: "damaged"},
	}
	if err := WriteStock(&out, lines); err != nil {
		t.Fatal(err)
	}
	want := `id,name,unit,expiry,on_hand,places,at_events,received,found,used_at_events,disposed,lost,state,reason,price_of_one_minor,currency,worth_minor
supply.1,'=cmd(),pieces,,5,Van 5,0,5,0,0,0,0,may be used,,39.80,USD,199
strip-lot.2,Strip lot A,strips,2026-12-31,0,,0,0,0,0,0,0,recalled,'@maker: reads low,,,
supply.3,Old,,,0,,0,0,0,0,0,0,expired,,,,
supply.4,New,,,0,,0,0,0,0,0,0,not counted,,,,
supply.5,Wet,,,0,,0,0,0,0,0,0,quarantine,wet,,,
strip-lot.6,Gone,,,0,,0,0,0,0,0,0,withdrawn,damaged,,,
`
	if out.String() != want {
		t.Errorf("got\n%s", out.String())
	}
	out.Reset()
	at := time.Date(2026, 6, 20, 9, 30, 0, 0, time.UTC)
	read := programme.BackReading{At: at, Meter: "M1", Vial: "A1"}
	day := programme.BackDay{
		Name: "Test Fair", Date: civil.MustParse("2026-06-20"), People: []programme.BackPerson{{Ticket: 7, Counts: true, Readings: []programme.BackReading{read, read}}},
		Runs: []programme.BackRun{{At: at, Meter: "M1", Vial: "A1", Bottle: "c1", Level: "1", Verdict: "in-range"}},
	}
	if err := WriteTrace(&out, &programme.LotTrace{Name: "Strip lot A", Affected: programme.Affected{Events: []programme.BackDay{day}}}); err != nil {
		t.Fatal(err)
	}
	want = `lot,event,date,what,ticket,at,meter,vial,bottle,level,verdict,readings,told
Strip lot A,Test Fair,2026-06-20,person,7,2026-06-20T09:30:00Z,M1,A1,,,,2,true
Strip lot A,Test Fair,2026-06-20,control,,2026-06-20T09:30:00Z,M1,A1,c1,1,in-range,,
`
	if out.String() != want {
		t.Errorf("got\n%s", out.String())
	}
}
