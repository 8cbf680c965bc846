package ui

import (
	"context"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairstick/internal/fault"

	"github.com/a-h/templ"
)

func render(t *testing.T, c templ.Component) string {
	t.Helper()
	var b strings.Builder
	if err := c.Render(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

var (
	tagPattern  = regexp.MustCompile(`<([a-z][a-z0-9]*)((?:\s+[a-zA-Z:-]+(?:="[^"]*")?)*)\s*/?>`)
	openings    = regexp.MustCompile(`<[a-zA-Z!]`)
	attrPattern = regexp.MustCompile(`([a-zA-Z:-]+)(?:="([^"]*)")?`)
)

type tag struct {
	name  string
	attrs map[string]string
}

func tags(html string) []tag {
	var list []tag
	for _, m := range tagPattern.FindAllStringSubmatch(html, -1) {
		one := tag{m[1], map[string]string{}}
		for _, a := range attrPattern.FindAllStringSubmatch(m[2], -1) {
			one.attrs[a[1]] = a[2]
		}
		list = append(list, one)
	}
	return list
}

// Every page of the gallery keeps the promises that the parts make to people and to the browser's content policy.
func TestGalleryKeepsItsPromises(t *testing.T) {
	for _, s := range samples() {
		t.Run(s.name, func(t *testing.T) {
			html := render(t, s.page)
			all := tags(html)
			if n, m := openings.FindAllString(html, -1), len(all); m < 20 || len(n) != m+1 { // one more: <!DOCTYPE>
				t.Fatalf("%d tags were read of %d", m, len(n)-1)
			}
			ids, labels, seen := map[string]bool{}, map[string]bool{}, map[string]int{}
			for _, g := range all {
				seen[g.name]++
				if id, ok := g.attrs["id"]; ok {
					if id == "" || ids[id] {
						t.Errorf("id %q is empty or used twice", id)
					}
					ids[id] = true
				}
				if g.name == "label" {
					labels[g.attrs["for"]] = true
				}
				for a := range g.attrs {
					if a == "style" || strings.HasPrefix(a, "on") {
						t.Errorf("<%s> has the attribute %s, which the content policy forbids", g.name, a)
					}
				}
			}
			for _, g := range all {
				switch g.name {
				case "input", "select", "textarea":
					if g.attrs["type"] != "hidden" && !labels[g.attrs["id"]] {
						t.Errorf("<%s name=%q id=%q> has no label", g.name, g.attrs["name"], g.attrs["id"])
					}
				case "svg":
					if g.attrs["aria-hidden"] != "true" {
						t.Errorf("a drawing speaks to screen readers: %v", g.attrs)
					}
				case "button":
					if g.attrs["type"] == "" {
						t.Error("a button without a type")
					}
				case "form":
					if g.attrs["method"] == "" || g.attrs["action"] == "" {
						t.Errorf("a form without method or action: %v", g.attrs)
					}
				case "script":
					if g.attrs["src"] == "" {
						t.Error("an inline script")
					}
				}
				for _, a := range []string{"aria-describedby", "aria-labelledby", "aria-controls"} {
					for _, id := range strings.Fields(g.attrs[a]) {
						if !ids[id] {
							t.Errorf("<%s> %s names %q, which is not on the page", g.name, a, id)
						}
					}
				}
			}
			for id := range labels {
				if !ids[id] {
					t.Errorf("a label is for %q, which is not on the page", id)
				}
			}
			for _, once := range []string{"h1", "main", "title"} {
				if seen[once] != 1 {
					t.Errorf("<%s> occurs %d times, want once", once, seen[once])
				}
			}
			if seen["style"] != 0 || strings.Contains(html, "javascript:") {
				t.Error("inline style sheet or script address")
			}
			if regexp.MustCompile(`<a [^>]*>\s*</a>`).MatchString(html) {
				t.Error("a link without words")
			}
			if strings.Contains(html, "@At(") || strings.Contains(html, "%!") {
				t.Error("the source of a template stands on the page")
			}
		})
	}
}

func want(t *testing.T, html string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(html, p) {
			t.Errorf("missing %q in\n%s", p, html)
		}
	}
}

func never(t *testing.T, html string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if strings.Contains(html, p) {
			t.Errorf("%q must not be in\n%s", p, html)
		}
	}
}

