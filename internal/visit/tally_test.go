package visit

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"fairstick/internal/protocol"
)

// Whatever a visit counts as is read back as it was written.
func TestTallyComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		yes, n, word := rapid.Bool(), rapid.IntRange(-1, 500), rapid.StringMatching(`[a-z -]{0,12}`)
		want := Tally{
			Phase: Phase(word.Draw(t, "phase")), Consented: yes.Draw(t, "consented"), Answered: yes.Draw(t, "answered"), Eligible: yes.Draw(t, "eligible"), Reason: word.Draw(t, "reason"), Tested: yes.Draw(t, "tested"),
			Basis: protocol.Basis(word.Draw(t, "basis")), Band: protocol.Band(word.Draw(t, "band")), Critical: yes.Draw(t, "critical"), Refer: yes.Draw(t, "refer"), Written: yes.Draw(t, "written"), Call: yes.Draw(t, "call"),
			Care: word.Draw(t, "care"), Slip: yes.Draw(t, "slip"), Explained: yes.Draw(t, "explained"), Contact: yes.Draw(t, "contact"), Ticket: n.Draw(t, "ticket"), Language: word.Draw(t, "language"), Age: n.Draw(t, "age"),
			First: n.Draw(t, "first"), Repeats: n.Draw(t, "repeats"), Rechecks: n.Draw(t, "rechecks"), Errors: n.Draw(t, "errors"), Sticks: n.Draw(t, "sticks"), Misfires: n.Draw(t, "misfires"),
			Arrived: time.Unix(int64(rapid.IntRange(1, 60_000_000).Draw(t, "arrived"))*60, 0).UTC(), WaitTest: n.Draw(t, "wait"), WaitExplain: n.Draw(t, "explain"), Stay: n.Draw(t, "stay"),
		}
		if yes.Draw(t, "some") {
			want.Yes = []string{"arm", "known-diabetes"}
		}
		got, err := ReadTally(want.line())
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatal(d)
		}
	})
	for _, bad := range []string{"", "1|done", "2|done"} {
		if _, err := ReadTally(bad); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
	if none, err := ReadTally(New("x").(*State).Tally()); err != nil || none.Tested || none.WaitTest != -1 || !none.Arrived.IsZero() {
		t.Errorf("an empty visit: %+v %v", none, err)
	}
}
