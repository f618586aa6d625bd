package forecast

import "wetdown/calendar"

// An op is one piece of work of one truck: a stage, or a wish inside a visit.
// Starts, holds and ends are slots; the number of slots stands for "not within the days
// that are looked at".
type op struct {
	truck  int32
	clock  *clock
	starts []int32 // by slot, and past the last: the first slot from it on in which the work may start, as far as the rules about it alone go
	later  []int32 // visits: the same with the customer's windows left aside
	floor  []int32 // visits: the same for the truck and its place alone, whoever comes
	holds  []int32 // by slot of start: from when the bay is held; nil: from the start
	ends   []int32 // by slot of start: the slot of the end, where the length is fixed; nil: by its minutes
	likely int32   // minutes
	able   []int32 // the bays that can take the truck; nil: it needs none
	needs  []need
	preds  []pred
	first  int32 // it holds no bay before this slot
	start  int32 // nor starts before this one
	onLine bool  // it takes place on the line: line-off is no limit
	fixed  bool  // it runs: it holds its bay from first on and started there
	timed  bool  // what follows asks for the moment of its end

	turn                int32 // its place in the order of work: the slot of its planned start; -1: none
	planStart, planHold int32 // it is kept to these; -1: it starts as soon as it can
	planBay             int32
	ahead               bool // it may take the place of work that is late, before its planned start

	visit *guest // it is a visit, or a wish inside one
	wish  bool
}

// A need is a number of heads of a crew.
type need struct{ crew, heads int32 }

// A pred is work that comes before.
type pred struct {
	op      int32
	elapsed int32 // minutes of real time that pass at least
	work    int32 // working minutes of the follower that pass at least
}

// A guest is a visit as far as it can be told whether and when it takes place.
type guest struct {
	op       int32   // of the visit
	certs    []int32 // ops that certify
	past     int32   // day of the last certificate that is in hand; 0: none that counts
	ready    []int32 // by day of the last certificate: the first day that the buffer allows
	known    []int32 // by day of the visit: the day on which it is plain that a certificate comes too late
	notice   int32   // days
	siblings []int32 // its wishes
}

// A shop is the plant worked out into tables, the same for every run.
type shop struct {
	slots, parts, days int32
	now                int32 // the day of now
	width              int   // words of a set of slots
	ops                []op
	order              []int32 // the order in which ops take their places
	trucks, bays       int
	shut               []uint64 // by bay: slots in which it is closed
	taken              []uint64 // by bay: slots that the plan in force gives to somebody
	heads              []int16  // by crew and slot: heads that are there
	promised           []uint64 // by bay: slots in which the plan in force has a visit there
	spare              []int16  // heads without those that planned visits need
	claims             []bool   // by op: it is a visit, or a wish in one, that has its planned place promised
}

// A room is what is taken of a shop in one run. It is used again for the next.
type room struct {
	*shop
	off   []int32  // by truck: the first slot after line-off
	wait  []int32  // by op: working days for which others keep it waiting
	took  []int32  // by op: minutes it takes
	bay   []uint64 // by bay: slots that are taken
	lane  []uint64 // by truck: slots in which it holds a bay
	seen  []uint64 // by bay: slots taken by visits
	hosts []int16  // by crew and slot: heads that visits leave of all
	due   []uint64 // by bay: slots promised to visits to come
	left  []int16  // by crew and slot: heads that are left, without those promised to visits to come
	begin []int32  // by op: slot of its start; slots: never
	hold  []int32
	last  []int32 // by op: slot of its end; slots: never; -1: a wish that is left out
	in    []int32 // by op: its bay, -1: none
	ended []calendar.Moment
	sure  []int32 // by op that is a visit: first day that certificates and buffer allow
	ready []int32 // by op that is a visit: first day that these and the work before it allow
}

func newRoom(s *shop) *room {
	n := len(s.ops)
	return &room{
		shop: s, off: make([]int32, s.trucks), wait: make([]int32, n), took: make([]int32, n),
		bay: make([]uint64, len(s.shut)), seen: make([]uint64, len(s.shut)), due: make([]uint64, len(s.shut)), lane: make([]uint64, s.trucks*s.width), left: make([]int16, len(s.heads)), hosts: make([]int16, len(s.heads)),
		begin: make([]int32, n), hold: make([]int32, n), last: make([]int32, n), in: make([]int32, n),
		ended: make([]calendar.Moment, n), sure: make([]int32, n), ready: make([]int32, n),
	}
}

// clear makes the room as it is before any work.
func (r *room) clear() {
	copy(r.bay, r.shut)
	clear(r.lane)
	clear(r.seen)
	copy(r.due, r.promised)
	copy(r.left, r.spare)
	copy(r.hosts, r.heads)
}

// run gives all work its place, in the order of the shop. What was drawn for the run
// stands in off, wait and took.
func (r *room) run() {
	for _, i := range r.order {
		o := &r.ops[i]
		switch {
		case o.fixed:
			r.begin[i], r.hold[i] = o.first, o.first
			r.settle(i, r.end(o, i, o.first), o.planBay)
		case o.wish:
			r.inside(i)
		case o.visit != nil:
			r.receive(i)
		default:
			hold, start := r.earliest(i)
			r.place(i, o.starts, hold, start)
		}
	}
}

// end is the slot in which the op ends if it starts in slot s.
func (r *room) end(o *op, i, s int32) int32 {
	if o.ends != nil {
		return o.ends[s]
	}
	return o.clock.finish(s, r.took[i])
}

// after is the first slot in which the op can hold a bay, and the first in which it can
// start, as far as line-off and the work before it go.
func (r *room) after(i int32) (hold, start int32) {
	o := &r.ops[i]
	hold, start = o.first, o.start
	if !o.onLine {
		hold = max(hold, r.off[o.truck])
	}
	for _, p := range o.preds {
		last := r.last[p.op]
		if last >= r.slots {
			return r.slots, r.slots
		}
		hold = max(hold, last+1)
		if p.elapsed > 0 {
			start = max(start, o.clock.from(o.clock.hours.Grid().Elapsed(r.ended[p.op], int(p.elapsed))))
		}
		if p.work > 0 {
			m, ok := o.clock.hours.Add(r.ended[p.op], int(p.work))
			if !ok {
				return r.slots, r.slots
			}
			start = max(start, o.clock.from(m))
		}
	}
	return hold, max(start, hold)
}

// earliest is the first slot in which the op may start if there is room: not before its
// planned start, unless it may take the place of others, and after those who keep it
// waiting are done.
func (r *room) earliest(i int32) (hold, start int32) {
	o := &r.ops[i]
	hold, start = r.after(i)
	if n := r.wait[i]; n > 0 && start < r.slots {
		s := max(start, o.planStart)
		for ; n > 0 && s < r.slots; n-- {
			s = r.next(o, s-s%r.parts+r.parts)
		}
		start = s
	}
	if !o.ahead {
		start = max(start, o.planStart)
	}
	return hold, start
}

// next is the first slot from s on in which the department of the op works.
func (r *room) next(o *op, s int32) int32 {
	if s >= r.slots {
		return r.slots
	}
	return o.clock.hours.Next(s)
}
