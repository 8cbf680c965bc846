// Package wording holds what is said to participants in languages beyond English and Spanish. A language is a catalogue from the
// English sentence to its translation: when somebody edits the English, the translation is no longer found, so that an old sentence
// is never said for a new one. The drafts that ship were made by a machine and say so until a person has read and signed them; a
// programme puts its own sentences over them.
package wording

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"sync"

	"fairstick/internal/protocol"
)

//go:embed drafts/*.json
var drafts embed.FS

// Language is one language with the draft that ships for it.
type Language struct {
	Code    string            `json:"code"`   // BCP 47, for example "fr"
	Name    string            `json:"name"`   // in English
	Native  string            `json:"native"` // as its speakers call it
	RTL     bool              `json:"rtl"`    // written from the right
	Clock24 bool              `json:"clock24"`
	Date    string            `json:"date"` // {day}, {month}, {year}
	Months  [12]string        `json:"months"`
	Half    [2]string         `json:"half"` // before and after noon; of use without Clock24
	Entries map[string]string `json:"entries"`
}

var load = sync.OnceValue(func() []Language {
	files, err := drafts.ReadDir("drafts")
	if err != nil {
		panic(err) // embedded: cannot be
	}
	var out []Language
	for _, f := range files {
		raw, err := drafts.ReadFile("drafts/" + f.Name())
		if err == nil {
			var l Language
			if err = json.Unmarshal(raw, &l); err == nil {
				out = append(out, l)
			}
		}
		if err != nil {
			panic(err)
		}
	}
	return out
})

// Languages lists the languages with a draft, by code. The maps in it are shared: they are read, never written.
func Languages() []Language { return load() }

// Find gives a language by its code; ok is false for one without a draft.
func Find(code string) (Language, bool) {
	for _, l := range load() {
		if l.Code == code {
			return l, true
		}
	}
	return Language{}, false
}

// Own is a copy of the language with a programme's own sentences over the draft.
func (l Language) Own(entries map[string]string) Language {
	if len(entries) == 0 {
		return l
	}
	l.Entries = maps.Clone(l.Entries)
	maps.Copy(l.Entries, entries)
	return l
}

// Say translates an English sentence; ok is false when the catalogue lacks it.
func (l Language) Say(en string) (s string, ok bool) {
	s = l.Entries[en]
	return s, s != ""
}

// Lacks lists the English sentences without a translation, each once, in the order given.
func (l Language) Lacks(sources []string) []string {
	var out []string
	for _, en := range sources {
		if _, ok := l.Say(en); !ok && !slices.Contains(out, en) {
			out = append(out, en)
		}
	}
	return out
}

// Digest names what the language says for some English sentences: SHA-256, in hex, over each sentence and its translation in the order
// of the alphabet, with the ways of writing dates. It changes when either side changes, and then nobody has reviewed it.
func (l Language) Digest(sources []string) string {
	h := sha256.New()
	for _, en := range slices.Compact(slices.Sorted(slices.Values(sources))) {
		fmt.Fprintf(h, "%q\t%q\n", en, l.Entries[en])
	}
	fmt.Fprintf(h, "%q %q %q %v\n", l.Date, l.Months, l.Half, l.Clock24)
	return hex.EncodeToString(h.Sum(nil))
}

var textType = reflect.TypeFor[protocol.Text]()

// Fill gives a copy of a value in which every text that has English also has the language. Where the catalogue lacks a sentence the text
// stays as it is. What is handed in is not changed.
func Fill[T any](l Language, v T) T {
	out := deep(reflect.ValueOf(&v).Elem(), func(t protocol.Text) protocol.Text {
		s, ok := l.Say(t["en"])
		if !ok {
			return t
		}
		t = maps.Clone(t)
		t[l.Code] = s
		return t
	})
	return out.Interface().(T)
}

// deep copies a value and hands every text in it to a function.
func deep(v reflect.Value, text func(protocol.Text) protocol.Text) reflect.Value {
	if v.Type() == textType {
		if v.IsNil() {
			return v
		}
		return reflect.ValueOf(text(v.Interface().(protocol.Text)))
	}
	switch v.Kind() {
	case reflect.Struct:
		out := reflect.New(v.Type()).Elem()
		out.Set(v)
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out.Field(i).Set(deep(v.Field(i), text))
			}
		}
		return out
	case reflect.Slice:
		if v.IsNil() {
			return v
		}
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			out.Index(i).Set(deep(v.Index(i), text))
		}
		return out
	case reflect.Map:
		if v.IsNil() {
			return v
		}
		out := reflect.MakeMapWithSize(v.Type(), v.Len())
		for k, x := range v.Seq2() {
			out.SetMapIndex(k, deep(x, text))
		}
		return out
	case reflect.Pointer:
		if v.IsNil() {
			return v
		}
		out := reflect.New(v.Type().Elem())
		out.Elem().Set(deep(v.Elem(), text))
		return out
	}
	return v
}

