package rest

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"wetdown/api"
	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver"
	"wetdown/solver/history"
	"wetdown/solver/plant"
)

// A wireJob is a question to the planner and what became of it.
type wireJob struct {
	ID       string           `json:"id"`
	State    string           `json:"state"`
	Kind     string           `json:"kind"`
	Who      string           `json:"who"`
	At       *string          `json:"at"`
	Started  *string          `json:"started"`
	Ended    *string          `json:"ended"`
	Attempts int              `json:"attempts"`
	Revision *int64           `json:"revision"` // of the plant that it was answered for
	Progress *wireJobProgress `json:"progress"`
	Answer   any              `json:"answer"`  // by the kind; null until it is done, and in lists
	Problem  map[string]any   `json:"problem"` // why it failed
}

type wireJobProgress struct {
	Tiers   []wire.Tier `json:"tiers"`   // best values and proven bounds
	Proving *string     `json:"proving"` // the tier that is being proven
	Word    string      `json:"word"`
}

func toJob(j *api.Job) wireJob {
	w := wireJob{
		ID: j.ID, State: j.State, Kind: j.Kind, Who: j.Who, At: loggedTime(j.At), Started: loggedTime(j.Started), Ended: loggedTime(j.Ended),
		Attempts: j.Attempts, Progress: toJobProgress(j.Progress),
	}
	if j.Revision != 0 {
		w.Revision = &j.Revision
	}
	if j.Problem != nil {
		w.Problem = toProblem(j.Problem, statuses[j.Problem.Kind].status, "/jobs/"+j.ID)
	}
	return w
}

func toJobProgress(p *api.JobProgress) *wireJobProgress {
	if p == nil {
		return nil
	}
	w := &wireJobProgress{Tiers: wire.Each(p.Tiers, wire.ToTier), Word: p.Word}
	if p.Tier >= 0 && p.Tier < len(p.Tiers) {
		w.Proving = &p.Tiers[p.Tier].Name
	}
	return w
}

// whole is a job with its answer.
func (x *exchange) whole(j *api.Job) (w wireJob, err error) {
	w = toJob(j)
	if j.State != api.JobDone {
		return w, nil
	}
	w.Answer, err = x.answer(j)
	return w, err
}

// answer writes the answer of a job in the shape that the command line has for it.
func (x *exchange) answer(j *api.Job) (any, error) {
	switch j.Kind {
	case api.JobOffers:
		var q api.OffersQuestion
		var list solver.OfferList
		if err := errors.Join(json.Unmarshal(j.Question, &q), json.Unmarshal(j.Answer, &list)); err != nil {
			return nil, err
		}
		p, err := x.under(j, q.Conditions)
		return wire.ToOffers(p, &list, q.Conditions), err
	case api.JobWhy:
		var q api.WhyQuestion
		var list []*solver.Explanation
		if err := errors.Join(json.Unmarshal(j.Question, &q), json.Unmarshal(j.Answer, &list)); err != nil {
			return nil, err
		}
		if q.Day != calendar.None && len(list) == 1 {
			p, err := x.under(j, q.Conditions)
			return wire.ToWhy(p, list[0], q.Conditions), err
		}
		s, err := x.app.State(x.Request().Context(), api.Service, j.Revision)
		if err != nil || s.Plant.Plan == nil {
			return nil, err
		}
		w := wire.Causes{Truck: q.Truck, Explanations: wire.Each(list, wire.ToExplanation), Conditions: wire.ToConditions(s.Plant, q.Conditions), Warnings: []wire.Warning{}}
		if q.Proposal == "" && s.Fits(q.Conditions) {
			w.Plan = &s.Plant.Plan.Revision
		}
		return w, nil
	case api.JobRepairs:
		var a api.RepairsAnswer
		if err := json.Unmarshal(j.Answer, &a); err != nil {
			return nil, err
		}
		s, err := x.app.State(x.Request().Context(), api.Service, j.Revision)
		if err != nil {
			return nil, err
		}
		return toRepairs(s.Plant, &a), nil
	case api.JobPropose:
		var p api.Proposal
		if err := json.Unmarshal(j.Answer, &p); err != nil {
			return nil, err
		}
		now, err := x.app.Proposal(x.Request().Context(), api.Service, p.ID) // it may have been decided since
		if err != nil {
			return nil, err
		}
		return x.proposal(now)
	case api.JobQuote:
		var q api.Quote
		err := json.Unmarshal(j.Answer, &q)
		return toQuote(&q), err
	case api.JobReserve:
		var r api.Reservation
		err := json.Unmarshal(j.Answer, &r)
		return toReservation(&r), err
	case api.JobWorth:
		var a solver.Worth
		if err := json.Unmarshal(j.Answer, &a); err != nil {
			return nil, err
		}
		s, err := x.app.State(x.Request().Context(), api.Service, j.Revision)
		if err != nil {
			return nil, err
		}
		return wire.ToWorth(s.Plant, &a, j.Ended.Sub(j.Started).Seconds()), nil
	case api.JobBacktest:
		var r history.Report
		err := json.Unmarshal(j.Answer, &r)
		return wire.ToBacktest(&r), err
	}
	return nil, fmt.Errorf("a job of kind %q", j.Kind)
}

// under is the plant that a job was answered for; nil if there are no conditions to be said
// in its words.
func (x *exchange) under(j *api.Job, conditions []plant.Condition) (*plant.Plant, error) {
	if len(conditions) == 0 {
		return nil, nil
	}
	s, err := x.app.State(x.Request().Context(), api.Service, j.Revision)
	if err != nil {
		return nil, err
	}
	return s.Plant, nil
}

