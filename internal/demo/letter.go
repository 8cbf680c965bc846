package demo

import (
	"bytes"
	"context"
	"fmt"

	"fairstick/internal/programme"
)

// letter is a one-page PDF with one line of text (ISO 32000-1, 7.5): enough to be attached and opened.
func letter(says string) []byte {
	var b bytes.Buffer
	text := "BT /F1 18 Tf 72 700 Td (" + says + ") Tj ET"
	b.WriteString("%PDF-1.4\n")
	var at []int
	for i, obj := range []string{
		"<< /Type /Catalog /Pages 2 0 R >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] /Contents 4 0 R /Resources << /Font << /F1 5 0 R >> >> >>",
		fmt.Sprintf("<< /Length %d >>\nstream\n%s\nendstream", len(text), text),
		"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
	} {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", i+1, obj)
	}
	table := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, n := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", n)
	}
	fmt.Fprintf(&b, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, table)
	return b.Bytes()
}

// evidence attaches an invented letter to a task of the countdown that is done.
func (s *Stage) evidence(ctx context.Context, who, event string) error {
	_, err := s.P.AttachEvidence(ctx, s.As(who), programme.AttachEvidence{
		Act: s.Act(), Event: event, Task: "timetable", Name: "minutes of 5 August.pdf", Data: letter("INVENTED. Minutes: the date of Ferry Landing is agreed."),
	})
	return err
}
