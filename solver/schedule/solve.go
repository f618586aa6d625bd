package schedule

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"wetdown/solver/cdcl"
	"wetdown/solver/cnf"
	"wetdown/solver/maxsat"
	"wetdown/solver/sat"
)

// counter is how capacities of equal needs are written. Counting along the inputs
// takes half as many variables again, and as much more time.
const counter = cnf.Tree

// Status says what Solve knows.
type Status int

// The four outcomes.
const (
	Unknown    Status = iota // neither an answer nor a proof
	Feasible                 // an answer; the bounds say how far from the best it may be
	Optimal                  // no better answer exists, proven tier by tier
	Infeasible               // proven: there is no answer
)

// Options steer Solve. The zero value is fine.
type Options struct {
	// Prefer is an answer to stay near to, right or not, with an entry for every task: the search
	// starts from it, and where nothing else decides, its starts and machines are taken again.
	Prefer *Answer
	// Report is called with every better answer and every better bound, in the
	// order in which they are found.
	Report func(Progress)

	margin   Slot // for tests: how far windows reach at first, 0: firstMargin
	patience int  // for tests: 0: patience
	walks    int  // for tests: 0: walks
	part     int  // for tests: how many jobs a part has however many there are, 0: partSize from partJobs on
	rebuilt  int  // for tests: from how many jobs on a first answer from nothing is rebuilt, 0: rebuilt
	stretch  int  // for tests: how many jobs a stretch has however many there are, 0: stretchSize from stretchJobs on
	reach    Slot // for tests: 0: stretchReach
}

// Progress is what is known at one moment of a search. It must not be changed.
type Progress struct {
	Answer *Answer // the best answer, nil before the first
	Values []int64 // its cost by tier
	Bounds []int64 // proven lower bound by tier; of a tier it holds under the optimum of the tiers before
	Tier   int     // index of the tier being proven
	Better bool    // the answer is new
}

// Result is what a search ends with.
type Result struct {
	Status Status
	Answer *Answer // nil when there is none
	Values []int64
	Bounds []int64
	Counts Counts
}

// Counts measure the work, and repeat exactly.
type Counts struct {
	Variables int // of the last session
	Clauses   int
	Calls     int // of the SAT solver, over all sessions
	Rounds    int // sessions: windows that had to be widened
}

// Solve answers a valid problem. When ctx ends it early it returns the best answer
// and the bounds so far. The error is never about the question: it reports that
// Solve caught itself in a contradiction.
func Solve(ctx context.Context, p *Problem, o Options) (*Result, error) {
	s, ok := newSolving(p, o, cdcl.New())
	if !ok {
		return &Result{Status: Infeasible}, nil
	}
	full := s.wide
	if !s.mend(ctx, full, o.Prefer) {
		if o.Prefer != nil {
			c := newConstructor(p, s.g, full, o.Prefer)
			c.better(c.urgent(), 1, s.consider)
		}
		rounds := rebuilds
		if s.free() {
			rounds = 1 // the others would be the same
		}
		c := newConstructor(p, s.g, full, nil)
		if s.project {
			s.breeder = newBreeder(c, func(a *Answer) bool {
				s.consider(a)
				return s.err == nil && ctx.Err() == nil && !s.least()
			})
			s.breeder.sow(justified)
		}
		if s.best == nil || !s.project && !s.free() {
			c.better(c.urgent(), rounds, s.consider)
			if !s.project && s.best != nil && len(c.jobs) >= cmp.Or(o.rebuilt, rebuilt) {
				s.rebuild(ctx, c, s.best)
			}
		}
	}
	if s.err == nil && s.best != nil && s.free() {
		return &Result{Status: Optimal, Answer: s.best, Values: s.values, Bounds: s.bounds}, nil
	}
	status := Unknown
	for {
		var again bool
		if status, again = s.round(ctx); !again || s.err != nil {
			break
		}
	}
	s.settle()
	s.home(ctx)
	if s.err != nil {
		return nil, s.err
	}
	if status == Unknown && s.best != nil {
		status = Feasible
	}
	return &Result{Status: status, Answer: s.best, Values: s.values, Bounds: s.bounds, Counts: s.counts}, nil
}

