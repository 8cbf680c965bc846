package web

import (
	"go/ast"
	"go/parser"
	"go/token"
	"html"
	"net/http"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fairstick/internal/fault"
)

// same are the words that both languages write alike.
var same = []string{"PIN", "No", "Plan", "PDF A5"}

// fill puts something into what a sentence is told, and gives what the sentence must then have in it.
func fill(arg reflect.Value, i int) (told []string) {
	switch arg.Kind() {
	case reflect.String:
		arg.SetString("<" + strconv.Itoa(i) + ">")
		return []string{arg.String()}
	case reflect.Int:
		arg.SetInt(int64(700 + i))
		return []string{strconv.Itoa(700 + i)}
	case reflect.Struct:
		for k := range arg.NumField() {
			told = append(told, fill(arg.Field(k), 10*i+k)...)
		}
	}
	return told // a bool chooses between words
}

// everyWord walks a language's words and tells of each: where it stands and what it is; "" for one that is missing.
func everyWord(path string, v reflect.Value, tell func(path, word string)) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			everyWord(path+"."+v.Type().Field(i).Name, v.Field(i), tell)
		}
	case reflect.Map:
		keys := v.MapKeys()
		slices.SortFunc(keys, func(a, b reflect.Value) int { return strings.Compare(a.String(), b.String()) })
		if len(keys) == 0 {
			tell(path, "")
		}
		for _, k := range keys {
			everyWord(path+"["+k.String()+"]", v.MapIndex(k), tell)
		}
	case reflect.Func:
		if v.IsNil() {
			tell(path, "")
			return
		}
		in := make([]reflect.Value, v.Type().NumIn())
		var told []string
		for i := range in {
			in[i] = reflect.New(v.Type().In(i)).Elem()
			told = append(told, fill(in[i], i)...)
		}
		said := v.Call(in)[0].String()
		for _, want := range told {
			if !strings.Contains(said, want) {
				said = "" // a language that drops what it is told
			}
		}
		tell(path, said)
	default:
		tell(path, v.String())
	}
}

func TestEveryWordInBothLanguages(t *testing.T) {
	words := map[string]map[string]string{}
	for _, lang := range []string{"en", "es"} {
		words[lang] = map[string]string{}
		everyWord("", reflect.ValueOf(*tongueIn(lang)), func(path, word string) {
			words[lang][path] = word
			if word == "" {
				t.Errorf("%s has no words for %s", lang, path)
			}
		})
	}
	if len(words["en"]) < 250 {
		t.Fatalf("only %d words were found", len(words["en"]))
	}
	for path, english := range words["en"] {
		spanish, there := words["es"][path]
		switch {
		case !there:
			t.Errorf("Spanish has no words for %s", path)
		case spanish == english && !slices.Contains(same, english) && path != ".Shell.PINNote":
			t.Errorf("%s is %q in both languages", path, english)
		}
	}
	for path := range words["es"] {
		if _, there := words["en"][path]; !there {
			t.Errorf("English has no words for %s", path)
		}
	}
}

// literals are all the strings in the source of some packages, with what is put into them written as {}.
func literals(t *testing.T, dirs ...string) []string {
	t.Helper()
	verb := regexp.MustCompile(`%0?\d*[a-z]`)
	var out []string
	for _, dir := range dirs {
		names, err := filepath.Glob(filepath.Join("..", dir, "*.go"))
		if err != nil || len(names) == 0 {
			t.Fatalf("%s: no source (%v)", dir, err)
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") || strings.HasPrefix(filepath.Base(name), "lang_") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					if s, err := strconv.Unquote(lit.Value); err == nil {
						out = append(out, verb.ReplaceAllString(s, "{}"))
					}
				}
				return true
			})
		}
	}
	return out
}

