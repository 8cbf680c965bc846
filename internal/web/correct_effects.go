package web

import (
	"cmp"

	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// effectView is what a correction does to one ticket, in sentences.
type effectView struct {
	Ticket         string
	Was, Now       *protocol.Finding
	WasSaid        string // when no result stands
	NowSaid        string
	Changes        bool
	Counts         string
	Lines          []string // what follows, each a sentence
	Warn           []string // what somebody must do or know before signing
	WasAdv, NowAdv []string
}

func effectOf(d *programme.Day, e programme.VisitEffect) effectView {
	v := effectView{Ticket: ticketText(e.Ticket), Was: e.Was, Now: e.Now, WasSaid: noResult(e.WasRepeat), NowSaid: noResult(e.Repeat), Changes: e.BandChanges()}
	if e.Was != nil {
		v.WasAdv = textsIn(e.Was.Advice, "en")
	}
	if e.Now != nil {
		v.NowAdv = textsIn(e.Now.Advice, "en")
	}
	if e.WasCounts != e.NowCounts {
		v.Lines = append(v.Lines, "The reading that counts: "+cmp.Or(e.WasCounts, "none")+" before, "+cmp.Or(e.NowCounts, "none")+" after. "+e.Why)
	}
	if e.Repeat && !e.WasRepeat {
		v.Warn = append(v.Warn, "A repeat becomes due. "+e.Because)
	}
	if !e.Repeat && e.WasRepeat {
		v.Lines = append(v.Lines, "The repeat that was due is not due any more.")
	}
	if e.PhaseWas != e.PhaseNow {
		v.Lines = append(v.Lines, "The ticket goes from “"+phaseSays(e.PhaseWas)+"” to “"+phaseSays(e.PhaseNow)+"”.")
	}
	if e.CareOpens != "" {
		v.Warn = append(v.Warn, "Care opens ("+programme.CareWord(e.CareOpens)+") and stands on every screen until a supervisor signs it.")
	}
	if e.CareStays != "" {
		v.Lines = append(v.Lines, "Care that was opened ("+programme.CareWord(e.CareStays)+") stays open until a supervisor signs it.")
	}
	if !e.Slip.IsZero() {
		at := clockOr(e.Slip, d.Event.Zone())
		switch {
		case e.SlipBack:
			v.Warn = append(v.Warn, "The slip of "+at+" shows a result that does not stand any more. Take it back.")
		case e.Gone:
			v.Warn = append(v.Warn, "The slip of "+at+" must be replaced by a corrected one. "+reachSays(e))
		default:
			v.Warn = append(v.Warn, "The slip of "+at+" must be replaced: Explain gives the result anew with a corrected slip.")
		}
	}
	v.refer(e)
	if e.NoFit != "" {
		v.Warn = append(v.Warn, e.NoFit)
	}
	return v
}

func (v *effectView) refer(e programme.VisitEffect) {
	r := e.Refer
	switch {
	case r == nil:
	case !r.Was:
		line := "A referral is now asked for, to be seen by " + r.By + "."
		if e.Gone {
			line += " It stands under Follow-up" + callSays(e.MayCall) + "."
		}
		v.Warn = append(v.Warn, line)
	case !r.Now:
		v.Warn = append(v.Warn, "The referral is not asked for any more and leaves the follow-up list. Tell whoever was told.")
	default:
		v.Lines = append(v.Lines, "To be seen by "+r.By+" instead of "+r.WasBy+".")
	}
}

func callSays(may bool) string {
	if may {
		return "; the person may be called"
	}
	return "; the person gave no permission to be called"
}

func reachSays(e programme.VisitEffect) string {
	if e.MayCall {
		return "The person has gone and may be called: open the contact under Follow-up."
	}
	return "The person has gone and gave no permission to be called."
}

func noResult(repeat bool) string {
	if repeat {
		return "No result yet: a repeat is due"
	}
	return "No result"
}

func phaseSays(p visit.Phase) string {
	words := map[visit.Phase]string{
		visit.AtDesk: "at the desk", visit.AtTest: "waiting for a test", visit.AtExplain: "at Explain", visit.Done: "finished",
		visit.Gone: "left", visit.NotEligible: "not eligible", visit.HasDeclined: "declined",
	}
	return words[p]
}

func basisSays(b protocol.Basis) string {
	if b == protocol.Fasting {
		return "fasting"
	}
	return "not fasting"
}

// urgencySays names how soon a finding asks somebody to be seen.
func urgencySays(f protocol.Finding) string {
	switch {
	case f.Critical:
		return "Urgent now."
	case f.Refer && f.WithinDays == 0:
		return "To be seen today."
	case f.Refer:
		return "To be seen within " + plural(f.WithinDays, "day", "days") + "."
	}
	return "No referral."
}
