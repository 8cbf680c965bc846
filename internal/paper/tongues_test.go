package paper

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
	"fairstick/internal/wording"
)

// Shapes as the code charts of the Unicode Standard give them for the block Arabic Presentation Forms-B.
func TestShape(t *testing.T) {
	for word, want := range map[string]string{
		"سلام":     "\ufeb3\ufefc\ufee1",             // seen at the start, lam with alef at the end, meem alone after it
		"لا":       "\ufefb",                         // lam with alef, alone
		"دار":      "\ufea9\ufe8d\ufead",             // three letters that never join the next
		"بيت":      "\ufe91\ufef4\ufe96",             // start, inside, end
		"قراءة":    "\ufed7\ufeae\ufe8d\ufe80\ufe93", // hamza joins nobody
		"95 mg/dL": "95 mg/dL",
	} {
		if got := shape(word); got != want {
			t.Errorf("%s has the shapes %+q, want %+q", word, got, want)
		}
	}
}

func TestSight(t *testing.T) {
	for _, x := range []struct {
		name, in, want string
		rtl            bool
	}{
		{"from the left, nothing to do", "See (a clinic), 95 mg/dL.", "See (a clinic), 95 mg/dL.", false},
		{"letters from the right", "ابت", "تبا", true},
		{"a number keeps its order and its unit", "ا 95 mg/dL ب", "ب 95 mg/dL ا", true},
		{"a name in brackets", "ا (St. Ansgar) ب", "ب (St. Ansgar) ا", true},
		{"a bracket inside a name", "ا: R. O. (V12)", "R. O. (V12) :ا", true},
		{"a telephone at the end", "ا: 555-0142", "555-0142 :ا", true},
		{"a share", "ا 5 % ب", "ب 5 % ا", true},
		{"a name from the right on an English page", "Dear ابت, hello", "Dear تبا, hello", false},
		{"two words from the right on an English page", "(ابت جح)", "(حج تبا)", false},
	} {
		if got := sight(x.in, x.rtl); got != x.want {
			t.Errorf("%s: %q is seen as %q, want %q", x.name, x.in, got, x.want)
		}
	}
}

// translatedSlip is the invented slip of a band in a language of the catalogue.
func translatedSlip(l wording.Language, m protocol.Message, p protocol.Protocol, band protocol.Band, reading string) Slip {
	say := func(t protocol.Text) string { return wording.Fill(l, t).In(l.Code) }
	words := LabelsIn(l)
	s := usualSlip()
	s.Lang, s.Words, s.Unreviewed = l.Code, &words, true
	s.Reading, s.OtherUnit, s.Band, s.BandWord, s.Sentence = reading, "", string(band), say(m.Word), say(m.Sentence[protocol.Random])
	s.Advice, s.Warnings, s.CanMislead = nil, nil, nil
	for _, a := range m.Advice {
		s.Advice = append(s.Advice, say(a))
	}
	for _, a := range p.Warnings {
		s.Warnings = append(s.Warnings, say(a))
	}
	for _, a := range p.CanMislead {
		s.CanMislead = append(s.CanMislead, say(a))
	}
	s.When, s.Where, s.Disclaimer = say(m.When), say(m.Where), say(p.Disclaimer)
	s.LastAte, s.BasisWord = words.TimeText(fairDay), say(protocol.Text{"en": "not fasting"})
	s.Washed, s.CallPermission = say(protocol.Text{"en": "yes, with soap and water"}), say(protocol.Text{"en": "Yes"})
	return s
}

