package programme

import (
	"fairstick/internal/fact"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// tellHistory turns the facts of a follow-up into notes, each correction in the place of what it corrects.
func tellHistory(v *store.View, visitID string, recs []fact.Record) ([]FollowUpNote, error) {
	h := history{v: v, visit: visitID, names: map[string]string{}, place: map[string]int{}}
	for _, r := range recs {
		var err error
		if r.Corrects == "" {
			err = h.add(r)
		} else {
			err = h.change(r)
		}
		if err != nil {
			return nil, err
		}
	}
	return h.out, nil
}

type history struct {
	v     *store.View
	visit string
	names map[string]string
	place map[string]int // of a fact, or of a correction, in out
	out   []FollowUpNote
}

func (h *history) name(id string) (string, error) {
	if n, ok := h.names[id]; ok || id == "" {
		return n, nil
	}
	st, ok, err := h.v.State(people.Ref(id))
	if ok {
		h.names[id] = st.(*people.State).Details.Name
	}
	return h.names[id], err
}

func (h *history) add(r fact.Record) error {
	if _, begun := r.Body.(followup.Begun); begun {
		return nil
	}
	by, err := h.name(r.By)
	if err != nil {
		return err
	}
	n := FollowUpNote{Fact: r.ID, At: r.At, By: by}
	h.place[r.ID] = len(h.out)
	h.out = append(h.out, n)
	return h.say(r.ID, r.Body)
}

func (h *history) change(r fact.Record) error {
	i, ok := h.place[r.Corrects]
	if !ok {
		return nil // what it corrects has not come yet
	}
	by, err := h.name(r.By)
	if err != nil {
		return err
	}
	h.place[r.ID] = i
	n := &h.out[i]
	n.Corrected = append(n.Corrected, FollowUpChange{At: r.At, By: by, Reason: r.Reason, Was: n.Body})
	return h.say(r.ID, r.Body)
}

// say puts a body into its note.
func (h *history) say(id string, body fact.Body) (err error) {
	n := &h.out[h.place[id]]
	if _, n.Gone = body.(fact.Struck); n.Gone {
		return nil
	}
	n.Body = body
	var sealed []byte
	switch b := body.(type) {
	case followup.AttemptMade:
		sealed = b.Note
		n.Caller, err = h.name(b.Caller)
	case followup.OutcomeTold:
		sealed = b.Note
	case followup.HandedOver:
		sealed = b.Note
		n.Caller, err = h.name(b.To)
	}
	n.Note = ""
	if err != nil || len(sealed) == 0 || !hasKey(h.v, h.visit) {
		return err
	}
	plain, err := h.v.Open(visit.Ref(h.visit), sealed)
	n.Note = string(plain)
	return err
}
