package forecast

// place gives the op the first start from slot start on, holding its bay no earlier than
// slot hold, for which its truck, a bay and its crews are free. It reports whether
// there is one.
func (r *room) place(i int32, starts []int32, hold, start int32) bool {
	o := &r.ops[i]
	for s := starts[min(start, r.slots)]; s < r.slots; {
		h := o.holdOf(s)
		if h < hold {
			s = starts[s+1]
			continue
		}
		last := r.end(o, i, s)
		if last >= r.slots {
			break
		}
		bay, until := r.fits(o, h, s, last)
		if until < 0 {
			r.begin[i], r.hold[i] = s, h
			r.settle(i, last, bay)
			return true
		}
		// Whatever holds the bay in slot until is in the way of every start that holds it then.
		hold = max(hold, until+1)
		s = starts[max(s+1, min(hold, r.slots))]
	}
	r.begin[i], r.hold[i], r.last[i], r.in[i] = r.slots, r.slots, r.slots, -1
	return false
}

// fits looks for room from the hold of a bay through the last slot. Without room it
// returns the last slot that stands in the way.
func (r *room) fits(o *op, hold, start, last int32) (bay, until int32) {
	if c := r.short(o, start, last); c >= 0 {
		return -1, c
	}
	if o.able == nil {
		return -1, -1
	}
	if !o.wish {
		if c := lastIn(r.lane[int(o.truck)*r.width:][:r.width], hold, last); c >= 0 {
			return -1, c
		}
	}
	until = r.slots
	likely := last
	if o.ends == nil {
		likely = min(last, o.clock.finish(start, o.likely))
	}
	for _, b := range o.able {
		at := int(b) * r.width
		c := lastIn(r.bay[at:][:r.width], hold, last)
		if c < 0 {
			c = lastIn(r.due[at:][:r.width], hold, likely)
		}
		if c < 0 && o.ahead && start < o.planStart {
			// Before its time it takes only what the plan gives to somebody who is not there.
			c = lastOut(r.taken[at:][:r.width], hold, min(last, o.planHold-1))
		}
		if c < 0 {
			return b, -1
		}
		until = min(until, c)
	}
	return -1, until
}

// short returns the last slot in which a crew has not the heads that the op needs, -1 if
// it has. They are asked for as long as the work is likely to take: work that
// takes longer keeps its people.
func (r *room) short(o *op, start, last int32) int32 {
	if len(o.needs) == 0 {
		return -1
	}
	if o.ends == nil {
		last = min(last, o.clock.finish(start, o.likely))
	}
	found := int32(-1)
	for _, n := range o.needs {
		left := r.left[n.crew*r.slots:][:r.slots]
		for s := last; s >= start && s > found; s-- {
			if left[s] < int16(n.heads) && o.clock.works(s) {
				found = s
			}
		}
	}
	return found
}

// settle takes the room for an op whose start and hold are set.
func (r *room) settle(i, last, bay int32) {
	o := &r.ops[i]
	r.last[i], r.in[i] = last, bay
	end := min(last, r.slots-1)
	if bay >= 0 {
		mark(r.bay[int(bay)*r.width:][:r.width], r.hold[i], end)
		if !o.wish {
			mark(r.lane[int(o.truck)*r.width:][:r.width], r.hold[i], end)
		}
		if o.visit != nil {
			mark(r.seen[int(bay)*r.width:][:r.width], r.hold[i], end)
		}
	}
	for _, n := range o.needs {
		left := r.left[n.crew*r.slots:][:r.slots]
		for s := r.begin[i]; s <= end; s++ {
			if o.clock.works(s) {
				left[s] -= int16(n.heads)
			}
		}
		if o.visit != nil {
			hosts := r.hosts[n.crew*r.slots:][:r.slots]
			for s := r.begin[i]; s <= end; s++ {
				if o.clock.works(s) {
					hosts[s] -= int16(n.heads)
				}
			}
		}
	}
	if o.timed && last < r.slots {
		r.ended[i] = r.moment(i)
	}
}

