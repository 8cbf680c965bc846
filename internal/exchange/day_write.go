package exchange

import (
	"encoding/csv"
	"io"
	"slices"
	"strings"

	"fairstick/internal/programme"
)

// WriteDay writes rows as one of the files of a day that ReadDay reads: with the columns in which something stands, in the order of
// the documentation.
func WriteDay(w io.Writer, file string, rows []map[string]string) error {
	columns := DayColumns(file)
	if columns == nil {
		return noList(file)
	}
	used := map[string]bool{}
	for _, r := range rows {
		for k := range r {
			used[k] = true
		}
	}
	var header []string
	for _, c := range columns {
		if strings.HasPrefix(c.Name, programme.AnswerPrefix) {
			var answers []string
			for k := range used {
				if strings.HasPrefix(k, programme.AnswerPrefix) {
					answers = append(answers, k)
				}
			}
			slices.Sort(answers)
			header = append(header, answers...)
			continue
		}
		if used[c.Name] || c.Required {
			header = append(header, c.Name)
		}
	}
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return err
	}
	line := make([]string, len(header))
	for _, r := range rows {
		for i, h := range header {
			line[i] = asText(r[h])
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// plainText undoes asText: an apostrophe that was put in front of what a spreadsheet would run.
func plainText(s string) string {
	if len(s) > 1 && s[0] == '\'' && strings.ContainsRune("=+-@", rune(s[1])) {
		return s[1:]
	}
	return s
}