// newSolving is a search that has not begun, and false if a task that must take place has no start.
// The session need not be new.
func newSolving(p *Problem, o Options, session *cdcl.Solver) (s *solving, ok bool) {
	s = &solving{p: p, g: newGraph(p), o: o, session: session, project: p.project(), bounds: make([]int64, len(p.Tiers)),
		filled: map[place]bool{}, loose: map[int]bool{}, asked: map[[16]byte]bool{},
		fs: families(p), patience: cmp.Or(o.patience, patience), margin: make([]Slot, len(p.Tasks))}
	if s.wide, ok = allWindows(p, s.g); !ok {
		return nil, false
	}
	s.full = windows{slices.Clone(s.wide.lo), slices.Clone(s.wide.hi)}
	s.apart = make([][]bool, len(s.fs))
	for i := range s.margin {
		s.margin[i] = cmp.Or(o.margin, firstMargin)
	}
	return s, true
}

// For a project: how many answers are begun, and how many more with the first bound, twice as
// many with the second and so on: what is proven soon has no need of them.
const (
	justified = 100
	litter    = 25
)

// least reports whether no answer can cost less than the best one, tier by tier,
// starts looked at one by one.
func (s *solving) least() bool {
	for t := range s.p.Tiers {
		if s.values[t] > s.p.least(t, s.wide) {
			return false
		}
	}
	return true
}

// least is what a tier costs in any case within the windows, gaps aside.
func (p *Problem) least(tier int, w windows) (sum int64) {
	for _, c := range p.Tiers[tier].Costs {
		sum += c.least(&p.Tasks[c.Task], w.lo[c.Task], w.hi[c.Task])
	}
	return sum
}

// least is the least cost of a start in [lo, hi], or of leaving the task out.
func (c *Cost) least(t *Task, lo, hi int) int64 {
	switch {
	case lo > hi:
		return c.Skip
	case t.Skip:
		return min(c.Skip, slices.Min(c.At[lo:hi+1]))
	}
	return slices.Min(c.At[lo : hi+1])
}

// cut drops from the windows the first and last starts that make an answer, alone,
// dearer than the best one in the first tier that is not proven.
func (s *solving) cut() {
	if s.best == nil {
		return
	}
	for t := range s.p.Tiers {
		spare := s.values[t] - s.p.least(t, s.full)
		for _, c := range s.p.Tiers[t].Costs {
			lo, hi := &s.full.lo[c.Task], &s.full.hi[c.Task]
			most := spare + c.least(&s.p.Tasks[c.Task], *lo, *hi)
			for *lo <= *hi && c.At[*hi] > most {
				*hi--
			}
			for *lo <= *hi && c.At[*lo] > most {
				*lo++
			}
		}
		if s.values[t] != s.bounds[t] {
			return
		}
	}
}

// rebuilds is how often the first answer is built anew before the search begins.
const rebuilds = 40

// firstMargin is how many slots beyond the best answer's start a window reaches
// at first. Wider windows make more clauses, narrower ones more rounds.
const firstMargin = 16

// solving is the state of one Solve.
type solving struct {
	p        *Problem
	g        graph
	o        Options
	wide     windows // every start that the arcs leave possible
	full     windows // of those, the starts of answers that are best in the tiers proven so far
	fs       []family
	apart    [][]bool       // by family and slot: its machines are told apart in the clauses; nil: nowhere
	margin   []Slot         // by task
	filled   map[place]bool // pools that models overfilled before they were written
	best     *Answer
	values   []int64
	bounds   []int64
	tier     int
	patience int
	counts   Counts
	err      error
	session  *cdcl.Solver // of the round
	project  bool         // the problem is one
	breeder  *breeder     // of its answers
	raised   int          // how often a bound of it was
	loose    map[int]bool // jobs that a core asked to leave their places in the best answer

	uses   [][]*Use          // by task, once taken needs them
	asked  map[[16]byte]bool // stretches planned so far, by what they begin from
	effort int64             // propagations that it may take, when it is about a stretch of another search; 0: any number
	spent  int64             // propagations so far
	likes  bool              // it is about a stretch of one that likesNames
}

