package rest

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strconv"

	"wetdown/api"
	"wetdown/api/wire"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// A wireQuote is a dated answer to a would-be order.
type wireQuote struct {
	ID       string  `json:"id"`
	At       *string `json:"at"`
	Who      string  `json:"who"`
	Note     string  `json:"note"`
	Plant    int64   `json:"plant_revision"`
	Program  string  `json:"program"`
	Customer string  `json:"customer"`
	Kind     string  `json:"kind"`
	Content  string  `json:"content"`
	wire.QuoteWithOdds
	Without *string `json:"without_odds"` // why there are none
}

func toQuote(q *api.Quote) wireQuote {
	w := wireQuote{ID: q.ID, At: loggedTime(q.At), Who: q.Who, Note: q.Note, Plant: q.Revision, Program: q.Program, Customer: q.Order.Truck.Customer, Kind: q.Order.Truck.Kind, Content: q.Order.Truck.Content}
	if q.Result != nil {
		w.Quote = wire.ToQuote(q.Result)
	}
	w.Odds, w.Without = wire.ToQuoteOdds(q.Odds), wire.Text(q.Without)
	return w
}

// postQuotes asks when an order could be delivered. It has the keys of an order file.
func postQuotes(x *exchange) error {
	var in struct {
		Truck json.RawMessage `json:"truck"`
		Visit json.RawMessage `json:"visit,omitempty"`
		Note  string          `json:"note"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	if len(in.Note) > 1000 {
		return invalid("note", "The note has more than 1000 characters.", "Say it more briefly.")
	}
	ctx := x.Request().Context()
	s, err := x.app.State(ctx, api.Service, 0)
	if err != nil {
		return err
	}
	parts := []byte(`{"wetdown": 1`)
	for _, p := range []struct {
		key  string
		text json.RawMessage
	}{{"truck", in.Truck}, {"visit", in.Visit}} {
		if len(p.text) == 0 || string(p.text) == "null" {
			continue
		}
		var text bytes.Buffer
		if err := json.Compact(&text, p.text); err != nil {
			return err
		}
		parts = append(parts, `, "`+p.key+`": `+text.String()...)
	}
	order, faults := plant.ReadOrder("", append(parts, '}'), s.Plant)
	if len(faults) > 0 {
		return faulty(unplaced(faults))
	}
	if len(in.Visit) > 0 && string(in.Visit) != "null" && order.Visit.ID == "" { // it has no heads
		return invalid("visit.heads", "A visit of nobody is none.", "Say how many people would come, from 1, or leave the visit out: the order is then quoted without one.")
	}
	return x.asked(x.app.AskQuote(ctx, x.who, api.QuoteQuestion{Order: solver.Order{Truck: order.Truck, Visit: order.Visit}, Note: in.Note}))
}

func listQuotes(x *exchange) error {
	page, err := x.page()
	if err != nil {
		return err
	}
	list, err := x.app.Quotes(x.Request().Context(), x.who, page)
	if err != nil {
		return err
	}
	return paged(x, "after", list, page.Limit-1, func(q *api.Quote) string { return strconv.FormatInt(q.Seq, 10) }, toQuote)
}

// getQuote gives a quote as it was kept, or works it out again from what was kept of it.
func getQuote(x *exchange) error {
	find := x.app.Quote
	if x.QueryParams().Has("again") {
		find = x.app.QuoteAgain
	}
	q, err := find(x.Request().Context(), x.who, x.Param("id"))
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toQuote(q))
}