// A wireRepairs is what was found by way of ways out.
type wireRepairs struct {
	Truck      *string          `json:"truck"`
	Date       *string          `json:"date"`
	Promises   int              `json:"promises"`
	Nothing    wireWay          `json:"nothing"`
	Repairs    []wireWay        `json:"repairs"`
	Lost       []string         `json:"lost"`
	Asked      int              `json:"asked"`
	Whole      bool             `json:"whole"`
	AtLeast    int64            `json:"at_least"` // dollars; with no way proven to be the cheapest, proven that none costs less, added damages among it; 0: nothing of the kind is known
	Word       string           `json:"word"`
	Conditions []wire.Condition `json:"conditions"` // that every way obeys
}

// A wireWay is a way out with its number, by which it can be proposed.
type wireWay struct {
	Way int `json:"way"`
	wire.Repair
	Status plant.Status `json:"status"` // what is proven of its plan; empty: there is none
	Impact *wire.Impact `json:"impact"`
}

func toRepairs(p *plant.Plant, a *api.RepairsAnswer) wireRepairs {
	w := wireRepairs{
		Truck: wire.Text(a.Goal.Truck), Date: wire.Day(a.Goal.Day), Promises: a.Promises, Nothing: toWay(p, 0, &a.Nothing),
		Repairs: []wireWay{}, Lost: wire.Texts(a.Lost), Asked: a.Asked, Whole: a.Whole, AtLeast: a.AtLeast, Word: a.Word, Conditions: wire.ToConditions(p, a.Conditions),
	}
	for i := range a.List {
		w.Repairs = append(w.Repairs, toWay(p, i+1, &a.List[i]))
	}
	return w
}

func toWay(p *plant.Plant, n int, o *api.WayOut) wireWay {
	w := wireWay{Way: n, Status: o.Status, Repair: wire.Repair{
		Actions: wire.ToActions(p, o.Actions), Cost: o.Dollars, Damages: o.Damages, People: o.Heads, Moved: wire.Texts(o.Moved), Missed: o.Missed,
		Cheapest: o.Cheapest, Frontier: o.Frontier, Sentence: o.Sentence,
	}}
	if o.Impact != nil {
		impact := wire.ToImpact(o.Impact)
		w.Impact = &impact
	}
	return w
}

func listJobs(x *exchange) error {
	page, err := x.page()
	if err != nil {
		return err
	}
	list, err := x.app.Jobs(x.Request().Context(), x.who, x.QueryParam("state"), page)
	if err != nil {
		return err
	}
	return paged(x, "after", list, page.Limit-1, func(j *api.Job) string { return strconv.FormatInt(j.Seq, 10) }, toJob)
}

func getJob(x *exchange) error {
	j, err := x.app.Job(x.Request().Context(), x.who, x.Param("id"))
	if err != nil {
		return err
	}
	return x.job(http.StatusOK, j)
}

func (x *exchange) job(status int, j *api.Job) error {
	w, err := x.whole(j)
	if err != nil {
		return err
	}
	return x.JSON(status, w)
}

func cancelJob(x *exchange) error {
	j, err := x.app.Cancel(x.Request().Context(), x.who, x.Param("id"))
	if err != nil {
		return err
	}
	return x.job(http.StatusOK, j)
}

// longestWait is how long a question may wait for its answer.
const longestWait = 20 * time.Second

// asked answers with a job that was asked for: at once, or, as the asker prefers (RFC
// 7240), when it is finished or so many seconds have passed.
func (x *exchange) asked(j *api.Job, err error) error {
	if err != nil {
		return err
	}
	x.detail = "Job " + j.ID + "."
	h := x.Response().Header()
	h.Set("Location", "/jobs/"+j.ID)
	wait, err := x.prefers()
	if err != nil {
		return err
	}
	if wait == 0 || !x.who.May(api.ActRead) { // who may only ask sees no answer here
		return x.job(http.StatusAccepted, j)
	}
	h.Set("Preference-Applied", fmt.Sprintf("wait=%d", int(wait.Seconds())))
	if j, err = x.waited(j.ID, wait); err != nil {
		return err
	}
	switch {
	case !j.Finished():
		return x.job(http.StatusAccepted, j)
	case j.Kind == api.JobReserve && j.Problem != nil: // it is no question that was answered: nothing was held
		return j.Problem
	}
	return x.job(http.StatusOK, j)
}

// waited is a job when it is finished, or so much time has passed.
func (x *exchange) waited(id string, wait time.Duration) (*api.Job, error) {
	over := time.NewTimer(wait)
	defer over.Stop()
	look := time.NewTicker(lookAgain)
	defer look.Stop()
	for {
		news := x.app.JobNews()
		j, err := x.app.Job(x.Request().Context(), x.who, id)
		if err != nil || j.Finished() {
			return j, err
		}
		select {
		case <-news:
		case <-look.C:
		case <-over.C:
			return j, nil
		case <-x.s.closing:
			return j, nil
		case <-x.Request().Context().Done():
			return nil, x.Request().Context().Err()
		}
	}
}

// lookAgain is how often what other processes do is looked at.
const lookAgain = time.Second

// prefers is how long the asker wants to wait for an answer.
func (x *exchange) prefers() (time.Duration, error) {
	for _, line := range x.Request().Header.Values("Prefer") {
		for _, part := range strings.Split(line, ",") {
			name, value, _ := strings.Cut(strings.TrimSpace(part), "=")
			if !strings.EqualFold(strings.TrimSpace(name), "wait") {
				continue
			}
			n, err := strconv.Atoi(strings.Trim(strings.TrimSpace(value), `"`))
			if err != nil || n < 0 {
				return 0, invalid("Prefer", fmt.Sprintf("%.20q is no number of seconds.", value), "Write Prefer: wait=20.")
			}
			return min(time.Duration(n)*time.Second, longestWait), nil
		}
	}
	return 0, nil
}
