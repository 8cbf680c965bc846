package fact

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

type said struct{ Word string }

func (said) FactKind() string { return "test.said" }

type heard struct{ words []string }

func (h *heard) Apply(r Record) {
	if b, ok := r.Body.(said); ok {
		h.words = append(h.words, b.Word)
	}
}

func rec(id, recorded, word string) Record {
	return Record{Meta: Meta{ID: id, Node: "n", Recorded: recorded}, Body: said{word}}
}

func correction(id, recorded, of string, body Body) Record {
	return Record{Meta: Meta{ID: id, Node: "n", Recorded: recorded, Corrects: of, Reason: "typed wrongly"}, Body: body}
}

func TestCorrectionsTakeThePlaceOfWhatTheyCorrect(t *testing.T) {
	a, b, c := rec("a", "1", "one"), rec("b", "2", "two"), rec("c", "3", "three")
	for _, x := range []struct {
		name string
		with []Record
		want string
	}{
		{"none", nil, "one two three"},
		{"replaced in its place", []Record{correction("d", "4", "a", said{"uno"})}, "uno two three"},
		{"the latest correction holds", []Record{correction("d", "4", "a", said{"uno"}), correction("e", "5", "a", said{"eins"})}, "eins two three"},
		{"a correction is corrected", []Record{correction("d", "4", "a", said{"uno"}), correction("e", "5", "d", said{"eins"})}, "eins two three"},
		{"struck", []Record{correction("d", "4", "b", Struck{})}, "one three"},
		{"struck and put back", []Record{correction("d", "4", "b", Struck{}), correction("e", "5", "b", said{"zwei"})}, "one zwei three"},
		{"of an unknown fact", []Record{correction("d", "4", "zz", said{"what"})}, "one two three"},
	} {
		got := Fold(&heard{}, append([]Record{a, b, c}, x.with...))
		if s := strings.Join(got.words, " "); s != x.want {
			t.Errorf("%s: %q, want %q", x.name, s, x.want)
		}
	}
}

// Whatever the order of arrival, the fold is the same.
func TestFoldDoesNotDependOnArrival(t *testing.T) {
	all := []Record{rec("a", "1", "one"), rec("b", "2", "two"), rec("c", "2", "three"), correction("d", "4", "a", said{"uno"}), correction("e", "5", "d", said{"eins"}), correction("f", "6", "b", Struck{})}
	all[2].Node = "o" // the same clock on another laptop: the node decides
	rapid.Check(t, func(t *rapid.T) {
		mixed := rapid.Permutation(all).Draw(t, "arrival")
		if got := strings.Join(Fold(&heard{}, mixed).words, " "); got != "eins three" {
			t.Fatalf("folded to %q", got)
		}
	})
}

func TestCatalogueDecodes(t *testing.T) {
	c := NewCatalogue()
	c.Subject("talk", func(string) State { return &heard{} }, said{})
	b, err := c.Decode("test.said", []byte(`{"Word":"hello","Newer":1}`))
	if err != nil || b != (said{"hello"}) {
		t.Errorf("decoded %v, %v", b, err)
	}
	for _, bad := range [][2]string{{"test.unknown", `{}`}, {"test.said", `{`}, {"test.said", `{"Word":3}`}} {
		if _, err := c.Decode(bad[0], []byte(bad[1])); err == nil {
			t.Errorf("%s %s was accepted", bad[0], bad[1])
		}
	}
	if _, ok := c.Fresh(Ref{Kind: "walk"}); ok {
		t.Error("an unknown subject was made")
	}
	defer func() {
		if recover() == nil {
			t.Error("a kind was registered twice")
		}
	}()
	c.Subject("talk", func(string) State { return &heard{} })
}
