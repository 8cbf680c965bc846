package programme

import (
	"context"
	"fmt"
	"slices"
)

// Checked is what a check of the record found.
type Checked struct {
	Summary  string
	Problems []string
}

// Check verifies the chains and signatures of the record, that its tables follow from its entries, that every file that was
// attached and not erased is whole and as it was attached, and that what reports keep of closed events is what they would count.
func (p *Programme) Check(ctx context.Context) (Checked, error) {
	r, err := p.store.Check(ctx)
	if err != nil {
		return Checked{}, err
	}
	damaged, err := p.checkEvidence(ctx)
	if err != nil {
		return Checked{}, err
	}
	counts, err := p.checkCounts(ctx)
	if err != nil {
		return Checked{}, err
	}
	return Checked{Problems: slices.Concat(r.Problems, damaged, counts), Summary: fmt.Sprintf("%d entries of %d laptops about %d subjects were checked.", r.Entries, r.Nodes, r.Subjects)}, nil
}
