package main

import (
	"bytes"
	"fmt"

	"wetdown/api/wire"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

type rcpspCmd struct {
	File   string `arg:"" name:"FILE" help:"Instance in the .sm format of PSPLIB; - reads standard input."`
	Starts bool   `help:"Also list when every job starts."`
}

// Help says more than one line.
func (*rcpspCmd) Help() string {
	return `The instance goes through the same engine as a plant. It has slots and no days, so --as-of changes nothing.
Exit code 1: proven that there is no schedule, or none found in the time given.`
}

type wireRCPSP struct {
	Status   plant.Status     `json:"status"`
	Makespan *int64           `json:"makespan"`
	Bound    int64            `json:"bound"`
	Seconds  wireRCPSPSeconds `json:"seconds"`
	Counts   wireRCPSPCounts  `json:"counts"`
	Starts   []wireJob        `json:"starts"`
}

type wireRCPSPSeconds struct {
	Read  float64 `json:"read"`
	First float64 `json:"first"`
	Best  float64 `json:"best"`
	Proof float64 `json:"proof"`
	Total float64 `json:"total"`
}

type wireRCPSPCounts struct {
	Jobs      int `json:"jobs"`
	Resources int `json:"resources"`
	Variables int `json:"variables"`
	Clauses   int `json:"clauses"`
	SATCalls  int `json:"sat_calls"`
}

type wireJob struct {
	Job   string `json:"job"`
	Start int32  `json:"start"`
	End   int32  `json:"end"`
}

func (c *rcpspCmd) run(s *session) (int, error) {
	if err := canWrite(s.Out); err != nil {
		return 0, err
	}
	since := s.stopwatch()
	data, err := s.read(c.File)
	if err != nil {
		return 0, err
	}
	problem, err := schedule.ReadPSPLIB(bytes.NewReader(data))
	if err != nil {
		return 0, refuse("%s: %v", c.File, err)
	}
	sec := wireRCPSPSeconds{Read: since()}
	w := s.watch("encoding")
	r, err := schedule.Solve(s.ctx, problem, schedule.Options{Report: func(pr schedule.Progress) {
		now := since()
		if pr.Better {
			sec.Best = now
			if sec.First == 0 {
				sec.First = now
			}
		} else {
			sec.Proof = now
		}
		if len(pr.Values) > 0 && len(pr.Bounds) > 0 {
			w.set(fmt.Sprintf("makespan %s, at least %s", thousands(pr.Values[0]), thousands(pr.Bounds[0])))
		}
	}})
	w.stop()
	if err != nil {
		return 0, err
	}
	sec.Total = since()
	out := wireRCPSP{
		Status:  plant.Status([...]plant.Status{plant.Unknown, plant.Feasible, plant.Optimal, plant.Infeasible}[r.Status]),
		Seconds: wireRCPSPSeconds{wire.Micro(sec.Read), wire.Micro(sec.First), wire.Micro(sec.Best), wire.Micro(sec.Proof), wire.Micro(sec.Total)},
		Counts:  wireRCPSPCounts{len(problem.Tasks), len(problem.Resources), r.Counts.Variables, r.Counts.Clauses, r.Counts.Calls},
		Starts:  []wireJob{},
	}
	if len(r.Bounds) > 0 {
		out.Bound = r.Bounds[0]
	}
	if r.Answer != nil {
		out.Makespan = &r.Values[0]
		for i, k := range r.Answer.Start {
			t := &problem.Tasks[i]
			out.Starts = append(out.Starts, wireJob{t.Name, t.Starts[k], t.Ends[k]})
		}
	}
	return s.answer(r.Answer != nil, out, c.page(&out))
}

func (c *rcpspCmd) page(w *wireRCPSP) *page {
	pg := &page{}
	pg.say("%s jobs, %s.", thousands(int64(w.Counts.Jobs)), count(w.Counts.Resources, "resource"))
	switch w.Status {
	case plant.Optimal:
		pg.say("Status: optimal. The makespan is %s, and no schedule is shorter: proven.", thousands(*w.Makespan))
	case plant.Feasible:
		pg.say("Status: feasible. The makespan is %s, and no schedule is shorter than %s. Give more time with --limit.", thousands(*w.Makespan), thousands(w.Bound))
	case plant.Infeasible:
		pg.say("Status: infeasible. A job needs more of a resource than there is: no schedule exists.")
	default:
		pg.say("Status: unknown. Neither a schedule nor a proof was found in the time given: give more with --limit.")
	}
	pg.say("%.3f s to the first schedule, %.3f s to the best, %.3f s to the last bound, %.3f s in all.", w.Seconds.First, w.Seconds.Best, w.Seconds.Proof, w.Seconds.Total)
	pg.say("%s variables, %s clauses, %s.", thousands(int64(w.Counts.Variables)), thousands(int64(w.Counts.Clauses)), count(w.Counts.SATCalls, "SAT call"))
	if c.Starts && len(w.Starts) > 0 {
		pg.gap("Starts")
		t := &table{heads: []string{"job", ">start", ">end"}}
		for _, j := range w.Starts {
			t.add(j.Job, fmt.Sprint(j.Start), fmt.Sprint(j.End))
		}
		pg.table(t)
	}
	return pg
}
