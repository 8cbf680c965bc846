package programme

import (
	"fairstick/internal/stock"
)

// loaders are the lists with how each of their rows is read and recorded.
var loaders = map[string]loader{
	PeopleList: {
		column: "name",
		ids:    knownPeople,
		key:    func(r *importing) string { return joined(r.text("name")) },
		about:  func(r *importing) string { return joined(r.text("name")) },
		row: func(w *work, r *importing, there string) error {
			return described(r, func() (Done, error) {
				return w.describePerson(DescribePerson{
					Person: there, Name: r.text("name"), Title: r.text("title"), Roles: r.several("roles"),
					Languages: r.several("languages"), Glove: r.text("glove"),
				}, "")
			})
		},
	},
	VerificationsList: {
		column: "name",
		ids:    knownPeople,
		key: func(r *importing) string {
			return joined(r.text("name"), r.text("role"), r.text("from"), r.text("until"))
		},
		about: func(r *importing) string { return joined(r.text("name")) },
		row: func(w *work, r *importing, there string) error {
			if there == "" {
				r.say("name", "%q is not on the list of people. Add the person first.", r.text("name"))
			}
			return described(r, func() (Done, error) {
				return w.verify(Verify{Person: there, Role: r.text("role"), From: r.text("from"), Until: r.text("until"), Note: r.text("note")})
			})
		},
	},
	MetersList: {
		column: "label",
		key:    func(r *importing) string { return joined(r.text("label")) },
		about:  func(r *importing) string { return joined(r.text("label")) },
		ids:    known(stock.MeterKind, func(m *stock.Meter) (string, string) { return joined(m.Details.Label), m.ID }),
		row: func(w *work, r *importing, there string) error {
			c := DescribeMeter{
				Meter: there, Label: r.text("label"), Serial: r.text("serial"), Model: r.text("model"), Coding: r.text("coding"), Unit: r.text("unit"),
				TempLow: r.number("temp_low", "The lowest temperature"), TempHigh: r.number("temp_high", "The highest temperature"),
				HumidityLow: r.number("humidity_low", "The lowest humidity"), HumidityHigh: r.number("humidity_high", "The highest humidity"),
			}
			return described(r, func() (Done, error) { return w.describeMeter(c) })
		},
	},
	StripLotsList: {
		column: "lot",
		key:    func(r *importing) string { return joined(r.text("lot")) },
		about:  func(r *importing) string { return joined(r.text("lot")) },
		ids:    known(stock.StripLotKind, func(l *stock.StripLot) (string, string) { return joined(l.Details.Lot), l.ID }),
		row: func(w *work, r *importing, there string) error {
			c := DescribeStripLot{
				StripLot: there, Lot: r.text("lot"), Models: r.several("models"), Chemistry: r.text("chemistry"), Code: r.text("code"),
				Expiry: r.text("expiry"), InUse: r.text("in_use"), EachVial: r.text("each_vial"), PerVial: r.whole("per_vial", "Strips in a vial"),
				Unit: r.text("unit"), Ranges: r.ranges(),
			}
			return described(r, func() (Done, error) { return w.describeStripLot(c) })
		},
	},
	ControlLotsList: {
		column: "lot",
		key:    func(r *importing) string { return joined(r.text("lot"), r.text("level")) },
		about:  func(r *importing) string { return joined(r.text("lot"), r.text("level")) },
		ids:    known(stock.ControlLotKind, func(l *stock.ControlLot) (string, string) { return joined(l.Details.Lot, l.Details.Level), l.ID }),
		row: func(w *work, r *importing, there string) error {
			c := DescribeControlLot{
				ControlLot: there, Lot: r.text("lot"), Level: r.text("level"), Models: r.several("models"), Expiry: r.text("expiry"),
				InUseDays: r.whole("in_use_days", "Days of use after opening"),
			}
			return described(r, func() (Done, error) { return w.describeControlLot(c) })
		},
	},
	DisinfectantsList: {
		column: "name",
		key:    func(r *importing) string { return joined(r.text("name")) },
		about:  func(r *importing) string { return joined(r.text("name")) },
		ids:    known(stock.DisinfectantKind, func(d *stock.Disinfectant) (string, string) { return joined(d.Details.Name), d.ID }),
		row: func(w *work, r *importing, there string) error {
			lot, err := w.lotOf(stock.DisinfectantRef(there))
			if err != nil {
				return err
			}
			c := DescribeDisinfectant{
				Disinfectant: there, Lot: lot, Name: r.text("name"), ContactSeconds: r.whole("contact_seconds", "The contact time in seconds"),
				TwoStep: r.yes("two_step", "Whether it takes two wipes"), Expiry: r.text("expiry"),
			}
			return described(r, func() (Done, error) { return w.describeDisinfectant(c) })
		},
	},
	SuppliesList: {
		column: "name",
		key:    func(r *importing) string { return joined(r.text("name")) },
		about:  func(r *importing) string { return joined(r.text("name")) },
		ids:    known(stock.SupplyKind, func(s *stock.Supply) (string, string) { return joined(s.Details.Name), s.ID }),
		row: func(w *work, r *importing, there string) error {
			lot, err := w.lotOf(stock.SupplyRef(there))
			if err != nil {
				return err
			}
			return described(r, func() (Done, error) {
				return w.describeSupply(DescribeSupply{Supply: there, Lot: lot, Name: r.text("name"), Pack: r.text("pack"), Expiry: r.text("expiry"), Note: r.text("note")})
			})
		},
	},
}