// The programme's sentences are known in Spanish by their English words: each of them must still be said by the source.
func TestPhrasesAreStillSaid(t *testing.T) {
	said := literals(t, "programme", "protocol", "fault", "competence", "competence/rehearse", "sandbox", "web")
	whole := func(s string) bool {
		return slices.ContainsFunc(said, func(l string) bool { return strings.Contains(l, s) })
	}
	tails := []string{" is missing.", " is longer than ", " was not chosen."} // said of a field by its label
	for _, p := range phrases {
		for _, part := range regexp.MustCompile(`\{[1-3]\}`).Split(p.en, -1) {
			part = strings.TrimPrefix(part, "Ticket ")
			ok := len(part) < 3 || whole(part)
			for _, tail := range tails {
				if label, found := strings.CutSuffix(part, tail); found {
					ok = ok || slices.Contains(said, label)
				}
			}
			if !ok {
				t.Errorf("nothing in the source says %q any more (of %q)", part, p.en)
			}
		}
		for _, n := range []string{"{1}", "{2}", "{3}"} {
			if strings.Contains(p.en, n) != strings.Contains(p.es, n) {
				t.Errorf("%s stands in one language only: %q, %q", n, p.en, p.es)
			}
		}
	}
}

func TestInSpanish(t *testing.T) {
	cases := []struct{ in, want string }{
		{"Ticket 020 has not been explained.", "El turno 020 todavía no se ha explicado."},
		{"Ticket 020 is at station Explain 2.", "El turno 020 está en el puesto Explain 2."},
		{"Too many wrong PINs; wait 31 seconds.", "Demasiados PIN equivocados; espere 31 segundos."},
		{"Ticket 021 still needs care: A supervisor goes to the person and signs in here.", "El turno 021 todavía necesita atención: Alguien de supervisión va con la persona y firma aquí."},
		{"2 fields need another look: The name is missing.", "Hay 2 respuestas que revisar: Falta el nombre."},
	}
	for _, c := range cases {
		if got, ok := inSpanish(c.in); !ok || got != c.want {
			t.Errorf("%q: %q, %v", c.in, got, ok)
		}
	}
	if got, ok := inSpanish("A sentence nobody has translated."); ok || got != "A sentence nobody has translated." {
		t.Errorf("an unknown sentence became %q", got)
	}
	r := &http.Request{Pattern: "GET /events/{event}/desk"}
	c := &Context{R: r}
	c.Device.Lang = "es"
	half := fault.New(fault.Refused, "x", "The doors are closed.", "Nobody has translated this.", "")
	if got := c.told(half); got != half {
		t.Errorf("a refusal that is half known was told as %+v", got)
	}
	if got := c.told(fault.New(fault.Refused, "doors-closed", "The doors are closed.", "", "")); got.Lang != "es" || got.Sentence != "Las puertas están cerradas." || got.Key != "doors-closed" {
		t.Errorf("the doors: %+v", got)
	}
	c.R = &http.Request{Pattern: "GET /events/{event}/board"}
	if c.lang() != "en" {
		t.Error("the board is not in Spanish, so none of its shell is")
	}
}

// foreign are English words that no Spanish page of the desk or of Explain may show.
var foreign = regexp.MustCompile(`(?i)\b(the|of|and|is|are|with|this|that|ticket|next|back|was|your|from|write|take|page|start|waits?|yes|done|until|left|since|not|who|what|it|in|to|for|go|care|meter|person|people|day|today|yesterday|last|food|say|said|step|at|by)\b`)

var tags = regexp.MustCompile(`(?s)<!--.*?-->|<(/?)([a-zA-Z0-9]+)([^>]*)>`)

var spokenAttributes = regexp.MustCompile(`(?:aria-label|data-done|data-shown|placeholder|title)="([^"]*)"`)

