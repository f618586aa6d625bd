package rest

import (
	"encoding/json"
	"net/http"
	"strconv"

	"wetdown/api"
	"wetdown/api/wire"
	"wetdown/solver/plant"
)

// A wireProposal is a plan that is in force only when somebody accepts it.
type wireProposal struct {
	ID         string           `json:"id"`
	State      string           `json:"state"`
	Base       int64            `json:"base"` // revision from which it was computed
	At         *string          `json:"at"`
	Who        string           `json:"who"`
	Slips      []string         `json:"slips"` // ids
	Conditions []wire.Condition `json:"conditions"`
	Status     plant.Status     `json:"status"`
	Tiers      []wire.Tier      `json:"tiers"`
	Counts     wire.Counts      `json:"counts"`
	Seconds    float64          `json:"seconds"`
	Reasons    []string         `json:"reasons"`
	// Contradiction is why no plan obeys the conditions; null when one does, and in lists.
	Contradiction *wire.Contradiction `json:"contradiction"`
	Summary       string              `json:"summary"`
	Promises      bool                `json:"moves_promises"` // it moves or breaks a confirmed visit
	Impact        *wire.Impact        `json:"impact"`         // null when there is no plan, and in lists
	DecidedBy     *string             `json:"decided_by"`
	DecidedAt     *string             `json:"decided_at"`
	Revision      *int64              `json:"revision"` // that it became
}

// toProposal writes a proposal without its impact.
func toProposal(p *api.Proposal) wireProposal {
	w := wireProposal{
		ID: p.ID, State: p.State, Base: p.Base, At: loggedTime(p.At), Who: p.Who, Conditions: []wire.Condition{}, Status: p.Status,
		Slips: wire.Each(p.Slips, func(s plant.Slip) string { return s.ID }), Tiers: wire.Each(p.Tiers, wire.ToTier), Counts: wire.Counts(p.Counts), Seconds: wire.Micro(p.Seconds),
		Reasons: wire.Texts(p.Reasons), Summary: p.Summary, Promises: p.Promises, DecidedBy: wire.Text(p.DecidedBy), DecidedAt: loggedTime(p.DecidedAt),
	}
	if p.Revision != 0 {
		w.Revision = &p.Revision
	}
	return w
}

// proposal writes a whole proposal.
func (x *exchange) proposal(p *api.Proposal) (wireProposal, error) {
	w := toProposal(p)
	if p.Impact != nil {
		impact := wire.ToImpact(p.Impact)
		w.Impact = &impact
	}
	if len(p.Conditions) > 0 {
		s, err := x.app.State(x.Request().Context(), api.Service, p.Base)
		if err != nil {
			return w, err
		}
		w.Conditions, w.Contradiction = wire.ToConditions(s.Plant, p.Conditions), wire.ToContradiction(s.Plant, p.Contradiction)
	}
	return w, nil
}

func (x *exchange) whichProposal(p *api.Proposal, err error) error {
	if err != nil {
		return err
	}
	w, err := x.proposal(p)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, w)
}

func postProposals(x *exchange) error {
	var in struct {
		Slips      []string        `json:"slips"`
		Conditions json.RawMessage `json:"conditions"`
		Limit      limitText       `json:"limit"`
	}
	if err := x.json(&in); err != nil {
		return err
	}
	q := api.ProposeQuestion{Slips: in.Slips}
	var err error
	if q.Limit, err = in.Limit.duration(); err != nil {
		return err
	}
	if q.Conditions, err = x.conditions(in.Conditions); err != nil {
		return err
	}
	return x.asked(x.app.AskProposal(x.Request().Context(), x.who, q))
}

// unplaced are faults without the lines of a text that nobody has seen.
func unplaced(faults []plant.Fault) []plant.Fault {
	for n := range faults {
		faults[n].Line, faults[n].Column = 0, 0
	}
	return faults
}

func listProposals(x *exchange) error {
	page, err := x.page()
	if err != nil {
		return err
	}
	list, err := x.app.Proposals(x.Request().Context(), x.who, x.QueryParam("state"), page)
	if err != nil {
		return err
	}
	return paged(x, "after", list, page.Limit-1, func(p *api.Proposal) string { return strconv.FormatInt(p.Seq, 10) }, toProposal)
}

func getProposal(x *exchange) error {
	return x.whichProposal(x.app.Proposal(x.Request().Context(), x.who, x.Param("id")))
}

func acceptProposal(x *exchange) error {
	i, err := x.intent(api.Whole)
	if err != nil {
		return err
	}
	return x.whichProposal(x.app.Accept(x.Request().Context(), x.who, i, x.Param("id")))
}

func dropProposal(x *exchange) error {
	return x.whichProposal(x.app.DropProposal(x.Request().Context(), x.who, x.Param("id")))
}