// mend takes an answer in which things are missing or wrong, mended and rebuilt. It reports
// whether that could be done. Of a preferred answer the costs are near the best ones then, and
// its windows lie where they must: answers built anew only lead away from it.
func (s *solving) mend(ctx context.Context, w windows, near *Answer) bool {
	if near == nil {
		return false
	}
	c := newConstructor(s.p, s.g, w, near)
	a := c.mend(near, -1)
	if a == nil {
		return false
	}
	s.consider(a)
	s.rebuild(ctx, c, a)
	return true
}

// free reports whether nothing costs anything: any answer will do.
func (s *solving) free() bool {
	return !slices.ContainsFunc(s.p.Tiers, func(t Tier) bool { return len(t.Costs)+len(t.Gaps) > 0 })
}

// consider takes an answer, and keeps it if it is better. An answer that breaks
// something is a contradiction: everything that makes answers obeys the problem.
func (s *solving) consider(a *Answer) {
	values, faults := Verify(s.p, a)
	if len(faults) > 0 {
		s.err = fmt.Errorf("schedule: an answer breaks the problem: %v", faults[0])
		return
	}
	if s.best == nil || compare(values, s.values) < 0 {
		s.best = &Answer{slices.Clone(a.Start), slices.Clone(a.Machine)}
		s.values = values
		s.report(true)
	}
}

func (s *solving) report(better bool) {
	if s.o.Report != nil {
		s.o.Report(Progress{s.best, s.values, slices.Clone(s.bounds), s.tier, better})
	}
}

// raise takes a proven bound on the present tier.
func (s *solving) raise(bound int64) {
	s.bounds[s.tier] = max(s.bounds[s.tier], bound)
	s.report(false)
	if s.breeder != nil { // while it grows there is something to gain
		s.raised++
		s.breeder.breed(litter * s.raised)
	}
}

// settle settles the best answer.
func (s *solving) settle() {
	if s.err != nil || s.best == nil {
		return
	}
	settled := Answer{slices.Clone(s.best.Start), slices.Clone(s.best.Machine)}
	settle(s.p, s.g, s.wide, &settled, s.o.Prefer)
	s.keep(&settled, "settling")
}

// keep takes an answer in place of the best one, of which it was made and than which it costs no more.
func (s *solving) keep(a *Answer, by string) {
	values, faults := Verify(s.p, a)
	if len(faults) > 0 || compare(values, s.values) > 0 {
		s.err = fmt.Errorf("schedule: %s made %v of %v: %v", by, values, s.values, faults)
		return
	}
	better := compare(values, s.values) < 0
	s.best, s.values = a, values
	if better {
		s.report(true)
	}
}

// narrow is the windows of this round: a margin around the start in the best
// answer, and around what would be cheapest. A job that costs something in the
// best answer, comforts aside, may start as early as it can: only then can be
// proven that it must.
func (s *solving) narrow() windows {
	w := windows{slices.Clone(s.full.lo), slices.Clone(s.full.hi)}
	if s.best == nil {
		return w
	}
	early, late := slices.Clone(s.best.Start), slices.Clone(s.best.Start)
	costly := map[int]bool{}
	for n, t := range s.p.Tiers {
		for _, c := range t.Costs {
			if len(c.At) == 0 {
				continue
			}
			low := slices.Min(c.At)
			k := len(c.At) - 1
			for c.At[k] != low {
				k--
			}
			if k < len(c.At)-1 { // else: it never gets dearer with time
				late[c.Task] = max(late[c.Task], k)
			}
			if c.At[0] > low {
				early[c.Task] = min(early[c.Task], slices.Index(c.At, low))
			}
			if at := s.best.Start[c.Task]; n < len(s.p.Tiers)-comforts && (at < 0 || c.At[at] > low) {
				costly[s.p.Tasks[c.Task].Job] = true
			}
		}
	}
	for i := range w.hi {
		if w.lo[i] > w.hi[i] {
			continue
		}
		t := &s.p.Tasks[i]
		k := max(late[i], w.lo[i])
		w.hi[i] = min(w.hi[i], max(w.lo[i], t.last(t.Starts[k]+s.margin[i])))
		if k := early[i]; k >= 0 && !costly[t.Job] {
			w.lo[i] = min(w.hi[i], max(w.lo[i], t.first(t.Starts[k]-s.margin[i])))
		}
	}
	return w
}

