package schedule

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// maxObjective is the greatest number that Gecode 6.2 calculates with.
const maxObjective = 1<<31 - 2

// WriteDZN writes the whole problem as data for the MiniZinc model schedule.mzn,
// which says what they mean. limit holds what the first tiers may cost at the
// most, as found by runs before; the objective weighs as many of the next tiers as
// 31 bits hold, and at least one. Without limits, and with small enough costs, one
// run answers the whole question.
func WriteDZN(w io.Writer, p *Problem, limit []int64) error {
	if len(limit) > len(p.Tiers) {
		return fmt.Errorf("%d limits for %d tiers: give one for each tier that is settled", len(limit), len(p.Tiers))
	}
	d := &dzn{p: p, out: bufio.NewWriter(w)}
	d.say("%% Data for the MiniZinc model schedule.mzn, which says what they mean.")
	d.tasks()
	d.arcs()
	d.machines()
	d.pools()
	d.tiers()
	d.goal(limit)
	return d.out.Flush()
}

// A dzn is MiniZinc data being written. What the model counts from 1, tasks and
// machines, is written as index + 1.
type dzn struct {
	p   *Problem
	out *bufio.Writer
}

func (d *dzn) tasks() {
	var begins, ends table
	var starts, place []int64
	var names, skip []string
	for i := range d.p.Tasks {
		t := &d.p.Tasks[i]
		names = append(names, quote(t.Name))
		skip = append(skip, strconv.FormatBool(t.Skip))
		starts = append(starts, int64(len(t.Starts)))
		place = append(place, begins.row(0, wide(t.Starts)))
		ends.row(0, wide(t.Ends))
	}
	d.say("slots = %d;", d.p.Slots)
	d.indices("TASK", len(names))
	d.list("name", names)
	d.ints("starts", starts)
	d.list("skip", skip)
	d.ints("place", place)
	d.table("begins", begins)
	d.table("ends", ends)
}

func (d *dzn) arcs() {
	var bounds table
	var from, to, earliest, latest, one, other []int64
	row := func(free Slot, list []Slot) int64 {
		if list == nil {
			return -1
		}
		return bounds.row(int64(free), wide(list))
	}
	for _, a := range d.p.Arcs {
		from = append(from, int64(a.From+1))
		to = append(to, int64(a.To+1))
		earliest = append(earliest, row(0, a.Earliest))
		latest = append(latest, row(d.p.Slots, a.Latest))
	}
	for _, t := range d.p.Together {
		one, other = append(one, int64(t[0]+1)), append(other, int64(t[1]+1))
	}
	d.indices("ARC", len(from))
	d.ints("arc_from", from)
	d.ints("arc_to", to)
	d.ints("arc_earliest", earliest)
	d.ints("arc_latest", latest)
	d.table("arc_bounds", bounds)
	d.indices("PAIR", len(one))
	d.ints("pair_one", one)
	d.ints("pair_other", other)
}

func (d *dzn) machines() {
	var names, able []string
	var closed, from, to []int64
	for m := range d.p.Machines {
		names = append(names, quote(d.p.Machines[m].Name))
		for _, c := range d.p.Machines[m].Closed {
			closed, from, to = append(closed, int64(m+1)), append(from, int64(c.From)), append(to, int64(c.To))
		}
	}
	for i := range d.p.Tasks {
		var set []string
		for _, m := range d.p.Tasks[i].Able {
			set = append(set, strconv.Itoa(m+1))
		}
		able = append(able, "{"+strings.Join(set, ",")+"}")
	}
	d.indices("MACHINE", len(names))
	d.list("machine_name", names)
	d.list("able", able)
	d.indices("CLOSURE", len(closed))
	d.ints("closed_machine", closed)
	d.ints("closed_from", from)
	d.ints("closed_to", to)
}

func (d *dzn) pools() {
	var names, masks []string
	var room, pool, task, need, from, mask []int64
	var begins table
	known := map[string]int64{} // mask as text to its number
	for r := range d.p.Resources {
		res := &d.p.Resources[r]
		names = append(names, quote(res.Name))
		room = append(room, wide(res.Capacity)...)
		for n := range res.Uses {
			u := &res.Uses[n]
			t := &d.p.Tasks[u.Task]
			text := maskText(u.On, d.p.Slots)
			if known[text] == 0 {
				masks = append(masks, text)
				known[text] = int64(len(masks))
			}
			pool, task, need = append(pool, int64(r+1)), append(task, int64(u.Task+1)), append(need, int64(u.Need))
			mask = append(mask, known[text])
			starts := make([]Slot, len(t.Starts))
			for k := range starts {
				starts[k] = u.from(t, k)
			}
			from = append(from, begins.row(0, wide(starts)))
		}
	}
	d.indices("POOL", len(names))
	d.list("pool_name", names)
	d.array("room", "array2d(POOL, 0..slots-1, ", words(room), ")")
	d.indices("USE", len(pool))
	d.ints("use_pool", pool)
	d.ints("use_task", task)
	d.ints("use_need", need)
	d.ints("use_from", from)
	d.table("use_begins", begins)
	d.indices("MASK", len(masks))
	d.list("mask", masks)
	d.ints("use_mask", mask)
}

