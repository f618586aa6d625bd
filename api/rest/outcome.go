package rest

import (
	"net/http"
	"strconv"

	"wetdown/api"
	"wetdown/api/wire"
)

// A wireOutcome is what became of a quote.
type wireOutcome struct {
	Quote    string  `json:"quote"`
	State    string  `json:"state"`
	Truck    *string `json:"truck"`
	Quoted   *string `json:"quoted"` // the earliest delivery
	P50      *string `json:"p50"`    // days that were quoted with these chances
	P80      *string `json:"p80"`
	P95      *string `json:"p95"`
	Original *string `json:"original"` // delivery as the plan first had it
	Latest   *string `json:"latest"`
	Actual   *string `json:"actual"`
}

func toOutcome(o *api.QuoteOutcome) wireOutcome {
	return wireOutcome{o.Quote, o.State, wire.Text(o.Truck), wire.Day(o.Quoted), wire.Day(o.P50), wire.Day(o.P80), wire.Day(o.P95), wire.Day(o.Original), wire.Day(o.Latest), wire.Day(o.Actual)}
}

func getOutcome(x *exchange) error {
	o, err := x.app.QuoteOutcome(x.Request().Context(), x.who, x.Param("id"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toOutcome(o))
}

func listOutcomes(x *exchange) error {
	page, err := x.page()
	if err != nil {
		return err
	}
	list, err := x.app.QuoteOutcomes(x.Request().Context(), x.who, page)
	if err != nil {
		return err
	}
	return paged(x, "after", list, page.Limit-1, func(o *api.QuoteOutcome) string { return strconv.FormatInt(o.Seq, 10) }, toOutcome)
}
