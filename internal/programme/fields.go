package programme

import (
	"fmt"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"fairstick/internal/fault"
)

// fields collects what is wrong with a form, field by field, so that everything is said at once.
type fields struct {
	bad map[string]string
}

func (f *fields) say(name, format string, args ...any) {
	if f.bad == nil {
		f.bad = map[string]string{}
	}
	if _, taken := f.bad[name]; !taken {
		f.bad[name] = fmt.Sprintf(format, args...)
	}
}

// text trims a line of text and checks that it is there and not absurd.
func (f *fields) text(name, label, value string, required bool, most int) string {
	v := tidy(value)
	switch {
	case v == "" && required:
		f.say(name, "%s is missing.", label)
	case utf8.RuneCountInString(v) > most:
		f.say(name, "%s is longer than %d characters. Shorten it.", label, most)
	}
	return v
}

func (f *fields) between(name, label string, v, low, high int) {
	if v < low || v > high {
		f.say(name, "%s must be from %d to %d; %d was given.", label, low, high, v)
	}
}

func (f *fields) oneOf(name, label, v string, allowed ...string) {
	for _, a := range allowed {
		if v == a {
			return
		}
	}
	if v == "" {
		f.say(name, "%s was not chosen.", label)
		return
	}
	f.say(name, "%s cannot be %q. Choose one of: %s.", label, v, strings.Join(allowed, ", "))
}

// err gives one fault that names every bad field, or nil.
func (f *fields) err() error {
	if len(f.bad) == 0 {
		return nil
	}
	names := make([]string, 0, len(f.bad))
	for n := range f.bad {
		names = append(names, n)
	}
	sort.Strings(names)
	sentence := f.bad[names[0]]
	if len(names) > 1 {
		sentence = fmt.Sprintf("%d fields need another look: %s", len(names), sentence)
	}
	return &fault.Fault{Kind: fault.Invalid, Key: "fields", Sentence: sentence, Do: "Correct it and send the form again; nothing was recorded.", Fields: f.bad}
}

// tidy trims text, folds runs of spaces and drops control characters.
func tidy(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || r == '\r' {
			return ' '
		}
		if unicode.IsControl(r) || r == utf8.RuneError {
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

func tidyAll(list []string) []string {
	var out []string
	for _, s := range list {
		if t := tidy(s); t != "" {
			out = append(out, t)
		}
	}
	return out
}