// maskText is a mask as a union of ranges.
func maskText(on []bool, slots Slot) string {
	if on == nil {
		return fmt.Sprintf("0..%d", slots-1)
	}
	var runs []string
	for t := 0; t < len(on); t++ {
		if !on[t] {
			continue
		}
		from := t
		for t+1 < len(on) && on[t+1] {
			t++
		}
		runs = append(runs, fmt.Sprintf("%d..%d", from, t))
	}
	if len(runs) == 0 {
		return "{}"
	}
	return strings.Join(runs, " union ")
}

func (d *dzn) tiers() {
	var names []string
	var tier, task, row []int64
	var gap [8][]int64
	var prices, days table
	for t := range d.p.Tiers {
		names = append(names, quote(d.p.Tiers[t].Name))
		for _, c := range d.p.Tiers[t].Costs {
			tier, task, row = append(tier, int64(t+1)), append(task, int64(c.Task+1)), append(row, prices.row(c.Skip, c.At))
		}
		for _, g := range d.p.Tiers[t].Gaps {
			for n, v := range [8]int64{int64(t + 1), int64(g.From + 1), int64(g.To + 1),
				days.row(0, wide(g.FromDay)), days.row(0, wide(g.ToDay)), int64(g.Free), int64(g.Cap), g.Weight} {
				gap[n] = append(gap[n], v)
			}
		}
	}
	d.indices("TIER", len(names))
	d.list("tier_name", names)
	d.indices("COST", len(tier))
	d.ints("cost_tier", tier)
	d.ints("cost_task", task)
	d.ints("cost_row", row)
	d.table("prices", prices)
	d.indices("GAP", len(gap[0]))
	for n, name := range [8]string{"tier", "from", "to", "from_day", "to_day", "free", "cap", "weight"} {
		d.ints("gap_"+name, gap[n])
	}
	d.table("days", days)
}

// goal writes the objective of this run, and as comments the runs after it.
func (d *dzn) goal(limit []int64) {
	at := len(limit)
	scale := d.scale(at)
	d.ints("scale", scale)
	d.ints("limit", limit)
	for at = settled(scale, at); at < len(scale); at = settled(scale, at) {
		scale = d.scale(at)
		d.say("%% When this run has shown the least values of the first %d tiers, put them into limit, and run with", at)
		d.say("%% scale = [%s];", strings.Join(words(scale), ", "))
	}
}

// settled is how many tiers are settled after a run with the scale, when at were
// before.
func settled(scale []int64, at int) int {
	for at < len(scale) && scale[at] > 0 {
		at++
	}
	return at
}

// scale weighs the tiers from the index on: as many as fit, and at least one.
func (d *dzn) scale(from int) []int64 {
	scale := make([]int64, len(d.p.Tiers))
	rs := reaches(d.p)
	for to := len(rs); to > from; to-- {
		most := make([]int64, to-from)
		for t := range most {
			most[t] = rs[from+t].most
		}
		by := ladder(most)
		var sum int64
		for t := range by {
			sum = plus(sum, times(by[t], most[t]))
		}
		if sum <= maxObjective || to == from+1 {
			copy(scale[from:], by)
			break
		}
	}
	return scale
}

// A table takes rows of numbers, one after the other. Every row belongs to a task;
// its first number is for the task left out.
type table []int64

// row appends a row and returns where it begins.
func (t *table) row(out int64, list []int64) int64 {
	at := len(*t)
	*t = append(append(*t, out), list...)
	return int64(at)
}

func wide(list []int32) []int64 {
	to := make([]int64, len(list))
	for i, v := range list {
		to[i] = int64(v)
	}
	return to
}

func (d *dzn) say(format string, args ...any) { fmt.Fprintf(d.out, format+"\n", args...) }

// indices writes the set that an index runs through.
func (d *dzn) indices(name string, n int) { d.say("%s = 1..%d;", name, n) }

func (d *dzn) ints(name string, list []int64) { d.list(name, words(list)) }

func (d *dzn) list(name string, words []string) { d.array(name, "", words, "") }

// table writes a table, which counts from 0.
func (d *dzn) table(name string, t table) {
	d.array(name, fmt.Sprintf("array1d(0..%d, ", len(t)-1), words(t), ")")
}

// array writes the words as an array, twenty to a line.
func (d *dzn) array(name, before string, words []string, after string) {
	d.out.WriteString(name + " = " + before + "[")
	for i, s := range words {
		switch {
		case i == 0:
		case i%20 == 0:
			d.out.WriteString(",\n  ")
		default:
			d.out.WriteString(", ")
		}
		d.out.WriteString(s)
	}
	d.out.WriteString("]" + after + ";\n")
}

func words(list []int64) []string {
	to := make([]string, len(list))
	for i, v := range list {
		to[i] = strconv.FormatInt(v, 10)
	}
	return to
}

var escape = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", " ", "\r", " ", "\t", " ")

func quote(s string) string { return `"` + escape.Replace(s) + `"` }
