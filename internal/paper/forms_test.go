package paper

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"fairstick/internal/about"
	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
)

// fairOf is an invented event with meters in the units given.
func fairOf(units ...glucose.Unit) *programme.Day {
	d := &programme.Day{
		Event: &event.State{ID: "e", Plan: event.Planned{
			Name: "Autumn Health Fair", Venue: "Larkfield Town Hall", Address: "12 Mill Street, Larkfield", Date: civil.MustParse("2026-08-31"), Zone: "UTC",
			Routes: []event.Route{{Name: "Invented Clinic of Larkfield", Phone: "555 0111", Hours: "Mon to Fri, 8 am to 5 pm"}}, Urgent: event.Route{Name: "Invented Urgent Care", Phone: "555 0112"},
		}},
		Charter:  &charter.State{Details: charter.Described{Name: "Larkfield Community Screening", Emergency: "911", Contact: "555 0142", ContactHours: "Mon to Fri, 9 am to 4 pm", Unit: glucose.MgPerDL}},
		Protocol: protocol.Default(),
	}
	for i, u := range units {
		m := &stock.Meter{ID: string(rune('a' + i))}
		m.Details.Label, m.Details.Serial, m.Details.Unit = "M"+string(rune('1'+i)), "INV-"+string(rune('1'+i)), u
		d.Meters = append(d.Meters, m)
		d.Event.Out.Meters = append(d.Event.Out.Meters, m.ID)
	}
	return d
}

func packOf(t testing.TB, d *programme.Day, lang string, from, to int) FormPack {
	t.Helper()
	f, err := FormsOf(d, lang, fairDay, true)
	if err != nil {
		t.Fatal(err)
	}
	f.From, f.To = from, to
	return f
}

// asking is a day on which people are asked about themselves.
func asking(d *programme.Day, keys ...string) *programme.Day {
	d.Charter.Asks = keys
	return d
}

var allQuestions = []string{about.Race, about.Sex, about.Zip, about.Insurance, about.Doctor, about.First, about.Easy}

func formsPDF(t testing.TB, f FormPack, size PageSize) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteForms(&b, f, size); err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("FAIRSTICK_SHOTS"); dir != "" {
		name := strings.ReplaceAll(t.Name(), "/", "-") + ".pdf"
		if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return b.Bytes()
}

func TestFormPages(t *testing.T) {
	for _, lang := range []string{"en", "es"} {
		for size, want := range map[PageSize][2]float64{Letter: {612, 792}, A4: {595.28, 841.89}} {
			name := lang + "-letter"
			if size == A4 {
				name = lang + "-a4"
			}
			t.Run(name, func(t *testing.T) {
				pdf := formsPDF(t, packOf(t, fairOf(glucose.MgPerDL, glucose.MgPerDL), lang, 17, 18), size)
				if w, h := mediaBox(t, pdf); math.Abs(w-want[0]) > 0.01 || math.Abs(h-want[1]) > 0.01 {
					t.Errorf("page is %.2f x %.2f points, want %v", w, h, want)
				}
				checkInside(t, pdf, formSide-9)
				all := readBack(t, pdf)
				if got := pageCount(all); got != 2*(4+2)+4 {
					t.Errorf("%d pages, want two visit forms of four, two slips of two, and four sheets", got)
				}
			})
		}
	}
}

func TestFormRefusals(t *testing.T) {
	for _, c := range []struct{ from, to int }{{0, 3}, {5, 4}, {1, MostForms + 1}} {
		if err := WriteForms(&bytes.Buffer{}, packOf(t, fairOf(glucose.MgPerDL), "en", c.from, c.to), A4); !fault.Is(err, "form-numbers") {
			t.Errorf("%v: %v", c, err)
		}
	}
	f := packOf(t, fairOf(glucose.MgPerDL), "en", 1, 1)
	f.Units = nil
	if err := WriteForms(&bytes.Buffer{}, f, A4); !fault.Is(err, "form-unit") {
		t.Errorf("no unit: %v", err)
	}
}

// TestFormSmallestType: nothing is set smaller than 9 points, and the consent text, the slip and the contact strip, which
// the participant reads, not below 12 points except for the record line at the foot.
func TestFormSmallestType(t *testing.T) {
	for _, lang := range []string{"en", "es"} {
		f := packOf(t, fairOf(glucose.MgPerDL), lang, 1, 1)
		for _, p := range readBack(t, formsPDF(t, f, Letter)) {
			if p.size < 9 {
				t.Errorf("%s page %d: %q is set in %.1f points", lang, p.page, p.s, p.size)
			}
			slip := p.page == 5 || p.page == 6
			if slip && p.size < 12 && p.y > formBottom+formFoot && p.y < 792-formTop-formHead {
				for _, staff := range []string{"mg/dL", "LO", "HI", formLabels(lang).Yes, formLabels(lang).No} {
					if p.s == staff {
						p.size = 12 // beside a square or a figure's box
					}
				}
				if p.size < 12 {
					t.Errorf("%s slip: %q is set in %.1f points", lang, p.s, p.size)
				}
			}
			if strings.Contains(f.Consent, p.s) && len(p.s) > 30 && p.size < 12 {
				t.Errorf("%s: the consent text is set in %.1f points", lang, p.size)
			}
		}
	}
}

