package stock

import "testing"

// FuzzParseMoney types anything as an amount: what is read is not negative, and reads as itself again in every currency.
func FuzzParseMoney(f *testing.F) {
	for _, x := range [][2]string{{"19.50", "USD"}, {"19,5", "EUR"}, {"1200", "JPY"}, {"1.234", "KWD"}, {"-1", "USD"}, {"1e3", "USD"}, {"1.234,50", "EUR"}, {"999999999999", "JPY"}, {"", "USD"}, {".5", "USD"}, {"٣", "USD"}} {
		f.Add(x[0], x[1])
	}
	f.Fuzz(func(t *testing.T, text, currency string) {
		n, err := ParseMoney(text, currency)
		if err != nil {
			return
		}
		if n < 0 || n >= 1e12 {
			t.Errorf("%q %s is read as %d", text, currency, n)
		}
		if again, err := ParseMoney(Amount(n, currency), currency); err != nil || again != n {
			t.Errorf("%q %s is %d, written %q, read again %d, %v", text, currency, n, Amount(n, currency), again, err)
		}
	})
}
