package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"sort"
	"strings"

	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// changesBetween lists every place where two protocols differ, by the name that the place has in the document. Where only one of them
// has rules of training of its own, the rules that held without them are what they are compared with.
func changesBetween(old, new protocol.Protocol) []protocolChange {
	if (len(old.Verification.Competence) == 0) != (len(new.Verification.Competence) == 0) {
		old, new = withHeldRules(old), withHeldRules(new)
	}
	was, is := flat(old), flat(new)
	var out []protocolChange
	for place, v := range is {
		if was[place] != v {
			out = append(out, protocolChange{place, was[place], v})
		}
	}
	for place, v := range was {
		if _, there := is[place]; !there {
			out = append(out, protocolChange{place, v, ""})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Place < out[j].Place })
	return out
}

// withHeldRules writes down the rules of training that hold in a protocol.
func withHeldRules(p protocol.Protocol) protocol.Protocol {
	rules, _, err := programme.TrainingRules(p)
	if err != nil {
		return p
	}
	if out, err := programme.WithTrainingRules(p, rules); err == nil {
		return out
	}
	return p
}

// flat gives each value of a protocol by its place in the document. A glucose value is one value: its number with its unit.
func flat(p protocol.Protocol) map[string]string {
	dec := json.NewDecoder(bytes.NewReader(p.Encode()))
	dec.UseNumber()
	var tree any
	out := map[string]string{}
	if dec.Decode(&tree) == nil {
		flatten(out, "", tree)
	}
	return out
}

func flatten(out map[string]string, place string, v any) {
	switch x := v.(type) {
	case map[string]any:
		if n, ok := x["number"]; ok && len(x) == 2 {
			out[place] = fmt.Sprint(n, " ", x["unit"])
			return
		}
		for k, y := range x {
			k = strings.ReplaceAll(k, "_", " ")
			if place == "" {
				flatten(out, k, y)
			} else {
				flatten(out, place+" / "+k, y)
			}
		}
	case []any:
		for i, y := range x {
			flatten(out, fmt.Sprintf("%s / %d", place, i+1), y)
		}
	case nil:
	case bool:
		out[place] = "no"
		if x {
			out[place] = "yes"
		}
	default:
		out[place] = fmt.Sprint(x)
	}
}
