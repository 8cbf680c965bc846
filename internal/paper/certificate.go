package paper

// Certificate is a verification for the wall and for the wallet. Its code is found in the record of the programme alone.
type Certificate struct {
	Programme, Name, Title, Level string
	From, Until                   string // days in words
	Methods, By, Code, ID         string
}

// Document sets the certificate for print, with a card to cut out.
func (c Certificate) Document() Document {
	who := c.Name
	if c.Title != "" {
		who += ", " + c.Title
	}
	doc := Document{Title: "Verified as " + c.Level, Subtitle: who, Programme: c.Programme, RecordID: c.ID, Lang: "en"}
	rows := func(pairs ...[2]string) *Table {
		t := &Table{Columns: []Column{{Title: "What", Width: 2}, {Title: "Entry", Width: 5}}}
		for _, p := range pairs {
			if p[1] != "" {
				t.Rows = append(t.Rows, []string{p[0], p[1]})
			}
		}
		return t
	}
	doc.Sections = []Section{
		{
			Paragraphs: []string{who + " has shown what the programme asks of a " + c.Level + " and may work as one on the days named here, under its protocol and under supervision."},
			Table:      rows([2]string{"First day", c.From}, [2]string{"Last day", c.Until}, [2]string{"Shown by", c.Methods}, [2]string{"Signed in the record by", c.By}, [2]string{"Code", c.Code}),
		},
		{Paragraphs: []string{
			"The code is looked up on the lead's laptop, on the page Check a certificate. It says whether the verification still stands: a training that lapses, or a withdrawal, ends it before its last day.",
			"Signature: ______________________________________________",
		}, Keep: true},
		{
			Heading: "Wallet card: cut here", Keep: true,
			Table: rows([2]string{"Name", c.Name}, [2]string{"May work as", c.Level}, [2]string{"Until", c.Until}, [2]string{"Programme", c.Programme}, [2]string{"Code", c.Code}),
		},
	}
	return doc
}