// spanishText gives what a page says outside the parts that are marked as English.
func spanishText(body string) string {
	void := []string{"meta", "link", "input", "br", "hr", "img", "path", "rect", "circle"}
	var out strings.Builder
	type open struct{ tag, lang string }
	stack := []open{{"", "es"}}
	at := 0
	take := func(s string) {
		if top := stack[len(stack)-1]; top.lang != "en" && top.tag != "script" && top.tag != "style" {
			out.WriteString(html.UnescapeString(s) + " ")
		}
	}
	for _, m := range tags.FindAllStringSubmatchIndex(body, -1) {
		take(body[at:m[0]])
		at = m[1]
		if m[4] < 0 {
			continue
		}
		closing, tag, attrs := body[m[2]:m[3]] == "/", strings.ToLower(body[m[4]:m[5]]), body[m[6]:m[7]]
		if closing {
			for i := len(stack) - 1; i > 0; i-- {
				if stack[i].tag == tag {
					stack = stack[:i]
					break
				}
			}
			continue
		}
		lang := stack[len(stack)-1].lang
		if l := regexp.MustCompile(`\slang="([a-z]+)"`).FindStringSubmatch(attrs); l != nil {
			lang = l[1]
		}
		if lang != "en" {
			for _, a := range spokenAttributes.FindAllStringSubmatch(attrs, -1) {
				out.WriteString(html.UnescapeString(a[1]) + " ")
			}
		}
		if !slices.Contains(void, tag) && !strings.HasSuffix(attrs, "/") {
			stack = append(stack, open{tag, lang})
		}
	}
	return out.String()
}

// data is what people of the invented day have typed; it stands in their own words.
func (m *market) data() []string {
	d := m.day()
	out := []string{d.Event.Plan.Name, d.Event.Plan.Venue, d.Event.Plan.Address, d.Charter.Details.Name, d.Charter.Details.Contact, d.Charter.Details.ContactHours, "Explain"}
	for _, p := range d.People {
		out = append(out, p.Details.Name, p.Details.Title)
	}
	for _, r := range append(slices.Clone(d.Event.Plan.Routes), d.Event.Plan.Urgent) {
		out = append(out, r.Name, r.Phone, r.Address, r.Hours, r.Note)
	}
	return out
}

// allSpanish fails on English words of ours on the page that is open.
func (v *visitor) allSpanish() {
	v.m.t.Helper()
	if !strings.Contains(v.body, `<html lang="es">`) {
		v.m.t.Errorf("%s is not in Spanish", v.path)
		return
	}
	text := strings.Join(strings.Fields(spanishText(v.body)), " ")
	for _, own := range v.m.data() {
		if own != "" {
			text = strings.ReplaceAll(text, own, "")
		}
	}
	for _, at := range foreign.FindAllStringIndex(text, -1) {
		v.m.t.Errorf("%s says %q: …%s…", v.path, text[at[0]:at[1]], text[max(0, at[0]-50):min(len(text), at[1]+50)])
	}
}

func TestSpanishText(t *testing.T) {
	got := spanishText(`<html lang="es"><p aria-label="uno">dos <b lang="en" title="x">three <i>four</i></b> cinco<br> seis</p><script>var the</script></html>`)
	if strings.Join(strings.Fields(got), " ") != "uno dos cinco seis" {
		t.Errorf("got %q", got)
	}
	if !foreign.MatchString("pulse the botón") || foreign.MatchString("Pulse un número para tomarlo. Está en ayunas.") {
		t.Error("the English words are not told from the Spanish ones")
	}
}