// TestFormSaysItAll reads the pages of one number back.
func TestFormSaysItAll(t *testing.T) {
	for _, c := range []struct {
		lang string
		page int
		want []string
	}{
		{"en", 1, []string{
			"Visit form", "No. 007", "Autumn Health Fair, Larkfield Town Hall", "31 August 2026", "text 2026.1", "You may stop at any time.", "interpreter", "The participant agrees",
			"How old are you?", "Under 18: not tested today.", "Do you already live with diabetes?", "A seizure, or collapsed", "Last food or drink with sugar", "8 hours or more before the test: fasting", "not known",
		}},
		{"en", 2, []string{
			"The meter shows", "mg/dL", "Read back", "Strip lot", "Vial", "Screener", "Soap and water", "New lancet", "Misfires", "Meter wiped", "In sharps", "of 200 mg/dL or more, or HI, or below 70 mg/dL, or LO",
			"below 54 mg/dL or LO", "70 to 99 mg/dL", "70 to 139 mg/dL", "126 to 299 mg/dL", "200 to 299 mg/dL", "300 or more mg/dL or HI", "Fasting", "Not fasting",
		}},
		{"en", 3, []string{
			"15 g of fast sugar", "test again after 15 minutes", "Still low after 2 times: emergency.", "Give nothing by mouth", "Supervisor came", "cannot swallow", "emergency called", "Supervisor signs",
			"own words", "Referred to", "declined the fingerstick",
		}},
		{"en", 4, []string{"More readings", "Notes"}},
		{"en", 5, []string{
			"Your result", "No. 007", "This is a screening, not a diagnosis.", "Much higher than the usual range", "Warning signs: call 911", "Strong belly pain", "555 0142",
			"cut off here", "You may call about my result", "Telephone",
		}},
		{"en", 6, []string{"Ask for a lab test for diabetes.", "See someone within 4 weeks.", "Please let us call you this evening.", "Invented Clinic of Larkfield", "Invented Urgent Care"}},
		{"en", 7, []string{"Account of the forms", "007 – 007", "Printed = used + voided + brought back", "Why"}},
		{"en", 8, []string{"Control log", "M1, serial INV-1, mg/dL", "Level 1", "Level 2", "Printed range", "out of range", "cause and what was done"}},
		{"en", 9, []string{"Incidents", "sharps injury", "Type and make of the device", "No medical details"}},
		{"es", 1, []string{"Hoja de visita", "N.º 007", "Puede parar en cualquier momento.", "¿Cuántos años tiene?", "Menos de 18", "no se sabe"}},
		{"es", 2, []string{"menos de 54 mg/dL o LO", "70 a 99 mg/dL", "300 o más mg/dL o HI", "de 200 mg/dL o más"}},
		{"es", 5, []string{"no un diagnóstico", "llame al 911", "corte aquí"}},
	} {
		text := textOf(readBack(t, formsPDF(t, packOf(t, fairOf(glucose.MgPerDL), c.lang, 7, 7), A4)), c.page)
		for _, want := range append(c.want, "911, 12 Mill Street, Larkfield", "2026.1 (", "9:42") {
			if !strings.Contains(text, want) {
				t.Errorf("%s page %d lacks %q:\n%s", c.lang, c.page, want, text)
			}
		}
		if strings.Contains(text, "…") {
			t.Errorf("%s page %d: something was cut off: %s", c.lang, c.page, text)
		}
	}
}

// TestFormNumbers: each number stands on its own four pages and slip, and nowhere else.
func TestFormNumbers(t *testing.T) {
	all := readBack(t, formsPDF(t, packOf(t, fairOf(glucose.MgPerDL), "en", 98, 100), Letter))
	for i, n := range []string{"098", "099", "100"} {
		for page := 1; page <= pageCount(all); page++ {
			has := strings.Contains(textOf(all, page), "No. "+n)
			if own := (page-1)/6 == i; has != own {
				t.Errorf("number %s on page %d: %v", n, page, has)
			}
		}
	}
	if text := textOf(all, 18); !strings.Contains(text, "sheet side 18 of 21") {
		t.Errorf("page 18 does not say where it stands: %s", text)
	}
}