// comforts is how many of the last tiers no job needs to start early for.
const comforts = 2

// round encodes the problem in the present windows and minimises tier by tier. It
// asks for another round when an optimum lies beyond a window.
func (s *solving) round(ctx context.Context) (status Status, again bool) {
	s.counts.Rounds++
	if s.project {
		s.cut()
	}
	if !s.full.tighten(s.p, s.g) {
		s.err = fmt.Errorf("schedule: what the proven tiers leave is empty")
		return Unknown, false
	}
	// What the search starts from decides how near to an answer its models are.
	s.rebuildMore(ctx)
	s.replanStretches(ctx)
	s.settle()
	switch {
	case s.err != nil:
		return Unknown, false
	case s.best != nil && compare(s.values, s.bounds) == 0:
		return Optimal, false // nothing is left to prove
	}
	session := s.session
	session.Reset()
	session.Limit(s.effort - s.spent)
	w := s.narrow()
	var sets [][]int
	whole := false // windows are, and pools are forbidden sets
	if s.project {
		if sets, whole = s.p.forbidden(s.p.surely(s.g, s.full), cmp.Or(s.o.walks, walks)); whole {
			w = windows{slices.Clone(s.full.lo), slices.Clone(s.full.hi)}
		}
	}
	if c := s.p.makespan(); whole && c != nil && s.best != nil {
		return s.descend(ctx, c, sets), false
	}
	e := newEncoding(s.p, w, windows{slices.Clone(s.full.lo), slices.Clone(s.full.hi)}, session)
	var later []crowd
	if whole {
		e.forbid(sets)
	} else {
		later = s.capacities(e)
	}
	for n, f := range s.fs {
		if s.apart[n] != nil {
			e.named(f, func(t Slot) bool { return s.apart[n][t] })
		}
	}
	softs := make([][]maxsat.Soft, len(s.p.Tiers))
	base := make([]int64, len(s.p.Tiers))
	parts := e.divide(session, s.parts())
	for t := range s.p.Tiers {
		softs[t], base[t] = e.tier(&s.p.Tiers[t])
	}
	inside := e.inside()
	e.belong(session, inside)
	hopes := &maxsat.Hopes{Lits: hoped(inside)}
	session.Decide(e.deciding()...)
	if s.best != nil {
		e.prefer(session, s.best.Start)
		for _, f := range s.fs {
			s.preferNames(e, f)
		}
	}
	count := s.counts
	defer func() {
		st := session.Stats()
		s.counts.Variables, s.counts.Clauses, s.counts.Calls = st.Vars, st.Clauses, count.Calls+st.Calls
		s.spent += st.Propagations
	}()
	if s.best != nil {
		var as []sat.Lit
		for i, k := range s.best.Start {
			as = append(as, e.exact(i, k)...)
		}
		if session.Solve(ctx, as) == sat.Unsat {
			s.err = fmt.Errorf("schedule: the clauses refuse an answer that obeys the problem")
			return Unknown, false
		}
	}
	for t := range s.p.Tiers {
		s.tier = t
		s.bounds[t] = max(s.bounds[t], base[t])
		upper := func() int64 {
			if s.best == nil || compare(s.values[:t], s.bounds[:t]) != 0 {
				return -1
			}
			return s.values[t] - base[t]
		}
		hopes.Near = nil
		var stay []hope
		near := func() {
			mark(s.loose, stay, hopes.Near)
			stay = e.stay(s.best.Start, s.loose)
			e.belong(session, stay)
			hopes.Near = hoped(stay)
		}
		keep := upper() > 0 && upper() != s.bounds[t]-base[t]
		if keep {
			near()
		}
		best := s.best
		var beyond []int
		tired := 0
		_, outcome := maxsat.Minimize(ctx, session, softs[t], hopes, upper(), maxsat.Watch{
			Parts: parts,
			Floor: s.bounds[t] - base[t],
			Model: func(lower int64, final bool) (int64, maxsat.Verdict) {
				start := e.read(session.Value)
				if tired++; tired > s.patience {
					return upper(), maxsat.Stop
				}
				if crowded := overfull(s.p, later, start); len(crowded) > 0 {
					later = s.write(e, later, crowded)
					return upper(), maxsat.Refuse
				}
				unnamed := s.finish(ctx, e, start, final)
				if keep && s.best != best && s.err == nil {
					best = s.best
					near()
				}
				if u := upper(); !final || s.err != nil || u == lower {
					return u, maxsat.Accept
				}
				if ctx.Err() != nil { // it may have ended the naming
					return upper(), maxsat.Stop
				}
				// The relaxed problem is solved and no answer costs as little:
				// say more about the machines, or look further.
				for _, at := range unnamed {
					s.tellApart(e, at)
				}
				if len(unnamed) > 0 {
					return upper(), maxsat.Refuse
				}
				for i, k := range start {
					if k == unplaced {
						beyond = append(beyond, i)
					}
				}
				if len(beyond) == 0 {
					s.err = fmt.Errorf("schedule: tier %s: no answer reaches the bound %d", s.p.Tiers[t].Name, s.bounds[t])
				}
				return upper(), maxsat.Stop
			},
			Bound: func(lower int64) int64 {
				s.raise(base[t] + lower)
				return upper()
			},
			Fixed: func(l sat.Lit) { s.learn(e, l) },
		})
		mark(s.loose, stay, hopes.Near)
		switch {
		case s.err != nil:
			return Unknown, false
		case len(beyond) > 0:
			wide := map[int]bool{}
			for _, i := range beyond {
				wide[s.p.Tasks[i].Job] = true
			}
			mark(wide, inside, hopes.Lits)
			s.widen(wide)
			return Unknown, true
		case tired > s.patience:
			s.patience *= 2 // a tier that needs more models gets them in the end
			return Unknown, true
		case outcome == sat.Unknown:
			return Unknown, false
		case outcome == sat.Unsat:
			return Infeasible, false
		}
	}
	return Optimal, false
}

