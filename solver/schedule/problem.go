package schedule

// A Slot is a position on the integer time line, from 0.
type Slot = int32

// A Problem is one scheduling question: place every task on the time line and,
// where it needs one, on a machine, so that every arc, resource and machine is
// respected, and the tiers are minimal one after the other. It is a plain value;
// Validate tells whether it is well formed.
type Problem struct {
	Slots     Slot // length of the time line: slots [0, Slots)
	Tasks     []Task
	Arcs      []Arc
	Resources []Resource
	Machines  []Machine
	Together  [][2]int // pairs of tasks that are left out together or not at all; both have Skip
	Tiers     []Tier
}

// A Task has one start out of a finite list and occupies its machine, and its
// resources, from the start to the end that belongs to it. The ends need not be
// equally far from the starts: calendars are folded into them.
type Task struct {
	Name   string
	Job    int    // tasks of one job belong together (one truck); the constructor places job by job
	Starts []Slot // allowed starts, strictly ascending; at least one unless Skip
	Ends   []Slot // Ends[k] is the exclusive end for Starts[k]; never descending; Ends[k] > Starts[k] except for zero-length tasks
	Skip   bool   // the task may be left out, see Cost.Skip
	Able   []int  // machines that can take it, ascending; empty: it needs none
}

// An Arc bounds the start of To by the start of From. If From starts at its k-th
// start or later, To starts at slot Earliest[k] or later; if From starts at its
// k-th start or earlier, To starts at slot Latest[k] or earlier. Both never
// descend. An arc from or to a task that is left out binds nobody.
type Arc struct {
	From, To int
	Earliest []Slot // one per start of From, or nil
	Latest   []Slot // one per start of From, or nil
}

// A Resource is a pool: in every slot t the needs of the tasks that occupy t sum
// to at most Capacity[t].
type Resource struct {
	Name     string
	Capacity []int32 // one per slot
	Uses     []Use
}

// A Use is what one task, named once per resource, needs of it in each slot from From to the end
// in which On holds.
type Use struct {
	Task int
	Need int32
	From []Slot // one per start, never descending, from the start to the end; nil: the start
	On   []bool // one per slot, shared between uses; nil: every slot
}

// A Machine takes one task at a time and none while it is closed.
type Machine struct {
	Name   string
	Closed []Interval // ascending, disjoint
}

// An Interval is a half-open run of slots.
type Interval struct{ From, To Slot }

// A Tier is one objective: a sum of costs to be made as small as possible
// without giving up anything in the tiers before it.
type Tier struct {
	Name  string
	Costs []Cost
	Gaps  []Gap
}

// A Cost is what the start of one task costs: At[k] for its k-th start, Skip when
// it is left out. Costs are never negative.
type Cost struct {
	Task int
	At   []int64 // one per start
	Skip int64
}

// A Gap costs Weight for each day between two tasks: days(To) - days(From) - Free,
// at least 0 and at most Cap. It costs nothing when From or To is left out. Both
// day lists never descend.
type Gap struct {
	From, To int
	FromDay  []int32 // one per start of From
	ToDay    []int32 // one per start of To
	Free     int32
	Cap      int32
	Weight   int64
}

// An Answer places every task.
type Answer struct {
	Start   []int // index into Task.Starts, -1 when left out
	Machine []int // index into Problem.Machines, -1 for none
}
