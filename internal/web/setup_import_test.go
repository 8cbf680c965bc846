package web

import (
	"strings"
	"testing"

	"fairstick/internal/exchange"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

func (o *office) people() string {
	o.t.Helper()
	all, err := programme.List[*people.State](o.t.Context(), o.P, people.Kind)
	if err != nil {
		o.t.Fatal(err)
	}
	var names []string
	for _, p := range all {
		names = append(names, p.Details.Name)
	}
	return strings.Join(names, ", ")
}

func TestAListIsTriedThenAdded(t *testing.T) {
	o := setUp(t)
	const page = "/lists/people/import"
	before := o.people()
	file := "name;roles\r\nEve Example;screener|desk\r\nFay Example;chief\r\nRae Runner;runner\r\n"
	o.want(o.send("Lea Lead", page, "file", file), 200, "1 of 3 rows cannot be added. Nothing was recorded.", `"chief" is not a role.`, "1 row is right.", "1 row is on the list already.", "!Add 1")
	tried := o.send("Lea Lead", page, "file", strings.Replace(file, "chief", "desk", 1))
	o.want(tried, 200, "This file would add 2 people. Nothing is recorded yet.", "Add 2 people", "1 row is on the list already.")
	if now := o.people(); now != before {
		t.Fatalf("trying recorded people: %s", now)
	}
	add := fieldsOf(formOf(t, answer{body: tried.body[strings.Index(tried.body, `id="form-add"`):]}, page))
	for range 2 { // a second press of the same button is harmless
		o.goes(o.post("Lea Lead", page, add...), "/people")
	}
	if want := strings.Replace(before, "Dot Counsellor", "Dot Counsellor, Eve Example, Fay Example", 1); o.people() != want {
		t.Errorf("got %s, want %s", o.people(), want)
	}
	o.want(o.send("Lea Lead", page, "file", strings.Replace(file, "chief", "desk", 1)), 200, "Everything in this file is on the list already.", "!Add 2")
}

func TestEveryExampleFileCanBeAdded(t *testing.T) {
	o := setUp(t)
	for _, list := range exchange.Lists() {
		example := o.get("Lea Lead", "/lists/"+list+"/example.csv")
		o.want(example, 200)
		if h := example.header.Get("Content-Type"); h != "text/csv; charset=utf-8" {
			t.Errorf("%s: %s", list, h)
		}
		text := example.body
		if list == programme.MetersList { // M1 is on the list with other details
			text = strings.ReplaceAll(text, "M1", "M11")
		}
		o.want(o.post("Lea Lead", "/lists/"+list+"/import", "text="+text), 200, "This file would add 2 ")
		o.goes(o.post("Lea Lead", "/lists/"+list+"/import", "text="+text, "add=yes"), importWords[list].path)
	}
}
