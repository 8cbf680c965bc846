package competence

import (
	"bytes"
	"encoding/json"
	"testing"

	"fairstick/internal/fault"
)

// FuzzParseRules reads anything as the rules of training: what is taken holds and reads as itself again; the rest is refused in a
// sentence, since people are let to work by these rules.
func FuzzParseRules(f *testing.F) {
	whole, err := json.Marshal(DefaultRules())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add(bytes.Replace(whole, []byte(`"attempts":3`), []byte(`"attempts":-3`), 1))
	f.Add(bytes.Replace(whole, []byte(`"valid_months"`), []byte(`"valid_month"`), 1))
	f.Add([]byte(`{"steps_percent":1e400}`))
	f.Add([]byte(`null`))
	f.Add([]byte(`{}{}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ParseRules(data)
		if err != nil {
			if !fault.Is(err, "competence-rules") {
				t.Errorf("%q is refused as %v", data, err)
			}
			return
		}
		if err := r.Validate(); err != nil {
			t.Errorf("%q was taken, but %v", data, err)
		}
		out, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		again, err := ParseRules(out)
		if err != nil {
			t.Fatalf("%s does not read again: %v", out, err)
		}
		if back, err := json.Marshal(again); err != nil || !bytes.Equal(back, out) {
			t.Errorf("%s reads again as %s (%v)", out, back, err)
		}
	})
}
