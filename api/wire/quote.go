package wire

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A Quote is the earliest delivery of a would-be order.
type Quote struct {
	Status    plant.Status `json:"status"`
	Revision  int          `json:"revision"` // of the plan whose promises were kept, 0 when the file had none
	LineOff   *string      `json:"line_off"`
	Visit     *string      `json:"visit"`
	Delivery  *string      `json:"delivery"`
	Bound     *string      `json:"bound"`
	Sentences []string     `json:"sentences"`
	Warnings  []Warning    `json:"warnings"`
}

// ToQuote writes the answer to a quote.
func ToQuote(q *solver.QuoteResult) Quote {
	return Quote{q.Status, q.Revision, Day(q.LineOff), Day(q.Visit), Day(q.Delivery), Day(q.Bound), Texts(q.Sentences), []Warning{}}
}