// A device that is set to Spanish speaks Spanish at the desk, at Explain and beside care, from the sign-in to the last press,
// and its refusals too.
func TestSpanishInterface(t *testing.T) {
	m := newMarket(t)
	v := m.as("Rosa Amaya")
	v.get("/station")
	v.see("Español")
	v.send("/language", form("lang", "es"))
	v.want(http.StatusSeeOther)
	look := func(path string) {
		t.Helper()
		v.get(path)
		v.want(http.StatusOK)
		v.allSpanish()
	}
	next := func() {
		t.Helper()
		v.follow()
		v.want(http.StatusOK)
		v.allSpanish()
	}
	refused := func(status int) {
		t.Helper()
		v.want(status)
		v.allSpanish()
	}
	look("/")
	look("/station")
	for _, step := range []string{"desk", "test", "explain"} {
		look("/station?event=" + m.day().Event.ID + "&step=" + step)
	}
	v.send("/station", form("station", "1"))
	v.want(http.StatusSeeOther)
	look(m.event + "/explain")
	v.see("Esperan su resultado", `id="line-explain-es"`)

	// the desk, with an English participant: what is said to them is English and marked so
	path := v.arrive("en")
	v.allSpanish()
	v.see("Consentimiento", `lang="en"`, "Yes, I agree")
	v.send(path+"/consent", form("agree", "yes"))
	refused(http.StatusUnprocessableEntity)
	v.see("Falta elegir cómo se dio a conocer el texto.")
	v.send(path+"/consent", form("agree", "yes", "how", "read"))
	next()
	v.send(path+"/questions", form("answer", "signs"))
	refused(http.StatusUnprocessableEntity)
	v.send(path+"/questions", form("answer", "none"))
	v.send(path+"/questions", form("answer", "5x"))
	refused(http.StatusUnprocessableEntity)
	v.see("Escriba la edad en años enteros.")
	v.answer(path, adult)
	next()
	v.send(path+"/ate", form("ate_day", "today", "ate_at", "23:30"))
	refused(http.StatusUnprocessableEntity)
	v.see("¿Fue ayer?")
	v.send(path+"/ate", form("ate_day", "yesterday", "ate_at", "23:30"))
	next()
	look(path + "?step=contact&allow=yes")
	v.send(path+"/contact", form("contact_name", "", "call", "yes"))
	refused(http.StatusUnprocessableEntity)
	v.get(path + "?step=contact")
	v.send(path+"/contact", form("allow", "no"))
	next()

	for _, n := range []int{3, 8, 14, 25, 28, 29} {
		look(m.event + "/desk/" + m.ticket(n).ID)
	}
	x := m.ticket(20)
	path = m.event + "/explain/" + x.ID
	v.get(path)
	if v.status == http.StatusConflict { // it is at the seat where she was before
		v.allSpanish()
		v.send(path+"/put-back", nil)
		next()
		v.send(path+"/take", nil)
		next()
	}
	for _, at := range []string{"result", "teach", "refer", "contact", "contact&allow=yes", "slip", "finish"} {
		look(path + "?at=" + at)
	}
	v.post(path+"/finish", nil)
	refused(http.StatusConflict)
	v.see("El turno 020 todavía no se ha explicado.")
	v.get(path + "?at=teach")
	v.send(path+"/explained", form("teach_back", "own-words"))
	next()
	v.send(path+"/refer", form("route", "Tamsin Green Community Clinic"))
	refused(http.StatusUnprocessableEntity)
	v.send(path+"/refer", form("route", "Tamsin Green Community Clinic", "agreed", "yes"))
	next()
	v.send(path+"/slip", form("size", "a5"))
	next()
	v.send(path+"/finish", nil)
	next()
	for _, n := range []int{22, 24} {
		v.get(m.event + "/explain/" + m.ticket(n).ID)
		v.allSpanish()
	}
	look(m.event + "/slip/" + m.ticket(5).ID + "?lang=es")
	for _, n := range []int{21, 22, 23} {
		look(m.event + "/care/" + m.ticket(n).ID)
	}
	look("/sign-in")

	// the board has no Spanish, and mixes none in
	v.get(m.event + "/board")
	if !strings.Contains(v.body, `<html lang="en">`) || strings.Contains(v.body, "Crítico") {
		t.Error("the board mixes languages")
	}
	v.get("/station")
	v.send("/language", form("lang", "en"))
	v.get("/station")
	v.see("What is this device for?")
	v.post("/language", form("lang", "xx", "to", "//elsewhere"))
	if v.to != "/" {
		t.Errorf("the switch leads to %q", v.to)
	}
}

// Somebody who is not known yet chooses the language of the sign-in; it is kept with the device once they are known.
func TestSignInInSpanish(t *testing.T) {
	m := newMarket(t)
	v := m.visitor()
	v.get("/sign-in")
	v.see("Who are you?", "Español")
	v.get("/sign-in?lang=es&to=%2F")
	v.allSpanish()
	v.see("¿Quién es usted?")
	v.get("/sign-in?lang=es&to=%2F&person=" + m.person("Rosa Amaya"))
	v.allSpanish()
	v.send("/sign-in", form("pin", "0000"))
	v.want(http.StatusForbidden)
	v.allSpanish()
	v.see("Ese PIN no corresponde a este nombre.")
	v.send("/sign-in", form("pin", m.pins["Rosa Amaya"]))
	v.follow()
	v.allSpanish()
	v.see("¿Qué sigue?")
}
