package exchange

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"fairstick/internal/wording"
)

// wordsHead are the columns of what is said in a language.
var wordsHead = []string{"english", "translation"}

// WriteWords writes what a language says for some English sentences as CSV, one a row, in UTF-8 with a byte order mark, so that spreadsheets
// read it as it is.
func WriteWords(w io.Writer, l wording.Language, sources []string) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	rows := make([][]string, len(sources))
	for i, en := range sources {
		rows[i] = []string{en, l.Entries[en]}
	}
	return writeRows(w, wordsHead, rows)
}

// ReadWords reads such a file: the English sentence to its translation. A row without a translation is left out. An English sentence that is
// not asked for, one that comes twice with different translations, and a translation that cannot be used are faults that name the line.
func ReadWords(r io.Reader, sources []string) (map[string]string, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, unreadable("The file could not be read.").Because(err)
	}
	if len(data) > MaxBytes {
		return nil, unreadable(fmt.Sprintf("The file is larger than %d kB.", MaxBytes>>10))
	}
	if data, err = clean(data); err != nil {
		return nil, err
	}
	asked := map[string]bool{}
	for _, en := range sources {
		asked[en] = true
	}
	in := newReader(bytes.TrimPrefix(data, []byte("\ufeff")))
	head, err := in.Read()
	if errors.Is(err, io.EOF) {
		return nil, unreadable("The file is empty.")
	}
	if err != nil {
		return nil, in.broken(err)
	}
	if len(head) != len(wordsHead) || !strings.EqualFold(strings.TrimSpace(head[0]), wordsHead[0]) || !strings.EqualFold(strings.TrimSpace(head[1]), wordsHead[1]) {
		return nil, at(1, 1, "the first row must name two columns, english and translation. Save the list from this page and change it.")
	}
	out := map[string]string{}
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, in.broken(err)
		}
		line, _ := in.FieldPos(0)
		if len(cells) != len(wordsHead) {
			return nil, at(line, 1, fmt.Sprintf("this row has %d cells, not 2. Is a quotation mark missing?", len(cells)))
		}
		en, s := strings.TrimSpace(cells[0]), strings.TrimSpace(cells[1])
		switch before, twice := out[en]; {
		case s == "":
			continue
		case !asked[en]:
			return nil, at(line, 1, "this English sentence is not said anywhere. Save the list from this page again and change only the second column.")
		case twice && before != s:
			return nil, at(line, 2, "this sentence has two different translations.")
		}
		if wrong := wording.Check(en, s); wrong != "" {
			return nil, at(line, 2, "this translation cannot be used: "+wrong+".")
		}
		out[en] = s
	}
	if len(out) == 0 {
		return nil, unreadable("There is no translation in this file.")
	}
	return out, nil
}
