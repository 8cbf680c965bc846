package e2e

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"
)

// heard is one thing as a screen reader meets it.
type heard struct {
	Role, Name string
	Level      int
}

// tree gives the page as a screen reader walks through it.
func (p *page) tree() []heard {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	nodes, err := chromedp.Run(ctx, chromedp.Action[[]*accessibility.Node](func(ctx context.Context, t *chromedp.Target) ([]*accessibility.Node, error) {
		if _, err := cdp.Call(ctx, t, accessibility.Enable, cdp.Empty{}); err != nil {
			return nil, err
		}
		r, err := cdp.Call(ctx, t, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
		if err != nil {
			return nil, err
		}
		return r.Nodes, nil
	}))
	if err != nil {
		p.t.Fatalf("%s: no tree of %s: %v", p.name, p.url(), err)
	}
	text := func(v *accessibility.Value) (s string) {
		if v == nil || json.Unmarshal(v.Value, &s) != nil {
			return ""
		}
		return s
	}
	var out []heard
	for _, n := range nodes {
		if n.Ignored {
			continue
		}
		h := heard{Role: text(n.Role), Name: strings.Join(strings.Fields(text(n.Name)), " ")}
		for _, x := range n.Properties {
			if x.Name == "level" {
				_ = json.Unmarshal(x.Value.Value, &h.Level)
			}
		}
		out = append(out, h)
	}
	return out
}

// controls are the roles that must say what they are.
var controls = []string{"button", "link", "textbox", "searchbox", "combobox", "radio", "checkbox", "spinbutton", "radiogroup", "table", "progressbar", "DisclosureTriangle"}

// untold is what a screen reader would not be told, asked of the page itself.
const untold = `(() => {
  const out = [];
  const words = (e) => (e?.textContent || "").replace(/\s+/g, " ").trim();
  for (const m of document.querySelectorAll("svg.mark")) {
    if (m.getAttribute("aria-hidden") !== "true" || !words(m.parentElement)) out.push("a mark without its word: " + m.parentElement.outerHTML.slice(0, 120));
  }
  for (const r of document.querySelectorAll(".reading")) {
    if (r.closest(".card") && r.querySelector("a")) continue; // a telephone number set large
    const number = r.querySelector(".reading-number"), unit = r.querySelector(".reading-unit");
    if (!number || r.closest("[aria-hidden]")) { out.push("a reading that is not told: " + r.outerHTML); continue; }
    if (unit && !/^(LO|HI|E[-\d]*|[\d.]+) (mg\/dL|mmol\/L)$/.test(words(r))) out.push("a reading apart from its unit: " + words(r));
  }
  for (const c of document.querySelectorAll("[data-countdown]")) {
    const said = c.querySelector('[role="status"][data-said]');
    if (!said || words(said) || c.closest("[aria-live], [role=alert], [role=timer]") || c.matches("[aria-live]")) out.push("a countdown that speaks before its end");
  }
  if (document.querySelectorAll('[role="alert"]#alerts, [role="alert"]#alerts-es').length !== 1) out.push("not one place for alerts");
  for (const t of document.querySelectorAll("table")) {
    if (!words(t.caption)) out.push("a table without a caption");
    if (!t.querySelector('th[scope="col"]')) out.push("a table whose columns have no names: " + words(t.caption));
    for (const row of t.tBodies[0].rows) if (!row.querySelector('th[scope="row"]')) { out.push("a row without a name in " + words(t.caption)); break; }
  }
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode());) {
    const e = n.parentElement;
    if (/[¿¡]/.test(n.data) && !e.closest('[lang="es"]')) out.push("Spanish that is not marked as such: " + n.data.trim());
  }
  return out;
})()`

// A screen reader is told everything: one first heading and no level left out, the landmarks, a name for each control, the
// reading with its unit, the word beside each mark, the names of rows and columns, the language of each part.
func TestScreenReader(t *testing.T) {
	t.Parallel()
	f := market(t)
	p := f.comes("Maren Solbakk", phone)
	f.sit(p, "1", "M1", "Lot INV-41, vial 41-a")
	visits := func(page string, tickets ...string) (out []string) {
		for _, n := range tickets {
			out = append(out, "/events/"+f.event+"/"+page+"/"+f.ticket(n).ID)
		}
		return out
	}
	e := "/events/" + f.event
	paths := slices.Concat([]string{"/", "/sign-in", "/station", e + "/desk", e + "/test", e + "/explain", e + "/board", e + "/report", e + "/close", e + "/roster", e + "/controls", "/follow-up", "/people", "/setup/protocol"},
		visits("desk", "028", "029"), visits("test", "025"), visits("explain", "022"), visits("care", "021", "022", "023"), visits("slip", "005", "013"))
	marks, readings := 0, 0
	for _, path := range paths {
		p.visit(f.url + path)
		level, first, landmarks := 0, 0, map[string]int{}
		for _, h := range p.tree() {
			switch {
			case h.Role == "heading":
				if h.Level > level+1 {
					t.Errorf("%s: the heading %q is of level %d after %d", path, h.Name, h.Level, level)
				}
				if level = h.Level; level == 1 {
					first++
				}
				if h.Name == "" {
					t.Errorf("%s: an empty heading", path)
				}
			case slices.Contains([]string{"main", "banner", "navigation", "contentinfo"}, h.Role):
				landmarks[h.Role]++
			case slices.Contains(controls, h.Role) && h.Name == "":
				t.Errorf("%s: a %s without a name", path, h.Role)
			}
		}
		if first != 1 || landmarks["main"] != 1 || landmarks["banner"] != 1 {
			t.Errorf("%s: %d first headings, landmarks %v", path, first, landmarks)
		}
		var not []string
		p.eval(untold, &not)
		for _, s := range not {
			t.Errorf("%s: %s", path, s)
		}
		var n [2]int
		p.eval(`[document.querySelectorAll("svg.mark").length, document.querySelectorAll(".reading").length]`, &n)
		marks, readings = marks+n[0], readings+n[1]
	}
	if marks < 5 || readings < 3 {
		t.Errorf("only %d marks and %d readings were met", marks, readings)
	}
}
