package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wetdown/solver"
	"wetdown/solver/plant"
)

// States of a proposal. While it is computed there is only its job.
const (
	ProposalReady    = "ready"
	ProposalAccepted = "accepted"
	ProposalDropped  = "dropped"
)

// A ProposeQuestion asks for the plan that answers what has been reported. The answer of
// its job is a Proposal.
type ProposeQuestion struct {
	Slips      []string // ids of recorded slips that it makes facts; nil: all
	Conditions []plant.Condition
	Limit      time.Duration // 0: as long as it takes, up to MaxSolve
}

// A Proposal is a plan that was computed from one revision and is in force only when
// somebody accepts it.
type Proposal struct {
	ID         string
	Seq        int64
	State      string
	Base       int64 // revision from which it was computed
	At         time.Time
	Who        string // asked for it
	Slips      []plant.Slip
	Conditions []plant.Condition
	Status     plant.Status // what is proven of the plan
	Tiers      []plant.TierValue
	Counts     solver.Counts
	Seconds    float64
	Reasons    []string // when there is no plan
	// Contradiction is why no plan obeys the conditions; nil when one does, or none is known
	// although there may be.
	Contradiction *solver.Contradiction
	Impact        *solver.Impact // what it changes; nil when there is no plan
	Summary       string
	Promises      bool // it moves or breaks a confirmed visit
	Changes       []plant.PieceChange
	DecidedBy     string
	DecidedAt     time.Time
	Revision      int64 // that it became
}

// Settings of the service for this plant, beside the plant itself.
type Settings struct {
	AutoAccept bool // proposals that touch no confirmed visit are accepted at once
	AutoInvite bool // invitations are mailed without a person releasing each
}

// settingsID is the one record of settings.
const settingsID = "plant"

// Settings returns the settings.
func (a *App) Settings(ctx context.Context, who Actor) (s Settings, err error) {
	if err := who.must(ActRead); err != nil {
		return s, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		s, err = settingsIn(tx)
		return err
	})
	return s, err
}

func settingsIn(tx Tx) (Settings, error) {
	rec, err := tx.Get(KindSettings, settingsID)
	if errors.Is(err, ErrNone) {
		return Settings{}, nil
	}
	e := entry[Settings]{rec: rec}
	if err == nil {
		err = e.open()
	}
	return e.val, err
}

// SetSettings changes the settings.
func (a *App) SetSettings(ctx context.Context, who Actor, s Settings) error {
	if err := who.must(ActSetUp); err != nil {
		return err
	}
	return a.store.Update(ctx, func(tx Tx) error {
		rec, err := tx.Get(KindSettings, settingsID)
		if err != nil && !errors.Is(err, ErrNone) {
			return err
		}
		if err != nil {
			rec = Record{Kind: KindSettings, ID: settingsID}
		}
		e := entry[Settings]{rec, s}
		return e.keep(tx)
	})
}

// AskProposal asks for a plan that answers the slips, under conditions.
func (a *App) AskProposal(ctx context.Context, who Actor, q ProposeQuestion) (*Job, error) {
	s, err := a.head(ctx)
	if err != nil {
		return nil, err
	}
	if _, err := chosenSlips(s.Plant, q.Slips); err != nil {
		return nil, err
	}
	if faults := s.Plant.Conditions(q.Conditions); len(faults) > 0 {
		return nil, faulty(faults)
	}
	return a.ask(ctx, who, JobPropose, q)
}

// chosenSlips are the recorded slips of those names, nil: all.
func chosenSlips(p *plant.Plant, ids []string) ([]plant.Slip, error) {
	if ids == nil {
		return p.Slips, nil
	}
	var list []plant.Slip
	for _, id := range ids {
		at := slices.IndexFunc(p.Slips, func(x plant.Slip) bool { return x.ID == id })
		if at < 0 {
			return nil, noSuch("slip", id, slipNames(p))
		}
		list = append(list, p.Slips[at])
	}
	return list, nil
}