// patience is how many models of one tier are looked at in the first session; it
// doubles whenever it has run out. A session in which many models were refused finds
// the next ones slowly; a new one, with what they overfilled written from the start,
// does not.
const patience = 8

// capacities writes the crowds that are likely to be full, and returns the rest, to
// be written when a model overfills them: where the best answer leaves two thirds of the
// room free for some days around, few models ever do.
func (s *solving) capacities(e *encoding) (later []crowd) {
	for _, c := range uncovered(e.capacities(s.fs)) {
		tight := s.best == nil || s.filled[place{c.owner, c.slot}]
		if !tight {
			var used, room int32
			for t := c.slot - days; t <= c.slot+days; t++ {
				used += c.used(s.p, s.best.Start, t)
				room += c.room
			}
			tight = 3*used >= room
		}
		if tight {
			e.fit(c)
		} else {
			later = append(later, c)
		}
	}
	return later
}

// write writes the crowds of the owners of some, around the slots of some, and
// returns the others: where a pool is overfilled, it would be again the day after.
func (s *solving) write(e *encoding, later []crowd, some []int) (rest []crowd) {
	for _, n := range some {
		c := &later[n]
		for t := c.slot - days; t <= c.slot+days; t++ {
			s.filled[place{c.owner, t}] = true
		}
	}
	for _, c := range later {
		if s.filled[place{c.owner, c.slot}] {
			e.fit(c)
		} else {
			rest = append(rest, c)
		}
	}
	return rest
}

// tellApart tells the machines of a family apart around the slot in which a naming
// got stuck, and further around when that was done before.
func (s *solving) tellApart(e *encoding, at place) {
	if s.apart[at.owner] == nil {
		s.apart[at.owner] = make([]bool, s.p.Slots)
	}
	apart := s.apart[at.owner]
	fresh := make([]bool, s.p.Slots)
	more := false
	for reach := Slot(4 * days); !more && reach < 4*s.p.Slots; reach *= 2 {
		for t := max(0, at.slot-reach); t < min(s.p.Slots, at.slot+reach); t++ {
			if !apart[t] {
				apart[t], fresh[t], more = true, true, true
			}
		}
	}
	if !more {
		s.err = fmt.Errorf("schedule: machines told apart everywhere cannot be named at slot %d", at.slot)
		return
	}
	e.named(s.fs[at.owner], func(t Slot) bool { return fresh[t] })
	s.preferNames(e, s.fs[at.owner])
	s.session.Decide(e.deciding()...)
}

