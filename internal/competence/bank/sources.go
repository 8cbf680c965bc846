package bank

import (
	_ "embed" // the references of the sources
	"strings"
)

//go:embed sources.txt
var sourceLines string

// Reference gives the reference of a source by its key, as docs/sources.md has it; the key itself for one that is not known.
func Reference(key string) string {
	for line := range strings.Lines(sourceLines) {
		if k, ref, ok := strings.Cut(strings.TrimSpace(line), " | "); ok && k == key {
			return ref
		}
	}
	return key
}
