package roster

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

func person(id string, fits []string, speaks ...string) Person {
	return Person{ID: id, Fits: fits, Languages: speaks}
}

func TestChoose(t *testing.T) {
	both := []string{"test", "desk"}
	for name, c := range map[string]struct {
		persons []Person
		wants   []Want
		speak   []string
		want    Choice
	}{
		"nothing": {},
		"nobody":  {wants: []Want{{"test", 2}}, speak: []string{"es"}, want: Choice{Lacking: []Want{{"test", 2}}, Unspoken: []string{"es"}}},
		"nobody fits": {
			persons: []Person{person("a", nil)}, wants: []Want{{"test", 1}},
			want: Choice{Lacking: []Want{{"test", 1}}, Spare: []string{"a"}},
		},
		"the one who fits both leaves the post that another can take": {
			persons: []Person{person("a", both), person("b", []string{"test"})}, wants: []Want{{"test", 1}, {"desk", 1}},
			want: Choice{Posts: []Post{{"b", "test"}, {"a", "desk"}}},
		},
		"a speaker comes before an earlier name": {
			persons: []Person{person("a", both, "en"), person("b", both, "en"), person("c", both, "en", "es")}, wants: []Want{{"test", 1}, {"desk", 1}},
			speak: []string{"en", "es"},
			want:  Choice{Posts: []Post{{"c", "test"}, {"a", "desk"}}, Spare: []string{"b"}},
		},
		"the foremost post is filled, even when the one speaker is all there is": {
			persons: []Person{person("a", both, "es")}, wants: []Want{{"test", 1}, {"desk", 1}}, speak: []string{"es"},
			want: Choice{Posts: []Post{{"a", "test"}}, Lacking: []Want{{"desk", 1}}},
		},
		"one of each post comes before two of one": {
			persons: []Person{person("a", both), person("b", both), person("c", both)}, wants: []Want{{"test", 3}, {"desk", 2}},
			want: Choice{Posts: []Post{{"a", "test"}, {"c", "test"}, {"b", "desk"}}, Lacking: []Want{{"test", 1}, {"desk", 1}}},
		},
		"a language that nobody speaks is named": {
			persons: []Person{person("a", both, "en")}, wants: []Want{{"desk", 1}}, speak: []string{"vi", "en"},
			want: Choice{Posts: []Post{{"a", "desk"}}, Unspoken: []string{"vi"}},
		},
	} {
		got, err := Choose(c.persons, c.wants, c.speak)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
		}
	}
}

