package rest

import (
	"net/http"
	"time"

	"wetdown/api"
)

// backtestWait is how long a backtest is waited for before it is answered as a job.
const backtestWait = time.Second

// getBacktest gives how well days would have held that were stated from the plant's own
// history, or the job that works it out if that takes longer.
func getBacktest(x *exchange) error {
	wait, err := x.prefers()
	if err != nil {
		return err
	}
	j, err := x.app.AskBacktest(x.Request().Context(), x.who)
	if err != nil {
		return err
	}
	if j, err = x.waited(j.ID, max(wait, backtestWait)); err != nil {
		return err
	}
	switch {
	case !j.Finished():
		x.Response().Header().Set("Location", "/jobs/"+j.ID)
		return x.job(http.StatusAccepted, j)
	case j.Problem != nil:
		return j.Problem
	case j.State != api.JobDone:
		return &api.Problem{Kind: api.Conflict, Title: "The job was cancelled", Next: "Ask again."}
	}
	answer, err := x.answer(j)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, answer)
}
