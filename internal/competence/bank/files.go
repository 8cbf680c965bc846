package bank

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"

	"fairstick/internal/competence/cards"
)

//go:embed questions/*.txt
var files embed.FS

// Fixed gives all questions that stand in the files built into the program, in the order of the topics. The error names the file and
// the line.
func Fixed() ([]Question, error) {
	var out []Question
	keys := map[string]bool{}
	for _, topic := range Topics {
		name := "questions/" + string(topic) + ".txt"
		data, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, fmt.Errorf("questions about %s: %w", topic, err)
		}
		read, err := Parse(name, topic, string(data))
		if err != nil {
			return nil, err
		}
		for _, q := range read {
			if keys[q.Key] {
				return nil, fmt.Errorf("%s: the key %q stands there twice", name, q.Key)
			}
			keys[q.Key] = true
			out = append(out, q)
		}
	}
	return out, nil
}

// Parse reads questions as they are written by hand. Blocks are parted by an empty line; each line begins with a word and a
// space:
//
//	key     stable name            level  first level that is asked it
//	source  key of docs/sources.md critical (alone on its line)
//	en, es  the stem               why    the reason, English | Spanish
//	+ or -  an option that is right or wrong, English | Spanish
//	holds   what the protocol must say for the answer to be right; see HoldsIn. There may be several.
//
// The error begins with "name:line:".
func Parse(name string, topic Topic, data string) ([]Question, error) {
	var out []Question
	block := Question{}
	begun := 0
	end := func() error {
		if begun == 0 {
			return nil
		}
		if err := block.Validate(); err != nil {
			return fmt.Errorf("%s:%d: %w", name, begun, err)
		}
		out = append(out, block)
		block, begun = Question{}, 0
		return nil
	}
	for i, line := range strings.Split(data, "\n") {
		line = strings.TrimSpace(line)
		if line == "" {
			if err := end(); err != nil {
				return nil, err
			}
			continue
		}
		if begun == 0 {
			begun = i + 1
			block = Question{Topic: topic, Stem: text("", "")}
		}
		if err := block.take(line); err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, i+1, err)
		}
	}
	return out, end()
}

// take puts one line into the question.
func (q *Question) take(line string) error {
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.TrimSpace(rest)
	switch word {
	case "key":
		q.Key = rest
	case "level":
		q.From = cards.Level(rest)
	case "source":
		q.Source = rest
	case "critical":
		q.Critical = true
	case "holds":
		q.Holds = append(q.Holds, rest)
	case "en", "es":
		q.Stem[word] = rest
	case "+", "-", "why":
		en, es, ok := strings.Cut(rest, " | ")
		if !ok {
			return fmt.Errorf("no %q parts the two languages", " | ")
		}
		t := text(strings.TrimSpace(en), strings.TrimSpace(es))
		if word == "why" {
			q.Why = t
			return nil
		}
		q.Options = append(q.Options, Option{Text: t, Right: word == "+"})
	default:
		return fmt.Errorf("a line cannot begin with %q", word)
	}
	return nil
}