func TestShellSaysWhoIsSignedIn(t *testing.T) {
	html := render(t, Shell(Page{Title: "Desk <1>", Programme: "Larch Hill", Who: "Ada & Bo", Role: "desk", HandOver: "/hand-over", Demo: true}))
	want(t, html, `<html lang="en">`, "<title>Desk &lt;1&gt; | Larch Hill</title>", "<b>Ada &amp; Bo</b>", "Invented demo data", `href="/hand-over"`, `href="#main"`, `id="alerts" role="alert"`, `data-who="Ada &amp; Bo"`)
	never(t, html, "Nobody is signed in", "data-live=", `class="nav"`, "Practice")
	html = render(t, Shell(Page{Title: "x", Lang: "es"}))
	want(t, html, `<html lang="es">`, "Nadie ha entrado", "Ir a la página")
	never(t, html, "Invented", "Hand over")
}

func TestAlertsNameWordShapeAndLink(t *testing.T) {
	html := render(t, Alerts("en", []Alert{{Key: "v9", Text: "Ticket 9: HI mg/dL.", Href: "/critical/9"}}))
	want(t, html, "<strong>Critical</strong> Ticket 9: HI mg/dL.", "stop-shape", `href="/critical/9"`, ">Go there</a>", "Still the sound", `data-alert="v9"`)
	if empty := render(t, Alerts("en", nil)); empty != `<div class="alerts" id="alerts" role="alert"></div>` {
		t.Errorf("no alerts: %s, want an empty region for the stream to fill", empty)
	}
}

// The stairs of a mark are read back from its line: the number of steps and their direction are the band.
func TestMarksCountTheirSteps(t *testing.T) {
	steps := map[string]int{"critical-low": -2, "low": -1, "usual": 0, "raised": 1, "high": 2, "critical-high": 3}
	rise := regexp.MustCompile(`v(-?[0-9.]+)|V([0-9.]+)`)
	begin := regexp.MustCompile(`^M[0-9.]+ ([0-9.]+)`)
	if len(Bands()) != len(steps) {
		t.Fatalf("%d bands, want %d", len(Bands()), len(steps))
	}
	for _, band := range Bands() {
		line, plate := MarkPath(band)
		y := number(t, begin.FindStringSubmatch(line)[1])
		got := 0
		for _, m := range rise.FindAllStringSubmatch(line, -1) {
			next := y
			if m[1] != "" {
				next += number(t, m[1])
			} else {
				next = number(t, m[2])
			}
			if next < y {
				got++
			} else {
				got--
			}
			y = next
		}
		if got != steps[band] {
			t.Errorf("%s: the mark has %d steps, want %d", band, got, steps[band])
		}
		if plate != strings.HasPrefix(band, "critical") {
			t.Errorf("%s: plate %v", band, plate)
		}
		html := render(t, BandLabel(band, ""))
		want(t, html, BandWord(band), "band-"+band, line)
		if strings.Index(html, BandWord(band)) > strings.Index(html, "<svg") {
			t.Errorf("%s: the word does not come first", band)
		}
	}
	if html := render(t, Mark("none-such")); html != "" {
		t.Errorf("unknown band drew %q", html)
	}
	want(t, render(t, BandLabel("low", "Más bajo")), "Más bajo")
}

func TestReadingKeepsItsUnit(t *testing.T) {
	want(t, render(t, BigReading("HI", "mg/dL")), `<span class="reading-number">HI</span> <span class="reading-unit">mg/dL</span>`)
}

func TestFieldTiesItsWordsTogether(t *testing.T) {
	html := render(t, Field(Input{Name: "temp", Label: "Room temperature", Help: "In the shade.", Error: "41 is too warm.", Kind: Number, Unit: "°C", Value: "41"}))
	want(t, html, `<label for="f-temp">`, `aria-describedby="f-temp-help f-temp-error f-temp-unit"`, `aria-invalid="true"`, `inputmode="decimal"`, `type="text"`, `value="41"`, ` required`, "41 is too warm.")
	html = render(t, Field(Input{Name: "pin", Label: "PIN", Kind: PIN, Value: "4711", Optional: true}))
	want(t, html, `type="password"`, "data-private", `inputmode="numeric"`, ">optional</span>")
	never(t, html, "4711", " required", "aria-invalid", "aria-describedby")
	html = render(t, Field(Input{Name: "s", Label: "S", Kind: Select, Value: "b", Options: []Option{{Value: "a", Label: "A"}, {Value: "b", Label: "B"}}}))
	want(t, html, `<option value="b" selected>B</option>`, `<option value="a">A</option>`)
}

func TestChoiceAndYesNo(t *testing.T) {
	html := render(t, YesNo(Ask{Name: "known", Legend: "Do you know?", Value: "no", Unsure: "Not known", Error: "Answer this."}))
	want(t, html, `<fieldset`, `aria-describedby="f-known-error"`, `id="f-known-2" name="known" value="no" checked`, `value="unsure"`, "Answer this.")
	if n := strings.Count(html, "checked"); n != 1 {
		t.Errorf("%d answers are chosen, want 1", n)
	}
	never(t, render(t, YesNo(Ask{Name: "k", Legend: "K"})), "unsure", "checked")
}