// preferNames has the solver try first the classes of machines that the best answer has, where they
// are told apart.
func (s *solving) preferNames(e *encoding, f family) {
	if s.likesNames() {
		e.preferNames(s.session, f, s.best.Machine)
	}
}

// likesNames reports whether classes of the best answer are tried first: when a large answer in force
// is mended, which has much that stands where it stands.
func (s *solving) likesNames() bool {
	return s.best != nil && (s.likes || s.o.Prefer != nil && len(s.byEnd()) >= cmp.Or(s.o.stretch, stretchJobs))
}

// A place is a slot of a pool, or of a family.
type place struct {
	owner int
	slot  Slot
}

// days is how many slots around an overfilled one are looked at with it.
const days = 8

// used is how much of the crowd's room its items take in slot t.
func (c *crowd) used(p *Problem, start []int, t Slot) (sum int32) {
	for _, x := range c.items {
		if k := start[x.task]; k >= 0 && p.Tasks[x.task].Starts[k] <= t && t < p.Tasks[x.task].Ends[k] {
			sum += x.need
		}
	}
	return sum
}

// overfull lists the crowds, by index, that the starts overfill.
func overfull(p *Problem, crowds []crowd, start []int) (list []int) {
	for n, c := range crowds {
		var sum int32
		for _, x := range c.items {
			if k := start[x.task]; k >= x.a && k <= x.b {
				sum += x.need
			}
		}
		if sum > c.room {
			list = append(list, n)
		}
	}
	return list
}

// learn keeps what a literal that every best answer makes true says about a start.
// It stays true in every later round: rounds relax the same problem.
func (s *solving) learn(e *encoding, l sat.Lit) {
	if o, ok := e.meaning(max(l, -l)); ok {
		if l > 0 {
			s.full.lo[o.task] = max(s.full.lo[o.task], o.index)
		} else {
			s.full.hi[o.task] = min(s.full.hi[o.task], o.index-1)
		}
	}
}

// widen widens the windows of the jobs.
func (s *solving) widen(jobs map[int]bool) {
	for i := range s.p.Tasks {
		if jobs[s.p.Tasks[i].Job] {
			s.margin[i] = min(3*s.margin[i], s.p.Slots)
		}
	}
}

// finish makes an answer out of the starts of a model, names its machines and
// places what lies beyond the windows, and considers it; where there is no place,
// a final model is mended. It returns the families that could not be named. Unless
// the model is final it does so only for starts that are better than the best answer.
func (s *solving) finish(ctx context.Context, e *encoding, start []int, final bool) (unnamed []place) {
	a := Answer{Start: start, Machine: make([]int, len(start))}
	missing := false
	for i, k := range start {
		a.Machine[i] = -1
		missing = missing || k == unplaced
	}
	if !missing && !final && s.best != nil {
		if compare(s.p.values(&a), s.values) >= 0 {
			return nil
		}
	}
	var prefer []int
	if s.o.Prefer != nil {
		prefer = s.o.Prefer.Machine
	} else if s.best != nil {
		prefer = s.best.Machine
	}
	most := int64(naming)
	if s.effort > 0 {
		most = stretchNaming
	}
	for n := range s.fs {
		told := func(machine []int) bool {
			return s.apart[n] != nil && e.names(s.fs[n], start, prefer, s.session.Value, machine)
		}
		if at, ok := s.fs[n].name(ctx, most, s.p, start, prefer, a.Machine, told); !ok {
			unnamed = append(unnamed, place{n, at})
		}
	}
	if len(unnamed) > 0 {
		return unnamed
	}
	if missing {
		var rest []int
		for i, k := range start {
			if k == unplaced {
				rest = append(rest, i)
			}
		}
		full := fill(s.p, s.g, s.wide, &a, rest)
		if full == nil {
			if final && !s.project && s.effort == 0 {
				s.mend(ctx, s.wide, &a)
			}
			return nil
		}
		a = *full
	}
	s.consider(&a)
	return nil
}
