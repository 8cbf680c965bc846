package web

import (
	"regexp"
	"testing"

	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

func TestStrikeForm(t *testing.T) {
	o := setUp(t)
	base := "/stock/of/" + o.stripKey()
	form := []string{"thing=" + o.stripKey(), "packs=40", "per_pack=50", "place=Cupboard", "on=2026-06-01", "price=19.50", "currency=USD", "supplier=Supply & Co", "invoice=R-1"}
	o.goes(o.post("Lea Lead", "/stock/receive", form...), base)
	o.want(o.get("Rae Runner", base), 200, "Received from Supply &amp; Co", "!Typed wrongly?")
	page := o.get("Lea Lead", base)
	link := regexp.MustCompile(`href="(/stock/of/[^"]+/strike/[^"]+)"`).FindStringSubmatch(page.body)
	if link == nil {
		t.Fatal("the receipt cannot be struck")
	}
	o.want(o.get("Lea Lead", link[1]), 200, "Strike a receipt", "2000 (40 × 50) strips", "2000 strips", "0 strips", "Strike this receipt", "Record the receipt as it was")
	again := regexp.MustCompile(`href="(/stock/receive\?[^"]*like=[^"]+)"`).FindStringSubmatch(o.get("Lea Lead", link[1]).body)
	if again == nil {
		t.Fatal("the receipt cannot be typed again")
	}
	o.want(o.get("Lea Lead", regexp.MustCompile("&amp;").ReplaceAllString(again[1], "&")), 200, `value="40"`, `value="19.50"`, `value="Supply &amp; Co"`, `value="R-1"`, `value="2026-06-01"`)
	o.want(o.post("Lea Lead", link[1]), 422, "The reason is missing.")
	o.want(o.post("Rae Runner", link[1], "reason=x"), 403)
	o.goes(o.post("Sue Supervisor", link[1], "reason=4 packs, not 40"), base)
	o.want(o.get("Lea Lead", base), 200, "0 strips", "<del>Received from", "Struck by Sue Supervisor on", ": 4 packs, not 40", "!Typed wrongly?")
	o.want(o.post("Lea Lead", link[1], "reason=again"), 409, "This receipt was struck already, by Sue Supervisor: 4 packs, not 40.")
	o.want(o.get("Lea Lead", link[1]), 200, "It counts for nothing any more.", "!Strike this receipt")
	o.want(o.get("Lea Lead", base+"/strike/nothing"), 404, "There is no such receipt, count, move or disposal")
}

// The look-back of a supply of the invented day: everybody tested there may have been touched; of the wipes it is known who was.
func TestSupplyLookBackPage(t *testing.T) {
	m := newMarket(t)
	v := m.as(leadName)
	supplies, err := programme.List[*stock.Supply](t.Context(), m.prog, stock.SupplyKind)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range supplies {
		base := "/stock/of/supply." + s.ID
		switch s.Details.Use {
		case stock.UseLancets:
			v.get(base + "/look-back")
			v.see("the first to expire is taken to have gone first", "Tamsin Green Market, 10 Oct 2026", "Brought")
			v.get(base + "/look-back.csv")
			v.see("supply,known_by,event", "counted,Tamsin Green Market,2026-10-10,100,")
			v.get(base + "/look-back.pdf")
			v.want(200)
		case stock.UseSwabs:
			v.get(base + "/look-back")
			v.see("not counted out to events", "Tamsin Green Market, 10 Oct 2026")
		}
	}
	wipes, err := programme.List[*stock.Disinfectant](t.Context(), m.prog, stock.DisinfectantKind)
	if err != nil {
		t.Fatal(err)
	}
	v.get("/stock/of/disinfectant." + wipes[0].ID + "/look-back")
	v.see("every wipe of a meter names what it was wiped with", "Read after one")
}
