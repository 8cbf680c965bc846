package exchange

import (
	"context"
	cryptorand "crypto/rand"
	"io"
	"math/rand/v2"

	"fairstick/internal/exchange/fhir"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// HandOut writes one of the exports: fhir, csv or deidentified. For FHIR the ending of the file, .json or .ndjson, says in which form.
func HandOut(ctx context.Context, p *programme.Programme, a programme.Actor, h programme.HandOut, what, ending string, w io.Writer) error {
	switch {
	case what == "csv":
		return p.HandOut(ctx, a, h, func(walk programme.Walk) error { return WritePackage(w, p.Now(), h.Names, walk) })
	case what == "deidentified":
		d := NewDeidentified()
		if err := p.HandOut(ctx, a, h, func(walk programme.Walk) error { return walk(d.Event) }); err != nil {
			return err
		}
		chance, err := unforeseeable()
		if err != nil {
			return err
		}
		return d.Write(w, chance)
	case what != "fhir":
		return fault.New(fault.Missing, "no-such-export", "There is no such export.", "", "Choose fhir, csv or deidentified.")
	case ending == ".ndjson":
		return HandOutFHIR(ctx, p, a, h, fhir.NewStream(w))
	case ending == ".json":
		return HandOutFHIR(ctx, p, a, h, fhir.NewBundle(w, p.Now(), h.Event, h.From.String(), h.Until.String()))
	}
	return fault.New(fault.Invalid, "ending", "The name of the file does not say in which form it is written.", "", "End it with .json for a bundle, .ndjson for one resource a line, or / for a folder with a file for each type.")
}

// HandOutFHIR writes the events of a span as FHIR.
func HandOutFHIR(ctx context.Context, p *programme.Programme, a programme.Actor, h programme.HandOut, w fhir.Writer) error {
	if err := p.HandOut(ctx, a, h, func(walk programme.Walk) error { return walk(w.Event) }); err != nil {
		return err
	}
	return w.Close()
}

// unforeseeable is a source of chance that starts from the system's own.
func unforeseeable() (*rand.Rand, error) {
	var seed [32]byte
	if _, err := cryptorand.Read(seed[:]); err != nil {
		return nil, err
	}
	return rand.New(rand.NewChaCha8(seed)), nil
}
