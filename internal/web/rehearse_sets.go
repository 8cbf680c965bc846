package web

import (
	"fmt"
	"slices"

	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// setsView is the sets that teachers composed, and the form for another.
type setsView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Sets    []setRow
	Name    ui.Input
	Level   ui.Pick
	Groups  []setGroup
	Wrong   string // about the situations
	Command string
}

type setRow struct {
	Name, Level, Names, Retire string
}

type setGroup struct {
	Name  string
	Boxes []setBox
}

type setBox struct {
	Key, Label, Hint string
	Checked          bool
}

var groupNames = map[rehearse.Group]string{
	rehearse.Gear: "Meters, strips, controls", rehearse.Person: "People who want something", rehearse.Technique: "At the finger", rehearse.Pressure: "A full hall", rehearse.Urgent: "Somebody is in danger",
}

func setsShow(_ *Server, c *Context) error { return c.showSets(nil) }

func (c *Context) showSets(f *fault.Fault) error {
	sets, err := c.s.prog.RehearsalSets(c.R.Context())
	if err != nil {
		return err
	}
	v := setsView{Page: c.page("Practice days"), Fault: f, Wrong: ui.Message(f, "situations"), Command: c.command()}
	v.Page.Lead, v.Page.Back = "Compose the scenes that your class shall meet. Whoever learns finds the set under Learn, Practice day.", &ui.Link{Href: "/training", Label: "Training"}
	for _, s := range sets {
		v.Sets = append(v.Sets, setRow{Name: s.Name, Level: levelTitle(s.Level), Names: situationNames(s.Situations), Retire: "/training/rehearsals/" + s.ID + "/retire"})
	}
	v.Name = ui.Input{Name: "name", Label: "Name of the set", Value: c.Form("name"), Error: ui.Message(f, "name"), MaxLength: 60}
	v.Level = ui.Pick{Name: "level", Legend: "For which work", Value: c.Form("level"), Error: ui.Message(f, "level"), Row: true}
	for _, l := range []cards.Level{cards.Desk, cards.Counsellor, cards.Screener} {
		v.Level.Options = append(v.Level.Options, ui.Option{Value: string(l), Label: levelTitle(l)})
	}
	chosen := c.Forms("situation")
	for _, g := range rehearse.Groups {
		group := setGroup{Name: groupNames[g]}
		for _, m := range rehearse.Makers() {
			if m.Group == g {
				group.Boxes = append(group.Boxes, setBox{Key: m.Key, Label: m.Name.In("en"), Hint: "from " + levelTitle(m.From), Checked: slices.Contains(chosen, m.Key)})
			}
		}
		v.Groups = append(v.Groups, group)
	}
	return c.Show(f, SetsPage(v))
}

func situationNames(keys []string) string {
	out := ""
	for _, m := range rehearse.Makers() {
		if slices.Contains(keys, m.Key) {
			if out != "" {
				out += "; "
			}
			out += m.Name.In("en")
		}
	}
	return out
}

func setCompose(s *Server, c *Context) error {
	cmd := programme.ComposeSet{Act: c.Act(), Name: c.Form("name"), Level: c.Form("level"), Situations: c.Forms("situation")}
	if _, err := s.prog.ComposeSet(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.showSets(fault.Of(err))
	}
	return c.Done("/training/rehearsals", fmt.Sprintf("The set “%s” can be practised now.", cmd.Name))
}

func setRetire(s *Server, c *Context) error {
	if _, err := s.prog.RetireSet(c.R.Context(), c.Actor(), programme.RetireSet{Act: c.Act(), Set: c.R.PathValue("set")}); err != nil {
		return err
	}
	return c.Done("/training/rehearsals", "The set is taken off the list. What was practised with it stays.")
}

// leastSituations is said beside the choice.
var leastSituations = fmt.Sprintf("At least %d, one of them with somebody in danger.", competence.LeastSituations)
