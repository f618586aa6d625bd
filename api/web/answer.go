package web

import (
	"encoding/json"
	"net/http"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
)

// answered reads the answer of a job of one kind. Without one yet, the browser is sent to
// wait for it, and the answer is false. A problem comes with its job.
func (v *view) answered(id, kind string, to any) (*api.Job, bool, error) {
	j, err := v.app.Job(v.ctx, v.Who, id)
	switch {
	case err != nil:
		return nil, false, err
	case j.Kind != kind:
		return nil, false, &api.Problem{Kind: api.NotFound, Title: "Another question was asked", Detail: "The answer is not of this sort.", Next: "Go to it by the page of its job: /jobs/" + id + "."}
	case j.Problem != nil:
		return j, false, j.Problem
	case j.State != api.JobDone:
		return nil, false, v.back("/jobs/" + id)
	}
	return j, true, json.Unmarshal(j.Answer, to)
}

type answerData struct {
	Job        *api.Job
	List       []*solver.Explanation
	Truck      string // asked about, "" for all
	Day        calendar.Date
	Old        int64 // revisions that came since
	Conditions conditionForm
}

// why asks for the reasons why a visit cannot be on a day, or why the plan moves the visits
// of a truck or delivers it late; of all trucks if none is named. Conditions stand in the
// address.
func (w *Web) why(v *view) error {
	day, err := v.date("on")
	if err != nil {
		return err
	}
	conditions, err := v.conditions()
	if err != nil {
		return err
	}
	j, err := w.app.AskWhy(v.ctx, v.Who, api.WhyQuestion{Truck: v.r.PathValue("id"), Day: day, Conditions: conditions})
	if err != nil {
		return err
	}
	return v.back(address("/jobs/"+j.ID, "to", "/answers/"+j.ID))
}

// answer shows reasons, or why no plan obeys the conditions that they were asked for under.
func (w *Web) answer(v *view) error {
	var list []*solver.Explanation
	j, ok, err := v.answered(v.r.PathValue("id"), api.JobWhy, &list)
	failed := j != nil && j.Problem != nil
	if !failed && (err != nil || !ok) {
		return err
	}
	var q api.WhyQuestion
	if err := json.Unmarshal(j.Question, &q); err != nil {
		return err
	}
	v.Said = j.Problem
	d := answerData{Job: j, List: list, Truck: q.Truck, Day: q.Day, Old: v.State.Revision.Number - j.Revision}
	d.Conditions = v.conditionForm(q.Conditions, opposedBy(j.Problem))
	switch {
	case q.Truck == "":
		v.Title = "Why the plan is as it is"
	case q.Day != calendar.None:
		v.Title = "Can the visit to " + q.Truck + " be on " + v.Style.Day(q.Day) + "?"
	default:
		v.Title = "Why is " + q.Truck + " where the plan has it?"
	}
	status := http.StatusOK
	if failed {
		status = statusOf(j.Problem.Kind)
	}
	v.Place, v.Data = "trucks", d
	v.show(status, "answer")
	return nil
}
