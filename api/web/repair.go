package web

import (
	"cmp"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
)

type repairData struct {
	Job  *api.Job
	A    api.RepairsAnswer
	Goal string
	Ways []way
	Old  int64
	Draw *prices

	Conditions conditionForm
}

// A way is a way out with its number; 0 is to do nothing.
type way struct {
	Number int
	*api.WayOut
	Do []string
}

// Total is all that it costs, in dollars.
func (w way) Total() int64 { return w.Dollars + w.Damages }

// prices are the ways out drawn by what they cost: people who move across, dollars up.
type prices struct {
	Width, Height, Foot int
	Points              []point
	Up, Across          []tick
}

type point struct {
	X, Top, Mid int // measures stand on damages
	Damages     int // height
	Measures    int
	Number      int
	Best        bool
}

type tick struct {
	At   int
	Text string
}

// askRepairs looks for ways out: of what the recorded slips do, or for one truck.
func (w *Web) askRepairs(v *view) error {
	day, err := v.date("day")
	if err != nil {
		return err
	}
	conditions, err := v.conditions()
	if err != nil {
		return err
	}
	j, err := w.app.AskRepairs(v.ctx, v.Who, api.RepairsQuestion{Truck: v.r.PostFormValue("truck"), Day: day, Conditions: conditions})
	if err != nil {
		return err
	}
	return v.back(address("/jobs/"+j.ID, "to", "/repairs/"+j.ID))
}

// repairs shows ways out, or why no plan obeys the conditions that they were asked for under.
func (w *Web) repairs(v *view) error {
	var a api.RepairsAnswer
	j, ok, err := v.answered(v.r.PathValue("id"), api.JobRepairs, &a)
	failed := j != nil && j.Problem != nil
	if !failed && (err != nil || !ok) {
		return err
	}
	var q api.RepairsQuestion
	if err := json.Unmarshal(j.Question, &q); err != nil {
		return err
	}
	a.Goal = solver.Goal{Truck: q.Truck, Day: q.Day}
	v.Said = j.Problem
	d := &repairData{Job: j, A: a, Old: v.State.Revision.Number - j.Revision}
	d.Conditions = v.conditionForm(q.Conditions, opposedBy(j.Problem))
	p := v.State.Plant
	switch {
	case a.Goal.Truck == "" && len(a.Slips) == 0:
		d.Goal = "every promise of the plan in force is kept"
	case a.Goal.Truck == "":
		d.Goal = "every promise is kept although " + count(len(a.Slips), "slip") + " happened"
	case a.Goal.Day == calendar.None:
		d.Goal = "truck " + a.Goal.Truck + " is delivered by its contract"
	default:
		d.Goal = "the next visit to " + a.Goal.Truck + " is on " + v.Style.Day(a.Goal.Day)
	}
	put := func(n int, x *api.WayOut) {
		if x.Sentence == "" {
			return
		}
		w := way{Number: n, WayOut: x}
		for _, act := range x.Actions {
			w.Do = append(w.Do, solver.SayAction(p, act))
		}
		d.Ways = append(d.Ways, w)
	}
	put(0, &a.Nothing)
	for i := range a.List {
		put(i+1, &a.List[i])
	}
	d.Draw = drawn(d.Ways)
	v.Title, v.Place, v.Data = "Ways out, with what each costs", "proposals", d
	status := http.StatusOK
	if failed {
		status = statusOf(j.Problem.Kind)
	}
	v.show(status, "repairs")
	return nil
}

// drawn places the ways out that have a plan, those that move as many people side by
// side; nil when there are fewer than two.
func drawn(ways []way) *prices {
	const left, foot, top, apart = 90, 230, 20, 34
	var list []way
	var most int64
	for _, w := range ways {
		if w.Impact != nil {
			list = append(list, w)
			most = max(most, w.Total())
		}
	}
	if len(list) < 2 {
		return nil
	}
	slices.SortStableFunc(list, func(x, y way) int { return cmp.Compare(x.Heads, y.Heads) })
	d := &prices{Height: foot + 46, Foot: foot}
	up := func(n int64) int { return int(n * int64(foot-top-20) / max(1, most)) }
	x := left
	for i, w := range list {
		if i == 0 || list[i-1].Heads != w.Heads {
			x += 40
			n := 0
			for ; i+n < len(list) && list[i+n].Heads == w.Heads; n++ {
			}
			d.Across = append(d.Across, tick{x + (n-1)*apart/2, strconv.Itoa(w.Heads)})
		}
		q := point{X: x, Number: w.Number, Best: w.Frontier, Damages: up(w.Damages), Measures: up(w.Dollars)}
		q.Mid = foot - q.Damages
		q.Top = q.Mid - q.Measures
		d.Points = append(d.Points, q)
		x += apart
	}
	d.Width = max(x+20, 420)
	for _, n := range []int64{0, most / 2, most} {
		d.Up = append(d.Up, tick{foot - up(n), dollars(n)})
	}
	return d
}

// proposeWay makes a proposal of a way out.
func (w *Web) proposeWay(v *view) error {
	n, err := strconv.Atoi(v.r.PostFormValue("number"))
	if err != nil {
		return &api.Problem{Kind: api.Invalid, Title: "Which way out?", Detail: "No number was sent.", Next: "Use the button beside one of them."}
	}
	p, err := w.app.ProposeWayOut(v.ctx, v.Who, v.r.PathValue("id"), n)
	if err != nil {
		return err
	}
	return v.back("/proposals/" + p.ID)
}
