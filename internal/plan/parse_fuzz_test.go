package plan

import (
	"errors"
	"math"
	"testing"

	"fairstick/internal/fault"
)

// FuzzHoursAndProfile types anything where hours and a profile are asked for: what is read is hours of one day and shares that add
// up to 1 over them, and reads as itself again; anything else is refused in a sentence.
func FuzzHoursAndProfile(f *testing.F) {
	for _, x := range [][2]string{
		{"09:00-13:00", "front"},
		{"9:00 - 13:30", "25,30,19,10,5"},
		{"00:00-16:00", "lunch"},
		{"08:00-24:00", "flat"},
		{"13:00-09:00", "1"},
		{"09:00-09:29", ""},
		{"25:00-26:00", "1e308,1e308"},
		{"-", ","},
		{"09:00-13:00", "NaN,Inf,-1,0"},
		{"09:00-12:00", "0,0,0"},
		{"٠٩:00-13:00", "1,2,3,4"},
	} {
		f.Add(x[0], x[1])
	}
	f.Fuzz(func(t *testing.T, hours, profile string) {
		refused := func(err error) {
			var said *fault.Fault
			if !errors.As(err, &said) || said.Sentence == "" || said.Kind == fault.Internal {
				t.Errorf("%q, %q: an error that is no sentence: %v", hours, profile, err)
			}
		}
		h, err := ParseHours(hours)
		if err != nil {
			refused(err)
			h = Hours{9 * 60, 13 * 60}
		}
		if h.Open < 0 || h.Close > 24*60 || h.Minutes() < 30 || h.Minutes() > 16*60 {
			t.Errorf("%q is read as %v", hours, h)
		}
		if again, err := ParseHours(h.String()); err != nil || again != h {
			t.Errorf("%v reads as %v, %v", h, again, err)
		}
		p, err := ParseProfile(profile, h)
		if err != nil {
			refused(err)
			return
		}
		minutes, share := 0.0, 0.0
		for _, part := range p.Parts {
			if !(part.Minutes > 0) || !(part.Share >= 0) {
				t.Errorf("%q over %v has the part %+v", profile, h, part)
			}
			minutes, share = minutes+part.Minutes, share+part.Share
		}
		if math.Abs(minutes-float64(h.Minutes())) > 1e-6 || math.Abs(share-1) > 1e-9 {
			t.Errorf("%q over %v: %g minutes, shares of %g", profile, h, minutes, share)
		}
	})
}
