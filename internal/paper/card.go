package paper

// Card is a small card to cut out and carry, as large as a bank card.
type Card struct {
	Over string      // the programme, in small letters
	Name string      // of who carries it
	Rows [][2]string // name and value
}

// The measures of a card that fits a wallet: ISO/IEC 7810 ID-1, 85.60 by 53.98 mm.
const (
	cardW   = 85.60 / 25.4 * 72
	cardH   = 53.98 / 25.4 * 72
	cardPad = 10.0
)

// card draws a card with its frame to cut along.
func (sh *docSheet) card(c Card) chunk {
	draw := func(y float64) {
		sh.frame(docSide, y, cardW, cardH, 0.6)
		at, room := y+cardPad, cardW-2*cardPad
		for _, ln := range sh.capped(1, room, span{c.Over, style{size: 8}}) {
			sh.draw(docSide+cardPad, baseline(at, 12, 8), ln)
			at += 13
		}
		for _, ln := range sh.capped(2, room, span{c.Name, style{size: 14, bold: true}}) {
			sh.draw(docSide+cardPad, baseline(at, 17, 14), ln)
			at += 17
		}
		at += 4
		const label = 62.0
		for _, r := range c.Rows {
			for _, ln := range sh.capped(1, label, span{r[0], style{size: 9}}) {
				sh.draw(docSide+cardPad, baseline(at, 15, 9), ln)
			}
			for _, ln := range sh.capped(1, room-label, span{r[1], style{size: 11, bold: true}}) {
				sh.draw(docSide+cardPad+label, baseline(at, 15, 11), ln)
			}
			at += 15
		}
	}
	return chunk{gap: 8, strips: []strip{{cardH, draw}}}
}
