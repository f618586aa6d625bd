package cdcl

// An order hands out variables, those first that had a part in the latest conflicts: a heap by
// activity.
type order struct {
	act   []float64
	heap  []int32
	place []int32 // by variable: in the heap, -1 when out of it
	step  float64
}

func newOrder() order { return order{step: 1} }

// room makes room for variables below n.
func (o *order) room(n int) {
	o.act = longer(o.act, n)
	at := len(o.place)
	o.place = longer(o.place, n)
	for ; at < n; at++ {
		o.place[at] = -1
	}
}

func (o *order) clear() {
	for _, v := range o.heap {
		o.place[v] = -1
	}
	o.heap = o.heap[:0]
}

func (o *order) put(v int32) {
	if o.place[v] < 0 {
		o.heap = append(o.heap, v)
		o.up(len(o.heap)-1, v)
	}
}

func (o *order) pop() (int32, bool) {
	if len(o.heap) == 0 {
		return 0, false
	}
	v := o.heap[0]
	last := o.heap[len(o.heap)-1]
	o.heap = o.heap[:len(o.heap)-1]
	o.place[v] = -1
	if len(o.heap) > 0 {
		o.down(0, last)
	}
	return v, true
}

func (o *order) up(n int, v int32) {
	for n > 0 {
		m := (n - 1) / 2
		if o.act[o.heap[m]] >= o.act[v] {
			break
		}
		o.heap[n] = o.heap[m]
		o.place[o.heap[n]] = int32(n)
		n = m
	}
	o.heap[n] = v
	o.place[v] = int32(n)
}

func (o *order) down(n int, v int32) {
	for {
		m := 2*n + 1
		if m >= len(o.heap) {
			break
		}
		if m+1 < len(o.heap) && o.act[o.heap[m+1]] > o.act[o.heap[m]] {
			m++
		}
		if o.act[o.heap[m]] <= o.act[v] {
			break
		}
		o.heap[n] = o.heap[m]
		o.place[o.heap[n]] = int32(n)
		n = m
	}
	o.heap[n] = v
	o.place[v] = int32(n)
}

func (o *order) bump(v int32) {
	if o.act[v] += o.step; o.act[v] > 1e100 {
		for u := range o.act {
			o.act[u] *= 1e-100
		}
		o.step *= 1e-100
	}
	if n := o.place[v]; n >= 0 {
		o.up(int(n), v)
	}
}

func (o *order) decay(calm bool) {
	if calm {
		o.step /= 0.95
	} else {
		o.step /= 0.92
	}
}
