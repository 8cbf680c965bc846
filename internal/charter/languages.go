package charter

import "time"

// LanguageOffered says whether participants may choose a further language. The latest one holds.
type LanguageOffered struct {
	Lang    string `json:"lang"`
	Offered bool   `json:"offered"`
}

// FactKind implements fact.Body.
func (LanguageOffered) FactKind() string { return "programme.language-offered" }

// LanguageWritten is the programme's own sentences in a language, by the English ones. It replaces what was written before.
type LanguageWritten struct {
	Lang    string            `json:"lang"`
	Entries map[string]string `json:"entries"`
}

// FactKind implements fact.Body.
func (LanguageWritten) FactKind() string { return "programme.language-written" }

// LanguageReviewed says that a person who speaks a language read all that is said in it. Digest names what was read, so that the review ends
// when a sentence changes.
type LanguageReviewed struct {
	Lang     string `json:"lang"`
	Digest   string `json:"digest"`
	Reviewer string `json:"reviewer"`
	Title    string `json:"title"` // what makes the reviewer able to judge: "nurse, grew up in Hanoi"
}

// FactKind implements fact.Body.
func (LanguageReviewed) FactKind() string { return "programme.language-reviewed" }

// Review is a review as it is kept; By is who recorded it.
type Review struct {
	Digest   string    `json:"digest"`
	Reviewer string    `json:"reviewer"`
	Title    string    `json:"title"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
}

// Tongue is what the programme has decided about a language.
type Tongue struct {
	Offered bool              `json:"offered,omitempty"`
	Own     map[string]string `json:"own,omitempty"`
	Reviews []Review          `json:"reviews,omitempty"` // oldest first
}

// ReviewOf gives the latest review of exactly this text; ok is false when nobody has reviewed it.
func (t Tongue) ReviewOf(digest string) (r Review, ok bool) {
	for i := len(t.Reviews) - 1; i >= 0; i-- {
		if t.Reviews[i].Digest == digest {
			return t.Reviews[i], true
		}
	}
	return Review{}, false
}

// tongue changes what is known of a language.
func (s *State) tongue(lang string, change func(*Tongue)) {
	if s.Languages == nil {
		s.Languages = map[string]Tongue{}
	}
	t := s.Languages[lang]
	change(&t)
	s.Languages[lang] = t
}
