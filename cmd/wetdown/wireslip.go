package main

import (
	"wetdown/solver"
	"wetdown/solver/plant"
)

// wireSlip is the answer to a slip for machines.
type wireSlip struct {
	wireResult
	PlannedFirst *plant.Status      `json:"planned_first"` // status of the plan made before the slip when the file had none
	Summary      string             `json:"summary"`
	Happened     []string           `json:"happened"`
	Moved        []wireMove         `json:"moved"`
	Deliveries   []wireDeliveryMove `json:"deliveries"`
	Disturbed    []wireDisturbed    `json:"disturbed"`
	Displaced    []wireDisplaced    `json:"displaced"`
	Apart        []string           `json:"moved_apart"` // trucks that move although no chain of displaced leads to them
	Calls        []wireCall         `json:"calls"`
	Change       []wireChange       `json:"change"`
	Damages      wireDamages        `json:"damages"`
	Repairs      *wireRepairs       `json:"repairs"` // ways out; null with --no-repairs, or when there is no plan
	Taken        *wireTaken         `json:"taken"`   // with --take: what is in force in the file
}

type wireMove struct {
	Visit    string  `json:"visit"`
	Truck    string  `json:"truck"`
	Customer string  `json:"customer"`
	Kind     string  `json:"kind"`
	State    string  `json:"state"`
	Frozen   bool    `json:"frozen"`
	Heads    int     `json:"heads"`
	Booked   *string `json:"booked"`
	From     *string `json:"from"`
	To       *string `json:"to"`
	WorkDays int     `json:"work_days"`
	Bay      *string `json:"bay"`
	Sentence string  `json:"sentence"`
}

type wireDeliveryMove struct {
	Truck          string  `json:"truck"`
	Customer       string  `json:"customer"`
	Due            *string `json:"due"`
	From           *string `json:"from"`
	To             *string `json:"to"`
	WorkDays       int     `json:"work_days"`
	DaysLateBefore int     `json:"days_late_before"`
	DaysLate       int     `json:"days_late"`
	DamagesBefore  int64   `json:"damages_before"`
	Damages        int64   `json:"damages"`
	DeadlineMissed bool    `json:"deadline_missed"`
	Sentence       string  `json:"sentence"`
}

type wireDisturbed struct {
	Truck    string  `json:"truck"`
	Stage    string  `json:"stage"`
	From     *string `json:"from"`
	To       *string `json:"to"`
	FromBay  *string `json:"from_bay"`
	ToBay    *string `json:"to_bay"`
	Sentence string  `json:"sentence"`
}

// wireDisplaced is a link: by, with by_stage, is where truck was to be with stage.
type wireDisplaced struct {
	Step     int     `json:"step"`
	By       *string `json:"by"` // null: a bay is down, a crew is away
	ByStage  *string `json:"by_stage"`
	Truck    string  `json:"truck"`
	Stage    string  `json:"stage"`
	Bay      *string `json:"bay"`
	Crew     *string `json:"crew"`
	At       *string `json:"at"`
	From     *string `json:"from"`
	To       *string `json:"to"`
	Sentence string  `json:"sentence"`
}

type wireCall struct {
	By       *string `json:"by"`
	Overdue  bool    `json:"overdue"`
	Truck    string  `json:"truck"`
	Customer string  `json:"customer"`
	Visit    *string `json:"visit"`
	Heads    int     `json:"heads"`
	About    string  `json:"about"`
	Because  string  `json:"because"`
}

type wireChange struct {
	Name   string `json:"name"`
	Before int64  `json:"before"`
	After  int64  `json:"after"`
}

type wireDamages struct {
	Before int64 `json:"before"`
	After  int64 `json:"after"`
}

// add writes what changes.
func (w *wireSlip) add(m *solver.Impact) {
	w.Summary, w.Happened = m.Summary(), m.Happened
	w.Damages = wireDamages{m.Damages[0], m.Damages[1]}
	w.Moved = each(m.Visits, func(v solver.VisitMove) wireMove {
		return wireMove{v.Visit, v.Truck, v.Customer, v.Kind, v.State, v.Frozen, v.Heads, day(v.Booked), day(v.From), day(v.To), v.WorkDays, text(v.Bay), v.Sentence()}
	})
	w.Deliveries = each(m.Deliveries, func(d solver.DeliveryMove) wireDeliveryMove {
		return wireDeliveryMove{d.Truck, d.Customer, day(d.Due), day(d.From.Day), day(d.To.Day), d.WorkDays, d.From.Late, d.To.Late, d.From.Damages, d.To.Damages, d.To.Missed, d.Sentence()}
	})
	w.Disturbed = each(m.Near, func(d solver.Disturbed) wireDisturbed {
		return wireDisturbed{d.Truck, d.Stage, moment(d.From), moment(d.To), text(d.FromBay), text(d.ToBay), d.Sentence()}
	})
	w.Displaced = each(m.Displaced, func(d solver.Displacement) wireDisplaced {
		return wireDisplaced{d.Step, text(d.By), text(d.ByStage), d.Truck, d.Stage, text(d.Bay), text(d.Crew), moment(d.At), moment(d.From), moment(d.To), d.Sentence()}
	})
	w.Apart = each(m.Apart, func(id string) string { return id })
	w.Calls = each(m.Calls, func(c solver.Call) wireCall {
		return wireCall{day(c.By), c.Overdue, c.Truck, c.Customer, text(c.Visit), c.Heads, c.About, c.Because}
	})
	w.Change = each(m.Tiers, func(t solver.TierChange) wireChange { return wireChange{t.Name, t.Before, t.After} })
}
