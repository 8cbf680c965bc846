package programme

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/roster"
)

// MostWanted is how many posts of one sort can be asked for.
const MostWanted = 40

// RosterWish is how many posts a day needs, and which languages somebody on the roster should speak.
type RosterWish struct {
	Supervisors, Test, Explain, Desk, Runners int
	Languages                                 []string
}

// wants gives the posts in the order in which they are filled when people lack: without a supervisor nobody may test.
func (w RosterWish) wants() []roster.Want {
	return []roster.Want{
		{Post: string(people.Supervisor), Count: w.Supervisors},
		{Post: string(people.Screener), Count: w.Test},
		{Post: string(people.Counsellor), Count: w.Explain},
		{Post: string(people.Desk), Count: w.Desk},
		{Post: string(people.Runner), Count: w.Runners},
	}
}

func (w RosterWish) check() error {
	var f fields
	f.between("supervisors", "Supervisors", w.Supervisors, 0, MostWanted)
	f.between("test", "Posts that test", w.Test, 0, MostWanted)
	f.between("explain", "Posts that explain", w.Explain, 0, MostWanted)
	f.between("desk", "Posts at the desk", w.Desk, 0, MostWanted)
	f.between("runners", "Runners", w.Runners, 0, MostWanted)
	if len(w.Languages) > roster.MostLanguages {
		f.say("languages", "At most %d languages can be asked for.", roster.MostLanguages)
	}
	return f.err()
}

// ProposedPost is one person at one post.
type ProposedPost struct {
	Person        *people.State
	Role, Station string
	New           bool // not on the roster yet
}

// DroppedPost is a post whose person cannot be there, with who could take it.
type DroppedPost struct {
	Post        event.Post
	Name        string
	Why         string
	Substitutes []RosterSubstitute // those who keep all languages first
}

// RosterSubstitute is somebody verified and free for a post.
type RosterSubstitute struct {
	Person   *people.State
	Lost     []string // wanted languages that nobody would speak with them instead
	Proposed string   // the post for which the proposal takes them; empty when they are spare
}

// LeftOut is why somebody is not proposed for a post that they hold the role for.
type LeftOut struct {
	Person *people.State
	Why    string
}

// RosterProposal is a roster as it could be, with what is lacking and why.
type RosterProposal struct {
	Wish    RosterWish
	Posts   []ProposedPost // those who keep their posts, and the new ones
	Dropped []DroppedPost
	Lacking []roster.Want
	Out     []LeftOut       // refused, with the reason
	Spare   []*people.State // verified and free, but not needed

	Hands, Supervisors int // people who test or counsel, and those who supervise them
	Ratio              *fault.Fault
	Unspoken           []string
	Gloves             []GloveCount
	NoGlove            []string // names of those who need gloves and whose size is not known
}

// GloveCount is how many people wear a size.
type GloveCount struct {
	Size  string
	Count int
}

// New lists what the proposal adds to the roster.
func (p *RosterProposal) New() []ProposedPost {
	var out []ProposedPost
	for _, x := range p.Posts {
		if x.New {
			out = append(out, x)
		}
	}
	return out
}

// RosterWish is what the roster of a day seems to need: as many posts as it has, at least one of each, and the supervisors
// that the protocol wants for them.
func (d *Day) RosterWish() RosterWish {
	n := map[string]int{}
	for _, p := range d.Event.Roster {
		n[p.Role]++
	}
	w := RosterWish{
		Test: max(1, n[string(people.Screener)]), Explain: max(1, n[string(people.Counsellor)]), Desk: max(1, n[string(people.Desk)]), Runners: n[string(people.Runner)],
		Supervisors: n[string(people.Supervisor)] + n[string(people.Lead)], Languages: slices.Clone(Languages),
	}
	if wanted := d.Protocol.Ratio.Wanted; wanted > 0 {
		w.Supervisors = max(w.Supervisors, (w.Test+w.Explain+wanted-1)/wanted)
	}
	return w
}

// ProposeRoster proposes who stands where. Those on the roster who can be there keep their posts; the rest is filled by who
// is verified on the day of the event and free. It changes nothing.
func (p *Programme) ProposeRoster(ctx context.Context, eventID string, wish RosterWish) (*Day, *RosterProposal, error) {
	d, err := p.Day(ctx, eventID)
	if err != nil {
		return nil, nil, err
	}
	if d.ProtocolErr != nil {
		return d, nil, d.ProtocolErr
	}
	if err := wish.check(); err != nil {
		return d, nil, err
	}
	events, err := List[*event.State](ctx, p, event.Kind)
	if err != nil {
		return d, nil, err
	}
	out, err := d.propose(wish, elsewhere(events, d.Event))
	return d, out, err
}

// elsewhere names the event at which a person has a post on the same day.
func elsewhere(events []*event.State, ev *event.State) map[string]string {
	out := map[string]string{}
	for _, o := range events {
		if o.ID == ev.ID || o.Phase == event.IsClosed || o.Plan.Date != ev.Plan.Date {
			continue
		}
		for _, p := range o.Roster {
			out[p.Person] = o.Plan.Name
		}
	}
	return out
}

