package paper

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
)

func invitedBack(lang string) FollowUpLetter {
	p := FollowUpLetter{
		Lang: lang, Programme: "Larkfield Community Screening", Contact: "555 0142", Hours: "Mon to Fri, 9 am to 4 pm", Name: "Invented Person",
		Address: []string{"12 Invented Street, flat 3", "Larkfield, 00000"}, Day: civil.MustParse("2026-09-20"), Screened: civil.MustParse("2026-08-31"), By: civil.MustParse("2026-09-07"),
		Event: "Autumn Health Fair", Place: "Invented Clinic of Larkfield", PlaceSays: "555 0111, Mon to Fri, 8 am to 5 pm", Emergency: "911",
		Warnings: []string{"Vomiting that does not stop", "Fast or deep breathing", "Very sleepy, confused, or about to faint", "Very thirsty, with a very dry mouth"},
		RecordID: "V-000-INVENTED", Printed: time.Date(2026, 9, 20, 10, 0, 0, 0, time.UTC), Invented: true,
	}
	if lang == "es" {
		p.Warnings = []string{"Vómitos que no paran", "Respiración rápida o profunda", "Mucho sueño o confusión"}
	}
	return p
}

func followUpPDF(t *testing.T, size PageSize, letters ...FollowUpLetter) []byte {
	t.Helper()
	var b bytes.Buffer
	var set []PersonLetter
	for _, x := range letters {
		set = append(set, x.Letter())
	}
	if err := WriteLetters(&b, set, size); err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("LETTER_SAMPLES"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, t.Name()+".pdf"), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return b.Bytes()
}

// Each letter is one page; its address lies in the window, nothing else does, and the letter to the person says nothing of the
// reading.
func TestFollowUpLetters(t *testing.T) {
	note := invitedBack("en")
	note.ToClinician, note.Address, note.Reading, note.Basis, note.Taken, note.CanMislead = true, nil, "209 mg/dL", "not fasting", "10:05 on 31 Aug 2026", "It can be misled by: recent food."
	for size, window := range map[PageSize][4]float64{Letter: {0.875 * 72, 2.0 * 72, 5.3 * 72, 3.15 * 72}, A4: {20 / 25.4 * 72, 62.7 / 25.4 * 72, 105 / 25.4 * 72, 90 / 25.4 * 72}} {
		pages := readBack(t, followUpPDF(t, size, invitedBack("en"), invitedBack("es"), note))
		last := 0
		_, height := size.points()
		for _, p := range pages {
			last = max(last, p.page)
			y := height - p.y
			in := p.x >= window[0] && p.x <= window[2] && y >= window[1]-4 && y <= window[3]
			address := strings.HasPrefix(p.s, "Invented Person") && p.size == 12 || strings.HasPrefix(p.s, "12 Invented Street") || strings.HasPrefix(p.s, "Larkfield, 00000")
			if p.page < 3 && in != address {
				t.Errorf("page %d: %q at %.0f, %.0f: in the window %v", p.page, p.s, p.x, y, in)
			}
			if y > height-36 || y < 36 {
				t.Errorf("page %d: %q at %.0f lies at the edge", p.page, p.s, y)
			}
		}
		if last != 3 {
			t.Errorf("%d pages, want one for each of 3 letters", last)
		}
		en, es, clinician := textOf(pages, 1), textOf(pages, 2), textOf(pages, 3)
		for _, want := range []string{"Dear Invented Person,", "7 September 2026", "This is a screening, not a diagnosis.", "Invented Clinic of Larkfield", "Call 911 at once", "Vomiting that does not stop"} {
			if !strings.Contains(en, want) {
				t.Errorf("the letter does not say %q:\n%s", want, en)
			}
		}
		for _, want := range []string{"Hola, Invented Person:", "7 de septiembre de 2026", "no un diagnóstico", "Respiración rápida"} {
			if !strings.Contains(es, want) {
				t.Errorf("the Spanish letter does not say %q:\n%s", want, es)
			}
		}
		if !strings.Contains(clinician, "209 mg/dL, not fasting") || !strings.Contains(clinician, "can neither diagnose nor rule out") {
			t.Errorf("the note says:\n%s", clinician)
		}
		for _, text := range []string{en, es} {
			for _, never := range []string{"mg/dL", "209", "normal", "diabet", "you have ", "fail"} {
				if strings.Contains(strings.ToLower(text), never) {
					t.Errorf("the letter says %q", never)
				}
			}
		}
	}
}

// Long names, long addresses and many words lose nothing: what does not fit in the smallest type goes on overleaf, inside the paper.
func TestFollowUpLetterOfAnything(t *testing.T) {
	p := invitedBack("en")
	p.Name, p.PlaceSays = strings.Repeat("Invented ", 40), strings.Repeat("very far away ", 60)
	p.Address = []string{strings.Repeat("Street", 60)}
	p.Warnings = append(p.Warnings, p.Warnings...)
	for _, size := range []PageSize{Letter, A4} {
		pages := readBack(t, followUpPDF(t, size, p, FollowUpLetter{}))
		_, height := size.points()
		for _, x := range pages {
			if x.y < 36 || x.y > height-36 {
				t.Errorf("page %d: %q at %.0f lies at the edge", x.page, x.s, x.y)
			}
		}
		if got := pages[len(pages)-1].page; got != 3 {
			t.Errorf("%d pages, want two for the long letter and one for the empty one", got)
		}
		if over := textOf(pages, 2); !strings.Contains(over, "Thank you.") || !strings.Contains(over, "page 2 of 2") {
			t.Errorf("the end is lost:\n%s", over)
		}
	}
}

// Each letter begins on a page of its own, is numbered for itself, goes on overleaf only when no type is small enough, and says when nobody has reviewed its text.
func TestLetters(t *testing.T) {
	long := PersonLetter{Lang: "es", Programme: "Invented", To: "Inventada Ana", Heading: "Por favor, llámenos", Draft: "Borrador", Body: Numbered([]string{"Uno.", "Dos."})}
	for range 40 {
		long.Body = append(long.Body, Said("Una frase inventada que llena la página, y otra más que la sigue para que haya dos páginas.")...)
	}
	var b bytes.Buffer
	if err := WriteLetters(&b, []PersonLetter{{Lang: "en", Programme: "Invented", Heading: "Please call us", Body: Said("The team"), Invented: true}, long}, A4); err != nil {
		t.Fatal(err)
	}
	pages := map[int]string{}
	for _, x := range readBack(t, b.Bytes()) {
		pages[x.page] += x.s + "\n"
	}
	for page, want := range map[int]string{1: "page 1 of 1", 2: "página 1 de ", 3: "página 2 de "} {
		if !strings.Contains(pages[page], want) {
			t.Errorf("page %d does not say %q:\n%s", page, want, pages[page])
		}
	}
	if strings.Contains(pages[1], "Borrador") || !strings.Contains(pages[1], "Invented demo data") || !strings.Contains(pages[2], "Borrador") || !strings.Contains(pages[2], "Inventada Ana") {
		t.Errorf("%s\n%s", pages[1], pages[2])
	}
	if err := WriteLetters(&b, nil, Letter); err != nil {
		t.Error(err)
	}
}
