package web

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"
)

// boards sends the live parts of the pages: each change of the record is rendered once per event and sent to all viewers.
type boards struct {
	s      *Server
	stop   context.CancelFunc
	mu     sync.Mutex
	topics map[string]*topic // by event
}

// topic is one event with its viewers and what was last rendered for it.
type topic struct {
	viewers map[chan []byte]bool
	last    []byte
}

// refresh is how often a board is rendered without a change, since waits grow by the minute.
const refresh = 20 * time.Second

func newBoards(s *Server) *boards {
	ctx, stop := context.WithCancel(context.Background())
	b := &boards{s: s, stop: stop, topics: map[string]*topic{}}
	changes, cancel := s.prog.Changes()
	go func() {
		defer cancel()
		tick := time.NewTicker(refresh)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-changes:
			case <-tick.C:
			}
			b.render(ctx)
		}
	}()
	return b
}

func (b *boards) close() {
	b.stop()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, t := range b.topics {
		for v := range t.viewers {
			close(v)
		}
	}
	b.topics = map[string]*topic{}
}

// render makes the fragments of each watched event once and hands them to its viewers. A slow viewer gets the newest only.
func (b *boards) render(ctx context.Context) {
	b.mu.Lock()
	ids := make([]string, 0, len(b.topics))
	for id := range b.topics {
		ids = append(ids, id)
	}
	b.mu.Unlock()
	for _, id := range ids {
		msg, err := b.message(ctx, id)
		if err != nil {
			b.s.log.Error("board not rendered", "event", id, "err", err)
			continue
		}
		b.mu.Lock()
		if t := b.topics[id]; t != nil {
			t.last = msg
			for v := range t.viewers {
				select {
				case <-v:
				default:
				}
				v <- msg
			}
		}
		b.mu.Unlock()
	}
}

// message renders the live fragments of an event as server-sent events.
func (b *boards) message(ctx context.Context, eventID string) ([]byte, error) {
	d, err := b.s.prog.Day(ctx, eventID)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, part := range liveParts(d, b.s.prog.Now().In(d.Event.Zone()), b.s.laptop()) {
		var html bytes.Buffer
		if err := part.Render(ctx, &html); err != nil {
			return nil, err
		}
		out.WriteString("event: fragment\n")
		for _, line := range strings.Split(strings.TrimSpace(html.String()), "\n") {
			fmt.Fprintf(&out, "data: %s\n", line)
		}
		out.WriteString("\n")
	}
	return out.Bytes(), nil
}

// watch adds a viewer before it makes what the viewer sees first, so that no change falls between the two.
func (b *boards) watch(ctx context.Context, eventID string) (v chan []byte, first []byte, err error) {
	v = make(chan []byte, 1)
	b.mu.Lock()
	t := b.topics[eventID]
	if t == nil {
		t = &topic{viewers: map[chan []byte]bool{}}
		b.topics[eventID] = t
	}
	t.viewers[v] = true
	first = t.last
	b.mu.Unlock()
	if first == nil {
		if first, err = b.message(ctx, eventID); err != nil {
			b.leave(eventID, v)
		}
	}
	return v, first, err
}

func (b *boards) leave(eventID string, v chan []byte) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if t := b.topics[eventID]; t != nil {
		delete(t.viewers, v)
		if len(t.viewers) == 0 {
			delete(b.topics, eventID)
		}
	}
}

// live is the stream of an event's fragments.
func live(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	v, first, err := s.boards.watch(c.R.Context(), id)
	if err != nil {
		return err
	}
	defer s.boards.leave(id, v)
	out := http.NewResponseController(c.W)
	h := c.W.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("X-Accel-Buffering", "no")
	c.W.WriteHeader(http.StatusOK)
	if c.R.Method == http.MethodHead {
		return nil
	}
	_ = out.SetReadDeadline(time.Time{}) // the server's own would cut a stream that lasts all day
	send := func(msg []byte) bool {
		if _, err := s.prog.Watcher(c.R.Context(), c.DeviceID, c.carried(sessionCookie)); err != nil {
			return false // the session has ended: no more of the day is told to this device
		}
		_ = out.SetWriteDeadline(time.Now().Add(10 * time.Second))
		if _, err := c.W.Write(msg); err != nil {
			return false
		}
		return out.Flush() == nil
	}
	if !send(append([]byte("retry: 2000\n\n"), first...)) {
		return nil
	}
	beat := time.NewTicker(15 * time.Second)
	defer beat.Stop()
	for {
		select {
		case <-c.R.Context().Done():
			return nil
		case msg, open := <-v:
			if !open || !send(msg) {
				return nil
			}
		case <-beat.C:
			if !send([]byte("event: beat\ndata: .\n\n")) {
				return nil
			}
		}
	}
}
