package sheet

import (
	"encoding/json"
	"fmt"

	"wetdown/calendar"
	"wetdown/solver/history"
)

// What a row of the history is about, besides the kinds of visit.
const (
	EventLineOff  = "line_off"
	EventDelivery = "delivery"
)

var events = append(append([]string{EventLineOff}, visitKinds...), EventDelivery)

// Past is a day that was projected for a truck, and what came of it. The truck may
// have left the plant long ago.
type Past struct {
	Truck     string
	Content   string        // work content, "" where nobody has written it down
	Event     string        // EventLineOff, EventDelivery, or the kind of a visit
	Said      calendar.Date // day on which it was projected, calendar.None where unknown
	Projected calendar.Date
	Actual    calendar.Date // calendar.None while it is to come
	Cause     string

	// What older tables lack: "" and calendar.None where unknown.
	Kind      string // of the truck: pumper, aerial ...
	Customer  string
	Owner     string        // whose clock a slip was on: plant, supplier, customer
	Requested calendar.Date // day that the customer asked for
	Contract  calendar.Date // day of the contract
}

// UnmarshalJSON reads a past that was kept; what it lacks is unknown.
func (p *Past) UnmarshalJSON(data []byte) error {
	type fields Past
	f := fields{Said: none, Projected: none, Actual: none, Requested: none, Contract: none}
	if err := json.Unmarshal(data, &f); err != nil {
		return err
	}
	*p = Past(f)
	return nil
}

// Told is the past as package history takes it.
func (p *Past) Told() history.Event {
	return history.Event{
		Truck: p.Truck, Customer: p.Customer, Kind: p.Kind, Content: p.Content, What: p.Event, Owner: p.Owner,
		Said: p.Said, Projected: p.Projected, Actual: p.Actual, Requested: p.Requested, Contract: p.Contract, Cause: p.Cause,
	}
}

// historyTable is the table of the history. A row is about the one of the same
// truck, event and day on which it was said.
func historyTable(known []Past) *table[Past] {
	told := map[telling][]int{}
	for i, k := range known {
		told[telling{k.Truck, k.Event, k.Said}] = append(told[telling{k.Truck, k.Event, k.Said}], i)
	}
	return &table[Past]{
		kind: History, noun: "projection",
		columns: []column[Past]{
			needed(id("truck", "", func(h *Past) *string { return &h.Truck }, "id", "truck number", "truck no", "shop order", "shop order number", "shop order no", "order", "order number", "job", "job number", "job no", "unit")),
			word("content", "", func(h *Past) *string { return &h.Content }, contents, "work content", "complexity", "size"),
			needed(word("event", "", func(h *Past) *string { return &h.Event }, events, "milestone", "what", "kind")),
			day("said", "", func(h *Past) *date { return &h.Said }, "said on", "stated", "stated on", "as of"),
			needed(day("projected", "", func(h *Past) *date { return &h.Projected }, "projected date", "planned", "planned date", "promised", "promised date", "forecast")),
			day("actual", "", func(h *Past) *date { return &h.Actual }, "actual date", "happened", "done", "done on"),
			text("cause", "", func(h *Past) *string { return &h.Cause }, "cause code", "code", "reason"),
			id("truck_kind", "", func(h *Past) *string { return &h.Kind }, "kind of truck", "apparatus", "apparatus type", "truck type", "type"),
			text("customer", "", func(h *Past) *string { return &h.Customer }, "department", "fire department", "customer name"),
			word("owner", "", func(h *Past) *string { return &h.Owner }, history.Owners, "clock", "owner of the clock", "whose clock"),
			day("requested", "", func(h *Past) *date { return &h.Requested }, "requested date", "customer requested", "wanted"),
			day("contract", "", func(h *Past) *date { return &h.Contract }, "contract date", "contract due", "due"),
		},
		fresh: func() Past { return Past{Said: none, Projected: none, Actual: none, Requested: none, Contract: none} },
		match: func(row *Past, _ func(string) bool, taken []bool) int {
			return untaken(told[telling{row.Truck, row.Event, row.Said}], taken)
		},
		name: func(h *Past) string {
			if h.Said == none {
				return h.Truck + ", " + h.Event
			}
			return h.Truck + ", " + h.Event + ", said " + h.Said.String()
		},
		place: func(*Past) string { return "" },
		refuse: func(_, row *Past) []trouble {
			if row.Said != none && row.Actual != none && row.Said > row.Actual {
				return []trouble{{"said", fmt.Sprintf("it was projected on %v, after it had happened on %v", row.Said, row.Actual), "correct one of the two days"}}
			}
			return nil
		},
	}
}
