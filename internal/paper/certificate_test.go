package paper

import (
	"strings"
	"testing"
	"time"
)

// A certificate is one page with its wallet card; both carry the code.
func TestCertificate(t *testing.T) {
	c := Certificate{
		Programme: "Invented Programme", Name: "María de los Ángeles Fernández-Inventada", Title: "Second year", Level: "screener", From: "20 Jun 2026", Until: "19 Jun 2027",
		Methods: "quiz, observed work", By: "P. Quill", Code: "YDGXP-0TBF2", ID: "0190aaaa-0000-7000-8000-000000000001",
	}
	for _, size := range []PageSize{Letter, A4} {
		doc := c.Document()
		doc.Printed, doc.Invented = time.Date(2026, 6, 20, 12, 5, 0, 0, time.UTC), true
		pdf := documentPDF(t, doc, size)
		checkInside(t, pdf, docSide)
		all := readBack(t, pdf)
		if n := pageCount(all); n != 1 {
			t.Errorf("the certificate takes %d pages", n)
		}
		text := textOf(all, 0)
		for _, must := range []string{"Verified as screener", "Fernández-Inventada, Second year", "19 Jun 2027", "P. Quill", "Wallet card", "on the page Check a certificate"} {
			if !strings.Contains(text, must) {
				t.Errorf("the certificate lacks %q:\n%s", must, text)
			}
		}
		if n := strings.Count(text, c.Code); n != 2 {
			t.Errorf("the code stands %d times", n)
		}
	}
}
