package programme

import (
	"context"
	"fmt"
)

// Checked is what a check of the record found.
type Checked struct {
	Summary  string
	Problems []string
}

// Check verifies the chains and signatures of the record, that its tables follow from its entries, and that every file that was
// attached and not erased is whole and as it was attached.
func (p *Programme) Check(ctx context.Context) (Checked, error) {
	r, err := p.store.Check(ctx)
	if err != nil {
		return Checked{}, err
	}
	damaged, err := p.checkEvidence(ctx)
	if err != nil {
		return Checked{}, err
	}
	return Checked{Problems: append(r.Problems, damaged...), Summary: fmt.Sprintf("%d entries of %d laptops about %d subjects were checked.", r.Entries, r.Nodes, r.Subjects)}, nil
}
