package logbook

import (
	"crypto/rand"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"strconv"
	"time"
)

// stamp is one reading of a hybrid logical clock: milliseconds since 1970 and a counter within them.
type stamp struct {
	ms    int64
	count uint16
}

// The clock runs from 1970 to the end of the year 9999: beyond that its text would not sort.
const lastMilli = 253402300799999

func (s stamp) String() string {
	return time.UnixMilli(s.ms).UTC().Format(timeForm) + fmt.Sprintf("+%04x", s.count)
}

func (s stamp) before(o stamp) bool { return s.ms < o.ms || s.ms == o.ms && s.count < o.count }

func parseStamp(text string) (stamp, error) {
	if len(text) != len(timeForm)+5 || text[len(timeForm)] != '+' {
		return stamp{}, fmt.Errorf("logbook: %q is not a reading of the record's clock", text)
	}
	t, err := time.Parse(timeForm, text[:len(timeForm)])
	if err != nil {
		return stamp{}, fmt.Errorf("logbook: %q is not a reading of the record's clock", text)
	}
	n, err := strconv.ParseUint(text[len(timeForm)+1:], 16, 16)
	s := stamp{t.UnixMilli(), uint16(n)}
	if err != nil || s.ms < 0 || s.String() != text {
		return stamp{}, fmt.Errorf("logbook: %q is not a reading of the record's clock", text)
	}
	return s, nil
}

// Clock is a hybrid logical clock. Its readings are text, as in "2026-10-17T09:12:33.120Z+0003", that sorts in the order
// in which they were given: they follow the wall clock, never go back when it does, and come after every reading that was
// observed from another laptop. The zero Clock is ready. It is not safe for use by several goroutines.
type Clock struct{ last stamp }

// Next gives the next reading, later than all before it.
func (c *Clock) Next(now time.Time) string {
	at := stamp{ms: min(max(now.UnixMilli(), 0), lastMilli)}
	if !c.last.before(at) {
		at = c.last
		if at.count++; at.count == 0 {
			at.ms++
		}
	}
	c.last = at
	return at.String()
}

// Observe makes sure that the next reading comes after this one. Text that is not a reading is an error.
func (c *Clock) Observe(recorded string) error {
	s, err := parseStamp(recorded)
	if err == nil && c.last.before(s) {
		c.last = s
	}
	return err
}

// WallOf gives the wall-clock part of a reading, in UTC; the zero time for text that is not one.
func WallOf(recorded string) time.Time {
	s, err := parseStamp(recorded)
	if err != nil {
		return time.Time{}
	}
	return time.UnixMilli(s.ms).UTC()
}

// NewID makes a UUID of version 7 (RFC 9562, section 5.7): 48 bits of milliseconds, the rest random.
func NewID(now time.Time) string {
	var u [16]byte
	rand.Read(u[6:]) // never fails, by its contract
	ms := uint64(max(now.UnixMilli(), 0))
	binary.BigEndian.PutUint32(u[0:], uint32(ms>>16))
	binary.BigEndian.PutUint16(u[4:], uint16(ms))
	u[6] = u[6]&0x0f | 0x70
	u[8] = u[8]&0x3f | 0x80
	var out [36]byte
	hex.Encode(out[0:8], u[0:4])
	out[8] = '-'
	hex.Encode(out[9:13], u[4:6])
	out[13] = '-'
	hex.Encode(out[14:18], u[6:8])
	out[18] = '-'
	hex.Encode(out[19:23], u[8:10])
	out[23] = '-'
	hex.Encode(out[24:], u[10:])
	return string(out[:])
}
