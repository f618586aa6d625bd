package web

import (
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"wetdown/api"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// worthShown is how many of the newest questions are looked through for those that were
// asked here.
const worthShown = 200

type worthsData struct {
	List   []worthLine // the newest first
	Trucks []string
	Truck  string
}

type worthLine struct {
	*api.Job
	About string
	Old   int // revisions since
}

// worths asks what could be asked, and lists what was.
func (w *Web) worths(v *view) error {
	jobs, err := w.app.Jobs(v.ctx, v.Who, "", api.Page{Newest: true, Limit: worthShown})
	if err != nil {
		return err
	}
	d := worthsData{Truck: v.r.FormValue("truck")}
	for _, j := range jobs {
		if j.Kind != api.JobWorth {
			continue
		}
		l := worthLine{Job: j, About: "everything"}
		var q api.WorthQuestion
		if json.Unmarshal(j.Question, &q) == nil && len(q.Trucks)+len(q.Bays)+len(q.Crews) > 0 {
			l.About = strings.Join(slices.Concat(q.Trucks, q.Bays, q.Crews), ", ")
		}
		if j.Revision > 0 {
			l.Old = int(v.State.Revision.Number - j.Revision)
		}
		d.List = append(d.List, l)
	}
	for i := range v.State.Plant.Trucks {
		d.Trucks = append(d.Trucks, v.State.Plant.Trucks[i].ID)
	}
	v.Title, v.Place, v.Data = "What would hurt next, what would help", "late", d
	v.show(http.StatusOK, "worths")
	return nil
}

// askWorth asks whose day hurts most if it is lost, and what one more would buy.
func (w *Web) askWorth(v *view) error {
	q := api.WorthQuestion{Top: api.WorstDays}
	if t := strings.TrimSpace(v.r.PostFormValue("truck")); t != "" {
		q.Trucks = []string{t}
	}
	j, err := w.app.AskWorth(v.ctx, v.Who, q)
	if err != nil {
		return err
	}
	return v.back("/jobs/" + j.ID)
}

type worthData struct {
	Job    *api.Job
	Worth  *solver.Worth
	Old    int // revisions that came since
	Days   stakes
	More   stakes
	Less   []string // hurts no more than the worst ones
	Left   []string // not worked out
	Free   []string // costs nothing
	Vain   []string // gains nothing
	Whole  bool     // it was asked about everything
	Proven bool     // that the plan it is held against is the best
}

// stakes are rows of what would change, with a column for each tier that changes in one
// of them.
type stakes struct {
	Tiers []stakeTier
	Rows  []stakeRow
}

// A stakeTier heads a column.
type stakeTier struct{ Name, Counts string }

type stakeRow struct {
	Title    string
	To       string // page of what it is about, "" without one
	Tiers    []string
	Calls    int
	Price    int64 // dollars; -1: it has none on the list
	Sentence string
}

// newStakes writes rows for the plant that was asked about.
func newStakes(p *plant.Plant, list []*solver.Stake) (s stakes) {
	var columns []int
	for n, name := range plant.TierNames {
		if slices.ContainsFunc(list, func(k *solver.Stake) bool {
			return len(k.Tiers) > n && k.Tiers[n].Before != k.Tiers[n].After
		}) {
			columns = append(columns, n)
			s.Tiers = append(s.Tiers, stakeTier{name, tierWord(name)})
		}
	}
	for _, k := range list {
		title := k.Title(p)
		r := stakeRow{Title: title, Price: k.Price, Sentence: strings.TrimPrefix(k.Sentence(p), title+": ")}
		if k.Slip != nil && k.Slip.Truck != "" {
			r.To = "/trucks/" + k.Slip.Truck
		}
		if k.Impact != nil {
			r.Calls = len(k.Impact.Calls)
		}
		for _, n := range columns {
			r.Tiers = append(r.Tiers, difference(k, n))
		}
		s.Rows = append(s.Rows, r)
	}
	return s
}

// difference is how a tier changes by the plan found; with a question mark where that is
// not proven.
func difference(k *solver.Stake, tier int) string {
	switch {
	case k.Status == plant.Infeasible:
		return "no plan"
	case len(k.Tiers) <= tier:
		return "?"
	}
	x := k.Tiers[tier]
	text, by := "–", x.After-x.Before
	if by != 0 {
		text = strconv.FormatInt(by, 10)
		if x.Name == plant.TierDamages {
			text = dollars(by)
		}
		if by > 0 {
			text = "+" + text
		}
	}
	if !x.Exact() {
		text += "?"
	}
	return text
}

// worth shows an answer.
func (w *Web) worth(v *view) error {
	var r solver.Worth
	j, ok, err := v.answered(v.r.PathValue("id"), api.JobWorth, &r)
	if err != nil || !ok {
		return err
	}
	var q api.WorthQuestion
	if err := json.Unmarshal(j.Question, &q); err != nil {
		return err
	}
	p := v.at(j.Revision)
	d := worthData{Job: j, Worth: &r, Old: int(v.State.Revision.Number - j.Revision), Whole: len(q.Trucks)+len(q.Bays)+len(q.Crews) == 0, Proven: r.Status == plant.Optimal}
	var days, more []*solver.Stake
	for i := range r.Days {
		switch k := &r.Days[i]; {
		case k.Exact() && !k.Differs():
			d.Free = append(d.Free, v.Words(k.Title(p)))
		case k.Less || (k.Exact() || k.Status == plant.Infeasible) && q.Top > 0 && len(days) >= q.Top:
			d.Less = append(d.Less, v.Words(k.Title(p)))
		case !k.Solved && k.Status != plant.Optimal && k.Status != plant.Infeasible:
			d.Left = append(d.Left, v.Words(k.Title(p)))
		default:
			days = append(days, k)
		}
	}
	for i := range r.More {
		if k := &r.More[i]; k.Exact() && !k.Differs() {
			title := v.Words(k.Title(p))
			if k.Choice > 1 {
				title += " or another of " + strconv.Itoa(k.Choice) + " Saturdays"
			}
			d.Vain = append(d.Vain, title)
		} else {
			more = append(more, k)
		}
	}
	d.Days, d.More = newStakes(p, days), newStakes(p, more)
	v.Title, v.Place, v.Data = "What would hurt next, what would help", "late", d
	v.show(http.StatusOK, "worth")
	return nil
}
