package exchange

import (
	"bytes"
	"maps"
	"strings"
	"testing"

	"fairstick/internal/protocol"
	"fairstick/internal/wording"
)

func TestWordsRoundTrip(t *testing.T) {
	sources := wording.Spoken(protocol.Default())
	for _, l := range wording.Languages() {
		var b bytes.Buffer
		if err := WriteWords(&b, l, sources); err != nil {
			t.Fatal(err)
		}
		got, err := ReadWords(bytes.NewReader(b.Bytes()), sources)
		if err != nil {
			t.Fatalf("%s: %v", l.Code, err)
		}
		want := map[string]string{}
		for _, en := range sources {
			want[en] = l.Entries[en]
		}
		if !maps.Equal(got, want) {
			t.Errorf("%s comes back otherwise", l.Code)
		}
	}
}

func TestReadWordsRefuses(t *testing.T) {
	sources := []string{"Yes", "by %s"}
	for name, x := range map[string]struct{ in, says string }{
		"nothing":               {"", "The file is empty."},
		"another table":         {"name,roles\nA,desk\n", "Line 1, column 1: the first row must name two columns"},
		"an unknown sentence":   {"english,translation\nMaybe,Peut-être\n", "Line 2, column 1: this English sentence is not said anywhere"},
		"a lost place":          {"english,translation\nYes,Oui\nby %s,avant\n", "Line 3, column 2: this translation cannot be used: it must keep %s."},
		"two translations":      {"english,translation\nYes,Oui\nYes,Si\n", "Line 3, column 2: this sentence has two different translations."},
		"one cell":              {"english,translation\nYes\n", "Line 2, column 1: this row has 1 cells, not 2."},
		"no translation at all": {"english,translation\nYes,\n", "There is no translation in this file."},
		"a huge file":           {"english,translation\nYes," + strings.Repeat("x", MaxBytes) + "\n", "The file is larger than 1024 kB."},
		"another encoding":      {"english,translation\nYes,\xe9\n", "this letter is not UTF-8"},
	} {
		got, err := ReadWords(strings.NewReader(x.in), sources)
		if err == nil || !strings.Contains(err.Error(), x.says) || got != nil {
			t.Errorf("%s: %v, %v; want %q", name, got, err, x.says)
		}
	}
	got, err := ReadWords(strings.NewReader("\ufeffEnglish;Translation\r\nYes;\" Oui \"\r\nby %s;\r\n"), sources)
	if err != nil || len(got) != 1 || got["Yes"] != "Oui" {
		t.Errorf("a file with a mark, semicolons and quotes gives %v, %v", got, err)
	}
}

// Whatever is loaded, what comes out can be said: it is asked for and keeps its places to fill in.
func FuzzReadWords(f *testing.F) {
	for _, s := range []string{"english,translation\nYes,Oui\n", "english;translation\n\"by %s\";\"avant %s\"", "\ufeffenglish\ttranslation\rYes\tOui"} {
		f.Add(s)
	}
	sources := []string{"Yes", "by %s"}
	f.Fuzz(func(t *testing.T, in string) {
		got, err := ReadWords(strings.NewReader(in), sources)
		if err != nil {
			return
		}
		for en, s := range got {
			if en != sources[0] && en != sources[1] || wording.Check(en, s) != "" {
				t.Errorf("%q says %q", en, s)
			}
		}
	})
}
