package estimate

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// LastDigits counts readings by their last digit, 0 to 9. Only whole mg/dL belong in it: conversion from mmol/L, or a meter
// that rounds to fives, makes last digits uneven by itself.
type LastDigits [10]int

// N is the number of readings.
func (d LastDigits) N() int {
	n := 0
	for _, c := range d {
		n += c
	}
	return n
}

func (d LastDigits) check() error {
	for digit, c := range d {
		if c < 0 {
			return fmt.Errorf("%d readings end in %d", c, digit)
		}
	}
	if d.N() == 0 {
		return errors.New("there are no readings")
	}
	return nil
}

// FewPerDigit is the expected count below which the chi-square distribution is not to be trusted (common practice).
const FewPerDigit = 5

// Evenness is the chi-square test of even last digits.
type Evenness struct {
	ChiSquare float64 `json:"chi_square"`
	DF        int     `json:"df"`
	P         float64 `json:"p"`
	Expected  float64 `json:"expected"` // readings for each digit
	Few       bool    `json:"few"`      // fewer than FewPerDigit expected: the p is not to be trusted
}

// Evenness tests whether all ten last digits are as likely: sum of (count - n/10)²/(n/10) on 9 degrees of freedom. No readings
// or a negative count is an error. Source: Pearson K, Philos Mag 1900;50:157-75.
func (d LastDigits) Evenness() (Evenness, error) {
	if err := d.check(); err != nil {
		return Evenness{}, err
	}
	n := d.N()
	e := Evenness{DF: 9, Expected: float64(n) / 10, Few: n < 10*FewPerDigit}
	squares := 0.0
	for _, c := range d {
		off := float64(10*c - n)
		squares += float64(off * off)
	}
	e.ChiSquare = squares / float64(10*n)
	e.P = distuv.ChiSquared{K: 9}.Survival(e.ChiSquare)
	return e, nil
}

// Preference is the exact test of one group of last digits.
type Preference struct {
	Count    int     `json:"count"`
	N        int     `json:"n"`
	Expected float64 `json:"expected"`
	Share    float64 `json:"share"`
	More     float64 `json:"p_more"`      // chance of as many or more
	TwoSided float64 `json:"p_two_sided"` // chance of a count that is as unlikely or more so
}

// ZeroOrFive tests whether more readings end in 0 or 5 than the fifth that would: the exact binomial. No readings or a
// negative count is an error.
func (d LastDigits) ZeroOrFive() (Preference, error) {
	return d.preference(d[0]+d[5], 0.2)
}

// Even tests whether readings end in 0, 2, 4, 6 or 8 more or less often than half: the exact binomial. Errors as for
// ZeroOrFive.
func (d LastDigits) Even() (Preference, error) {
	return d.preference(d[0]+d[2]+d[4]+d[6]+d[8], 0.5)
}

func (d LastDigits) preference(count int, p float64) (Preference, error) {
	if err := d.check(); err != nil {
		return Preference{}, err
	}
	n := d.N()
	more, err := BinomialTail(count, n, p)
	if err != nil {
		return Preference{}, err
	}
	two, err := BinomialTwoSided(count, n, p)
	if err != nil {
		return Preference{}, err
	}
	return Preference{Count: count, N: n, Expected: float64(n) * p, Share: float64(count) / float64(n), More: more, TwoSided: two}, nil
}

// BinomialTwoSided gives the exact two-sided p of a count k of n trials with probability p each: the sum of the probabilities
// of all counts that are no more likely than k, where those that differ by less than one part in ten million count as equal. A
// negative n, a k outside of 0 to n, or a p that is not between 0 and 1 is an error. Source: the method of least likelihood, as
// the exact binomial test of the common statistical programs has it.
func BinomialTwoSided(k, n int, p float64) (float64, error) {
	switch {
	case n < 0 || k < 0 || k > n:
		return 0, fmt.Errorf("%d of %d trials", k, n)
	case !(p >= 0 && p <= 1):
		return 0, fmt.Errorf("a probability of %v is not between 0 and 1", p)
	case p == 0 || p == 1:
		if (p == 0) == (k == 0) && (p == 1) == (k == n) || n == 0 {
			return 1, nil
		}
		return 0, nil
	}
	all, success, failure := logFactorial(n), math.Log(p), math.Log1p(-p)
	log := func(i int) float64 {
		return all - logFactorial(i) - logFactorial(n-i) + float64(float64(i)*success) + float64(float64(n-i)*failure)
	}
	most := log(k) + 1e-7
	sum := 0.0
	for i := range n + 1 {
		if l := log(i); l <= most {
			sum += math.Exp(l)
		}
	}
	return math.Min(sum, 1), nil
}

