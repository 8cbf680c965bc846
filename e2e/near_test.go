package e2e

import "testing"

// A reading close to a limit: the counsellor is told how sure it is, the slip is silent about it.
func TestNearALimit(t *testing.T) {
	t.Parallel()
	f := market(t)
	desk, test, explain := f.comes("Hollis Bray", phone), f.comes("Ines Calder", phone), f.comes("Rosa Amaya", phone)
	f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")
	ticket := f.desk(desk, guest{ate: "09:00"})
	test.click("Take ticket " + ticket)
	f.read(test, "134")
	test.see("Send to Explain.")
	test.click("Lancet in sharps, meter wiped")

	explain.visit(f.at("/explain"))
	explain.click("Take ticket " + ticket)
	explain.see("A reading this close to the limit of 140 mg/dL can lie on either side.")
	explain.see("Only a laboratory test can tell.")
	explain.fullShot("near")
	explain.click("Explained: ask it back")
	explain.click("Said it in their own words")
	explain.click("Print half-letter")
	explain.see("134 mg/dL")
	for _, w := range []string{"limit", "in 100", "either side", "scatter"} {
		if explain.has(w) {
			t.Errorf("the slip says %q", w)
		}
	}
}
