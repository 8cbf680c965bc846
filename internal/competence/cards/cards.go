// Package cards is the procedure of a screening as learning cards: 34 steps in our own words, each with its reason, whether a miss
// can harm somebody or spoil the value, who needs it, and a drawing where a picture says it better.
//
// The steps are also the rows of the observer's form, so that what is learned is what is watched. They are content and
// not rules: which of them a programme watches, and how many may be missed, stands in the rules of competence.
package cards

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"

	"fairstick/internal/protocol"
)

// Level is how far a person has come. Each level has everything that the one before it has.
type Level string

// The levels from the first. Where a role of the programme has the same name, it is that role.
const (
	Observer   Level = "observer"
	Desk       Level = "desk" // registration
	Counsellor Level = "counsellor"
	Screener   Level = "screener"
	Verifier   Level = "verifier" // a licensed person who watches others and signs
)

// Levels lists the levels from the first to the last.
var Levels = []Level{Observer, Desk, Counsellor, Screener, Verifier}

// Order gives the place of a level from the first (0) to the last (4); -1 for anything else.
func (l Level) Order() int { return slices.Index(Levels, l) }

// Valid reports whether l is one of Levels.
func (l Level) Valid() bool { return l.Order() >= 0 }

// Covers reports whether a level has everything that another has; false when either is no level.
func (l Level) Covers(o Level) bool { return o.Valid() && l.Order() >= o.Order() }

// Word gives the level as people say it.
func (l Level) Word() protocol.Text { return words[l] }

var words = map[Level]protocol.Text{
	Observer: {"en": "observer", "es": "observador"}, Desk: {"en": "registration", "es": "recepción"}, Counsellor: {"en": "counsellor", "es": "consejero"},
	Screener: {"en": "screener", "es": "evaluador"}, Verifier: {"en": "verifier", "es": "verificador"},
}

// Harm is what a missed step can do.
type Harm string

// What a miss can do. Either of the first two makes a step critical: one miss and the observation is not passed.
const (
	Safety   Harm = "S" // somebody can be harmed or infected
	Validity Harm = "V" // the value cannot be trusted
	Neither  Harm = ""
)

// Step is one learning card and one row of the observer's form.
type Step struct {
	Number  int           `json:"number"` // 1 to 34
	Key     string        `json:"key"`    // stable; what an observation keeps
	Do      protocol.Text `json:"do"`
	Why     protocol.Text `json:"why"`
	Harm    Harm          `json:"harm,omitempty"`
	Source  string        `json:"source,omitempty"`  // key in docs/sources.md of what Why says was found; empty for common practice
	From    Level         `json:"from"`              // the first level that needs it
	Drawing string        `json:"drawing,omitempty"` // key of a Drawing
	Acted   bool          `json:"acted,omitempty"`   // rare: may be acted or told to the observer
}

// Critical reports whether one miss of the step ends an observation as not passed.
func (s Step) Critical() bool { return s.Harm != Neither }

// Steps lists the 34 steps in the order in which they are done.
func Steps() []Step { return slices.Concat(before, during, after) }

// For lists the steps that a level needs; an unknown level needs none.
func For(l Level) []Step {
	var out []Step
	for _, s := range Steps() {
		if l.Covers(s.From) {
			out = append(out, s)
		}
	}
	return out
}

// Find gives the step with a key.
func Find(key string) (Step, bool) {
	for _, s := range Steps() {
		if s.Key == key {
			return s, true
		}
	}
	return Step{}, false
}

// Locked are the keys of the steps that no programme may take off the list of critical ones: each keeps blood away from a
// second person, or an emergency from being missed.
func Locked() []string {
	return []string{"lancets-single-use", "own-hands-gloves", "lancet-to-sharps", "gloves-off", "meter-disinfect", "critical-path"}
}

// Drawing is a picture of our own, in black ink on white. Letters in it are explained by the caption alone.
type Drawing struct {
	Key     string
	Caption protocol.Text
	SVG     []byte
}

//go:embed drawings/*.svg
var files embed.FS

// Drawings gives all pictures in the order of the steps that show them. The error is one of the files built into the program.
func Drawings() ([]Drawing, error) {
	out := make([]Drawing, 0, len(captions))
	for _, c := range captions {
		svg, err := fs.ReadFile(files, "drawings/"+c.key+".svg")
		if err != nil {
			return nil, fmt.Errorf("drawing %s: %w", c.key, err)
		}
		out = append(out, Drawing{Key: c.key, Caption: c.text, SVG: svg})
	}
	return out, nil
}

var captions = []struct {
	key  string
	text protocol.Text
}{
	{"one-way-flow", protocol.Text{
		"en": "One way, no crossing: A register, B wash hands, C fingerstick, D result in private, E check out. Used things never go back to C.",
		"es": "Un solo sentido, sin cruces: A registro, B lavado de manos, C punción, D resultado en privado, E salida. Lo usado nunca vuelve a C.",
	}},
	{"table-sides", protocol.Text{
		"en": "A is the clean side: closed strips, new lancets, gloves, gauze. B is the dirty side: bin and used things. The sharps container C stands within arm's reach. Nothing comes back over the line.",
		"es": "A es el lado limpio: tiras cerradas, lancetas nuevas, guantes, gasas. B es el lado sucio: basura y lo usado. El contenedor C está al alcance del brazo. Nada regresa cruzando la línea.",
	}},
	{"fingertip-side", protocol.Text{
		"en": "Prick at A, a little to the side of the pad of the middle or ring finger. Not at B, the tip, nor at C, the middle of the pad, where it hurts most.",
		"es": "Pinche en A, un poco al lado de la yema del dedo medio o anular. No en B, la punta, ni en C, el centro de la yema, donde más duele.",
	}},
	{"lancet-to-sharps", protocol.Text{
		"en": "A: one prick. B: the lancet drops into the sharps container at once, with no cap put back. C: full at the line, three quarters; close it and take a new one.",
		"es": "A: una punción. B: la lanceta cae enseguida en el contenedor, sin volver a taparla. C: lleno en la línea, tres cuartos; ciérrelo y use otro.",
	}},
	{"strip-filled", protocol.Text{
		"en": "A: the window is dark from end to end, in one touch. B: part of it is white. Do not add blood; throw it away and take a new strip.",
		"es": "A: la ventana está oscura de un extremo al otro, en un solo toque. B: queda una parte blanca. No agregue sangre; deséchela y tome otra tira.",
	}},
	{"meter-wet", protocol.Text{
		"en": "A: one wipe to clean. B: a second wipe to disinfect. C: the meter stays visibly wet for the time on the label. Only then comes the next person.",
		"es": "A: una toallita para limpiar. B: otra para desinfectar. C: el medidor queda visiblemente mojado el tiempo de la etiqueta. Solo después pasa otra persona.",
	}},
}
