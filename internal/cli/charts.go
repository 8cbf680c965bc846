package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"fairstick/internal/agreement"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/figure"
	"fairstick/internal/paper"
)

// chartFlags say where pictures and the report are written, besides what stands on the screen.
type chartFlags struct {
	svg, pdf string
	a4       bool
	force    bool
}

func (f *chartFlags) add(cmd *cobra.Command, pictures string) {
	cmd.Flags().StringVar(&f.svg, "svg", "", "folder for "+pictures+"; it is made when it is missing")
	cmd.Flags().StringVar(&f.pdf, "pdf", "", "file for the report with its pictures, as PDF on letter paper")
	cmd.Flags().BoolVar(&f.a4, "a4", false, "with --pdf: on A4 paper")
	cmd.Flags().BoolVar(&f.force, "force", false, "with --svg or --pdf: replace files that exist")
}

// asked reports whether anything is to be written.
func (f chartFlags) asked() bool { return f.svg != "" || f.pdf != "" }

// check refuses flags that say nothing without another one.
func (f chartFlags) check() error {
	if f.force && !f.asked() || f.a4 && f.pdf == "" {
		return fault.New(fault.Invalid, "flags", "The flags --force and --a4 are about files, and none is written.", "", "Add --pdf FILE, or for --force --svg DIR.")
	}
	return nil
}

// comparison writes the pictures and the report of a comparison.
func (f chartFlags) comparison(name string, p exchange.Pairs, o agreement.Options) error {
	agrees, err := agreement.Compare(p.Pairs, p.Unit, o)
	if err != nil {
		return err
	}
	in := figure.Compared{Meter: "the meter", Pairs: p.Pairs, Agrees: agrees, UnitDoubt: p.Doubtful, Notes: p.Notes}
	told, err := figure.Compare(in)
	if err != nil {
		return err
	}
	return f.write(told.Figures, func() (paper.Document, error) {
		listed, err := in.Listed(listedPairs)
		if err != nil {
			return paper.Document{}, err
		}
		return told.Document([][2]string{{"File", shownName(name)}, {"Pairs", fmt.Sprint(len(p.Pairs))}, {"Unit", string(p.Unit)}}, listed)
	})
}

// listedPairs is how many pairs a report lists: a few sheets.
const listedPairs = 200

// shownName is how a report names where its numbers came from; folders of this computer are nobody's business.
func shownName(name string) string {
	if name == "-" {
		return "standard input"
	}
	return filepath.Base(name)
}

// write draws the pictures and sets the report. All is made before the first file is written, and each file is whole or not there.
func (f chartFlags) write(figures []figure.Figure, document func() (paper.Document, error)) error {
	var files []figure.File
	if f.svg != "" {
		drawn, err := figure.SVG(figures)
		if err != nil {
			return err
		}
		for _, x := range drawn {
			files = append(files, figure.File{Name: filepath.Join(f.svg, x.Name), Data: x.Data})
		}
	}
	if f.pdf != "" {
		doc, err := document()
		if err != nil {
			return err
		}
		doc.Printed = time.Now()
		size := paper.Letter
		if f.a4 {
			size = paper.A4
		}
		var buf bytes.Buffer
		if err := paper.WriteDocument(&buf, doc, size); err != nil {
			return err
		}
		files = append(files, figure.File{Name: f.pdf, Data: buf.Bytes()})
	}
	for _, x := range files {
		switch info, err := os.Stat(x.Name); {
		case err == nil && info.IsDir():
			return fault.New(fault.Refused, "file-is-folder", x.Name+" is a folder.", "", "Give the name of a file.")
		case err == nil && !f.force:
			return fault.New(fault.Refused, "file-exists", "The file "+x.Name+" exists already; nothing was written.", "What it holds would be lost.", "Give another name, or add --force to replace it.")
		case err != nil && !errors.Is(err, fs.ErrNotExist):
			return unwritable(x.Name, err)
		}
	}
	if f.svg != "" {
		if err := os.MkdirAll(f.svg, 0o700); err != nil {
			return unwritable(f.svg, err)
		}
	}
	for _, x := range files {
		if err := writeWhole(x.Name, x.Data); err != nil {
			return unwritable(x.Name, err)
		}
	}
	return nil
}

func unwritable(name string, err error) error {
	return fault.New(fault.Refused, "file-unwritable", fmt.Sprintf("%s cannot be written.", name), "", "Check the name and whether its folder may be written to.").Because(err)
}

// writeWhole writes a file beside its place and then puts it there, so that nobody ever reads half of it.
func writeWhole(name string, data []byte) (err error) {
	temp, err := os.CreateTemp(filepath.Dir(name), ".fairstick-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(temp.Name()))
		}
	}()
	_, err = temp.Write(data)
	if err = errors.Join(err, temp.Sync(), temp.Close()); err != nil {
		return err
	}
	return os.Rename(temp.Name(), name)
}
