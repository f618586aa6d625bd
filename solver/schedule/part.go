package schedule

import (
	"cmp"
	"slices"

	"wetdown/solver/cdcl"
)

// From so many jobs on, they are divided into parts of about partSize, in each of which cores are looked for
// by themselves first.
const (
	partJobs = 1200
	partSize = 60
)

// parts divides the jobs by when they end in the best answer: what ends at about the same time is in each other's
// way. It returns the part by job, from 1; nil: there is no reason to.
func (s *solving) parts() []int {
	size := cmp.Or(s.o.part, partSize)
	if s.project || s.best == nil {
		return nil
	}
	jobs := s.byEnd()
	n := len(jobs) / size
	if n < 2 || s.o.part == 0 && len(jobs) < partJobs {
		return nil
	}
	part := make([]int, slices.Max(jobs)+1)
	for i, j := range jobs {
		part[j] = 1 + i*n/len(jobs)
	}
	return part
}

// byEnd lists the jobs by when they end in the best answer.
func (s *solving) byEnd() (jobs []int) {
	end := map[int]Slot{}
	for i, k := range s.best.Start {
		t := &s.p.Tasks[i]
		if _, ok := end[t.Job]; !ok {
			jobs = append(jobs, t.Job)
			end[t.Job] = 0
		}
		if k >= 0 {
			end[t.Job] = max(end[t.Job], t.Ends[k])
		}
	}
	slices.SortStableFunc(jobs, func(a, b int) int { return cmp.Compare(end[a], end[b]) })
	return jobs
}

// divide puts the literals of every job into its part, and returns how many parts there are.
func (e *encoding) divide(session *cdcl.Solver, part []int) int {
	if e.part = part; part == nil {
		return 0
	}
	for i := range e.ge {
		session.Part(e.partOf(i), e.ge[i]...)
		if e.skip[i] != -e.top {
			session.Part(e.partOf(i), e.skip[i])
		}
	}
	return slices.Max(part)
}

// belong puts hopes into the parts of their jobs.
func (e *encoding) belong(session *cdcl.Solver, hopes []hope) {
	if e.part == nil {
		return
	}
	for _, h := range hopes {
		session.Part(e.part[h.job], h.lit)
	}
}

// partOf is the part that a task is in, 0 where there are none.
func (e *encoding) partOf(task int) int {
	if e.part == nil {
		return 0
	}
	return e.part[e.p.Tasks[task].Job]
}
