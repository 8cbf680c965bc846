// Package roster chooses who stands at which post. It knows nothing of verifications or dates: it is told for each person
// which posts they fit, and answers with as many filled posts as there can be, the first of each post before the second,
// and with a speaker of each wanted language where that is possible. It is a library of its own: the same people and wishes
// always give the same choice.
package roster

import (
	"fmt"
	"slices"
)

// Person is somebody who may be chosen: the posts they fit, and the languages they speak.
type Person struct {
	ID        string
	Fits      []string
	Languages []string
}

// Want is how many people a post needs.
type Want struct {
	Post  string
	Count int
}

// Post is one person at one post.
type Post struct {
	Person, Post string
}

// Choice is who stands where, and what is lacking.
type Choice struct {
	Posts    []Post   // in the order of the wishes, then of the people
	Lacking  []Want   // posts that nobody is left for; those that are complete are left out
	Unspoken []string // wanted languages that nobody chosen speaks
	Spare    []string // ids of people who were not chosen, in the order given
}

// Limits on what is asked for. A fair has tens of posts; more is a mistake of typing.
const (
	MostPosts     = 200
	MostLanguages = 12
)

// coverTries bounds the search for speakers; a real list needs a few dozen.
const coverTries = 20000

// Choose fills posts from people. Nobody gets more than one post, or a post that they do not fit.
//
// The choice is a maximum matching in the graph of people and posts, found with augmenting paths (Berge; the paths of the
// Hungarian method without weights). Three wishes are met together, and the later ones cost the first nothing:
//
//  1. as many posts are filled as any choice could fill;
//  2. of the wanted languages as many as possible are spoken by somebody chosen. Speakers are placed first; an augmenting
//     path never takes a placed person off, so the rest is filled around them. The search for the best set of speakers is
//     complete up to 20,000 tries (several wanted languages and hundreds of people with different roles), then the best
//     found so far is taken;
//  3. where people lack, the first of every post comes before the second of any, and among these the order of the wishes
//     holds (the matching that covers the speakers and the one that covers the foremost posts can be joined: Mendelsohn and
//     Dulmage 1958).
//
// People are taken in the order given. A language is a tag that is compared as it stands. Errors: a negative or absurd
// number of posts, a post or a person named twice, too many languages. Nobody and nothing wanted give an empty choice.
func Choose(persons []Person, wants []Want, languages []string) (Choice, error) {
	if err := check(persons, wants, languages); err != nil {
		return Choice{}, err
	}
	m := newMatching(persons, wants)
	for _, p := range m.speakers(unique(languages)) {
		m.place(p, make([]bool, len(m.slots)))
	}
	secure := make([]bool, len(m.slots))
	for s := range m.slots {
		if m.by[s] >= 0 || m.fill(s, secure, make([]bool, len(persons))) {
			secure[s] = true
		}
	}
	return m.choice(wants, unique(languages)), nil
}

func check(persons []Person, wants []Want, languages []string) error {
	total := 0
	seen := map[string]bool{}
	for _, w := range wants {
		if w.Count < 0 || w.Count > MostPosts {
			return fmt.Errorf("roster: %d posts of %q cannot be filled", w.Count, w.Post)
		}
		if total += w.Count; total > MostPosts {
			return fmt.Errorf("roster: more than %d posts", MostPosts)
		}
		if seen[w.Post] {
			return fmt.Errorf("roster: the post %q is asked for twice", w.Post)
		}
		seen[w.Post] = true
	}
	ids := map[string]bool{}
	for _, p := range persons {
		if ids[p.ID] {
			return fmt.Errorf("roster: the person %q is there twice", p.ID)
		}
		ids[p.ID] = true
	}
	if len(languages) > MostLanguages {
		return fmt.Errorf("roster: more than %d languages", MostLanguages)
	}
	return nil
}

