package glucose

import (
	"encoding/json"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

func TestParseReading(t *testing.T) {
	tests := []struct {
		text string
		unit Unit
		want Reading
		key  string // of the fault, when refused
	}{
		{"95", MgPerDL, Number(MgDL(95)), ""},
		{" 95\n", MgPerDL, Number(MgDL(95)), ""},
		{"5.6", MmolPerL, Number(Mmol(56)), ""},
		{"5", MmolPerL, Number(Mmol(50)), ""},
		{"11.0", MmolPerL, Number(Mmol(110)), ""},
		{"0.9", MmolPerL, Number(Mmol(9)), ""},
		{"lo", MgPerDL, LO(MgPerDL), ""},
		{"Low", MmolPerL, LO(MmolPerL), ""},
		{"HI", MmolPerL, HI(MmolPerL), ""},
		{"hi", MgPerDL, HI(MgPerDL), ""},
		{"E-4", MgPerDL, ErrorCode("E-4", MgPerDL), ""},
		{"e3", MgPerDL, ErrorCode("E3", MgPerDL), ""},
		{"ERR 3", MgPerDL, ErrorCode("Err 3", MgPerDL), ""},
		{"err", MmolPerL, ErrorCode("Err", MmolPerL), ""},
		{"Error 12a", MmolPerL, ErrorCode("Error 12A", MmolPerL), ""},
		{"1118", MgPerDL, Number(MgDL(1118)), ""}, // the protocol, not the parser, finds it absurd
		{"120", MmolPerL, Number(Mmol(1200)), ""},
		{"5.6", MgPerDL, Reading{}, "unit-slip"},
		{"", MgPerDL, Reading{}, "reading-empty"},
		{" \t", MgPerDL, Reading{}, "reading-empty"},
		{"5.63", MmolPerL, Reading{}, "number-unreadable"},
		{"5,6", MmolPerL, Reading{}, "number-unreadable"},
		{"5.", MmolPerL, Reading{}, "number-unreadable"},
		{".5", MmolPerL, Reading{}, "number-unreadable"},
		{"-5", MgPerDL, Reading{}, "number-unreadable"},
		{"+95", MgPerDL, Reading{}, "number-unreadable"},
		{"1e2", MgPerDL, Reading{}, "number-unreadable"},
		{"0x5f", MgPerDL, Reading{}, "number-unreadable"},
		{"095", MgPerDL, Reading{}, "number-unreadable"},
		{"11118", MgPerDL, Reading{}, "number-unreadable"},
		{"9 5", MgPerDL, Reading{}, "number-unreadable"},
		{"95 mg/dL", MgPerDL, Reading{}, "number-unreadable"},
		{"٩٥", MgPerDL, Reading{}, "number-unreadable"},
		{"E", MgPerDL, Reading{}, "number-unreadable"},
		{"high5", MgPerDL, Reading{}, "number-unreadable"},
		{strings.Repeat("9", 5000), MgPerDL, Reading{}, "number-unreadable"},
		{"95", "g/L", Reading{}, "unit-unknown"},
	}
	for _, tt := range tests {
		got, err := ParseReading(tt.text, tt.unit)
		if got != tt.want {
			t.Errorf("ParseReading(%.20q, %s) = %+v, want %+v", tt.text, tt.unit, got, tt.want)
		}
		if tt.key == "" {
			if err != nil {
				t.Errorf("ParseReading(%.20q, %s): %v", tt.text, tt.unit, err)
			}
			continue
		}
		f := fault.Of(err)
		if f == nil || f.Key != tt.key {
			t.Errorf("ParseReading(%.20q, %s): error %v, want key %s", tt.text, tt.unit, err, tt.key)
			continue
		}
		if f.Sentence == "" || f.Why == "" || f.Do == "" || len(f.Sentence) > 120 {
			t.Errorf("ParseReading(%.20q): the fault has not three short parts: %q", tt.text, f.Error())
		}
	}
}

func TestShown(t *testing.T) {
	tests := []struct {
		r            Reading
		shown, whole string
	}{
		{Number(MgDL(95)), "95", "95 mg/dL"},
		{Number(Mmol(50)), "5.0", "5.0 mmol/L"},
		{LO(MgPerDL), "LO", "LO"},
		{HI(MmolPerL), "HI", "HI"},
		{ErrorCode("E-4", MgPerDL), "E-4", "E-4"},
		{Reading{}, "", ""},
	}
	for _, tt := range tests {
		if tt.r.Shown() != tt.shown || tt.r.String() != tt.whole {
			t.Errorf("%+v shows %q and %q, want %q and %q", tt.r, tt.r.Shown(), tt.r.String(), tt.shown, tt.whole)
		}
	}
}

func TestParseUnit(t *testing.T) {
	for in, want := range map[string]Unit{"mg/dL": MgPerDL, " MG/DL ": MgPerDL, "mgdl": MgPerDL, "mmol/L": MmolPerL, "mmol": MmolPerL, "mmol/l": MmolPerL} {
		if got, err := ParseUnit(in); err != nil || got != want {
			t.Errorf("ParseUnit(%q) = %q, %v", in, got, err)
		}
	}
	for _, in := range []string{"", "mg", "mol/L", "g/L"} {
		if got, err := ParseUnit(in); !fault.Is(err, "unit-unknown") || got != "" {
			t.Errorf("ParseUnit(%q) = %q, %v", in, got, err)
		}
	}
}

// The pairs are those that ADA prints beside each other (Standards of Care in Diabetes, section 2 and the levels of
// hypoglycaemia), and our own arithmetic with 18.0156 above 200.
func TestIn(t *testing.T) {
	for mg, tenths := range map[int]int{54: 30, 70: 39, 100: 56, 126: 70, 140: 78, 200: 111, 160: 89, 250: 139, 300: 167, 400: 222, 600: 333} {
		if got := MgDL(mg).In(MmolPerL); got != Mmol(tenths) {
			t.Errorf("%d mg/dL shows as %v, want %v", mg, got, Mmol(tenths))
		}
	}
	// 3.0 = 54.05, 3.9 = 70.26, 5.6 = 100.89, 7.0 = 126.11, 7.8 = 140.52, 11.1 = 199.97 mg/dL: our arithmetic with 18.0156.
	for tenths, mg := range map[int]int{30: 54, 39: 70, 56: 101, 70: 126, 78: 141, 111: 200} {
		if got := Mmol(tenths).In(MgPerDL); got != MgDL(mg) {
			t.Errorf("%v shows as %v, want %v", Mmol(tenths), got, MgDL(mg))
		}
	}
	if got := MgDL(95).In(MgPerDL); got != MgDL(95) {
		t.Errorf("95 mg/dL in its own unit is %v", got)
	}
	if got := MgDL(95).In("g/L"); !got.IsZero() {
		t.Errorf("an unknown unit gives %v", got)
	}
	if a, b := divide(5, 10), divide(-5, 10); a != 1 || b != -1 {
		t.Errorf("halves round to %d and %d, want away from zero", a, b)
	}
}

func TestCompare(t *testing.T) {
	for _, tt := range []struct {
		a, b Value
		want int
	}{{MgDL(95), MgDL(100), -1}, {MgDL(100), MgDL(100), 0}, {Mmol(111), Mmol(110), 1}} {
		if got, err := Compare(tt.a, tt.b); err != nil || got != tt.want {
			t.Errorf("Compare(%v, %v) = %d, %v", tt.a, tt.b, got, err)
		}
	}
	for _, pair := range [][2]Value{{MgDL(200), Mmol(111)}, {Value{}, MgDL(1)}, {MgDL(1), {}}, {{}, {}}} {
		if _, err := Compare(pair[0], pair[1]); !fault.Is(err, "units-differ") {
			t.Errorf("Compare(%v, %v): %v, want units-differ", pair[0], pair[1], err)
		}
	}
}

func TestJSON(t *testing.T) {
	for _, tt := range []struct {
		r    Reading
		want string
	}{
		{Number(Mmol(56)), `{"kind":"number","number":"5.6","unit":"mmol/L"}`},
		{LO(MgPerDL), `{"kind":"LO","unit":"mg/dL"}`},
		{ErrorCode("E-4", MgPerDL), `{"kind":"error","code":"E-4","unit":"mg/dL"}`},
		{Reading{}, `null`},
	} {
		b, err := json.Marshal(tt.r)
		if err != nil || string(b) != tt.want {
			t.Errorf("%+v marshals to %s, %v", tt.r, b, err)
		}
		var back Reading
		if err := json.Unmarshal(b, &back); err != nil || back != tt.r {
			t.Errorf("%s comes back as %+v, %v", b, back, err)
		}
	}
	if b, err := json.Marshal(Mmol(56)); err != nil || string(b) != `{"number":"5.6","unit":"mmol/L"}` {
		t.Errorf("a value marshals to %s, %v", b, err)
	}
	for _, bad := range []string{
		`{"kind":"number","number":"95","unit":"g/L"}`, `{"kind":"number","number":"5.6","unit":"mg/dL"}`, `{"kind":"LO","number":"12","unit":"mg/dL"}`,
		`{"kind":"HI"}`, `{"kind":"odd","unit":"mg/dL"}`, `{"kind":"number","number":"95","code":"E","unit":"mg/dL"}`, `7`,
	} {
		var r Reading
		if err := json.Unmarshal([]byte(bad), &r); err == nil {
			t.Errorf("%s is read as %+v", bad, r)
		}
	}
	var v Value
	if err := json.Unmarshal([]byte(`{"number":"1e2","unit":"mg/dL"}`), &v); err == nil {
		t.Errorf("an exponent is read as %v", v)
	}
}

func TestEveryValueRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(Units).Draw(t, "unit")
		v := Value{rapid.IntRange(0, 9999).Draw(t, "steps"), u}
		got, err := ParseValue(v.Number(), u)
		if err != nil || got != v {
			t.Fatalf("%v is read back as %v, %v", v, got, err)
		}
		b, err := json.Marshal(Number(v))
		if err != nil {
			t.Fatal(err)
		}
		var r Reading
		if err := json.Unmarshal(b, &r); err != nil || r != Number(v) {
			t.Fatalf("%s comes back as %v, %v", b, r, err)
		}
	})
}