func (d *Day) propose(wish RosterWish, busy map[string]string) (*RosterProposal, error) {
	out := &RosterProposal{Wish: wish}
	kept, spoken := map[string]int{}, map[string]bool{}
	posted := map[string]bool{}
	for _, post := range d.Event.Roster {
		posted[post.Person] = true
		who := d.Person(post.Person)
		if why := d.dropped(who, post); why != "" {
			out.Dropped = append(out.Dropped, DroppedPost{Post: post, Name: d.NameOf(post.Person), Why: why})
			continue
		}
		out.Posts = append(out.Posts, ProposedPost{Person: who, Role: post.Role, Station: post.Station})
		kept[postFor(post.Role)]++
		for _, l := range who.Details.Languages {
			spoken[l] = true
		}
	}
	wants := wish.wants()
	asked := map[string]bool{}
	for i := range wants {
		asked[wants[i].Post] = wants[i].Count > 0
		wants[i].Count = max(0, wants[i].Count-kept[wants[i].Post])
	}
	var free []roster.Person
	for _, who := range d.People {
		if who.Gone != "" || posted[who.ID] {
			continue
		}
		fits, refused := fitsOf(who, d.standing(who.ID, nil), asked, d.Protocol, d.Event, busy[who.ID])
		if len(refused) > 0 {
			out.Out = append(out.Out, LeftOut{Person: who, Why: strings.Join(refused, " ")})
		}
		if len(fits) > 0 {
			free = append(free, roster.Person{ID: who.ID, Fits: fits, Languages: who.Details.Languages})
		}
	}
	var silent []string
	for _, l := range wish.Languages {
		if !spoken[l] {
			silent = append(silent, l)
		}
	}
	choice, err := roster.Choose(free, wants, silent)
	if err != nil {
		return nil, err
	}
	proposed := map[string]string{}
	stations := newStations(out.Posts)
	for _, x := range choice.Posts {
		who := d.Person(x.Person)
		role := roleFor(who, x.Post)
		out.Posts = append(out.Posts, ProposedPost{Person: who, Role: role, Station: stations.next(role), New: true})
		proposed[x.Person] = x.Post
	}
	for _, id := range choice.Spare {
		out.Spare = append(out.Spare, d.Person(id))
	}
	out.Lacking, out.Unspoken = choice.Lacking, choice.Unspoken
	for i := range out.Dropped {
		x := &out.Dropped[i]
		for _, s := range roster.Substitutes(free, postFor(x.Post.Role), silent) {
			x.Substitutes = append(x.Substitutes, RosterSubstitute{Person: d.Person(s.Person), Lost: s.Lost, Proposed: proposed[s.Person]})
		}
	}
	out.order()
	out.count(d.Protocol)
	return out, nil
}

// postFor gives the post that a role fills: a lead who is posted as such supervises.
func postFor(role string) string {
	if role == string(people.Lead) {
		return string(people.Supervisor)
	}
	return role
}

// roleFor is the role in which somebody fills a post.
func roleFor(who *people.State, post string) string {
	if post == string(people.Supervisor) && !who.Has(people.Supervisor) {
		return string(people.Lead)
	}
	return post
}

// dropped says why somebody on the roster cannot be at their post; empty when they can.
func (d *Day) dropped(who *people.State, post event.Post) string {
	switch {
	case who == nil:
		return "This person is not on the list of people."
	case who.Gone != "":
		return who.Details.Name + " has left: " + who.Gone
	case post.Told && !post.Here:
		if post.Note != "" {
			return "Is not there: " + post.Note
		}
		return "Is marked as not there."
	case !who.Has(people.Role(post.Role)):
		return fmt.Sprintf("%s no longer holds the role %s.", who.Details.Name, post.Role)
	}
	if f := verifiedFault(who, d.standing(who.ID, nil), people.Role(post.Role), d.Protocol, d.Event.Plan.Date); f != nil {
		return f.Sentence + " " + eventOn(d.Event)
	}
	return ""
}

func eventOn(ev *event.State) string { return "The event is on " + ev.Plan.Date.Long() + "." }

// fitsOf gives the posts that somebody may have on the day, and why they may not have others of those asked for.
func fitsOf(who *people.State, has standing, asked map[string]bool, proto protocol.Protocol, ev *event.State, busy string) (fits, refused []string) {
	for _, role := range []people.Role{people.Supervisor, people.Lead, people.Screener, people.Counsellor, people.Desk, people.Runner} {
		post := postFor(string(role))
		if !who.Has(role) || slices.Contains(fits, post) {
			continue
		}
		f := verifiedFault(who, has, role, proto, ev.Plan.Date)
		switch {
		case f == nil && busy == "":
			fits = append(fits, post)
		case f != nil && asked[post]:
			refused = append(refused, f.Sentence+" "+eventOn(ev))
		}
	}
	if busy != "" {
		refused = append(refused, fmt.Sprintf("%s has a post at %s on the same day.", who.Details.Name, busy))
	}
	return fits, refused
}

// stations hands out the names of stations that nobody has yet.
type stations map[string]bool

func newStations(posts []ProposedPost) stations {
	s := stations{}
	for _, p := range posts {
		s[p.Station] = true
	}
	return s
}