func unique(list []string) []string {
	var out []string
	for _, s := range list {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// matching is people matched to slots, one slot for each post that is wanted.
type matching struct {
	persons []Person
	slots   []string // post of each slot: the first of every post, then the second of every post, and so on
	at      []int    // slot of each person, or -1
	by      []int    // person of each slot, or -1
}

func newMatching(persons []Person, wants []Want) *matching {
	m := &matching{persons: persons}
	for round := 0; ; round++ {
		more := false
		for _, w := range wants {
			if round < w.Count {
				m.slots, more = append(m.slots, w.Post), true
			}
		}
		if !more {
			break
		}
	}
	m.at, m.by = make([]int, len(persons)), make([]int, len(m.slots))
	for i := range m.at {
		m.at[i] = -1
	}
	for i := range m.by {
		m.by[i] = -1
	}
	return m
}

func (m *matching) fits(person, slot int) bool {
	return slices.Contains(m.persons[person].Fits, m.slots[slot])
}

func (m *matching) seat(person, slot int) { m.at[person], m.by[slot] = slot, person }

// place gives a person a slot, moving others to other slots where that helps; nobody placed loses theirs. It reports
// whether there was one.
func (m *matching) place(person int, seen []bool) bool {
	if m.at[person] >= 0 {
		return true
	}
	return m.push(person, seen)
}

func (m *matching) push(person int, seen []bool) bool {
	for s := range m.slots {
		if seen[s] || !m.fits(person, s) {
			continue
		}
		seen[s] = true
		if m.by[s] < 0 || m.push(m.by[s], seen) {
			m.seat(person, s)
			return true
		}
	}
	return false
}

// fill gives a slot a person: a free one, or one whose slot can be filled again, or one from a slot that comes later and is
// not secure yet. Nobody placed is left without a slot. It reports whether there was one.
func (m *matching) fill(slot int, secure, seen []bool) bool {
	var later []int
	for p := range m.persons {
		if seen[p] || !m.fits(p, slot) {
			continue
		}
		seen[p] = true
		old := m.at[p]
		switch {
		case old < 0 || secure[old] && m.fill(old, secure, seen):
			m.seat(p, slot)
			return true
		case !secure[old]:
			later = append(later, p)
		}
	}
	for _, p := range later {
		m.by[m.at[p]] = -1
		m.seat(p, slot)
		return true
	}
	return false
}

// speakers chooses people who together speak as many of the languages as possible and can all have a slot.
func (m *matching) speakers(languages []string) []int {
	var best []int
	most, tries := 0, 0
	var look func(i, covered int, chosen []int, now *matching)
	look = func(i, covered int, chosen []int, now *matching) {
		if covered > most {
			best, most = slices.Clone(chosen), covered
		}
		if most == len(languages) || i == len(languages) || covered+len(languages)-i <= most {
			return
		}
		for _, p := range chosen {
			if slices.Contains(m.persons[p].Languages, languages[i]) {
				look(i+1, covered+1, chosen, now)
				return
			}
		}
		for p, person := range m.persons {
			if tries >= coverTries || most == len(languages) {
				return
			}
			if !slices.Contains(person.Languages, languages[i]) {
				continue
			}
			tries++
			next := now.clone()
			if next.place(p, make([]bool, len(next.slots))) {
				look(i+1, covered+1, append(slices.Clone(chosen), p), next)
			}
		}
		look(i+1, covered, chosen, now)
	}
	look(0, 0, nil, m.clone())
	return best
}

func (m *matching) clone() *matching {
	c := *m
	c.at, c.by = slices.Clone(m.at), slices.Clone(m.by)
	return &c
}

func (m *matching) choice(wants []Want, languages []string) Choice {
	var c Choice
	for _, w := range wants {
		lacking := w.Count
		for p, s := range m.at {
			if s >= 0 && m.slots[s] == w.Post {
				c.Posts = append(c.Posts, Post{Person: m.persons[p].ID, Post: w.Post})
				lacking--
			}
		}
		if lacking > 0 {
			c.Lacking = append(c.Lacking, Want{Post: w.Post, Count: lacking})
		}
	}
	spoken := map[string]bool{}
	for i, p := range m.persons {
		if m.at[i] < 0 {
			c.Spare = append(c.Spare, p.ID)
			continue
		}
		for _, l := range p.Languages {
			spoken[l] = true
		}
	}
	for _, l := range languages {
		if !spoken[l] {
			c.Unspoken = append(c.Unspoken, l)
		}
	}
	return c
}

// Substitute is somebody who can take a post, and which of the languages that would fall silent they do not speak.
type Substitute struct {
	Person string
	Lost   []string // empty when every language is kept
}

// Substitutes lists who of the free people fits a post, those that keep the most languages first and otherwise in the order
// given. only are the languages that nobody else on the roster speaks.
func Substitutes(free []Person, post string, only []string) []Substitute {
	var out []Substitute
	for _, p := range free {
		if !slices.Contains(p.Fits, post) {
			continue
		}
		s := Substitute{Person: p.ID}
		for _, l := range only {
			if !slices.Contains(p.Languages, l) {
				s.Lost = append(s.Lost, l)
			}
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b Substitute) int { return len(a.Lost) - len(b.Lost) })
	return out
}
