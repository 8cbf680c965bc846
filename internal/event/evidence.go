package event

import (
	"bytes"
	"image"
	_ "image/jpeg" // the forms of picture that MediaOf understands
	_ "image/png"
	"slices"
	"strings"
	"time"

	"fairstick/internal/fact"
)

// EvidenceKind is the subject kind of a file that shows that a task of the countdown is done: a permit, a letter, a photo of one.
// Each file is a subject of its own, so that the event stays light.
const EvidenceKind = "evidence"

// EvidenceRef names one file.
func EvidenceRef(id string) fact.Ref { return fact.Ref{Kind: EvidenceKind, ID: id} }

// Limits of a file and of a task. A part, sealed and in base64, has room in one entry of the record.
const (
	MostEvidence  = 5 << 20 // bytes
	EvidencePart  = 180 << 10
	MostFilesEach = 10
)

// The media that are kept.
const (
	MediaPDF  = "application/pdf"
	MediaJPEG = "image/jpeg"
	MediaPNG  = "image/png"
)

// MediaOf tells what a file is from what stands in it, whatever its name says; empty for anything but a whole-looking PDF, JPEG
// or PNG.
func MediaOf(data []byte) string {
	if bytes.HasPrefix(data, []byte("%PDF-")) {
		if bytes.Contains(data[max(0, len(data)-2048):], []byte("%%EOF")) {
			return MediaPDF
		}
		return ""
	}
	_, form, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return ""
	}
	return map[string]string{"jpeg": MediaJPEG, "png": MediaPNG}[form]
}

// EvidenceAttached says that a file was attached to a task. Its bytes follow in parts.
type EvidenceAttached struct {
	Event  string `json:"event"`
	Task   string `json:"task"`
	Name   []byte `json:"name"` // as the file was called; sealed, since a name of a file may name a person
	Media  string `json:"media"`
	Size   int    `json:"size"`   // bytes
	SHA256 string `json:"sha256"` // of the whole file, in hex
	Parts  int    `json:"parts"`
}

// FactKind implements fact.Body.
func (EvidenceAttached) FactKind() string { return "evidence.attached" }

// EvidencePiece is one part of a file, sealed with the key of the file: erasing the file destroys the key.
type EvidencePiece struct {
	N      int    `json:"n"` // 1, 2, 3 ...
	Sealed []byte `json:"sealed"`
}

// FactKind implements fact.Body.
func (EvidencePiece) FactKind() string { return "evidence.piece" }

// EvidenceErased says that a file was made unreadable for good: it should not have been here.
type EvidenceErased struct {
	Reason string `json:"reason"`
	Signed string `json:"signed"` // person id of the lead
}

// FactKind implements fact.Body.
func (EvidenceErased) FactKind() string { return "evidence.erased" }

// Evidence is one file as it stands: what it is and which parts have come, not the bytes themselves.
type Evidence struct {
	ID      string           `json:"id"`
	Details EvidenceAttached `json:"details"`
	At      time.Time        `json:"at"`
	By      string           `json:"by"`
	Have    []int            `json:"have,omitempty"` // numbers of the parts that are here, in order
	Gone    *EvidenceErased  `json:"gone,omitempty"`
	GoneAt  time.Time        `json:"gone_at,omitzero"`
}

// NewEvidence gives a file before any fact.
func NewEvidence(id string) fact.State { return &Evidence{ID: id} }

// Index keeps the files of an event by task, then in the order in which they were attached.
func (e *Evidence) Index() (parent, label string) {
	return e.Details.Event, strings.Join([]string{e.Details.Task, e.At.UTC().Format("2006-01-02T15:04:05.000"), e.ID}, " ")
}

// Apply implements fact.State.
func (e *Evidence) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case EvidenceAttached:
		e.Details, e.At, e.By = b, r.At, r.By
	case EvidencePiece:
		if i, there := slices.BinarySearch(e.Have, b.N); !there {
			e.Have = slices.Insert(e.Have, i, b.N)
		}
	case EvidenceErased:
		e.Gone, e.GoneAt = &b, r.At
	}
}

// Erased reports whether the key of the file is to be destroyed wherever it lies.
func (e *Evidence) Erased() bool { return e.Gone != nil }

// Whole reports whether every part is here.
func (e *Evidence) Whole() bool { return e.Details.Parts > 0 && len(e.Have) == e.Details.Parts }
