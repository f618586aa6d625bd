package rest

import (
	"encoding/json"
	"fmt"

	"wetdown/api"
)

// postOffers asks which days the next visit to a truck can take.
func postOffers(x *exchange) error {
	var in struct {
		Truck      string          `json:"truck"`
		Prices     bool            `json:"prices"`
		Conditions json.RawMessage `json:"conditions"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	if in.Truck == "" {
		return invalid("truck", "Whose visit it is about is not said.", "Give the shop order number of the truck.")
	}
	conditions, err := x.conditions(in.Conditions)
	if err != nil {
		return err
	}
	return x.asked(x.app.AskOffers(x.Request().Context(), x.who, api.OffersQuestion{Truck: in.Truck, Prices: in.Prices, Conditions: conditions}))
}

// about reads a question about a truck, with a day or without, or about all, under
// conditions.
func (x *exchange) about() (q api.WhyQuestion, err error) {
	var in struct {
		Truck      string          `json:"truck"`
		Day        string          `json:"day"`
		Conditions json.RawMessage `json:"conditions"`
	}
	if err := x.json(&in); err != nil {
		return q, err
	}
	q.Truck = in.Truck
	if q.Day, err = aDay("day", in.Day); err != nil {
		return q, err
	}
	q.Conditions, err = x.conditions(in.Conditions)
	return q, err
}

// postExplanations asks why a visit cannot be on a day, or why the plan does what it does.
func postExplanations(x *exchange) error {
	q, err := x.about()
	if err != nil {
		return err
	}
	return x.asked(x.app.AskWhy(x.Request().Context(), x.who, q))
}

// postRepairs asks for ways out.
func postRepairs(x *exchange) error {
	q, err := x.about()
	if err != nil {
		return err
	}
	return x.asked(x.app.AskRepairs(x.Request().Context(), x.who, api.RepairsQuestion{Truck: q.Truck, Day: q.Day, Conditions: q.Conditions}))
}

// proposeWay makes a proposal of a way out that a job has found.
func proposeWay(x *exchange) error {
	var in struct {
		Way *int `json:"way"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	if in.Way == nil {
		return invalid("way", "Which way out is not said.", "Give its number; 0 is to do nothing.")
	}
	p, err := x.app.ProposeWayOut(x.Request().Context(), x.who, x.Param("id"), *in.Way)
	if err != nil {
		return err
	}
	x.detail = fmt.Sprintf("Proposal %s.", p.ID)
	w, err := x.proposal(p)
	if err != nil {
		return err
	}
	return x.created("/proposals/"+p.ID, w)
}
