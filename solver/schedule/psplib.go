package schedule

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// ReadPSPLIB reads a resource-constrained project scheduling instance in the .sm
// format of PSPLIB (Kolisch and Sprecher, PSPLIB, a project scheduling problem
// library, European Journal of Operational Research 96, 1997, 205-216): jobs with
// one duration each, renewable resources of constant capacity, and precedences. The
// problem has one task a job, named by its number, and one tier "makespan", which
// costs the start of the job that ends the project.
//
// The time line is as long as all durations together. That loses nothing: one job
// after the other, in an order that obeys the precedences, is a schedule of that
// length whenever there is a schedule at all, that is when no job alone needs more
// than there is. The horizon stated in the file is not used. Starts are those that
// the longest paths from the first job and to the last one leave possible.
//
// An error tells the line. Several modes a job, nonrenewable resources, several
// projects, cycles, and a project that does not end with one last job are refused.
func ReadPSPLIB(r io.Reader) (*Problem, error) {
	in, err := readInstance(r)
	if err != nil {
		return nil, fmt.Errorf("psplib: %w", err)
	}
	return in.problem(), nil
}

// maxCells bounds jobs × slots, and resources × slots: what the problem keeps in
// memory. The largest sets of PSPLIB have 122 jobs and under 1,000 slots.
const maxCells = 5_000_000

// instance is a file as read. Jobs count from 0 here and from 1 in the file.
type instance struct {
	duration   []Slot
	need       [][]int32 // by job and resource
	successors [][]int
	capacity   []int32
	order      []int // jobs, each after its predecessors
	horizon    Slot
}

// lines hands out the lines of a file that say something, with their numbers.
type lines struct {
	scan *bufio.Scanner
	n    int
	text string
}

// next moves to the next line that is neither blank nor a rule of * or -.
func (l *lines) next() bool {
	for l.scan.Scan() {
		l.n++
		l.text = strings.TrimSpace(l.scan.Text())
		if strings.Trim(l.text, "*-") != "" {
			return true
		}
	}
	l.n++
	l.text = ""
	return false
}

// errorf is an error about the present line.
func (l *lines) errorf(format string, a ...any) error {
	if err := l.scan.Err(); err != nil {
		return fmt.Errorf("line %d: %w", l.n, err)
	}
	return fmt.Errorf("line %d: "+format, append([]any{l.n}, a...)...)
}

// numbers moves to the next line and reads it as whole numbers, none negative and
// none above 1,000,000, at least want of them.
func (l *lines) numbers(what string, want int) ([]int, error) {
	if !l.next() {
		return nil, l.errorf("the file ends where %s should follow", what)
	}
	fields := strings.Fields(l.text)
	ns := make([]int, len(fields))
	for i, f := range fields {
		n, err := strconv.Atoi(f)
		if err != nil || n < 0 || n > 1_000_000 {
			return nil, l.errorf("%s: %q is no whole number from 0 to 1000000", what, f)
		}
		ns[i] = n
	}
	if len(ns) < want {
		return nil, l.errorf("%s: %d numbers, want at least %d", what, len(ns), want)
	}
	return ns, nil
}

// section moves behind the given heading. In between it collects "key : value".
func (l *lines) section(heading string, key func(key, value string) error) error {
	for l.next() {
		if l.text == heading {
			return nil
		}
		k, v, ok := strings.Cut(l.text, ":")
		if !ok || key == nil {
			continue
		}
		if err := key(strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(k), "- ")), strings.TrimSpace(v)); err != nil {
			return err
		}
	}
	return l.errorf("the file ends without %q: is it an .sm file of PSPLIB?", heading)
}