// Screener is one screener's readings by last digit.
type Screener struct {
	Name   string
	Digits LastDigits
}

// Correction says how false alarms are held down when many screeners are looked at.
type Correction string

// The corrections.
const (
	HolmCorrection Correction = "holm" // the chance of even one false alarm among all is at most alpha
	BHCorrection   Correction = "bh"   // of the alarms, a share of at most alpha is false on average
)

// DigitCheck is what the last digits of one screener say.
type DigitCheck struct {
	Name       string     `json:"name"`
	N          int        `json:"n"`
	Digits     LastDigits `json:"digits"` // how many ended in 0, 1, ... 9
	Evenness   Evenness   `json:"evenness"`
	ZeroOrFive Preference `json:"zero_or_five"`
	Even       Preference `json:"even"`
	// The corrected p of each test; that of evenness is nil when too few readings are expected for each digit.
	EvennessP   *float64 `json:"evenness_p"`
	ZeroOrFiveP float64  `json:"zero_or_five_p"`
	EvenP       float64  `json:"even_p"`
	Alarm       bool     `json:"alarm"` // any corrected p is at most alpha
}

// CheckDigits tests every screener's last digits three ways: evenness by chi-square, zeros and fives by the upper tail
// (rounding only adds to them), and even digits on both sides. All tests of all screeners are one family, whose p-values are
// corrected together, so that looking at more screeners raises no more false alarms. Evenness with fewer than FewPerDigit
// expected is shown but left out of the family, since its p is not to be trusted; that depends on n alone. The results stand in
// the order of the screeners. Nobody, a screener without readings, an unknown correction or an alpha outside of 0 to 1 is an
// error.
func CheckDigits(screeners []Screener, alpha float64, c Correction) ([]DigitCheck, error) {
	if len(screeners) == 0 {
		return nil, errors.New("there are no screeners")
	}
	if !(alpha > 0 && alpha < 1) {
		return nil, fmt.Errorf("an alpha of %v is not between 0 and 1", alpha)
	}
	out := make([]DigitCheck, len(screeners))
	var family []float64
	for i, s := range screeners {
		d := DigitCheck{Name: s.Name, N: s.Digits.N(), Digits: s.Digits}
		var err error
		if d.Evenness, err = s.Digits.Evenness(); err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name, err)
		}
		if d.ZeroOrFive, err = s.Digits.ZeroOrFive(); err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name, err)
		}
		if d.Even, err = s.Digits.Even(); err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name, err)
		}
		family = append(family, d.ZeroOrFive.More, d.Even.TwoSided)
		if !d.Evenness.Few {
			family = append(family, d.Evenness.P)
		}
		out[i] = d
	}
	corrected, err := correct(family, c)
	if err != nil {
		return nil, err
	}
	for i := range out {
		d := &out[i]
		d.ZeroOrFiveP, d.EvenP = corrected[0], corrected[1]
		corrected = corrected[2:]
		d.Alarm = d.ZeroOrFiveP <= alpha || d.EvenP <= alpha
		if !d.Evenness.Few {
			p := corrected[0]
			corrected = corrected[1:]
			d.EvennessP = &p
			d.Alarm = d.Alarm || p <= alpha
		}
	}
	return out, nil
}

func correct(p []float64, c Correction) ([]float64, error) {
	switch c {
	case HolmCorrection:
		return Holm(p)
	case BHCorrection:
		return BenjaminiHochberg(p)
	}
	return nil, fmt.Errorf("the correction %q is not known", c)
}
