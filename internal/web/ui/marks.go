package ui

// The marks are stairs read from left to right, the way a reading leaves the usual range: the number of steps and their
// direction tell the band without colour. The two bands that call for help at once stand on a filled plate.

type mark struct {
	stairs string // the line of the stairs in a box of 48 by 32
	plate  bool   // drawn on a filled plate
	class  string
}

var marks = map[string]mark{
	"critical-low":  {"M6 7h12v9h12v9h12", true, "mark mark-critical"},
	"low":           {"M3 9h21v14h21", false, "mark mark-away"},
	"usual":         {"M3 16h42", false, "mark mark-usual"},
	"raised":        {"M3 23h21V9h21", false, "mark mark-away"},
	"high":          {"M3 28h14V16h14V4h14", false, "mark mark-far"},
	"critical-high": {"M5 27h9.5v-7.5H24V12h9.5V4.5H43", true, "mark mark-critical"},
}

// bandWords are the names of the bands as staff read them. A participant's words come from the protocol and its catalogue.
var bandWords = map[string]string{
	"critical-low": "Critical low", "low": "Low", "usual": "Usual", "raised": "Raised", "high": "High",
	"critical-high": "Critical high",
}

// Bands lists the six bands from the lowest to the highest.
func Bands() []string {
	return []string{"critical-low", "low", "usual", "raised", "high", "critical-high"}
}

// BandWord gives the word that staff read for a band; an unknown band gives "No band".
func BandWord(band string) string {
	if w, ok := bandWords[band]; ok {
		return w
	}
	return "No band"
}

// MarkPath gives the line of a band's stairs in a box of 48 by 32 and whether they stand on a filled plate, for charts and
// paper; "" for an unknown band.
func MarkPath(band string) (stairs string, plate bool) {
	m := marks[band]
	return m.stairs, m.plate
}
