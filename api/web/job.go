package web

import (
	"encoding/json"
	"net/http"
	"net/url"

	"wetdown/api"
)

// address writes a path with a query.
func address(path string, pairs ...string) string {
	q := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			q.Set(pairs[i], pairs[i+1])
		}
	}
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

type jobData struct {
	Job *api.Job
	To  string // where its answer is shown
}

// job waits for an answer: with a script it is told when there is one, without one the
// page comes anew every two seconds.
func (w *Web) job(v *view) error {
	j, err := w.app.Job(v.ctx, v.Who, v.r.PathValue("id"))
	if err != nil {
		return err
	}
	to := inside(v.r.FormValue("to"))
	if to == "/" {
		to = answerOf(j)
	}
	if j.State == api.JobDone {
		return v.back(to)
	}
	if j.Problem != nil && j.Kind == api.JobQuote && v.Who.May(api.ActQuote) {
		return v.orderAgain(j)
	}
	if j.Problem != nil && j.Kind == api.JobReserve && v.Who.May(api.ActQuote) {
		return v.heldNot(j)
	}
	if j.Problem != nil && (j.Kind == api.JobWhy || j.Kind == api.JobRepairs) {
		return v.back(to) // where it can be asked again under other conditions
	}
	if j.Problem != nil {
		return j.Problem
	}
	v.Title, v.Data = "Working on it", jobData{j, to}
	if !j.Finished() {
		v.w.Header().Set("Refresh", "2")
	}
	v.show(http.StatusOK, "job")
	return nil
}

// answerOf is the page that shows the answer of a job.
func answerOf(j *api.Job) string {
	switch j.Kind {
	case api.JobPropose:
		return "/proposals/" + j.ID
	case api.JobQuote:
		return "/quotes/" + j.ID
	case api.JobRepairs:
		return "/repairs/" + j.ID
	case api.JobReserve:
		var q api.ReserveQuestion
		if json.Unmarshal(j.Question, &q) == nil {
			return "/quotes/" + q.Quote
		}
	case api.JobBacktest:
		return "/history/backtest"
	case api.JobWorth:
		return "/worth/" + j.ID
	}
	return "/answers/" + j.ID
}

func (w *Web) cancel(v *view) error {
	if _, err := w.app.Cancel(v.ctx, v.Who, v.r.PathValue("id")); err != nil {
		return err
	}
	return v.back(inside(v.r.PostFormValue("to")))
}
