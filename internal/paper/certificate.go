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
	t := &Table{Columns: []Column{{Title: "This verification", Width: 2}, {Title: "As it is recorded", Width: 5}}}
	for _, p := range [][2]string{{"First day", c.From}, {"Last day", c.Until}, {"Shown by", c.Methods}, {"Signed in the record by", c.By}, {"Code", c.Code}} {
		if p[1] != "" {
			t.Rows = append(t.Rows, []string{p[0], p[1]})
		}
	}
	doc.Sections = []Section{
		{
			Paragraphs: []string{c.Name + " has shown what the programme asks of a " + c.Level + " and may work as one on the days named here, under its protocol and under supervision."},
			Table:      t,
		},
		{Paragraphs: []string{
			"The code is looked up on the lead's laptop, on the page Check a certificate. It says whether the verification still stands: a training that lapses, or a withdrawal, ends it before its last day.",
			"Signature: ______________________________________________",
		}, Keep: true},
		{
			Heading: "Wallet card: cut here", Keep: true,
			Card:       &Card{Over: c.Programme, Name: c.Name, Rows: [][2]string{{"May work as", c.Level}, {"Until", c.Until}, {"Signed by", c.By}, {"Code", c.Code}}},
			Paragraphs: []string{"Void when the code says so: a withdrawal or a lapse ends it before its last day."},
		},
	}
	return doc
}
