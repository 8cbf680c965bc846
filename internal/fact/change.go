package fact

// Change is one thing that a correction changed, in the words in which people saw it: never personal data.
type Change struct {
	What string `json:"what"` // for example "reading" or "meter"
	Was  string `json:"was"`
	Now  string `json:"now"`
}