// Every language that ships has all the letters that it needs in the embedded fonts, in both weights, and sets a slip of every band on at
// most two pages. With FAIRSTICK_SHOW set to a folder the slips are kept there to be looked at.
func TestEveryTongueCanBePrinted(t *testing.T) {
	fonts, err := loadFonts()
	if err != nil {
		t.Fatal(err)
	}
	p := protocol.Default()
	for _, l := range wording.Languages() {
		for en, s := range l.Entries {
			if out, boxes := fonts.clean(s); boxes && !strings.Contains(s, string(missing)) {
				t.Errorf("%s: a letter of %q cannot be printed: %q", l.Code, en, out)
			}
		}
		for _, month := range l.Months {
			if _, boxes := fonts.clean(month); boxes {
				t.Errorf("%s: the month %q cannot be printed", l.Code, month)
			}
		}
		readings := map[protocol.Band]string{
			protocol.CriticalLow: "48", protocol.Low: "66", protocol.Usual: "95", protocol.Raised: "158", protocol.High: "238", protocol.CriticalHigh: "412",
		}
		slips := map[string]Slip{}
		for b, m := range p.Messages {
			slips[string(b)] = translatedSlip(l, m, p, b, readings[b])
		}
		hi := translatedSlip(l, p.OffScale[glucose.High].Message, p, protocol.CriticalHigh, "HI")
		hi.Unit = ""
		slips["HI"] = hi
		for name, s := range slips {
			var b bytes.Buffer
			if err := WriteSlip(&b, s, HalfLetter); err != nil {
				t.Errorf("%s, %s: %v", l.Code, name, err)
				continue
			}
			if n := bytes.Count(b.Bytes(), []byte("/Type /Page\n")); n < 1 || n > 2 {
				t.Errorf("%s, %s takes %d pages", l.Code, name, n)
			}
			if dir := os.Getenv("FAIRSTICK_SHOW"); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, l.Code+"-"+name+".pdf"), b.Bytes(), 0o600); err != nil {
					t.Error(err)
				}
			}
		}
	}
}

// Every fixed word of a slip has a translation in every language that ships.
func TestEveryTongueHasTheFixedWords(t *testing.T) {
	for _, l := range wording.Languages() {
		words := LabelsIn(l)
		v, en := reflect.ValueOf(words), reflect.ValueOf(english)
		for i := range v.NumField() {
			name := v.Type().Field(i).Name
			if v.Field(i).Kind() != reflect.String || name == "Date" || name == "Ticket" && l.Code == "fr" {
				continue
			}
			if v.Field(i).String() == en.Field(i).String() {
				t.Errorf("%s: %s is not translated: %q", l.Code, name, v.Field(i))
			}
		}
		if got := words.SlipNumber(2); !strings.Contains(got, "2") || strings.Contains(got, "{") {
			t.Errorf("%s: the second slip is called %q", l.Code, got)
		}
	}
}

// The letter to a person who could not be reached comes in every language that ships, on one page, and says nothing of a reading.
func TestEveryTongueHasTheLetter(t *testing.T) {
	p := protocol.Default()
	for _, l := range wording.Languages() {
		if lacks := l.Lacks(LetterSources()); len(lacks) > 0 {
			t.Errorf("%s lacks %q", l.Code, lacks)
		}
		d := FollowUpLetter{
			Lang: l.Code, Tongue: &l, Unreviewed: true, Programme: "Larkfield Community Screening", Contact: "555 0142", Hours: "Mon to Fri, 9 to 4", Name: "Marigold Testperson",
			Address: []string{"1 Invented Lane", "Larkfield"}, Day: civil.MustParse("2026-09-20"), Screened: civil.MustParse("2026-08-31"), By: civil.MustParse("2026-09-07"),
			Place: "Invented Clinic", PlaceSays: "555 0111, 3 Millrace Walk", Emergency: "911", RecordID: "01990c1e", Printed: fairDay, Invented: true,
		}
		for _, w := range p.Warnings {
			d.Warnings = append(d.Warnings, wording.Fill(l, w).In(l.Code))
		}
		letter := d.Letter()
		if letter.Words == nil || letter.Words.Lang != l.Code || letter.Draft == "" || letter.Draft == english.NotReviewed {
			t.Errorf("%s: fixed words %v, draft %q", l.Code, letter.Words != nil, letter.Draft)
		}
		for _, line := range letter.Body {
			if strings.ContainsAny(line.Text, "{}") {
				t.Errorf("%s: a place stayed empty in %q", l.Code, line.Text)
			}
		}
		var b bytes.Buffer
		if err := WriteLetters(&b, []PersonLetter{letter}, Letter); err != nil {
			t.Fatal(err)
		}
		checkInside(t, b.Bytes(), 40)
		if n := pageCount(readBack(t, b.Bytes())); n != 1 {
			t.Errorf("%s: the letter takes %d pages", l.Code, n)
		}
		for _, x := range readBack(t, b.Bytes()) {
			if x.s == d.Name && (x.x < 0.9*72 || x.x > 1.1*72) {
				t.Errorf("%s: the name stands %.0f points from the left, not in the window", l.Code, x.x)
			}
		}
		if dir := os.Getenv("FAIRSTICK_SHOW"); dir != "" {
			if err := os.WriteFile(filepath.Join(dir, "letter-"+l.Code+".pdf"), b.Bytes(), 0o600); err != nil {
				t.Error(err)
			}
		}
	}
}