func TestFormCarriesItsCommandOnce(t *testing.T) {
	html := render(t, Form(Sheet{Action: "/desk", Command: "0198", Draft: "desk-1"}))
	want(t, html, `method="post"`, `name="command" value="0198"`, `data-draft="desk-1"`, "data-form")
	html = render(t, Form(Sheet{Action: "/find", Get: true}))
	want(t, html, `method="get"`)
	never(t, html, "data-form", `name="command"`)
}

func TestRefusalHasThreeParts(t *testing.T) {
	f := fault.New(fault.Refused, "k", "The gate is shut.", "It matters.", "Do this.")
	f.Override = "supervisor"
	html := render(t, with(Refusal(f), MainLink("Open it", "/open")))
	want(t, html, "The gate is shut.", "It matters.", "Do this.", "A supervisor may pass this", `href="/open"`, "stop-shape")
	never(t, html, ">k<")
	if got := render(t, Refusal(nil)) + render(t, ErrorSummary(nil)); got != "" {
		t.Errorf("no fault renders %q", got)
	}
	html = render(t, ErrorSummary(fault.BadField("b", "B is wrong.").Field("a", "A is wrong.")))
	if strings.Index(html, "#f-a") > strings.Index(html, "#f-b") {
		t.Error("the fields are not in order")
	}
	want(t, html, `role="alert"`, ">A is wrong.</a>", ">Go to the answer</a>")
	if got := Message(nil, "a") + Message(f, "a"); got != "" {
		t.Errorf("a fault without fields says %q", got)
	}
}

func TestNumberPadKeys(t *testing.T) {
	html := render(t, NumberPad(Pad{Name: "r", Label: "Reading", Unit: "mmol/L", Decimal: true, Reading: true, Value: "5.3", MaxLen: 4}))
	for _, key := range []string{"0", "1", "9", ".", "LO", "HI", "E", "delete"} {
		want(t, html, `data-key="`+key+`"`)
	}
	want(t, html, `<span class="key-unit">mmol/L</span>`, `value="5.3"`, `maxlength="4"`, "hidden")
	html = render(t, NumberPad(Pad{Name: "pin", Label: "PIN", Secret: true, Value: "1234"}))
	want(t, html, `type="password"`, `inputmode="numeric"`, "data-private", `maxlength="5"`)
	never(t, html, "1234", `data-key="LO"`, `data-key="."`)
}

func TestCountdownIsRightWithoutScripts(t *testing.T) {
	timer := Timer{ID: "w", Text: "Wipe the meter", Done: "Dry.", Start: noon, Now: noon.Add(39500 * time.Millisecond), Seconds: 120}
	want(t, render(t, Countdown(timer)), "Wipe the meter:", "<span data-left>1:21</span> left", "until 10:43:20", `data-seconds="120"`)
	timer.Now = noon.Add(2 * time.Minute)
	html := render(t, Countdown(timer))
	want(t, html, "countdown-done", "Dry.")
	never(t, html, "data-left", "until")
	timer.Now = noon.Add(-time.Second)
	if timer.Left() != 121 {
		t.Errorf("Left before the start = %d, want 121", timer.Left())
	}
}

func TestWordsForTimes(t *testing.T) {
	for seconds, text := range map[int]string{-5: "0:00", 0: "0:00", 9: "0:09", 80: "1:20", 3599: "59:59", 3725: "1:02:05"} {
		if got := Span(seconds); got != text {
			t.Errorf("Span(%d) = %q, want %q", seconds, got, text)
		}
	}
	for n, text := range map[int]string{0: "under 1 min", 1: "1 min", 59: "59 min", 60: "1 h", 65: "1 h 5 min"} {
		if got := MinutesText(n); got != text {
			t.Errorf("MinutesText(%d) = %q, want %q", n, got, text)
		}
	}
	if got := WholeMinutes(noon, noon.Add(119*time.Second)); got != 1 {
		t.Errorf("WholeMinutes = %d, want 1", got)
	}
	if got := WholeMinutes(noon, noon.Add(-time.Hour)); got != 0 {
		t.Errorf("WholeMinutes backwards = %d, want 0", got)
	}
	want(t, render(t, Since(noon, noon.Add(12*time.Minute))), `<time datetime="2026-10-17T10:41:20Z">10:41</time>`, "since ", " (12 min)")
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	n, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}
