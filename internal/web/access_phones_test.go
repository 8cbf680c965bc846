package web

import (
	"fmt"
	"image/color"
	"net/http"
	"regexp"
	"strconv"
	"testing"

	"github.com/boombuler/barcode/qr"
)

// The squares that are drawn are those of the code, with its quiet edge.
func TestTheDrawnCodeIsTheCode(t *testing.T) {
	const text = "https://192.168.1.20:8420/join?station=2&step=test"
	drawn, err := newQR(text)
	if err != nil {
		t.Fatal(err)
	}
	dark := map[[2]int]bool{}
	for _, m := range regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`).FindAllStringSubmatch(drawn.Path, -1) {
		var n [3]int
		for i := range n {
			if n[i], err = strconv.Atoi(m[i+1]); err != nil {
				t.Fatal(err)
			}
		}
		for i := range n[2] {
			dark[[2]int{n[0] + i, n[1]}] = true
		}
	}
	img, err := qr.Encode(text, qr.M, qr.Unicode)
	if err != nil {
		t.Fatal(err)
	}
	side := img.Bounds().Dx()
	if drawn.Size != side+8 || drawn.box() != fmt.Sprintf("0 0 %d %d", side+8, side+8) {
		t.Errorf("%d squares with the edge, want %d", drawn.Size, side+8)
	}
	for y := range drawn.Size {
		for x := range drawn.Size {
			in := x >= 4 && y >= 4 && x < side+4 && y < side+4
			want := in && color.GrayModel.Convert(img.At(x-4, y-4)).(color.Gray).Y < 128
			if dark[[2]int{x, y}] != want {
				t.Fatalf("square %d %d is dark: %v, want %v", x, y, !want, want)
			}
		}
	}
}

func TestPhonesWithoutTheNetwork(t *testing.T) {
	m := newMarket(t)
	v := m.as(leadName)
	v.get("/phones")
	v.want(http.StatusOK)
	v.see("Only this laptop can open Fairstick now.", "fairstick serve --lan")
	v.get("/join?step=test&station=2")
	if want := "/station?event=" + m.event[len("/events/"):] + "&station=2&step=test"; v.to != want {
		t.Errorf("a code for a station leads to %q, want %q", v.to, want)
	}
}
