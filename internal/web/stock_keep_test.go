package web

import (
	"regexp"
	"strings"
	"testing"

	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

func (o *office) stripKey() string { return "strip-lot." + o.ID("A") }

func (o *office) supplyKey() string {
	o.t.Helper()
	all, err := programme.List[*stock.Supply](o.t.Context(), o.P, stock.SupplyKind)
	if err != nil || len(all) == 0 {
		o.t.Fatal(err)
	}
	return "supply." + all[0].ID
}

func TestStockPagesFromNothing(t *testing.T) {
	o := founded(t)
	o.want(o.get("Lea Lead", "/stock"), 200, "Nothing is on the lists yet.", "Add a lot of strips", "!Find a lot")
	o.want(o.get("Lea Lead", "/stock/count"), 200, "There is nothing to count yet.")
	o.want(o.get("Lea Lead", "/setup"), 200, "Stock: levels, expiry, orders")
	s := setUp(t)
	s.want(s.get("Lea Lead", "/stock"), 200, "Nothing was received or counted yet.", "never received or counted", "Strip lot A", "Control lot C1, level 1", "Vial A1")
	s.want(s.get("Rae Runner", "/"), 200, `href="/stock"`)
	s.want(s.get("Rae Runner", "/stock"), 200, "Strip lot A", "!Record a receipt")
	s.want(s.get("Rae Runner", "/stock/of/"+s.stripKey()), 200, "How it stands", "!Put in quarantine", "!What it touched")
	s.want(s.get("Ann Screener", "/stock"), 403)
	s.want(s.get("Lea Lead", "/stock/of/strip-lot.nobody"), 404, "There is no such strip lot in the record.")
	s.want(s.get("Lea Lead", "/stock/of/visit.x"), 404, "There is no such lot or supply")
	s.want(s.get("Lea Lead", "/stock/of/"+s.supplyKey()+"/look-back"), 200, "Supplies are tracked by event, not by person", "No event used it, as far as the record knows.")
}

func TestReceiptForm(t *testing.T) {
	o := setUp(t)
	form := []string{"thing=" + o.stripKey(), "packs=4", "per_pack=50", "place=Office cupboard", "on=2026-06-01", "price=19.50", "currency=usd", "supplier=<b>Supply & Co</b>", "invoice=R-1"}
	o.want(o.get("Lea Lead", "/stock/receive?thing="+o.stripKey()), 200, "Record the receipt", `value="50"`, "Your word for it")
	o.want(o.post("Lea Lead", "/stock/receive", append([]string{"packs=many"}, form[2:]...)...), 422, "should be a whole number", `value="Office cupboard"`)
	again := append([]string{"command=01990000-0000-7000-8000-000000000001"}, form...)
	for range 2 { // a second press is harmless
		o.goes(o.post("Lea Lead", "/stock/receive", again...), "/stock/of/"+o.stripKey())
	}
	page := o.get("Lea Lead", "/stock/of/"+o.stripKey())
	o.want(page, 200, "200 strips", "Office cupboard", "0.3900 USD (<b>Supply & Co</b>, 1 Jun 2026, invoice R-1)", "78.00 USD", "200 received + 0 found = 200 on hand")
	if strings.Contains(page.body, "<b>Supply") {
		t.Error("what was typed runs as markup")
	}
	o.want(o.get("Lea Lead", "/stock"), 200, "on hand for 78.00 USD by own invoices", "200 strips: Office cupboard")
	o.want(o.post("Sue Supervisor", "/stock/receive", form[:8]...), 303)
	o.want(o.post("Rae Runner", "/stock/receive", form...), 403)
	o.want(o.get("Lea Lead", "/stock.csv"), 200, "id,name,unit,expiry,on_hand", "Office cupboard 400")
}

func TestCountForm(t *testing.T) {
	o := setUp(t)
	strips, cotton := o.stripKey(), o.supplyKey()
	o.want(o.get("Rae Runner", "/stock/count"), 200, "Which place do you count?", `name="n_`+strips+`"`, `name="n_`+cotton+`"`, "Expires 31 Dec 2026", "!Should be here")
	o.want(o.post("Rae Runner", "/stock/count", "place=Van"), 422, "Nothing was counted.")
	o.want(o.post("Rae Runner", "/stock/count", "place=Van", "n_"+strips+"=a few", "n_"+cotton+"=7"), 422, "should be a whole number", `value="7"`, `value="a few"`)
	o.want(o.post("Rae Runner", "/stock/count", "place=Van", "n_"+strips+"=-3"), 422, "must be from 0 to 1000000")
	o.want(o.post("Rae Runner", "/stock/count", "place=Van", "n_strip-lot.nobody=3"), 404)
	o.goes(o.post("Rae Runner", "/stock/count", "place=Van", "n_"+strips+"=95", "n_"+cotton+"=7"), "/stock")
	o.want(o.get("Lea Lead", "/stock"), 200, "95 strips: Van", "7 pieces: Van")
	o.want(o.get("Rae Runner", "/stock/count"), 200, `value="Van"`, "Should be here", "Everything else")
	o.goes(o.post("Rae Runner", "/stock/count", "place=Van", "n_"+strips+"=90"), "/stock")
	o.want(o.get("Lea Lead", "/stock/of/"+strips), 200, "Counted: -5 to the record", "0 received + 95 found = 90 on hand + 0 at events + 0 used at events + 0 disposed of + 5 missing")
}

func TestMoveDisposeAndHold(t *testing.T) {
	o := setUp(t)
	strips := o.stripKey()
	base := "/stock/of/" + strips
	o.goes(o.post("Rae Runner", "/stock/count", "place=Cupboard", "n_"+strips+"=100"), "/stock")
	o.want(o.post("Lea Lead", base+"/move", "from==Cupboard", "to=Van", "n=101"), 409, "where the record has 100", `value="101"`)
	o.want(o.post("Lea Lead", base+"/move", "from==Cupboard", "n=1"), 422, "The place where it goes is missing.")
	o.goes(o.post("Lea Lead", base+"/move", "from==Cupboard", "to=Van", "n=30"), base)
	o.want(o.post("Lea Lead", base+"/dispose", "place==Van", "n=5"), 422, "The reason is missing.")
	o.goes(o.post("Lea Lead", base+"/dispose", "place==Van", "n=5", "reason=wet"), base)
	o.want(o.get("Lea Lead", base), 200, "95 strips", "Disposed of: wet", "Cupboard to Van")
	o.want(o.post("Lea Lead", base+"/quarantine"), 422, "The reason is missing.")
	o.goes(o.post("Sue Supervisor", base+"/quarantine", "reason=cap was off"), base)
	o.want(o.get("Lea Lead", base), 200, "Do not use it.", "in quarantine: cap was off", "Release it", "!>Put in quarantine<")
	o.want(o.get("Lea Lead", "/stock"), 200, "Do not use", "Set 95 strips apart.")
	o.want(o.post("Lea Lead", base+"/quarantine", "reason=again"), 409, "already in quarantine")
	hold := regexp.MustCompile(`name="hold"\s+value="([^"]+)"`).FindStringSubmatch(o.get("Lea Lead", base).body)
	if hold == nil {
		t.Fatal("no hold can be released")
	}
	sign := []string{"hold=" + hold[1], "reason=another vial", "sign_person=" + o.ID("Sue Supervisor")}
	o.want(o.post("Lea Lead", base+"/release", append(sign, "sign_pin=0000")...), 403, "Wrong PIN.")
	o.goes(o.post("Lea Lead", base+"/release", append(sign, "sign_pin=5093")...), base)
	o.want(o.get("Lea Lead", base), 200, "Released: another vial", "!Do not use it.")
	o.want(o.post("Lea Lead", base+"/recall", "reason=reads low"), 422, "Who recalled it is missing.")
	o.goes(o.post("Lea Lead", base+"/recall", "source=the maker", "reason=reads low"), base+"/look-back")
	o.want(o.get("Lea Lead", base+"/look-back"), 200, "What strip lot A touched", "recalled by the maker: reads low", "It touched nobody yet.", "95")
	o.want(o.get("Lea Lead", "/strips/"+o.ID("A")), 200)
	for path, kind := range map[string]string{"/look-back.csv": "text/csv; charset=utf-8", "/look-back.pdf": "application/pdf", "/look-back.pdf?size=a4": "application/pdf"} {
		a := o.get("Lea Lead", base+path)
		if a.status != 200 || a.header.Get("Content-Type") != kind {
			t.Errorf("%s: %d %s", path, a.status, a.header.Get("Content-Type"))
		}
	}
	o.want(o.post("Rae Runner", base+"/quarantine", "reason=x"), 403)
	o.want(o.get("Rae Runner", base+"/look-back"), 403)
}

// The look-back of the invented day's lot names tickets and nobody.
func TestLookBackPage(t *testing.T) {
	m := newMarket(t)
	lots, err := programme.List[*stock.StripLot](t.Context(), m.prog, stock.StripLotKind)
	if err != nil {
		t.Fatal(err)
	}
	v := m.as(leadName)
	v.get("/stock/of/strip-lot." + lots[0].ID + "/look-back")
	v.want(200)
	v.see("What strip lot INV-41 touched", "of 19 people", "Tamsin Green Market, 10 Oct 2026", "/history/", ">001<", "out of range")
	v.get("/stock/of/strip-lot." + lots[0].ID + "/look-back.csv")
	v.see("lot,event,date,what,ticket,at,meter", "Strip lot INV-41,Tamsin Green Market,2026-10-10,person,1,")
	if n := strings.Count(v.body, ",person,"); n != 19 {
		t.Errorf("%d people in the file", n)
	}
}

func TestSupplyUseForm(t *testing.T) {
	o := setUp(t)
	id := strings.TrimPrefix(o.supplyKey(), "supply.")
	o.want(o.get("Lea Lead", "/supplies/"+id), 200, "What it is", "Something else, counted in pieces")
	o.want(o.post("Lea Lead", "/supplies/"+id, "name=Cotton", "use=moon dust"), 422, "Choose what it is from the list")
	o.goes(o.post("Lea Lead", "/supplies/"+id, "name=Cotton", "use=gauze"), "/supplies")
	o.goes(o.post("Lea Lead", "/supplies/"+id, "name=Cotton balls"), "/supplies") // a list from a file says nothing of it
	all, err := programme.List[*stock.Supply](t.Context(), o.P, stock.SupplyKind)
	if err != nil || all[0].Details.Use != stock.UseGauze {
		t.Errorf("%v %+v", err, all[0].Details)
	}
}
