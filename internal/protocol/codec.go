package protocol

import (
	"bytes"
	_ "embed" // the default protocol
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"

	"fairstick/internal/fault"
)

//go:embed default.json
var defaultJSON []byte

// Default gives a fresh copy of the protocol that Fairstick ships with. It binds nobody until two people sign it.
func Default() Protocol {
	p, err := Parse(defaultJSON)
	if err != nil {
		panic("the embedded protocol is broken: " + err.Error())
	}
	return p
}

// maxBytes bounds a protocol document; the default has about a twentieth of it.
const maxBytes = 1 << 20

// Parse reads a protocol document and validates it. It is strict: unknown names, names given twice and anything after the document
// are refused. The error is a *fault.Fault with key "protocol-unreadable", which says where, or "protocol-invalid".
func Parse(data []byte) (Protocol, error) {
	if len(data) > maxBytes {
		return Protocol{}, unreadable(fmt.Sprintf("It has %d bytes; %d is the most.", len(data), maxBytes))
	}
	if err := onlyOnce(data); err != nil {
		return Protocol{}, unreadable(err.Error())
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var p Protocol
	if err := dec.Decode(&p); err != nil {
		return Protocol{}, unreadable(explain(data, err)).Because(err)
	}
	if err := p.Validate(); err != nil {
		return Protocol{}, err
	}
	return p, nil
}

// Encode writes the document in its one canonical form: names in the order of the struct, maps sorted, two spaces, a newline at the end.
// Equal protocols give equal bytes.
func (p Protocol) Encode() []byte {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(p); err != nil {
		panic("a protocol cannot be written: " + err.Error()) // plain data always can
	}
	return b.Bytes()
}

func unreadable(where string) *fault.Fault {
	return fault.New(fault.Invalid, "protocol-unreadable", "The protocol cannot be read. "+where,
		"A rule that is misread could harm someone, so nothing of it is used.", "Correct the document, or start again from the default.")
}

// misread is a whole sentence about what is wrong with a document.
type misread string

func (m misread) Error() string { return string(m) }

// onlyOnce walks the document and refuses a name that stands twice in one object, in any case of letters, and whatever follows the document.
func onlyOnce(data []byte) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	if err := walk(dec, ""); err != nil {
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return misread(explain(data, err))
		}
		return err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return misread(fmt.Sprintf("More text follows the document at %s.", position(data, dec.InputOffset())))
	}
	return nil
}

func walk(dec *json.Decoder, path string) error {
	t, err := dec.Token()
	if err != nil {
		return err
	}
	d, ok := t.(json.Delim)
	if !ok {
		return nil
	}
	seen := map[string]bool{}
	for i := 0; dec.More(); i++ {
		at := fmt.Sprintf("%s[%d]", path, i)
		if d == '{' {
			k, err := dec.Token()
			if err != nil {
				return err
			}
			name, _ := k.(string)
			at = strings.TrimPrefix(path+"."+name, ".")
			folded := strings.ToLower(name)
			if seen[folded] {
				return misread(at + " stands there twice.")
			}
			seen[folded] = true
		}
		if err := walk(dec, at); err != nil {
			return err
		}
	}
	_, err = dec.Token()
	return err
}

var unknownField = regexp.MustCompile(`unknown field "(.*)"`)

// explain says in a sentence where a document breaks.
func explain(data []byte, err error) string {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	var f *fault.Fault
	switch {
	case errors.As(err, &syntax):
		return fmt.Sprintf("It is not JSON at %s.", position(data, syntax.Offset))
	case errors.As(err, &kind):
		return fmt.Sprintf("%s at %s has the wrong sort of content: %s.", kind.Field, position(data, kind.Offset), kind.Value)
	case errors.As(err, &f):
		return f.Sentence
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Sprintf("It ends too early, at %s.", position(data, int64(len(data))))
	}
	if m := unknownField.FindStringSubmatch(err.Error()); m != nil {
		name := regexp.MustCompile(regexp.QuoteMeta(`"`+m[1]+`"`) + `\s*:`)
		if at := name.FindAllIndex(data, -1); len(at) == 1 {
			return fmt.Sprintf("%q at %s is not a name that a protocol knows.", m[1], position(data, int64(at[0][0]+1)))
		}
		return fmt.Sprintf("%q is not a name that a protocol knows there.", m[1])
	}
	return err.Error() + "."
}

// position turns an offset into "line 3, column 7".
func position(data []byte, offset int64) string {
	if offset > int64(len(data)) {
		offset = int64(len(data))
	}
	before := data[:offset]
	column := len(bytes.Runes(before[bytes.LastIndexByte(before, '\n')+1:]))
	if column == 0 {
		column = 1
	}
	return fmt.Sprintf("line %d, column %d", bytes.Count(before, []byte("\n"))+1, column)
}
