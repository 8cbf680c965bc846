package paper

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"fairstick/internal/fault"
)

func slipPDF(t testing.TB, s Slip, size Size) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteSlip(&b, s, size); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSlipPages(t *testing.T) {
	corrected := usualSlip()
	corrected.Corrected, corrected.Number, corrected.Replaces = true, 3, fairDay.Add(-30*time.Minute)
	corrected.Repeats = []SlipReading{
		{Shown: "98", Unit: "mg/dL", At: fairDay.Add(-5 * time.Minute), Why: "hands were not washed"},
		{Shown: "95", Unit: "mg/dL", At: fairDay, Counts: true, Why: "after washing"},
	}
	for _, c := range []struct {
		name  string
		slip  Slip
		pages int
	}{
		{"usual English", usualSlip(), 1},
		{"usual Spanish", plainSpanishSlip(), 1},
		{"corrected and repeated", corrected, 1},
		{"long Spanish", spanishSlip(), 2},
	} {
		for size, want := range map[Size][2]float64{HalfLetter: {396, 612}, A5: {419.53, 595.28}} {
			t.Run(c.name, func(t *testing.T) {
				pdf := slipPDF(t, c.slip, size)
				if w, h := mediaBox(t, pdf); math.Abs(w-want[0]) > 0.01 || math.Abs(h-want[1]) > 0.01 {
					t.Errorf("page is %.2f x %.2f points, want %v", w, h, want)
				}
				all := readBack(t, pdf)
				if got := pageCount(all); got != c.pages {
					t.Errorf("%d pages, want %d", got, c.pages)
				}
				checkInside(t, pdf, slipSide)
				for page := range c.pages {
					if text := textOf(all, page+1); !strings.Contains(text, c.slip.RecordID) || !strings.Contains(text, "9:47") {
						t.Errorf("page %d lacks the record or its time: %s", page+1, text)
					}
				}
			})
		}
	}
}

func TestSlipSaysItAll(t *testing.T) {
	text := textOf(readBack(t, slipPDF(t, usualSlip(), HalfLetter)), 0)
	for _, want := range []string{
		"Larkfield Community Screening", "Autumn Health Fair, Larkfield Town Hall", "31 August 2026", "A17", "Marigold Testperson",
		"95", "mg/dL", "5.3 mmol/L", "9:42 am", "9 hours ago, fasting", "Hands washed yes", "In the usual range for this kind of test",
		"This does not rule out diabetes.", "This is a screening, not a diagnosis.", "Ask sooner if your health changes.",
		"by August 2029", "any clinic on the list", "Warning signs: call 911", "deep, fast breathing", "food on the fingers",
		"R. O. (V12)", "P. Quill, pharmacist", "555 0142, Mon to Fri, 9 am to 4 pm", "00X0000000", "May we call you? yes", "Larkfield 3",
		"01990c1e-7a44-7c1e-9f00-5b1d2c3e4f50", "slip 1", "printed 31 August 2026, 9:47 am", "Invented demo data",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the slip:\n%s", want, text)
		}
	}
	if strings.Contains(text, "Corrected") {
		t.Error("a first slip calls itself corrected")
	}
}

func TestCorrectedSlipNamesTheOneItReplaces(t *testing.T) {
	for lang, want := range map[string]string{
		"en": "Corrected slip 2. It takes the place of the slip of 31 August 2026, 9:12 am. Please do not use the old one.",
		"es": "Hoja corregida 2. Reemplaza a la hoja del 31 de agosto de 2026, 9:12 a. m. Por favor, no use la anterior.",
	} {
		s := usualSlip()
		s.Lang, s.Corrected, s.Number, s.Replaces = lang, true, 2, fairDay.Add(-30*time.Minute)
		if text := textOf(readBack(t, slipPDF(t, s, HalfLetter)), 0); !strings.Contains(text, want) {
			t.Errorf("%q is not on the slip:\n%s", want, text)
		}
	}
}