// propose works a proposal out and keeps it.
func (a *App) propose(ctx context.Context, s *State, j *Job, q ProposeQuestion, report func(solver.Progress)) (*Proposal, error) {
	slips, err := chosenSlips(s.Plant, q.Slips)
	if err != nil {
		return nil, err
	}
	after, err := s.Plant.Apply(slips)
	if err != nil {
		return nil, &Problem{Kind: Invalid, Title: "This cannot have happened", Detail: sentence(err.Error()), Next: "Withdraw the slip, or correct what the sentence names."}
	}
	if q.Limit > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeoutCause(ctx, q.Limit, errTimeUp)
		defer cancel()
	}
	r, err := solver.Replan(ctx, after, solver.Options{Clock: a.clock, Conditions: q.Conditions, Report: report})
	if err != nil {
		return nil, err
	}
	if ctx, err = found(ctx); err != nil {
		return nil, err
	}
	p := Proposal{
		Base: s.Revision.Number, At: a.now(), Who: j.Who, Slips: slips, Conditions: q.Conditions,
		Status: r.Status, Tiers: r.Tiers, Counts: r.Counts, Seconds: r.Seconds.Total, Reasons: r.Reasons, Contradiction: r.Contradiction,
	}
	state := ProposalReady
	switch {
	case r.Plan == nil:
		state = ProposalDropped
		p.Summary = "There is no such plan."
		if r.Status == plant.Unknown {
			p.Summary = "No plan was found in the time given."
		}
	default:
		with := *solver.Under(after, q.Conditions)
		with.Plan = r.Plan
		p.Changes = plant.Diff(s.pieces, plant.Split(&with))
		p.Summary = "The first plan."
		if s.Plant.Plan != nil {
			if p.Impact, err = solver.Compare(s.Plant, after, slips, r.Plan); err != nil {
				return nil, err
			}
			p.Summary = p.Impact.Summary()
			p.Promises = movesPromise(p.Impact)
		}
	}
	var out *Proposal
	auto := false
	err = a.store.Update(ctx, func(tx Tx) error {
		e := entry[Proposal]{Record{Kind: KindProposal, ID: j.ID, State: state, Ref: j.Who}, p}
		set, err := settingsIn(tx)
		if err != nil {
			return err
		}
		auto = set.AutoAccept && state == ProposalReady && !p.Promises && p.Impact != nil
		if old, err := tx.Get(KindProposal, j.ID); err == nil {
			e = entry[Proposal]{rec: old} // kept by a process that died before it could say so
			if err := e.open(); err != nil {
				return err
			}
		} else if err := e.keep(tx); err != nil {
			return err
		}
		out = e.proposal()
		return nil
	})
	if err != nil {
		return nil, err
	}
	if auto {
		if accepted, err := a.decide(ctx, Service, Intent{Why: "It touches no confirmed visit."}, out.ID); err == nil {
			return accepted, nil
		}
		// somebody was faster: it stays as a proposal
	}
	return out, nil
}

// movesPromise reports whether a confirmed visit moves or breaks.
func movesPromise(m *solver.Impact) bool {
	return slices.ContainsFunc(m.Visits, func(v solver.VisitMove) bool { return v.State == plant.Confirmed })
}

func (e *entry[T]) proposal() *Proposal {
	p, ok := any(&e.val).(*Proposal)
	if ok {
		p.ID, p.Seq, p.State = e.rec.ID, e.rec.Seq, e.rec.State
	}
	return p
}

// Proposal returns a proposal.
func (a *App) Proposal(ctx context.Context, who Actor, id string) (p *Proposal, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		e, err := fetch[Proposal](tx, KindProposal, id)
		p = e.proposal()
		return err
	})
	return p, err
}

// Proposals lists proposals in the order in which they were made, or the newest first.
func (a *App) Proposals(ctx context.Context, who Actor, state string, page Page) (list []*Proposal, err error) {
	if err := who.must(ActRead); err != nil {
		return nil, err
	}
	err = a.store.View(ctx, func(tx Tx) error {
		es, err := query[Proposal](tx, page.of(Query{Kind: KindProposal, State: state}))
		for i := range es {
			list = append(list, es[i].proposal())
		}
		return err
	})
	return list, err
}

