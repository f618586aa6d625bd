package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"

	"wetdown/api"
	"wetdown/solver/history"
)

type backtestData struct {
	*history.Report
	Job    *api.Job
	Said   []string // what to think of it
	Curve  *curve
	Thins  []history.Class
	Drifts []history.Drift // that are told
}

// basisWords say what an answer rested on.
var basisWords = map[history.Basis]string{
	history.ByKind: "trucks of the same kind and work content", history.ByContent: "trucks of the same work content", history.ByEvent: "all trucks",
	history.ByRoute: "three-point estimates of the route", history.ByFew: "fewer than enough trucks", history.ByNothing: "nothing",
}

// backtest shows how well days would have held that were stated from the plant's own
// history. The answer is worked out once for each history.
func (w *Web) backtest(v *view) error {
	j, err := w.app.AskBacktest(v.ctx, v.Who)
	if err != nil {
		return err
	}
	if j, err = w.app.Job(v.ctx, v.Who, j.ID); err != nil {
		return err
	}
	if j.Problem != nil {
		return j.Problem
	}
	if j.State != api.JobDone {
		return v.back("/jobs/" + j.ID)
	}
	var r history.Report
	if err := json.Unmarshal(j.Answer, &r); err != nil {
		return err
	}
	d := backtestData{Report: &r, Job: j, Thins: r.Thin()}
	if r.Scored > 0 {
		d.Curve = reliability(r.Reliability)
		for _, l := range r.Levels {
			d.Said = append(d.Said, levelSays(&l.Held))
		}
		d.Said = append(d.Said, naiveSays(&r))
	}
	for _, x := range r.Drifts {
		if x.Drifts {
			d.Drifts = append(d.Drifts, x)
		}
	}
	v.Title, v.Place, v.Data = "How stated days held", "ontime", d
	v.show(http.StatusOK, "backtest")
	return nil
}

// levelSays judges how often one chance held.
func levelSays(h *history.Held) string {
	stated := fmt.Sprintf("Days stated at %.0f in 100", 100*h.Stated)
	if h.Of == 0 {
		return stated + " have not passed yet."
	}
	says := fmt.Sprintf("%s held in %s (%s of %s; %s). ", stated, hundred(h.Share()), thousands(int64(h.Held)), thousands(int64(h.Of)), count(h.Trucks, "truck"))
	switch {
	case h.Trucks < history.Enough:
		return says + "Too few trucks to judge."
	case h.Exact < h.Interval.Low:
		return says + "They hold more often than they say: the days are later than they need to be."
	case h.Exact > h.Interval.High:
		return says + "They hold less often than they say: do not promise by them without adding time."
	}
	return says + "That fits what was stated, as far as so many trucks can tell."
}

// naiveSays compares with the rule that adds the average slip.
func naiveSays(r *history.Report) string {
	l := r.Pinball()
	of := fmt.Sprintf("against the rule “the day projected, and the average slip added”, over %s", count(l.Events, "projection"))
	switch better := 1 - l.Ours/l.Naive; {
	case l.Events == 0 || l.Naive == 0:
		return "There is nothing to compare with the rule of adding the average slip."
	case better > 0.005:
		return fmt.Sprintf("The loss is %.0f%% smaller %s.", 100*better, of)
	case better < -0.005:
		return fmt.Sprintf("The loss is %.0f%% larger %s: for now that rule is the better one.", -100*better, of)
	default:
		return "The loss is the same " + of + "."
	}
}

// reliability draws how often stated days held over the chance that was stated, with the
// line on which both are the same.
func reliability(list []history.Held) *curve {
	c := newCurve(0, 0.25, 0.5, 0.75, 1)
	c.Foot = "stated"
	x := func(share float64) int {
		return c.Left + int(math.Round(share*float64(c.Width-c.Left-8)))
	}
	c.Even = fmt.Sprintf("M%d %dL%d %d", x(0), c.y(0), x(1), c.y(1))
	path := &strings.Builder{}
	for _, h := range list {
		c.Days = append(c.Days, mark{X: x(h.Stated), Text: fmt.Sprintf("%.0f", 100*h.Stated)})
		if h.Of == 0 {
			continue
		}
		fmt.Fprintf(path, "%c%d %d", "ML"[min(1, len(c.Dots))], x(h.Stated), c.y(h.Share()))
		c.Dots = append(c.Dots, dot{X: x(h.Stated), Y: c.y(h.Share()), Low: c.y(h.Interval.Low), High: c.y(h.Interval.High)})
	}
	if c.Path = path.String(); c.Path == "" {
		return nil
	}
	return c
}
