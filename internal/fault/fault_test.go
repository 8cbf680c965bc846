package fault

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

func TestOfHidesWhatIsNotAFault(t *testing.T) {
	f := Of(fmt.Errorf("read /secret/path: %w", io.ErrUnexpectedEOF))
	if f.Kind != Internal || strings.Contains(f.Error(), "secret") {
		t.Errorf("an unknown error is shown as %q", f.Error())
	}
	if !errors.Is(f, io.ErrUnexpectedEOF) {
		t.Error("the cause is lost for the log")
	}
	if Of(nil) != nil {
		t.Error("no error is no fault")
	}
}

func TestFaultKeepsItsPartsApart(t *testing.T) {
	base := New(Refused, "not-wiped", "Meter M1 has not been wiped.", "Blood can carry infection.", "Wipe it.")
	f := base.Field("meter", "Wipe it.").Because(io.EOF)
	if base.Fields != nil || base.Unwrap() != nil {
		t.Error("a copy changed its original")
	}
	if got := f.Error(); got != "Meter M1 has not been wiped. Blood can carry infection. Wipe it." {
		t.Errorf("Error = %q", got)
	}
	wrapped := fmt.Errorf("command: %w", f)
	if !Is(wrapped, "not-wiped") || Is(wrapped, "other") || Of(wrapped) != f {
		t.Error("a wrapped fault is not found")
	}
}
