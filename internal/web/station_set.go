package web

import (
	"slices"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// stationSet keeps what a device is for. What is chosen must be here: brought, usable, and allowed by the meter's review.
func stationSet(s *Server, c *Context) error {
	d, err := s.prog.Day(c.R.Context(), c.Form("event"))
	if err != nil {
		return err
	}
	dev := programme.Device{Lang: c.Device.Lang, Event: d.Event.ID, Step: c.Form("step"), Station: c.Form("station")}
	if err := c.checkDevice(d, &dev); err != nil {
		return c.showStation(fault.Of(err))
	}
	if err := s.prog.SetDevice(c.R.Context(), c.DeviceID, dev); err != nil {
		return err
	}
	t := c.say()
	if dev.Step == string(visit.AtTest) { // its pages are in English
		t = &tongueEnglish
	}
	return c.Done(stationHome(dev), t.Station.IsNow(t.stationName(dev)))
}

// longestStation is what fits in the head of a phone.
const longestStation = 12

func (c *Context) checkDevice(d *programme.Day, dev *programme.Device) error {
	f := fault.New(fault.Invalid, "station", "This device is not put to its station yet.", "Every reading is kept with its station, meter and vial.", "Choose what is marked below.")
	switch {
	case d.Event.Phase == event.IsClosed:
		return fault.New(fault.Refused, "event-closed", "This event is closed.", "Its record is signed and stays as it is.", "Choose another event.")
	case stepWords[dev.Step] == "":
		return f.Field("step", "Choose Desk, Test or Explain.")
	case dev.Station == "" && dev.Step != string(visit.AtDesk):
		return f.Field("station", "Give the seat its number or name, as it stands on the table.")
	case len([]rune(dev.Station)) > longestStation:
		return f.Field("station", "At most 12 characters.")
	case dev.Step != string(visit.AtTest):
		return nil
	}
	dev.Meter, dev.Disinfectant = c.Form("meter"), c.Form("wipe")
	dev.StripLot, dev.Vial, _ = strings.Cut(c.Form("vial"), "/")
	day := d.Event.Day(c.s.prog.Now())
	if !slices.ContainsFunc(d.BroughtMeters(), func(m *stock.Meter) bool { return m.ID == dev.Meter }) {
		return f.Field("meter", "Choose the meter that lies on the table.")
	}
	if !slices.ContainsFunc(d.VialsFor(dev.Meter, day), func(x programme.MeterLot) bool { return x.Lot.ID == dev.StripLot && x.Vial == dev.Vial }) {
		return f.Field("vial", "Choose the vial that lies on the table.")
	}
	if !slices.ContainsFunc(d.WipesFor(dev.Meter, day), func(x *stock.Disinfectant) bool { return x.ID == dev.Disinfectant }) {
		return f.Field("wipe", "Choose the wipes that lie on the table.")
	}
	return nil
}

// stationVial writes down that a new vial was opened, and goes on with the table.
func stationVial(s *Server, c *Context) error {
	lot := c.Form("lot")
	_, err := s.prog.OpenVial(c.R.Context(), c.Actor(), programme.OpenVial{Act: c.Act(), StripLot: lot, Vial: c.Form("new_vial")})
	if err != nil {
		f := fault.Of(err)
		if m := f.Fields["vial"]; m != "" {
			f = f.Field("new_vial", m)
			delete(f.Fields, "vial")
		}
		return c.showStation(f)
	}
	q := "/station?table=yes&step=test&event=" + escapeQuery(c.Form("event")) + "&meter=" + escapeQuery(c.Form("meter")) + "&station=" + escapeQuery(c.Form("station"))
	return c.Done(q, c.say().Station.VialWritten)
}
