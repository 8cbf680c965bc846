package fhir

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"time"

	"fairstick/internal/programme"
)

// Writer writes events as they come.
type Writer interface {
	// Event writes the resources of one event.
	Event(*programme.Leaving) error
	// Close ends what was written; it does not close what it was written to.
	Close() error
}

// bundle is a Writer of a Bundle of the type collection.
type bundle struct {
	out   *bufio.Writer
	buf   bytes.Buffer
	enc   *json.Encoder
	said  map[string]bool
	begun bool
	id    string
	at    time.Time
}

// NewBundle writes one Bundle with the moment and an id that says what is in it. Only the resources that stand for the
// programme's own things are remembered, never the visits.
func NewBundle(w io.Writer, at time.Time, of ...string) Writer {
	b := &bundle{out: bufio.NewWriterSize(w, 1<<16), said: map[string]bool{}, at: at, id: ID("Bundle", of...)}
	b.enc = encoder(&b.buf)
	return b
}

func encoder(w io.Writer) *json.Encoder {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e
}

// begin writes the bundle up to its entries.
func (b *bundle) begin() error {
	first, err := json.Marshal(struct {
		Head
		Type      string `json:"type"`
		Timestamp string `json:"timestamp"`
	}{Head{"Bundle", b.id}, "collection", b.at.UTC().Format(time.RFC3339)})
	if err != nil {
		return err
	}
	_, err = b.out.Write(first[:len(first)-1])
	return err
}

func (b *bundle) put(r Resource) error {
	lead := ",\n"
	if !b.begun {
		b.begun, lead = true, ",\"entry\":[\n" // an empty list of entries is not FHIR
		if err := b.begin(); err != nil {
			return err
		}
	}
	b.buf.Reset()
	if err := b.enc.Encode(r); err != nil {
		return err
	}
	_, id := r.About()
	for _, part := range []string{lead, `{"fullUrl":"urn:uuid:`, id, `","resource":`} {
		if _, err := b.out.WriteString(part); err != nil {
			return err
		}
	}
	if _, err := b.out.Write(bytes.TrimSuffix(b.buf.Bytes(), []byte("\n"))); err != nil {
		return err
	}
	return b.out.WriteByte('}')
}

func (b *bundle) Event(x *programme.Leaving) error { return build(x, inBundle, b.said, b.put) }

func (b *bundle) Close() error {
	end := "\n]}\n"
	if !b.begun {
		end = "}\n"
		if err := b.begin(); err != nil {
			return err
		}
	}
	if _, err := b.out.WriteString(end); err != nil {
		return err
	}
	return b.out.Flush()
}

// lines is a Writer of NDJSON.
type lines struct {
	to   func(kind string) (io.Writer, error)
	out  map[string]*bufio.Writer
	enc  map[string]*json.Encoder
	said map[string]bool
}

// NewLines writes NDJSON: to gives where each type of resource goes, and may give the same for all.
func NewLines(to func(kind string) (io.Writer, error)) Writer {
	return &lines{to: to, out: map[string]*bufio.Writer{}, enc: map[string]*json.Encoder{}, said: map[string]bool{}}
}

// NewStream writes NDJSON of all types in one stream.
func NewStream(w io.Writer) Writer {
	one := bufio.NewWriterSize(w, 1<<16)
	return &lines{to: func(string) (io.Writer, error) { return one, nil }, out: map[string]*bufio.Writer{"": one}, enc: map[string]*json.Encoder{}, said: map[string]bool{}}
}

func (l *lines) put(r Resource) error {
	kind, _ := r.About()
	enc := l.enc[kind]
	if enc == nil {
		w, err := l.to(kind)
		if err != nil {
			return err
		}
		out, ok := w.(*bufio.Writer)
		if !ok {
			out = bufio.NewWriterSize(w, 1<<16)
			l.out[kind] = out
		}
		enc = encoder(out)
		l.enc[kind] = enc
	}
	return enc.Encode(r)
}

func (l *lines) Event(x *programme.Leaving) error { return build(x, inLines, l.said, l.put) }

func (l *lines) Close() error {
	for _, w := range l.out {
		if err := w.Flush(); err != nil {
			return err
		}
	}
	return nil
}