func (s stations) next(role string) string {
	letter, has := map[string]string{string(people.Screener): "", string(people.Counsellor): "E", string(people.Desk): "D"}[role]
	if !has {
		return ""
	}
	for n := 1; ; n++ {
		if name := letter + strconv.Itoa(n); !s[name] {
			s[name] = true
			return name
		}
	}
}

// postOrder is the order of posts on a roster.
var postOrder = []string{string(people.Lead), string(people.Supervisor), string(people.Desk), string(people.Screener), string(people.Counsellor), string(people.Runner)}

func (p *RosterProposal) order() {
	slices.SortStableFunc(p.Posts, func(a, b ProposedPost) int { return ComparePosts(a.Role, a.Station, b.Role, b.Station) })
}

// ComparePosts orders posts as a roster lists them: those who answer for all first, then as participants meet them, by
// station; station 10 comes after 9.
func ComparePosts(role, station, otherRole, otherStation string) int {
	if x := slices.Index(postOrder, role) - slices.Index(postOrder, otherRole); x != 0 {
		return x
	}
	if x := len(station) - len(otherStation); x != 0 {
		return x
	}
	return strings.Compare(station, otherStation)
}

// GloveSizes are the sizes in their order.
var GloveSizes = []string{"XS", "S", "M", "L", "XL"}

// count sums hands, supervisors and gloves. Gloves are counted for those who test and those who supervise them.
func (p *RosterProposal) count(proto protocol.Protocol) {
	sizes := map[string]int{}
	for _, x := range p.Posts {
		switch people.Role(x.Role) {
		case people.Screener:
			p.Hands++
		case people.Counsellor:
			p.Hands++
			continue
		case people.Supervisor, people.Lead:
			p.Supervisors++
		case people.Desk, people.Runner:
			continue
		}
		if g := x.Person.Details.Glove; g != "" {
			sizes[g]++
		} else {
			p.NoGlove = append(p.NoGlove, x.Person.Details.Name)
		}
	}
	for _, size := range GloveSizes {
		if sizes[size] > 0 {
			p.Gloves = append(p.Gloves, GloveCount{Size: size, Count: sizes[size]})
		}
	}
	p.Ratio = plannedRatio(p.Hands, p.Supervisors, proto.Ratio)
}

// plannedRatio refuses a roster with too few supervisors, and says how many more there would have to be; nil when it holds.
func plannedRatio(hands, supervisors int, r protocol.Ratio) *fault.Fault {
	if hands <= supervisors*r.Wanted {
		return nil
	}
	more := (hands+r.Wanted-1)/r.Wanted - supervisors
	who, under := fmt.Sprintf("%d people would test or counsel", hands), fmt.Sprintf("%d supervisors", supervisors)
	if hands == 1 {
		who = "1 person would test or counsel"
	}
	if supervisors == 1 {
		under = "1 supervisor"
	}
	do := fmt.Sprintf("Find %d more to supervise, or plan fewer posts.", more)
	if hands > supervisors*r.Most {
		return refuse("ratio-most", fmt.Sprintf("%s under %s; the protocol allows at most %d each.", who, under, r.Most), "The day could not open like this.", do)
	}
	return refuse("ratio-wanted", fmt.Sprintf("%s under %s; the protocol wants %d for each.", who, under, r.Wanted),
		"The day could open only with a lead's signed reason.", do)
}

// RosterRow is one post of an accepted proposal.
type RosterRow struct{ Person, Role, Station string }

// AcceptRoster puts the new posts of a proposal on the roster.
type AcceptRoster struct {
	Act
	Event string
	Rows  []RosterRow
}

// AcceptRoster records all posts or none. A lead or supervisor may. Each post is checked as PostPerson checks it, so that
// what has changed since the proposal was drawn is refused.
func (p *Programme) AcceptRoster(ctx context.Context, a Actor, c AcceptRoster) (Done, error) {
	return do(ctx, p, a, c.Act, "event.accept-roster", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.ahead(c.Event, false)
		if err != nil {
			return Done{}, err
		}
		if len(c.Rows) == 0 {
			return Done{}, fault.New(fault.Refused, "nobody-proposed", "The proposal adds nobody.", "", "Verify people first, or post somebody by hand on the page Roster.")
		}
		if len(c.Rows) > roster.MostPosts {
			return Done{}, fault.BadField("rows", "A roster has at most %d posts.", roster.MostPosts)
		}
		for i, r := range c.Rows {
			if slices.ContainsFunc(c.Rows[:i], func(o RosterRow) bool { return o.Person == r.Person }) {
				return Done{}, fault.BadField("rows", "One person stands twice in this proposal. Draw it again.")
			}
			if _, there := ev.PostOf(r.Person); there {
				return Done{}, fault.New(fault.Conflict, "posted-meanwhile", "Somebody of this proposal has a post already.",
					"The roster changed since the proposal was drawn. Nothing was recorded.", "Draw the proposal again.")
			}
			if err := w.post(ev, r); err != nil {
				return Done{}, err
			}
		}
		return Done{ID: ev.ID}, nil
	})
}