func FuzzParseReading(f *testing.F) {
	for _, s := range []string{"95", "5.6", "LO", "hi", "E-4", "Err 3", "Error12a", "", "5.63", "5,6", "1e5", "-1", "0", "00", "1118", "99999", "९५", "E\x00"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, text string, mg bool) {
		u := MmolPerL
		if mg {
			u = MgPerDL
		}
		r, err := ParseReading(text, u)
		if err != nil {
			if fl := fault.Of(err); fl.Kind != fault.Invalid || fl.Do == "" {
				t.Fatalf("%q is refused without advice: %v", text, err)
			}
			return
		}
		again, err := ParseReading(r.Shown(), u)
		if err != nil || again != r {
			t.Fatalf("%q shows %q, which is read as %+v, %v", text, r.Shown(), again, err)
		}
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		var back Reading
		if err := json.Unmarshal(b, &back); err != nil || back != r {
			t.Fatalf("%s comes back as %+v, %v", b, back, err)
		}
	})
}

func FuzzParseValue(f *testing.F) {
	for _, s := range []string{"95", "5.6", "5", "0.0", "0", "05", "5.", ".5", "5.60", "9999.9", "10000", "+5", "5 ", "1_0", "∞"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, text string, mg bool) {
		u := MmolPerL
		if mg {
			u = MgPerDL
		}
		v, err := ParseValue(text, u)
		if err != nil {
			if !v.IsZero() {
				t.Fatalf("%q is refused and still gives %v", text, v)
			}
			return
		}
		if v.Unit != u || v.Steps < 0 || v.Steps > 99999 {
			t.Fatalf("%q is read as %+v", text, v)
		}
		if n := v.Number(); n != text && n != text+".0" {
			t.Fatalf("%q shows as %q", text, n)
		}
	})
}

func TestFloat(t *testing.T) {
	for v, want := range map[Value]float64{MgDL(118): 118, Mmol(56): 5.6, {}: 0} {
		if got := v.Float(); got != want {
			t.Errorf("%s is %v, want %v", v, got, want)
		}
	}
}
