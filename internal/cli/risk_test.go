package cli

import (
	"bytes"
	"strings"
	"testing"
)

// A calculator opens no record: it runs without the parts that the composition root hands in.
func TestRiskExitCodes(t *testing.T) {
	base := "risk --score ada --age 52 --sex male --height 5ft10in --weight 215lb --family yes --blood-pressure yes --active "
	for _, tt := range []struct {
		args string
		code int
		says string // first line of standard error; "" means nothing
	}{
		{base + "no", 0, ""},
		{base + "no --json --lang es", 0, ""},
		{base + "perhaps", 2, `error: "perhaps" is no answer to: Physically active. The form gives points for yes or for no alone.`},
		{base + "no --waist 90cm", 2, "error: The questionnaire ada does not ask --waist."},
		{base + "no --colour red", 2, "error: unknown flag: --colour"},
		{base + "no --age old", 2, `error: invalid argument "old" for "--age" flag`},
		{base + "no --height 178", 2, `error: The height "178" cannot be read. It needs a number and its unit.`},
		{"risk", 2, "error: The questionnaire is missing."},
	} {
		var out, errOut bytes.Buffer
		code := Run(t.Context(), App{}, strings.Fields(tt.args), nil, &out, &errOut)
		first, _, _ := strings.Cut(errOut.String(), "\n")
		if code != tt.code || first != tt.says {
			t.Errorf("%s: exit %d, %q; want %d, %q", tt.args, code, first, tt.code, tt.says)
		}
		if (out.Len() > 0) != (tt.code == 0) || strings.Count(errOut.String(), "\n") > 2 {
			t.Errorf("%s: prints %d bytes and %q", tt.args, out.Len(), errOut.String())
		}
	}
}
