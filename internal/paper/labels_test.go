package paper

import (
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
)

// forbidden are words that a participant never reads from us, in both languages.
var forbidden = regexp.MustCompile(`(?i)\bnormal|diab[eé]tic|\byou have\b|\bfail|\b(usted )?tiene\b|\bpadece|\bfall[aoó]|\breprob`)

func TestLabelsAreWholeAndKind(t *testing.T) {
	for _, l := range []SlipLabels{Labels("en"), Labels("es")} {
		v := reflect.ValueOf(l)
		for i := range v.NumField() {
			if v.Field(i).Kind() != reflect.String {
				continue
			}
			name, text := v.Type().Field(i).Name, v.Field(i).String()
			if text == "" {
				t.Errorf("%s: %s is empty", l.Lang, name)
			}
			if m := forbidden.FindString(text); m != "" {
				t.Errorf("%s: %s says %q", l.Lang, name, m)
			}
			if name != "Lang" && name != "Ticket" && text == reflect.ValueOf(english).Field(i).String() && l.Lang == "es" {
				t.Errorf("%s is not translated: %q", name, text)
			}
			for sentence := range strings.SplitSeq(text, ". ") {
				if len(strings.Fields(sentence)) >= 15 {
					t.Errorf("%s: %s has 15 words or more in a sentence: %q", l.Lang, name, sentence)
				}
			}
		}
	}
	if !forbidden.MatchString("Usted tiene") || !forbidden.MatchString("You have") || !forbidden.MatchString("Abnormal or normal") {
		t.Error("the check finds nothing")
	}
}

func TestLabelsLanguage(t *testing.T) {
	for lang, want := range map[string]string{"en": "en", "es": "es", "es-MX": "es", "ES": "es", "": "en", "vi": "en", "est": "en"} {
		if got := Labels(lang).Lang; got != want {
			t.Errorf("%q gives %q, want %q", lang, got, want)
		}
	}
}

func TestDatesAndTimesAreWallClock(t *testing.T) {
	en, es := Labels("en"), Labels("es")
	d := civil.MustParse("2026-01-05")
	at := func(h, m int) time.Time { return time.Date(2026, 1, 5, h, m, 0, 0, time.UTC) }
	for _, c := range []struct{ got, want string }{
		{en.DateText(d), "5 January 2026"},
		{es.DateText(d), "5 de enero de 2026"},
		{es.DateText(civil.MustParse("2026-12-31")), "31 de diciembre de 2026"},
		{en.DateText(civil.Date{}), ""},
		{en.DateText(civil.Date{Year: 2026, Month: 13, Day: 1}), ""},
		{en.TimeText(at(0, 5)), "12:05\u00a0am"},
		{en.TimeText(at(12, 0)), "12:00\u00a0pm"},
		{en.TimeText(at(23, 59)), "11:59\u00a0pm"},
		{es.TimeText(at(9, 42)), "9:42\u00a0a.\u00a0m."},
		{es.TimeText(at(13, 7)), "1:07\u00a0p.\u00a0m."},
		{en.TimeText(time.Time{}), ""},
		{es.MomentText(at(13, 7)), "5 de enero de 2026, 1:07\u00a0p.\u00a0m."},
		{en.MomentText(time.Time{}), ""},
		{en.WarningFor("911"), "Warning signs: call 911"},
		{es.WarningFor(" "), "Señales de alarma: pida ayuda de emergencia"},
		{es.PageOf(2, 3), "página 2 de 3"},
		{en.ContinuesOn(2), "Continues: page 2"},
		{en.SlipNumber(4), "slip 4"},
		{en.OutOfRange("lo"), en.Low},
		{en.OutOfRange(" HI "), en.High},
		{en.OutOfRange("95"), ""},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}