// TestFormUnits: limits are printed in the unit that the meters show, and a figure is never without one.
func TestFormUnits(t *testing.T) {
	for name, c := range map[string]struct {
		units     []glucose.Unit
		want, not []string
	}{
		"mmol": {[]glucose.Unit{glucose.MmolPerL}, []string{"3.9 to 5.5 mmol/L", "7.8 to 11.0 mmol/L", "11.1 mmol/L or more"}, []string{"mg/dL"}},
		"both": {[]glucose.Unit{glucose.MgPerDL, glucose.MmolPerL}, []string{"70 to 99 mg/dL · 3.9 to 5.5 mmol/L", "200 mg/dL / 11.1 mmol/L"}, nil},
		"none": {nil, []string{"70 to 99 mg/dL"}, []string{"mmol/L"}},
	} {
		for _, lang := range []string{"en", "es"} {
			pdf := formsPDF(t, packOf(t, fairOf(c.units...), lang, 1, 1), A4)
			checkInside(t, pdf, formSide-9)
			if lang == "es" {
				continue
			}
			text := textOf(readBack(t, pdf), 2)
			for _, want := range c.want {
				if !strings.Contains(text, want) {
					t.Errorf("%s lacks %q: %s", name, want, text)
				}
			}
			for _, not := range c.not {
				if strings.Contains(text, not) {
					t.Errorf("%s says %q", name, not)
				}
			}
		}
	}
}

// TestFormLongProtocol: a protocol with much to say goes on to further pages, always an even number for each form.
func TestFormLongProtocol(t *testing.T) {
	f := packOf(t, fairOf(glucose.MgPerDL), "en", 1, 2)
	f.Consent = strings.Repeat(f.Consent+" ", 6)
	for range 20 {
		f.Questions = append(f.Questions, FormQuestion{Text: strings.Repeat("Is this an invented question? ", 5), Note: "Yes: say so."})
	}
	for i := range f.Bands {
		f.Bands[i].Advice = append(f.Bands[i].Advice, strings.Repeat("This is invented advice. ", 30))
	}
	pdf := formsPDF(t, f, Letter)
	checkInside(t, pdf, formSide-9)
	starts := map[string]int{}
	for _, p := range readBack(t, pdf) {
		if strings.HasPrefix(p.s, "Visit form") || strings.HasPrefix(p.s, "Your result ·") {
			if starts[p.s] == 0 && p.page%2 == 0 {
				t.Errorf("%s begins on the back of a sheet, page %d", p.s, p.page)
			}
			starts[p.s] = p.page
		}
	}
	if len(starts) != 2 {
		t.Errorf("starts: %v", starts)
	}
}

func TestFormIsDeterministicAndBlack(t *testing.T) {
	f := packOf(t, fairOf(glucose.MgPerDL), "en", 1, 2)
	a, b := formsPDF(t, f, Letter), formsPDF(t, f, Letter)
	if !bytes.Equal(a, b) {
		t.Error("the same pack gave two different files")
	}
	for _, stream := range pageStreams(t, a) {
		for _, command := range strings.Fields(stream) {
			if command == "rg" || command == "RG" || command == "k" || command == "K" {
				t.Fatalf("colour operator %q on a form", command)
			}
		}
	}
}

// TestFormLabels: every word of the forms is there in both languages, and none says more than a screening can.
func TestFormLabels(t *testing.T) {
	for lang, l := range map[string]FormLabels{"en": formEnglish, "es": formSpanish} {
		v := reflect.ValueOf(l)
		for i := range v.NumField() {
			name, text := v.Type().Field(i).Name, v.Field(i).String()
			if text == "" {
				t.Errorf("%s: %s is missing", lang, name)
			}
			for _, never := range []string{"normal", "diabetic", "diabétic", "you have", "usted tiene", "fail"} {
				if strings.Contains(strings.ToLower(text), never) {
					t.Errorf("%s: %s says %q", lang, name, text)
				}
			}
		}
	}
	if formLabels("es-MX") != formSpanish || formLabels("fr") != formEnglish {
		t.Error("a region of Spanish reads in Spanish, anything else in English")
	}
}

