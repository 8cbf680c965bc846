package exchange

import (
	"archive/zip"
	"bufio"
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"time"

	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// The types of a field, as Table Schema names them (frictionless, version 1).
const (
	asString   = "string"
	asInteger  = "integer"
	asNumber   = "number"
	asBoolean  = "boolean"
	asDate     = "date"
	asDateTime = "datetime"
	asYear     = "year"
)

// Field is one column of a table that is written, with what it means.
type Field struct {
	Name  string
	Type  string
	Means string
	Words []string // the only words that stand in it, when it is a word of the record
	Must  bool     // never empty
}

// Table is one file of an export with its dictionary.
type Table struct {
	Name   string
	Title  string
	Key    []string          // what names a row
	Points map[string]string // a field to the table whose key it holds
	Fields []Field
	shared bool // several events have the same rows; each is written once
	rows   func(x *programme.Leaving, put func(...string) error) error
}

// Tables gives the tables of an export in the order in which they are written. With names there is a table of the staff,
// and visits have the contact of those who allowed it.
func Tables(names bool) []Table {
	out := []Table{eventTable(), visitTable(names), answerTable(), aboutTable(), readingTable(), controlTable(), referralTable(), followUpTable(), meterTable(), lotTable(), incidentTable()}
	if names {
		out = append(out, staffTable())
	}
	return out
}

// WritePackage writes a zip with one CSV for each table and datapackage.json, which is the dictionary. It goes over the
// events once for each table, so that no more than one event is held however long the span.
func WritePackage(w io.Writer, at time.Time, names bool, walk programme.Walk) error {
	return writeZip(w, at, Tables(names), packaged{
		Name: "fairstick-export", Title: "Community blood-glucose screening, as recorded",
		Description: "A screening reading can neither diagnose diabetes nor rule it out. Compare a value with limits in its own unit only.",
	}, walk)
}

func writeZip(w io.Writer, at time.Time, tables []Table, about packaged, walk programme.Walk) error {
	z := zip.NewWriter(w)
	entry := func(name string) (io.Writer, error) {
		return z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: at.UTC().Truncate(2 * time.Second)})
	}
	out, err := entry("datapackage.json")
	if err != nil {
		return err
	}
	if err := about.write(out, tables); err != nil {
		return err
	}
	for _, t := range tables {
		out, err := entry(t.Name + ".csv")
		if err != nil {
			return err
		}
		if err := t.Write(out, walk); err != nil {
			return err
		}
	}
	return z.Close()
}

// Write writes one table as CSV in UTF-8, with commas and a header.
func (t Table) Write(w io.Writer, walk programme.Walk) error {
	buf := bufio.NewWriterSize(w, 1<<16)
	out := csv.NewWriter(buf)
	header := make([]string, len(t.Fields))
	for i, f := range t.Fields {
		header[i] = f.Name
	}
	if err := out.Write(header); err != nil {
		return err
	}
	said := map[string]bool{} // rows that several events share
	line := make([]string, len(t.Fields))
	put := func(cells ...string) error {
		if t.shared {
			if said[cells[0]] {
				return nil
			}
			said[cells[0]] = true
		}
		for i, c := range cells {
			line[i] = c
			if t.Fields[i].Type == asString {
				line[i] = asText(c)
			}
		}
		return out.Write(line[:len(cells)])
	}
	if err := walk(func(x *programme.Leaving) error { return t.rows(x, put) }); err != nil {
		return err
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return err
	}
	return buf.Flush()
}

// packaged is a data package as frictionless describes it (https://specs.frictionlessdata.io/data-package, version 1).
type packaged struct {
	Profile     string     `json:"profile"`
	Name        string     `json:"name"`
	Title       string     `json:"title"`
	Description string     `json:"description"`
	Resources   []resource `json:"resources"`
}

type resource struct {
	Profile   string      `json:"profile"`
	Name      string      `json:"name"`
	Title     string      `json:"title"`
	Path      string      `json:"path"`
	Format    string      `json:"format"`
	MediaType string      `json:"mediatype"`
	Encoding  string      `json:"encoding"`
	Schema    tableSchema `json:"schema"`
}

type tableSchema struct {
	Fields        []schemaField `json:"fields"`
	MissingValues []string      `json:"missingValues"`
	PrimaryKey    []string      `json:"primaryKey,omitempty"`
	ForeignKeys   []foreignKey  `json:"foreignKeys,omitempty"`
}

type schemaField struct {
	Name        string       `json:"name"`
	Type        string       `json:"type"`
	Format      string       `json:"format,omitempty"`
	Description string       `json:"description"`
	TrueValues  []string     `json:"trueValues,omitempty"`
	FalseValues []string     `json:"falseValues,omitempty"`
	Constraints *constraints `json:"constraints,omitempty"`
}

type constraints struct {
	Required bool     `json:"required,omitempty"`
	Enum     []string `json:"enum,omitempty"`
}

type foreignKey struct {
	Fields    string `json:"fields"`
	Reference struct {
		Resource string `json:"resource"`
		Fields   string `json:"fields"`
	} `json:"reference"`
}

func (p packaged) write(w io.Writer, tables []Table) error {
	p.Profile = "tabular-data-package"
	for _, t := range tables {
		r := resource{
			Profile: "tabular-data-resource", Name: t.Name, Title: t.Title, Path: t.Name + ".csv", Format: "csv", MediaType: "text/csv", Encoding: "utf-8",
			Schema: tableSchema{MissingValues: []string{""}, PrimaryKey: t.Key},
		}
		for _, f := range t.Fields {
			s := schemaField{Name: f.Name, Type: f.Type, Description: f.Means}
			if f.Type == asBoolean {
				s.TrueValues, s.FalseValues = []string{"yes"}, []string{"no"}
			}
			if f.Type == asDateTime {
				s.Format = "any" // ISO 8601 with the offset of the event
			}
			if f.Must || len(f.Words) > 0 {
				s.Constraints = &constraints{Required: f.Must, Enum: f.Words}
			}
			r.Schema.Fields = append(r.Schema.Fields, s)
			if to, ok := t.Points[f.Name]; ok {
				k := foreignKey{Fields: f.Name}
				k.Reference.Resource = to
				for _, other := range tables {
					if other.Name == to {
						k.Reference.Fields = other.Key[0]
					}
				}
				r.Schema.ForeignKeys = append(r.Schema.ForeignKeys, k)
			}
		}
		p.Resources = append(p.Resources, r)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(p)
}

func saysYes(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

func whole(n int) string { return strconv.Itoa(n) }

// filled gives a number, or nothing for 0.
func filled(n int) string {
	if n == 0 {
		return ""
	}
	return whole(n)
}

// stamp writes a time with the offset of the event; empty for none.
func stamp(x *programme.Leaving, t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(x.Zone).Format(time.RFC3339)
}

// digits is the number of a reading; empty for LO, HI and error codes.
func digits(r glucose.Reading) string {
	if r.Kind != glucose.Numeric {
		return ""
	}
	return r.Value.Number()
}
