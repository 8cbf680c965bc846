package web

import (
	"strings"
	"testing"
)

func TestZY(t *testing.T) {
	m := newMarket(t)
	v := m.as("Rosa Amaya")
	for _, n := range []int{20, 1, 13, 21} {
		for _, l := range []string{"en", "es"} {
			for _, s := range []string{"a5", "half-letter"} {
				v.get(m.event + "/slip/" + m.ticket(n).ID + ".pdf?lang=" + l + "&size=" + s)
				t.Log(n, l, s, strings.Count(v.body, "/Type /Page\n"))
			}
		}
	}
}