func TestSlipHeroAndSmallestType(t *testing.T) {
	for name, s := range map[string]Slip{"usual": usualSlip(), "long": spanishSlip()} {
		var reading, unit placedText
		for _, p := range readBack(t, slipPDF(t, s, HalfLetter)) {
			switch {
			case p.s == s.Reading && p.size > 20:
				reading = p
			case p.s == s.Unit && p.size == 20:
				unit = p
			}
			if p.size < 12 && p.size != recordSize {
				t.Errorf("%s: %q is set in %.1f points", name, p.s, p.size)
			}
			if p.size == recordSize && !strings.Contains(p.s, s.RecordID) && !strings.Contains(p.s, "9:47") && !strings.Contains(p.s, " de 2") {
				t.Errorf("%s: %q is as small as the record line", name, p.s)
			}
		}
		if reading.size < 48 {
			t.Errorf("%s: the reading is set in %.1f points, want 48 at least", name, reading.size)
		}
		fonts, err := loadFonts()
		if err != nil {
			t.Fatal(err)
		}
		gap := unit.x - reading.x - fonts.bold.width(s.Reading, false, reading.size)
		if unit.page != reading.page || unit.y != reading.y || math.Abs(gap-6) > 0.1 {
			t.Errorf("%s: the unit is not beside its reading: %+v %+v", name, reading, unit)
		}
	}
}

func TestSlipFirstPageHoldsWhatMatters(t *testing.T) {
	all := readBack(t, slipPDF(t, spanishSlip(), HalfLetter))
	first, second := textOf(all, 1), textOf(all, 2)
	for _, want := range []string{
		"Hoja corregida 2", "13.1", "no un diagnóstico", "Vea a un médico", "antes del 7 de septiembre", "llame al 911", "mucho sueño",
		"Sigue: página 2", "página 1 de 2",
	} {
		if !strings.Contains(first, want) {
			t.Errorf("the first page lacks %q:\n%s", want, first)
		}
	}
	for _, want := range []string{"Turno B204", "13.1 mmol/L", "Todas las lecturas", "no cuenta: las manos", "página 2 de 2"} {
		if !strings.Contains(second, want) {
			t.Errorf("the second page lacks %q:\n%s", want, second)
		}
	}
	if strings.Contains(second, "Sigue") {
		t.Error("the last page says that it continues")
	}
}

func TestSlipOutOfRangeReadings(t *testing.T) {
	for _, c := range []struct{ lang, reading, want, not string }{
		{"en", "LO", "lower than this meter can measure", "higher"},
		{"en", "HI", "higher than this meter can measure", "lower"},
		{"es", "HI", "más alto de lo que este medidor puede medir", "más bajo"},
	} {
		s := usualSlip()
		s.Lang, s.Reading, s.Unit, s.OtherUnit, s.Sentence = c.lang, c.reading, "", "", ""
		text := textOf(readBack(t, slipPDF(t, s, A5)), 0)
		if !strings.Contains(text, c.want) || strings.Contains(text, c.not) {
			t.Errorf("%s %s: %s", c.lang, c.reading, text)
		}
	}
}

func TestSlipRefusals(t *testing.T) {
	bare, unitless, long := usualSlip(), usualSlip(), usualSlip()
	bare.Reading, unitless.Unit = " ", ""
	long.Reading = strings.Repeat("9", 40)
	for want, s := range map[string]Slip{"slip-without-reading": bare, "slip-reading-too-long": long} {
		var b bytes.Buffer
		if err := WriteSlip(&b, s, A5); !fault.Is(err, want) || b.Len() > 0 {
			t.Errorf("got %v and %d bytes, want %s and none", err, b.Len(), want)
		}
	}
	bare.Reading = "\u200b\u00a0\ufeff" // letters without a shape are no reading
	if err := WriteSlip(&bytes.Buffer{}, bare, A5); !fault.Is(err, "slip-without-reading") {
		t.Errorf("an invisible reading: %v", err)
	}
	if err := WriteSlip(&bytes.Buffer{}, unitless, A5); !fault.Is(err, "slip-without-reading") {
		t.Errorf("a number without a unit: %v", err)
	}
}

