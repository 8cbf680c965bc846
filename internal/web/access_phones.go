package web

import (
	"fmt"
	"image/color"
	"net/url"
	"strings"

	"github.com/boombuler/barcode/qr"

	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// phonesView is the page that brings phones to this laptop.
type phonesView struct {
	Page        ui.Page
	Addresses   []phoneAddress // the first is the one in the code; none: phones cannot come in
	Lan         bool           // served for phones at all
	Code        *qrCode
	Says        string // what the code holds
	Fingerprint [2]string
	Step        string
	Station     string
	Steps       []ui.Option
	Wrong       string // of the station's name
}

type phoneAddress struct {
	URL  string
	Href string // shows the code of this address
}

func phonesShow(s *Server, c *Context) error {
	v := phonesView{Page: c.page("Phones"), Step: c.query("step"), Station: strings.TrimSpace(c.query("station"))}
	v.Page.Lead = "Bring a phone or tablet to this laptop: scan, compare, sign in."
	v.Page.Back = &ui.Link{Href: "/", Label: "Start"}
	v.Page.Wide = true
	for _, step := range []visit.Phase{visit.AtDesk, visit.AtTest, visit.AtExplain} {
		v.Steps = append(v.Steps, ui.Option{Value: string(step), Label: stepWords[string(step)]})
	}
	if stepWords[v.Step] == "" {
		v.Step, v.Station = "", ""
	}
	if len([]rune(v.Station)) > longestStation {
		v.Station, v.Wrong = "", fmt.Sprintf("At most %d characters.", longestStation)
	}
	if s.opt.Network == nil {
		return c.Render(200, PhonesPage(v))
	}
	v.Lan = true
	print := s.opt.Network.Fingerprint
	half := len(print) / 2
	v.Fingerprint = [2]string{strings.TrimSpace(print[:half]), strings.TrimSpace(print[half:])}
	list := s.opt.Network.Addresses()
	chosen := 0
	for i, a := range list {
		if a == c.query("at") {
			chosen = i
		}
	}
	for i, a := range list {
		x := phoneAddress{URL: a, Href: "/phones?" + url.Values{"at": {a}, "step": {v.Step}, "station": {v.Station}}.Encode()}
		if i == chosen {
			v.Addresses = append([]phoneAddress{x}, v.Addresses...)
			continue
		}
		v.Addresses = append(v.Addresses, x)
	}
	if len(v.Addresses) == 0 {
		return c.Render(200, PhonesPage(v))
	}
	v.Says = v.Addresses[0].URL + "/"
	if v.Step != "" {
		v.Says += "join?" + url.Values{"step": {v.Step}, "station": {v.Station}}.Encode()
	}
	var err error
	if v.Code, err = newQR(v.Says); err != nil {
		return err
	}
	return c.Render(200, PhonesPage(v))
}

// join is where a scanned code leads. It takes a device to the page that puts it to its station; the code itself puts
// nothing and nobody anywhere, and the PIN was asked for before.
func join(_ *Server, c *Context) error {
	step, station := c.query("step"), strings.TrimSpace(c.query("station"))
	if stepWords[step] == "" {
		return c.Go("/")
	}
	if len([]rune(station)) > longestStation {
		station = ""
	}
	q := url.Values{"step": {step}}
	if station != "" {
		q.Set("station", station)
	}
	if id := c.eventID(); id != "" {
		q.Set("event", id)
	}
	return c.Go("/station?" + q.Encode())
}

// qrCode is a code as a drawing: dark squares in one path, with the quiet edge of four squares that the standard asks for
// (ISO/IEC 18004).
type qrCode struct {
	Size int // squares on a side, with the edge
	Path string
}

const quietEdge = 4

func newQR(text string) (*qrCode, error) {
	img, err := qr.Encode(text, qr.M, qr.Unicode)
	if err != nil {
		return nil, err
	}
	side := img.Bounds().Dx()
	var path strings.Builder
	for y := range side {
		for x := 0; x < side; x++ {
			run := 0
			for x+run < side && color.GrayModel.Convert(img.At(x+run, y)).(color.Gray).Y < 128 {
				run++
			}
			if run > 0 {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", x+quietEdge, y+quietEdge, run, run)
				x += run
			}
		}
	}
	return &qrCode{Size: side + 2*quietEdge, Path: path.String()}, nil
}

func (q *qrCode) box() string { return fmt.Sprintf("0 0 %d %d", q.Size, q.Size) }