func readInstance(r io.Reader) (*instance, error) {
	l := &lines{scan: bufio.NewScanner(r)}
	jobs, resources := 0, 0
	err := l.section("PRECEDENCE RELATIONS:", func(key, value string) error {
		word, _, _ := strings.Cut(value, " ")
		n, err := strconv.Atoi(word)
		switch key {
		case "projects", "jobs (incl. supersource/sink )", "renewable", "nonrenewable", "doubly constrained":
			if err != nil || n < 0 || n > 10_000 {
				return l.errorf("%s: %q is no whole number from 0 to 10000", key, word)
			}
		}
		switch key {
		case "projects":
			if n != 1 {
				return l.errorf("%d projects: only files with one can be read", n)
			}
		case "jobs (incl. supersource/sink )":
			jobs = n
		case "renewable":
			resources = n
		case "nonrenewable", "doubly constrained":
			if n != 0 {
				return l.errorf("%d %s resources: only renewable ones can be read", n, key)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if jobs == 0 {
		return nil, l.errorf("the lines above say no number of jobs: add \"jobs (incl. supersource/sink ): N\"")
	}
	in := &instance{
		duration:   make([]Slot, jobs),
		need:       make([][]int32, jobs),
		successors: make([][]int, jobs),
		capacity:   make([]int32, resources),
	}
	if err := in.readPrecedences(l); err != nil {
		return nil, err
	}
	if err := in.sort(l); err != nil {
		return nil, err
	}
	if err := l.section("REQUESTS/DURATIONS:", nil); err != nil {
		return nil, err
	}
	if err := in.readRequests(l); err != nil {
		return nil, err
	}
	if err := l.section("RESOURCEAVAILABILITIES:", nil); err != nil {
		return nil, err
	}
	l.next() // the names
	capacity, err := l.numbers("capacities", resources)
	if err != nil {
		return nil, err
	}
	for r := range in.capacity {
		in.capacity[r] = int32(capacity[r])
	}
	return in, nil
}

// readPrecedences reads a row a job: its number, its number of modes, how many
// successors it has, and which.
func (in *instance) readPrecedences(l *lines) error {
	l.next() // column heads
	for i := range in.successors {
		row, err := l.numbers(fmt.Sprintf("the successors of job %d", i+1), 3)
		if err != nil {
			return err
		}
		switch {
		case row[0] != i+1:
			return l.errorf("the precedences of job %d, want job %d: one row a job, in order", row[0], i+1)
		case row[1] != 1:
			return l.errorf("job %d has %d modes: only jobs with one can be read", i+1, row[1])
		case row[2] != len(row)-3:
			return l.errorf("job %d lists %d successors, says %d", i+1, len(row)-3, row[2])
		}
		for _, j := range row[3:] {
			if j < 1 || j > len(in.successors) {
				return l.errorf("job %d precedes job %d: there are jobs 1 to %d", i+1, j, len(in.successors))
			}
			in.successors[i] = append(in.successors[i], j-1)
		}
	}
	return nil
}

// sort puts the jobs in an order that obeys the precedences, and checks that there
// is one and that it ends with the only job that has no successor.
func (in *instance) sort(l *lines) error {
	before := make([]int, len(in.successors))
	last := -1
	for i, next := range in.successors {
		for _, j := range next {
			before[j]++
		}
		if len(next) == 0 {
			if last >= 0 {
				return l.errorf("jobs %d and %d have no successor: a project ends with one job", last+1, i+1)
			}
			last = i
		}
	}
	for i, n := range before {
		if n == 0 {
			in.order = append(in.order, i)
		}
	}
	for n := 0; n < len(in.order); n++ { // Invariant: order[n:] wait for nobody that is not in order[:n].
		for _, j := range in.successors[in.order[n]] {
			if before[j]--; before[j] == 0 {
				in.order = append(in.order, j)
			}
		}
	}
	if len(in.order) < len(before) {
		for i, n := range before {
			if n > 0 {
				return l.errorf("job %d comes before itself: the precedences have a cycle", i+1)
			}
		}
	}
	return nil
}

// readRequests reads a row a job: its number, its mode, its duration, and what it
// needs of each resource.
func (in *instance) readRequests(l *lines) error {
	l.next() // column heads
	for i := range in.duration {
		row, err := l.numbers(fmt.Sprintf("duration and needs of job %d", i+1), 3+len(in.capacity))
		if err != nil {
			return err
		}
		if row[0] != i+1 || row[1] != 1 {
			return l.errorf("mode %d of job %d, want mode 1 of job %d: one row a job, in order", row[1], row[0], i+1)
		}
		in.duration[i] = Slot(row[2])
		in.horizon += in.duration[i]
		if int(in.horizon)*max(len(in.duration), len(in.capacity)) > maxCells {
			return l.errorf("the durations up to job %d sum to %d: too much for %d jobs and %d resources", i+1, in.horizon, len(in.duration), len(in.capacity))
		}
		for _, n := range row[3 : 3+len(in.capacity)] {
			in.need[i] = append(in.need[i], int32(n))
		}
	}
	return nil
}

// problem makes the instance into tasks over the time line of its horizon.
func (in *instance) problem() *Problem {
	jobs := len(in.duration)
	head, tail := make([]Slot, jobs), make([]Slot, jobs) // longest paths before and, with the job, after
	for _, i := range in.order {
		for _, j := range in.successors[i] {
			head[j] = max(head[j], head[i]+in.duration[i])
		}
	}
	for n := jobs - 1; n >= 0; n-- {
		i := in.order[n]
		for _, j := range in.successors[i] {
			tail[i] = max(tail[i], tail[j])
		}
		tail[i] += in.duration[i]
	}
	time := make([]Slot, in.horizon+1)
	for t := range time {
		time[t] = Slot(t)
	}
	p := &Problem{Slots: in.horizon, Tasks: make([]Task, jobs)}
	for i := range p.Tasks {
		early, late, d := head[i], in.horizon-tail[i], in.duration[i]
		p.Tasks[i] = Task{Name: strconv.Itoa(i + 1), Starts: time[early : late+1], Ends: time[early+d : late+d+1]}
	}
	for i, next := range in.successors {
		for _, j := range next {
			p.Arcs = append(p.Arcs, Arc{From: i, To: j, Earliest: p.Tasks[i].Ends})
		}
	}
	for r, capacity := range in.capacity {
		pool := Resource{Name: fmt.Sprintf("R %d", r+1), Capacity: make([]int32, in.horizon)}
		for t := range pool.Capacity {
			pool.Capacity[t] = capacity
		}
		for i := range p.Tasks {
			if need := in.need[i][r]; need > 0 && in.duration[i] > 0 {
				pool.Uses = append(pool.Uses, Use{Task: i, Need: need})
			}
		}
		p.Resources = append(p.Resources, pool)
	}
	last := in.order[jobs-1]
	cost := Cost{Task: last, At: make([]int64, len(p.Tasks[last].Starts))}
	for k, s := range p.Tasks[last].Ends {
		cost.At[k] = int64(s)
	}
	p.Tiers = []Tier{{Name: "makespan", Costs: []Cost{cost}}}
	return p
}