func TestSlipIsDeterministicAndBlack(t *testing.T) {
	for _, s := range []Slip{usualSlip(), spanishSlip(), {Reading: "95", Unit: "mg/dL"}} {
		a, b := slipPDF(t, s, HalfLetter), slipPDF(t, s, HalfLetter)
		if !bytes.Equal(a, b) {
			t.Error("the same slip gave two different files")
		}
		for _, stream := range pageStreams(t, a) {
			for _, command := range strings.Fields(stream) {
				if command == "rg" || command == "RG" || command == "k" || command == "K" {
					t.Fatalf("colour operator %q on the slip", command)
				}
			}
		}
	}
	later := usualSlip()
	later.Printed = later.Printed.Add(time.Hour)
	if bytes.Equal(slipPDF(t, usualSlip(), A5), slipPDF(t, later, A5)) {
		t.Error("the time of printing is not on the slip")
	}
}

func TestSlipAbsurdInput(t *testing.T) {
	kilo := strings.Repeat("Bartholomea ", 84)
	solid := strings.Repeat("W", 1000)
	for _, text := range []string{kilo, solid, "\x00\x07\x1b[31mred\r\n\ttab", "שלום עולם مرحبا", "😀👩‍👩‍👧 \ufeff\u202eabc", "\xff\xfe", "e\u0301 Nguyễn ≥3 → 4"} {
		s := usualSlip()
		s.Programme, s.Event, s.Venue, s.Ticket, s.Name = text, text, text, text, text
		s.OtherUnit, s.LastAte, s.BasisWord, s.Washed, s.BandWord, s.Sentence = text, text, text, text, text, text
		s.Advice, s.Warnings, s.CanMislead = []string{text, text}, []string{text}, []string{text}
		s.When, s.Where, s.TestedBy, s.Contact, s.CallPermission, s.RecordID = text, text, text, text, text, text
		s.Repeats = []SlipReading{{Shown: text, Unit: text, Why: text}}
		s.Band, s.Disclaimer, s.EmergencyNumber, s.Protocol = text, text, text, text
		checkInside(t, slipPDF(t, s, HalfLetter), slipSide)
		checkInside(t, slipPDF(t, s, A5), slipSide)
	}
	s := usualSlip()
	s.Name = "Ada שלום 😀"
	pdf := slipPDF(t, s, A5)
	if text := textOf(readBack(t, pdf), 0); !strings.Contains(text, "stands for a letter that we could not print") {
		t.Errorf("letters were replaced without a word: %s", text)
	}
	// Every box, the 4 + 1 in the name and the one in the note, is a drawn frame beside the fixed ones.
	frames := func(pdf []byte) int { return strings.Count(strings.Join(pageStreams(t, pdf), "\n"), " re S") }
	if got, plain := frames(pdf), frames(slipPDF(t, usualSlip(), A5)); got != plain+6 {
		t.Errorf("%d frames, want %d", got, plain+6)
	}
}

func TestSlipEmptyButForTheReading(t *testing.T) {
	text := textOf(readBack(t, slipPDF(t, Slip{Reading: "95", Unit: "mg/dL"}, A5)), 0)
	if want := "Your reading 95 mg/dL This is a screening, not a diagnosis."; text != want {
		t.Errorf("got %q, want %q", text, want)
	}
}

func FuzzSlip(f *testing.F) {
	f.Add("Marigold Testperson", "95", "mg/dL", "usual", "en", true)
	f.Add("María de los Ángeles", "13.1", "mmol/L", "high", "es", false)
	f.Add("\x00\xff😀שלום\u0301", "LO", "", "critical-low", "xx", true)
	f.Add(strings.Repeat("W", 1000), strings.Repeat("9", 30), " ", "", "", false)
	f.Fuzz(func(t *testing.T, text, reading, unit, band, lang string, corrected bool) {
		s := usualSlip()
		s.Name, s.Reading, s.Unit, s.Band, s.Lang, s.Corrected = text, reading, unit, band, lang, corrected
		s.Ticket, s.Sentence, s.Where, s.RecordID, s.Warnings = text, text, text, text, []string{text, text}
		var b bytes.Buffer
		if err := WriteSlip(&b, s, A5); err != nil {
			if fault.Of(err).Kind != fault.Invalid {
				t.Fatal(err)
			}
			return
		}
		checkInside(t, b.Bytes(), slipSide)
	})
}