// TestFormAbout: with questions about oneself switched on they stand on the back of the second sheet, before the further readings, with their
// answers to tick and the words that nobody need answer; the one of the end stands where it is asked. No page is added, and the slip does not change.
func TestFormAbout(t *testing.T) {
	for lang, want := range map[string]struct{ block, end []string }{
		"en": {
			[]string{
				"About you, if you want", "You do not have to answer.", "I skip all of these", "Which of these describe you?", "Choose all that fit.", "American Indian or Alaska Native", "Something else",
				"What is your sex?", "What are the first 3 numbers of your ZIP code?", "Only these 3. We do not keep the rest.", "Do you have health insurance?", "I am not sure", "Is this your first blood sugar test?",
				"More readings", "Notes",
			},
			[]string{"Was this easy to understand?", "You do not have to answer.", "In part"},
		},
		"es": {
			[]string{
				"Sobre usted, si quiere", "No tiene que contestar.", "No contesto ninguna", "¿Cuáles de estas palabras le describen?", "¿Cuál es su sexo?", "código postal?", "¿Tiene seguro de salud?", "No estoy seguro",
				"¿Es su primera prueba de azúcar en la sangre?", "Más lecturas",
			},
			[]string{"¿Fue fácil de entender?", "No tiene que contestar.", "En parte"},
		},
	} {
		prefer := about.PreferNotText.In(lang)
		for _, size := range []PageSize{Letter, A4} {
			t.Run(fmt.Sprintf("%s-%v", lang, size), func(t *testing.T) {
				plain := readBack(t, formsPDF(t, packOf(t, fairOf(glucose.MgPerDL), lang, 7, 8), size))
				pdf := formsPDF(t, packOf(t, asking(fairOf(glucose.MgPerDL), allQuestions...), lang, 7, 8), size)
				checkInside(t, pdf, formSide-9)
				all := readBack(t, pdf)
				if got := pageCount(all); got != pageCount(plain) {
					t.Fatalf("%d pages, %d without the questions", got, pageCount(plain))
				}
				for page := 1; page <= pageCount(all); page++ {
					text, was := textOf(all, page), textOf(plain, page)
					switch (page - 1) % 6 {
					case 2, 3:
						if page > 12 {
							continue
						}
						list, squares := want.end, 1
						if (page-1)%6 == 3 {
							list, squares = want.block, 6
						}
						for _, s := range list {
							if !strings.Contains(text, s) || strings.Contains(was, s) && s != "More readings" && s != "Notes" && s != "Más lecturas" {
								t.Errorf("page %d: %q is missing, or stands there without the questions:\n%s", page, s, text)
							}
						}
						if n := strings.Count(text, prefer); n != squares {
							t.Errorf("page %d: %d ways out, want %d", page, n, squares)
						}
						if strings.Contains(text, "…") {
							t.Errorf("page %d: something was cut off", page)
						}
					default:
						if text != was {
							t.Errorf("page %d changed", page)
						}
					}
				}
			})
		}
	}
}

// TestFormAboutInPart: only what the programme asks stands on the form; with none of the desk there is no block, and with none at all the form
// is that of a programme that never chose.
func TestFormAboutInPart(t *testing.T) {
	page := func(n int, keys ...string) string {
		return textOf(readBack(t, formsPDF(t, packOf(t, asking(fairOf(glucose.MgPerDL), keys...), "en", 1, 1), Letter)), n)
	}
	some := page(4, about.Sex, about.Doctor, about.First)
	for s, want := range map[string]bool{"What is your sex?": true, "Do you have a doctor": true, "first blood sugar test?": true, "Which of these describe you?": false, "ZIP": false, "health insurance": false} {
		if strings.Contains(some, s) != want {
			t.Errorf("%q stands on the form: %v, want %v", s, !want, want)
		}
	}
	if strings.Contains(page(3, about.Sex), "easy to understand") || strings.Contains(page(4, about.Easy), "About you") || !strings.Contains(page(3, about.Easy), "easy to understand") {
		t.Error("a question stands where it is not asked")
	}
	none := packOf(t, asking(fairOf(glucose.MgPerDL)), "en", 1, 1)
	if !bytes.Equal(formsPDF(t, none, Letter), formsPDF(t, packOf(t, fairOf(glucose.MgPerDL), "en", 1, 1), Letter)) {
		t.Error("a choice of nothing changes the form")
	}
	f := packOf(t, asking(fairOf(glucose.MgPerDL), allQuestions...), "es", 1, 3)
	for range 20 { // a form that is long already
		f.Questions = append(f.Questions, FormQuestion{Text: strings.Repeat("¿Es una pregunta inventada? ", 5), Note: "Sí: dígalo."})
	}
	all := readBack(t, formsPDF(t, f, Letter))
	blocks := 0
	for n := 1; n <= pageCount(all); n++ {
		text := textOf(all, n)
		blocks += strings.Count(text, "Sobre usted, si quiere")
		if strings.Contains(text, "Hoja de visita") && strings.Contains(text, "página 1 de") && n%2 == 0 {
			t.Errorf("a form begins on the back of a sheet, page %d", n)
		}
	}
	if blocks != 3 {
		t.Errorf("%d blocks on three forms", blocks)
	}
}