func TestChooseRefuses(t *testing.T) {
	one := []Person{person("a", []string{"desk"})}
	for name, err := range map[string]error{
		"negative":         second(Choose(one, []Want{{"desk", -1}}, nil)),
		"absurd":           second(Choose(one, []Want{{"desk", 100000}}, nil)),
		"too many in all":  second(Choose(one, []Want{{"desk", 150}, {"test", 150}}, nil)),
		"twice a post":     second(Choose(one, []Want{{"desk", 1}, {"desk", 1}}, nil)),
		"twice a person":   second(Choose(append(one, one...), []Want{{"desk", 1}}, nil)),
		"too many tongues": second(Choose(one, nil, make([]string, MostLanguages+1))),
	} {
		if err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func second(_ Choice, err error) error { return err }

// best is the truth by trying everything: the most posts that can be filled, the most languages that can be spoken with that
// many, and the best set of slots in the order of Choose.
type best struct {
	posts, languages int
	slots            []bool
}

func bruteForce(persons []Person, wants []Want, languages []string) best {
	m := newMatching(persons, wants)
	out := best{slots: make([]bool, len(m.slots))}
	taken := make([]bool, len(m.slots))
	var try func(p, filled int, spoken uint)
	try = func(p, filled int, spoken uint) {
		if p == len(persons) {
			n := bits.OnesCount(spoken)
			if filled > out.posts {
				out.posts, out.languages = filled, n
				copy(out.slots, taken)
			} else if filled == out.posts {
				out.languages = max(out.languages, n)
				for i := range taken { // the first slot that differs decides
					if taken[i] != out.slots[i] {
						if taken[i] {
							copy(out.slots, taken)
						}
						break
					}
				}
			}
			return
		}
		try(p+1, filled, spoken)
		speaks := uint(0)
		for i, l := range languages {
			if slices.Contains(persons[p].Languages, l) {
				speaks |= 1 << i
			}
		}
		for s := range m.slots {
			if !taken[s] && m.fits(p, s) {
				taken[s] = true
				try(p+1, filled+1, spoken|speaks)
				taken[s] = false
			}
		}
	}
	try(0, 0, 0)
	return out
}

// On 4,000 small random programmes the choice fills as many posts as any choice could, the foremost of them, speaks as many
// languages as any choice of that size could, and never puts somebody where they do not fit, or twice.
func TestChooseAgainstBruteForce(t *testing.T) {
	draw := rand.New(rand.NewPCG(5, 6))
	posts, tongues := []string{"supervise", "test", "explain", "desk"}, []string{"en", "es", "vi"}
	lacking, silent := 0, 0
	for range 4000 {
		var persons []Person
		for i := range draw.IntN(6) {
			p := Person{ID: fmt.Sprint("p", i)}
			for _, post := range posts {
				if draw.IntN(3) == 0 {
					p.Fits = append(p.Fits, post)
				}
			}
			for _, l := range tongues {
				if draw.IntN(3) == 0 {
					p.Languages = append(p.Languages, l)
				}
			}
			persons = append(persons, p)
		}
		var wants []Want
		for _, post := range posts {
			wants = append(wants, Want{post, draw.IntN(3)})
		}
		got, err := Choose(persons, wants, tongues)
		if err != nil {
			t.Fatal(err)
		}
		want := bruteForce(persons, wants, tongues)
		sound(t, persons, wants, got)
		if len(got.Posts) != want.posts || len(tongues)-len(got.Unspoken) != want.languages {
			t.Fatalf("%d posts and %d languages, can be %d and %d: %+v %+v", len(got.Posts), len(tongues)-len(got.Unspoken), want.posts, want.languages, persons, wants)
		}
		if lack := lackingOf(wants, newMatching(persons, wants).slots, want.slots); !reflect.DeepEqual(lack, got.Lacking) {
			t.Fatalf("lacking %v, the foremost posts would leave %v: %+v %+v", got.Lacking, lack, persons, wants)
		}
		if len(got.Lacking) > 0 {
			lacking++
		}
		if len(got.Unspoken) > 0 {
			silent++
		}
	}
	if lacking < 500 || silent < 500 || lacking == 4000 || silent == 4000 {
		t.Errorf("the draws were too easy or too hard: %d with too few people, %d with a language missing", lacking, silent)
	}
}

func lackingOf(wants []Want, slots []string, filled []bool) []Want {
	var out []Want
	for _, w := range wants {
		n := w.Count
		for i, s := range slots {
			if s == w.Post && filled[i] {
				n--
			}
		}
		if n > 0 {
			out = append(out, Want{w.Post, n})
		}
	}
	return out
}

// sound fails on a choice that nobody could follow.
func sound(t *testing.T, persons []Person, wants []Want, c Choice) {
	t.Helper()
	byID, used, count := map[string]Person{}, map[string]bool{}, map[string]int{}
	for _, p := range persons {
		byID[p.ID] = p
	}
	for _, p := range c.Posts {
		who, known := byID[p.Person]
		if !known || used[p.Person] || !slices.Contains(who.Fits, p.Post) {
			t.Fatalf("%+v cannot stand at %s: %+v", who, p.Post, c)
		}
		used[p.Person] = true
		count[p.Post]++
	}
	lacking := map[string]int{}
	for _, l := range c.Lacking {
		lacking[l.Post] = l.Count
	}
	for _, w := range wants {
		if count[w.Post]+lacking[w.Post] != w.Count {
			t.Fatalf("%d at %s and %d lacking, of %d: %+v", count[w.Post], w.Post, lacking[w.Post], w.Count, c)
		}
	}
	if len(c.Spare)+len(used) != len(persons) {
		t.Fatalf("%d chosen and %d spare of %d", len(used), len(c.Spare), len(persons))
	}
}

func TestChooseChangesNothing(t *testing.T) {
	persons := []Person{person("a", []string{"test"}, "en"), person("b", []string{"desk", "test"}, "es")}
	wants, languages := []Want{{"test", 1}, {"desk", 1}}, []string{"es", "es", "en"}
	first, err := Choose(persons, wants, languages)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Choose(persons, wants, languages)
	if err != nil || !reflect.DeepEqual(first, again) {
		t.Errorf("the same question was answered %+v, then %+v (%v)", first, again, err)
	}
	if persons[0].ID != "a" || len(persons[1].Fits) != 2 || !slices.Equal(languages, []string{"es", "es", "en"}) {
		t.Error("the arguments were changed")
	}
}

func TestSubstitutes(t *testing.T) {
	free := []Person{person("a", []string{"test"}, "en"), person("b", []string{"desk"}, "es"), person("c", []string{"test"}, "en", "es")}
	got := Substitutes(free, "test", []string{"es"})
	want := []Substitute{{Person: "c"}, {Person: "a", Lost: []string{"es"}}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	if got := Substitutes(free, "explain", nil); got != nil {
		t.Errorf("nobody explains, but %+v", got)
	}
}

func BenchmarkChoose(b *testing.B) {
	var persons []Person
	for i := range 40 {
		p := Person{ID: fmt.Sprint("p", i), Fits: []string{[]string{"test", "desk", "explain"}[i%3]}, Languages: []string{"en"}}
		if i%7 == 0 {
			p.Fits, p.Languages = append(p.Fits, "supervise"), append(p.Languages, "es")
		}
		persons = append(persons, p)
	}
	for b.Loop() {
		if _, err := Choose(persons, []Want{{"supervise", 4}, {"test", 8}, {"explain", 5}, {"desk", 4}}, []string{"en", "es"}); err != nil {
			b.Fatal(err)
		}
	}
}
