package cards

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/competence/measure"
)

func TestSteps(t *testing.T) {
	steps := Steps()
	if len(steps) != 34 {
		t.Fatalf("%d steps, not 34", len(steps))
	}
	keys := map[string]bool{}
	harm := map[Harm]string{}
	for i, s := range steps {
		if s.Number != i+1 || s.Key == "" || keys[s.Key] || !s.From.Valid() {
			t.Errorf("step %d: number %d, key %q, level %q", i+1, s.Number, s.Key, s.From)
		}
		keys[s.Key] = true
		for _, lang := range []string{"en", "es"} {
			if len(s.Do[lang]) < 20 || len(s.Why[lang]) < 20 || !strings.HasSuffix(s.Do[lang], ".") || !strings.HasSuffix(s.Why[lang], ".") {
				t.Errorf("step %d in %s: %q %q", s.Number, lang, s.Do[lang], s.Why[lang])
			}
			for _, x := range regexp.MustCompile(`[.:!?]\s`).Split(s.Do[lang]+" "+s.Why[lang], -1) {
				if n := len(strings.Fields(x)); n > 25 {
					t.Errorf("step %d in %s has a sentence of %d words: %s", s.Number, lang, n, x)
				}
			}
		}
		if g := measure.Grade(s.Do["en"] + " " + s.Why["en"]); g > 9 {
			t.Errorf("step %d has grade %.1f", s.Number, g)
		}
		harm[s.Harm] += fmt.Sprintf("%d ", s.Number)
		if found, ok := Find(s.Key); !ok || found.Number != s.Number {
			t.Errorf("step %s is not found", s.Key)
		}
	}
	// The critical steps of the merged checklist: eleven for safety, six for validity.
	if harm[Safety] != "1 8 10 14 18 25 26 28 30 31 32 " || harm[Validity] != "4 5 6 12 13 22 " {
		t.Errorf("safety %s, validity %s", harm[Safety], harm[Validity])
	}
	for _, key := range Locked() {
		if s, ok := Find(key); !ok || s.Harm != Safety {
			t.Errorf("the locked step %q: %+v", key, s)
		}
	}
	if _, ok := Find("dance"); ok {
		t.Error("a step that does not exist is found")
	}
}

func TestLevels(t *testing.T) {
	want := map[Level]string{
		Observer: "33", Desk: "9 10 11 12 33", Counsellor: "9 10 11 12 27 28 29 30 33",
	}
	for l, numbers := range want {
		var got []string
		for _, s := range For(l) {
			got = append(got, fmt.Sprint(s.Number))
		}
		if strings.Join(got, " ") != numbers {
			t.Errorf("%s needs %v, want %s", l, got, numbers)
		}
	}
	for _, l := range []Level{Screener, Verifier} {
		if len(For(l)) != 34 {
			t.Errorf("%s needs %d steps", l, len(For(l)))
		}
	}
	if len(For("guru")) != 0 || Level("guru").Covers(Observer) || Observer.Covers("guru") || !Screener.Covers(Desk) || Desk.Covers(Screener) || !Desk.Covers(Desk) {
		t.Error("levels and what they cover")
	}
	for _, l := range Levels {
		if l.Word()["en"] == "" || l.Word()["es"] == "" {
			t.Errorf("%s has no word", l)
		}
	}
}

// What a drawing may hold: shapes with presentation attributes, in black and white, and letters that the caption explains. Nothing that
// a strict policy of a page would refuse, and nothing that loads from elsewhere.
func TestDrawings(t *testing.T) {
	drawings, err := Drawings()
	if err != nil {
		t.Fatal(err)
	}
	elements := []string{"svg", "g", "rect", "path", "circle", "text"}
	attributes := []string{
		"xmlns", "viewBox", "role", "x", "y", "width", "height", "rx", "cx", "cy", "r", "d", "fill", "stroke", "stroke-width", "stroke-dasharray",
		"transform", "font-family", "font-size", "font-weight", "text-anchor",
	}
	used := map[string]bool{}
	for _, s := range Steps() {
		if s.Drawing != "" {
			used[s.Drawing] = true
		}
	}
	for _, d := range drawings {
		if !used[d.Key] {
			t.Errorf("no step shows %s", d.Key)
		}
		delete(used, d.Key)
		letters := map[string]bool{}
		dec := xml.NewDecoder(bytes.NewReader(d.SVG))
		inText := false
		for {
			token, err := dec.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", d.Key, err)
			}
			switch x := token.(type) {
			case xml.StartElement:
				inText = x.Name.Local == "text"
				if !slices.Contains(elements, x.Name.Local) {
					t.Errorf("%s has an element <%s>", d.Key, x.Name.Local)
				}
				for _, a := range x.Attr {
					if !slices.Contains(attributes, a.Name.Local) {
						t.Errorf("%s: <%s> has %s=%q", d.Key, x.Name.Local, a.Name.Local, a.Value)
					}
					if (a.Name.Local == "fill" || a.Name.Local == "stroke") && !slices.Contains([]string{"#000", "#fff", "none"}, a.Value) {
						t.Errorf("%s is not black and white: %s", d.Key, a.Value)
					}
					if a.Name.Local == "viewBox" && a.Value != "0 0 320 240" {
						t.Errorf("%s is drawn in %s", d.Key, a.Value)
					}
				}
			case xml.CharData:
				if s := strings.TrimSpace(string(x)); s != "" {
					if !inText || len(s) != 1 {
						t.Errorf("%s holds the words %q", d.Key, s)
					}
					letters[s] = true
				}
			case xml.EndElement:
				inText = false
			}
		}
		for _, lang := range []string{"en", "es"} {
			for letter := range letters {
				if !regexp.MustCompile(`(^|[^\p{L}])` + letter + `($|[^\p{L}])`).MatchString(d.Caption[lang]) {
					t.Errorf("the %s caption of %s does not explain %s: %s", lang, d.Key, letter, d.Caption[lang])
				}
			}
		}
		if len(letters) == 0 {
			t.Errorf("%s has no letter for its caption", d.Key)
		}
	}
	for key := range used {
		t.Errorf("there is no drawing %s", key)
	}
}