// receive gives a visit its place: on its planned day, at the planned time or later, if every certificate is in hand with the
// buffer before it, the work before it is done and there is room. Otherwise it moves to
// the first day that everything allows and that leaves the customer the plant's
// notice from the day on which it is plain that the planned one fails: the day after the
// last certificate could have come in time, at the latest the day on which the truck
// was to take the floor. Where no day of the customer's windows is left, others count.
func (r *room) receive(i int32) {
	o := &r.ops[i]
	v := o.visit
	sure := max(r.certified(v), r.now)
	r.release(i)
	for _, w := range v.siblings {
		r.release(w)
		r.last[w] = -1
	}
	hold, start := r.after(i)
	ready := r.days
	if sure < r.days {
		s := o.floor[start]
		for s < r.slots && o.holdOf(s) < hold {
			s = o.floor[s+1]
		}
		ready = max(sure, s/r.parts)
	}
	r.sure[i], r.ready[i] = sure, ready
	if ready >= r.days {
		r.begin[i], r.hold[i], r.last[i], r.in[i] = r.slots, r.slots, r.slots, -1
		return
	}
	plain, day := r.now, int32(0)
	if p := o.planStart; p >= 0 && o.starts[p] == p {
		day = p / r.parts
		for s := p; s/r.parts == day; s = o.starts[s+1] {
			h := o.holdOf(s)
			if h < hold || s < start || sure > day {
				continue
			}
			if bay, ok := r.claim(o, h, s, o.ends[s]); ok {
				r.begin[i], r.hold[i] = s, h
				r.settle(i, o.ends[s], bay)
				return
			}
		}
		known := o.holdOf(p) / r.parts
		if sure > day {
			known = min(known, v.known[day])
		}
		plain = max(plain, known)
	}
	start = max(start, max(day, sure, plain+v.notice)*r.parts)
	if !r.place(i, o.starts, hold, start) {
		r.place(i, o.later, hold, start)
	}
}

// claim finds a bay for a visit, or a wish in it, at its planned time. Work that is late steps aside,
// from the bay and with its people; other visits do not.
func (r *room) claim(o *op, hold, start, last int32) (bay int32, ok bool) {
	for _, n := range o.needs {
		for s := start; s <= last; s++ {
			if o.clock.works(s) && r.hosts[n.crew*r.slots+s] < int16(n.heads) {
				return -1, false
			}
		}
	}
	if o.able == nil {
		return -1, true
	}
	if !o.wish && lastIn(r.lane[int(o.truck)*r.width:][:r.width], hold, last) >= 0 {
		return -1, false
	}
	bay = -1
	for _, b := range o.able {
		at := int(b) * r.width
		if lastIn(r.shut[at:][:r.width], hold, last) >= 0 || lastIn(r.due[at:][:r.width], hold, last) >= 0 || lastIn(r.seen[at:][:r.width], hold, last) >= 0 {
			continue
		}
		if lastIn(r.bay[at:][:r.width], hold, last) < 0 {
			return b, true
		}
		if bay < 0 {
			bay = b
		}
	}
	return bay, bay >= 0
}

// release gives back what is promised to a visit or a wish whose turn has come.
func (r *room) release(i int32) {
	if !r.claims[i] {
		return
	}
	o := &r.ops[i]
	last := o.ends[o.planStart]
	if o.planBay >= 0 {
		unmark(r.due[int(o.planBay)*r.width:][:r.width], o.planHold, last)
	}
	for _, n := range o.needs {
		left := r.left[n.crew*r.slots:][:r.slots]
		for s := o.planStart; s <= last; s++ {
			if o.clock.works(s) {
				left[s] += int16(n.heads)
			}
		}
	}
}

// certified is the first day on which the visit can take place by its certificates and
// the buffer; the number of days if there is none.
func (r *room) certified(v *guest) int32 {
	last := v.past
	for _, c := range v.certs {
		if r.last[c] >= r.slots {
			return r.days
		}
		last = max(last, r.last[c]/r.parts)
	}
	return v.ready[last]
}

// inside gives a wish its place within its visit, at its planned time if the visit is where it was
// planned. A wish that finds none is left out.
func (r *room) inside(i int32) {
	o := &r.ops[i]
	v := o.visit.op
	from, through := r.begin[v], r.last[v]
	r.begin[i], r.in[i] = r.slots, -1
	if through >= r.slots {
		return
	}
	if p := o.planStart; from == r.ops[v].planStart && p >= from && o.starts[p] == p && o.ends[p] <= through {
		if bay, ok := r.claim(o, p, p, o.ends[p]); ok {
			r.begin[i], r.hold[i] = p, p
			r.settle(i, o.ends[p], bay)
			return
		}
	}
search:
	for s := o.starts[from]; s <= through && s < r.slots; s = o.starts[s+1] {
		last := o.ends[s]
		if last > through {
			return
		}
		for _, w := range o.visit.siblings {
			if w != i && r.last[w] >= s && r.begin[w] <= last {
				continue search
			}
		}
		if bay, until := r.fits(o, s, s, last); until < 0 {
			r.begin[i], r.hold[i] = s, s
			r.settle(i, last, bay)
			return
		}
	}
}

// holdOf is the slot from which the bay is held for a start in slot s.
func (o *op) holdOf(s int32) int32 {
	if o.holds == nil {
		return s
	}
	return o.holds[s]
}
