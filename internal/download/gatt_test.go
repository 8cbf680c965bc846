package download

import (
	"encoding/hex"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"fairstick/internal/fault"
)

func octets(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The table that HL7's personal health device guide prints (FLOATS.md), every row of it.
func TestSFloatAsPublished(t *testing.T) {
	for _, c := range []struct {
		raw  SFloat
		want float64
	}{{0x0002, 2}, {0xF014, 2.0}, {0xE0C8, 2.00}, {0x1002, 20}, {0x2002, 200}, {0x00C8, 200}, {0x04D2, 1234}, {0x0B2E, -1234}} {
		m, e, special := c.raw.Parts()
		if got := float64(m) * math.Pow10(e); special != "" || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("0x%04X is %g, want %g", uint16(c.raw), got, c.want)
		}
	}
	for raw, want := range map[SFloat]string{0x07FF: "not a number", 0x0800: "an error", 0x07FE: "more than can be measured", 0x0802: "less than can be measured", 0x0801: "an error"} {
		if _, _, got := raw.Parts(); got != want {
			t.Errorf("0x%04X is %q, want %q", uint16(raw), got, want)
		}
	}
}

// Records that were published with what the meter had shown, and what their octets say of time, type and location by the
// service's own note (type in the low nibble). Sources: three independent question-and-answer pages on reading 0x2A18.
func TestPublishedRecords(t *testing.T) {
	for _, c := range []struct {
		raw, shown, at string
		seq, kind, loc int
	}{
		{"0B 04 00 E4 07 05 0E 0C 31 1D 4E 01 68 B0 F8 00 00", "104 mg/dL", "2020-05-14 18:23:29", 4, 8, 15},
		{"03 00 00 E4 07 03 0E 17 17 00 00 00 70 B0 11", "112 mg/dL", "2020-03-14 23:23:00", 0, 1, 1},
		// 07 days 11:06:05 and 602 minutes; the page had it mangled by UTF-8, and says 119. Its flag for a context stands there too.
		{"1B 04 00 E4 07 07 0E 0B 06 05 5A 02 77 B0 F8 00 00", "119 mg/dL", "2020-07-14 21:08:05", 4, 8, 15},
	} {
		m, err := DecodeMeasurement(octets(t, c.raw), time.UTC)
		if err != nil {
			t.Errorf("%s: %v", c.raw, err)
			continue
		}
		if m.Reading.String() != c.shown || m.At.Format("2006-01-02 15:04:05") != c.at || m.Seq != c.seq || m.Type != c.kind || m.Location != c.loc || m.Mark != Person {
			t.Errorf("%s: %+v", c.raw, m)
		}
	}
}

func TestRecordsByHand(t *testing.T) {
	for name, c := range map[string]struct {
		raw, shown string
		mark       Mark
	}{
		"control by type":     {"02 05 00 EA 07 0A 0A 08 05 00 76 B0 1A", "118 mg/dL", Control},
		"control by location": {"02 05 00 EA 07 0A 0A 08 05 00 76 B0 41", "118 mg/dL", Control},
		"molar":               {"06 05 00 EA 07 0A 0A 08 05 00 38 C0 11", "5.6 mmol/L", Person}, // 56e-4 mol/L
		"molar, more digits":  {"06 05 00 EA 07 0A 0A 08 05 00 2B B2 11", "5.6 mmol/L", Person}, // 555e-5
		"too high":            {"0A 05 00 EA 07 0A 0A 08 05 00 FF 07 11 20 00", "HI", Person},
		"too low":             {"0A 05 00 EA 07 0A 0A 08 05 00 FF 07 11 40 00", "LO", Person},
		"infinite":            {"02 05 00 EA 07 0A 0A 08 05 00 FE 07 11", "HI", Person},
		"half rounds up":      {"02 05 00 EA 07 0A 0A 08 05 00 95 A4 11", "117 mg/dL", Person}, // 1173e-6: 117.3
	} {
		m, err := DecodeMeasurement(octets(t, c.raw), time.UTC)
		if err != nil || m.Reading.String() != c.shown || m.Mark != c.mark {
			t.Errorf("%s: %v %+v, want %s %s", name, err, m, c.shown, c.mark)
		}
	}
}

// What must not become a glucose is refused, and says why.
func TestRefusedRecords(t *testing.T) {
	for raw, why := range map[string]string{
		"03 01 00 E4 07 03 0E 17 17 00 00 00 FF FF 11":                "nothing or less", // published: an unused place of a memory
		"1B 04 00 C3 A4 07 07 0E 0B 06 05 5A 02 77 C2 B0 C3 B8 00 00": "20 octets",       // published: mangled by UTF-8
		"06 00 01 01":                            "at least 10", // the answer to a request for records
		"01 01":                                  "at least 10",
		"":                                       "at least 10",
		"FF 05 00 EA 07 0A 0A 08 05 00 76 B0 1A": "not that of a glucose measurement",
		"02 05 00 00 00 0A 0A 08 05 00 76 B0 11": "no date",
		"02 05 00 EA 07 02 1E 08 05 00 76 B0 11": "impossible time 2026-02-30",
		"02 05 00 EA 07 0A 0A 19 05 00 76 B0 11": "impossible time",
		"03 05 00 EA 07 0A 0A 08 05 00 FF 7F 76 B0 11": "out of the meter's reach",
		"00 05 00 EA 07 0A 0A 08 05 00":                "no concentration",
		"02 05 00 EA 07 0A 0A 08 05 00 FF 07 11":       "not a number",
		"02 05 00 EA 07 0A 0A 08 05 00 00 B0 11":       "nothing or less",
		"02 05 00 EA 07 0A 0A 08 05 00 76 B0 11 00":    "14 octets; by its first one it should have 13",
	} {
		_, err := DecodeMeasurement(octets(t, raw), time.UTC)
		var f *fault.Fault
		if !errors.As(err, &f) || !strings.Contains(f.Sentence, why) {
			t.Errorf("%s: %v, want %q", raw, err, why)
		}
	}
}

// FuzzDecodeMeasurement gives any octets: a fault or a reading with a number above nothing, never a panic.
func FuzzDecodeMeasurement(f *testing.F) {
	f.Add(octets(f, "0B 04 00 E4 07 05 0E 0C 31 1D 4E 01 68 B0 F8 00 00"))
	f.Add(octets(f, "06 05 00 EA 07 0A 0A 08 05 00 38 70 11"))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := DecodeMeasurement(b, time.UTC)
		if err != nil {
			return
		}
		if m.Reading.IsZero() || m.At.IsZero() || m.Reading.Value.Steps < 0 {
			t.Errorf("%x: %+v", b, m)
		}
	})
}