// Accept puts the plan of a proposal in force. What was booked or reported since it was
// computed stays; if the plan no longer fits with it, it is refused and must be computed
// anew.
func (a *App) Accept(ctx context.Context, who Actor, i Intent, id string) (*Proposal, error) {
	if err := who.must(ActDecide); err != nil {
		return nil, err
	}
	return a.decide(ctx, who, i, id)
}

func (a *App) decide(ctx context.Context, who Actor, i Intent, id string) (*Proposal, error) {
	var p *Proposal
	_, err := a.change(ctx, who, ActDecide, i, func(s *State) (*next, error) {
		var e entry[Proposal]
		err := a.store.View(ctx, func(tx Tx) (err error) {
			e, err = fetch[Proposal](tx, KindProposal, id)
			return err
		})
		if err != nil {
			return nil, err
		}
		p = e.proposal()
		if p.State != ProposalReady {
			return nil, decided(p)
		}
		after, err := onto(s, p)
		if err != nil {
			return nil, err
		}
		return &next{plant: after, base: p.Base, what: p.sentence(), follow: func(tx Tx, r Revision) error {
			e := e // this may run again
			e.rec.State = ProposalAccepted
			e.val.DecidedBy, e.val.DecidedAt, e.val.Revision = who.Name, r.At, r.Number
			if err := e.keep(tx); err != nil {
				return err
			}
			p = e.proposal()
			if p.Impact == nil {
				return nil
			}
			return addCalls(tx, r, p.Impact, s.Plant, after)
		}}, nil
	})
	if err != nil {
		return nil, err
	}
	return p, nil
}

// Drop puts a proposal aside.
func (a *App) DropProposal(ctx context.Context, who Actor, id string) (p *Proposal, err error) {
	if err := who.must(ActDecide); err != nil {
		return nil, err
	}
	err = a.store.Update(ctx, func(tx Tx) error {
		e, err := fetch[Proposal](tx, KindProposal, id)
		if err != nil {
			return err
		}
		if e.rec.State != ProposalReady {
			return decided(e.proposal())
		}
		e.rec.State = ProposalDropped
		e.val.DecidedBy, e.val.DecidedAt = who.Name, a.now()
		p = e.proposal()
		return e.keep(tx)
	})
	return p, err
}

func decided(p *Proposal) *Problem {
	return &Problem{Kind: Conflict, Title: "The proposal is decided", Detail: fmt.Sprintf("It is %s.", p.State), Next: "Ask for another proposal if you need one."}
}

// sentence says what accepting it does.
func (p *Proposal) sentence() string {
	if len(p.Slips) == 0 {
		return trimmed("A new plan. " + p.Summary)
	}
	var ids []string
	for _, s := range p.Slips {
		ids = append(ids, s.ID)
	}
	return trimmed(fmt.Sprintf("The plan that answers %s. %s", strings.Join(ids, ", "), p.Summary))
}

// onto is the plant as of s with the changes of the proposal.
func onto(s *State, p *Proposal) (*plant.Plant, error) {
	old := func(detail string) *Problem {
		return &Problem{
			Kind: Stale, Title: "The plant has moved on",
			Detail: fmt.Sprintf("The proposal was computed from revision %d, and the newest is %d: %s", p.Base, s.Revision.Number, detail),
			Next:   "Ask for it anew: it is computed from the newest revision.",
			Extra:  map[string]any{"base": p.Base, "revision": s.Revision.Number},
		}
	}
	pieces, err := advance(s.pieces, p.Changes)
	if err != nil {
		return nil, old(err.Error())
	}
	after, err := s.together(pieces)
	if err != nil {
		return nil, old(err.Error())
	}
	next := &State{Plant: after}
	if fit := next.Fit(); fit != nil && len(fit.Broken) > 0 {
		return nil, old("its plan would break a rule now: " + fit.Broken[0])
	}
	return after, nil
}