// Words gives a copy of a struct of fixed words in the language: every exported string field that the catalogue has.
func Words[T any](l Language, english T) T {
	v := reflect.ValueOf(&english).Elem()
	for i := range v.NumField() {
		if f := v.Field(i); f.Kind() == reflect.String && f.CanSet() {
			if s, ok := l.Say(f.String()); ok {
				f.SetString(s)
			}
		}
	}
	return english
}

// Sources lists the exported, not empty string fields of a struct of fixed words, without those named Lang and Date.
func Sources(english any) []string {
	var out []string
	v := reflect.ValueOf(english)
	for i := range v.NumField() {
		if f := v.Type().Field(i); f.Type.Kind() == reflect.String && f.IsExported() && f.Name != "Lang" && f.Name != "Date" && v.Field(i).String() != "" {
			out = append(out, v.Field(i).String())
		}
	}
	return out
}

// Pairs puts the fields of two structs of fixed words, in English and in Spanish, beside each other. Those without English are left out.
func Pairs[T any](english, spanish T) []protocol.Text {
	var out []protocol.Text
	en, es := reflect.ValueOf(english), reflect.ValueOf(spanish)
	for i := range en.NumField() {
		if f := en.Type().Field(i); f.Type.Kind() == reflect.String && f.IsExported() && f.Name != "Lang" && f.Name != "Date" && en.Field(i).String() != "" {
			out = append(out, protocol.Text{"en": en.Field(i).String(), "es": es.Field(i).String()})
		}
	}
	return out
}

// Spoken lists the English of everything in a protocol that is read by a participant or to one. Each sentence comes once.
func Spoken(p protocol.Protocol) []string {
	texts := SpokenTexts(p)
	out := make([]string, len(texts))
	for i, t := range texts {
		out[i] = t["en"]
	}
	return out
}

// SpokenTexts lists everything in a protocol that is read by a participant or to one: consent, questions, what is said to those who are not
// tested, the meaning of every reading, warnings and what misleads. Each English sentence comes once.
func SpokenTexts(p protocol.Protocol) []protocol.Text {
	var out []protocol.Text
	seen := map[string]bool{}
	add := func(texts ...protocol.Text) {
		for _, t := range texts {
			if en := t["en"]; en != "" && !seen[en] {
				seen[en] = true
				out = append(out, t)
			}
		}
	}
	message := func(m protocol.Message) {
		add(m.Word)
		for _, b := range protocol.Bases {
			add(m.Sentence[b])
		}
		add(m.Advice...)
		add(m.When, m.Where)
	}
	add(p.Consent.Text)
	for _, q := range p.Questions {
		add(q.Text, q.Help)
		if !q.Route.IsZero() { // else the sentence is for the staff
			add(q.Sentence, q.Route)
		}
	}
	for _, b := range protocol.Bands {
		message(p.Messages[b])
	}
	for _, kind := range slices.Sorted(maps.Keys(p.OffScale)) {
		message(p.OffScale[kind].Message)
	}
	message(p.Unwell)
	for _, s := range p.CrisisSigns {
		add(s.Text)
	}
	add(p.Warnings...)
	add(p.Disclaimer)
	add(p.CanMislead...)
	return out
}

// holes gives the places of a sentence that are filled in: {number}, %s.
func holes(s string) []string {
	var out []string
	for rest := s; ; {
		from := strings.IndexByte(rest, '{')
		to := strings.IndexByte(rest, '}')
		if from < 0 || to < from {
			break
		}
		out = append(out, rest[from:to+1])
		rest = rest[to+1:]
	}
	for range strings.Count(s, "%s") {
		out = append(out, "%s")
	}
	slices.Sort(out)
	return out
}

// Check says what is wrong with a translation of a sentence, or "": it is empty, far too long, holds a control character, or its places to
// fill in differ from those of the English.
func Check(en, s string) string {
	const most = 2000
	switch {
	case strings.TrimSpace(s) == "":
		return "it is empty"
	case len(s) > most:
		return fmt.Sprintf("it is longer than %d bytes", most)
	case strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\ufffd' }):
		return "it holds a line break or a sign that cannot be printed"
	case !slices.Equal(holes(en), holes(s)):
		want := strings.Join(holes(en), " ")
		if want == "" {
			return "it has a place to fill in where the English has none"
		}
		return "it must keep " + want
	}
	return ""
}
