package e2e

import (
	"testing"

	"fairstick/internal/visit"
)

// A person who knows of their diabetes is thanked and not tested: nothing is recorded before the desk has said so, and they
// are counted.
func TestKnownDiabetes(t *testing.T) {
	t.Parallel()
	f := market(t)
	lead, desk := f.comes("Maren Solbakk", laptop), f.comes("Hollis Bray", phone)
	lead.visit(f.at("/board"))
	lead.see("3 not eligible")
	before := f.day().Counts()

	desk.visit(f.at("/desk"))
	desk.click("English")
	ticket := f.ticketOn(desk)
	desk.click("Read aloud")
	desk.click("Yes, I agree")
	desk.click("None of these")
	desk.enter("61")
	desk.click("Next")
	desk.see("Do you already live with diabetes?")
	desk.click("Yes")
	desk.see("Thank you for telling us. This screening looks for diabetes that nobody knows about yet.")
	desk.see("Your own diabetes care team.")
	desk.shot("goodbye")
	if v := f.ticket(ticket); v.Answers != nil {
		t.Errorf("recorded before the desk said so: %+v", v.Answers)
	}
	desk.click("The question before")
	desk.see("Do you already live with diabetes?")
	desk.click("Yes")
	desk.click("Said so: close this ticket")
	desk.see("Counted as:")
	desk.see("Next ticket")

	after := f.day().Counts()
	if v := f.ticket(ticket); v.Phase() != visit.NotEligible || after.NotEligible != before.NotEligible+1 || after.Tested != before.Tested {
		t.Errorf("on record: %s, %d not eligible, %d tested; before %d and %d", v.Phase(), after.NotEligible, after.Tested, before.NotEligible, before.Tested)
	}
	lead.see("4 not eligible")
}
