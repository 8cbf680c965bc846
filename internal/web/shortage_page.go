package web

import (
	"fmt"

	"fairstick/internal/web/ui"
)

// shortageRoutes tell which events ran out of something.
var shortageRoutes = []Route{{Method: "GET", Path: "/stock/ran-out", Roles: senior, Handle: ranOutShow}}

func ranOutShow(s *Server, c *Context) error {
	list, err := s.prog.Shortages(c.R.Context())
	if err != nil {
		return err
	}
	v := listView{
		Page: c.officePage("Which event ran out of something?", "Strips and lancets that were all used, by what the record has.", "stock", &ui.Link{Href: "/stock", Label: "Stock"}), ID: "ran-out", Caption: plural(len(list), "shortage", "shortages") + ", the latest first",
		Cols: columns("Event", "What", "Brought", "Used", "In words"), EmptyWhat: "No event ran out of strips or lancets.", EmptyHow: "An event that uses everything it brought stands here.", Find: "Find an event",
	}
	for _, x := range list {
		v.Rows = append(v.Rows, listRow{Href: "/events/" + x.Event + "/report", Cells: []string{x.Name + ", " + x.Date.Long(), x.What, fmt.Sprint(x.Brought), fmt.Sprint(x.Used), x.Says}})
	}
	return c.Render(200, OfficeList(v))
}
