package stock

import (
	"fmt"
	"math"
	"strings"

	"fairstick/internal/civil"
)

// Price is what one piece costs, from the programme's own invoices. Latest is the price on the invoice of the latest day,
// Mean the sum of all prices in that currency divided by their pieces; both in minor units. Receipts without a price do not
// count; a gift counts with 0.
type Price struct {
	Latest   float64    `json:"latest"`
	Mean     float64    `json:"mean"`
	Currency string     `json:"currency"`
	On       civil.Date `json:"on"`
	Supplier string     `json:"supplier,omitempty"`
	Invoice  string     `json:"invoice,omitempty"`
}

// PriceOf reads the prices of a shelf; ok is false when no receipt has one.
func PriceOf(moves []Move) (p Price, ok bool) {
	latest := -1
	for i, m := range moves {
		b := m.Receipt
		if b == nil || b.Price == nil || b.Pieces() <= 0 {
			continue
		}
		if latest < 0 || later(m, moves[latest]) {
			latest = i
		}
	}
	if latest < 0 {
		return p, false
	}
	b := moves[latest].Receipt
	p = Price{Latest: float64(*b.Price) / float64(b.PerPack), Currency: b.Currency, On: b.On, Supplier: b.Supplier, Invoice: b.Invoice}
	var sum int64
	pieces := 0
	for _, m := range moves {
		if r := m.Receipt; r != nil && r.Price != nil && r.Currency == p.Currency {
			sum += *r.Price * int64(r.Packs)
			pieces += r.Pieces()
		}
	}
	p.Mean = float64(sum) / float64(pieces)
	return p, true
}

func later(a, b Move) bool {
	if a.Receipt.On != b.Receipt.On {
		return a.Receipt.On.After(b.Receipt.On)
	}
	if !a.At.Equal(b.At) {
		return a.At.After(b.At)
	}
	return a.ID > b.ID
}

// Worth is the value of pieces at the mean price, rounded to the minor unit.
func (p Price) Worth(n int) int64 { return int64(math.Round(float64(p.Mean * float64(n)))) }

// digits of the minor unit that are not 2, by ISO 4217 (from memory).
var minorDigits = map[string]int{
	"BIF": 0, "CLP": 0, "DJF": 0, "GNF": 0, "ISK": 0, "JPY": 0, "KMF": 0, "KRW": 0, "PYG": 0, "RWF": 0, "UGX": 0, "VND": 0, "VUV": 0, "XAF": 0, "XOF": 0, "XPF": 0,
	"BHD": 3, "IQD": 3, "JOD": 3, "KWD": 3, "LYD": 3, "OMR": 3, "TND": 3,
}

func minor(currency string) int {
	if n, ok := minorDigits[currency]; ok {
		return n
	}
	return 2
}

// ParseMoney reads an amount such as "19.50" or "19,5" in minor units of a currency. It is not rounded: more decimals than the currency
// has are an error, and so are signs, exponents and separators of thousands.
func ParseMoney(text, currency string) (int64, error) {
	whole, part, _ := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	digits := minor(currency)
	if len(part) > digits {
		return 0, fmt.Errorf("%s has %d decimals", currency, digits)
	}
	all := whole + part + strings.Repeat("0", digits-len(part))
	if whole == "" || len(all) > 12 {
		return 0, fmt.Errorf("%q is not an amount", text)
	}
	var n int64
	for _, c := range all {
		if c < '0' || c > '9' {
			return 0, fmt.Errorf("%q is not an amount", text)
		}
		n = n*10 + int64(c-'0')
	}
	return n, nil
}

// Amount writes an amount in minor units without its currency, as ParseMoney reads it.
func Amount(n int64, currency string) string {
	return fmt.Sprintf("%.*f", minor(currency), float64(n)/math.Pow10(minor(currency)))
}

// Money writes an amount in minor units with its currency, as "19.50 USD".
func Money(n int64, currency string) string {
	return Amount(n, currency) + " " + currency
}

// Piece writes the price of one piece with two more decimals than the currency has.
func Piece(n float64, currency string) string {
	return fmt.Sprintf("%.*f %s", minor(currency)+2, n/math.Pow10(minor(currency)), currency)
}
