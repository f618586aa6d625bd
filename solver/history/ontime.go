package history

import (
	"cmp"
	"slices"

	"wetdown/calendar"
)

// A Against is the day that on time is measured against. The ratios differ, and
// none stands for another.
type Against string

// What on time is measured against.
const (
	Original  Against = "original"  // the first projection
	Latest    Against = "latest"    // the last projection before it happened
	Requested Against = "requested" // the day that the customer asked for
	Contract  Against = "contract"
)

// Againsts lists them.
var Againsts = []Against{Original, Latest, Requested, Contract}

// A Ratio counts how things came against one day. Those whose day has not passed
// are left out, whatever came of them.
type Ratio struct {
	Early, OnDay, Late int // before the day, on it, after it
	Open               int // of Late: still to come
}

// Of returns how many the ratio is of.
func (r Ratio) Of() int { return r.Early + r.OnDay + r.Late }

// ByDay returns the share that came on the day or before, 0 of none.
func (r Ratio) ByDay() float64 {
	return float64(r.Early+r.OnDay) / float64(max(1, r.Of()))
}

// Exactly returns the share that came on the day itself, 0 of none: where a
// delegation travels, early is a miss as well.
func (r Ratio) Exactly() float64 { return float64(r.OnDay) / float64(max(1, r.Of())) }

// An OnTime is the ratios of a group.
type OnTime struct {
	What     string
	By, Name string // by "": all; else customer, kind, owner, period (half-year of the day measured against)
	Ratios   []Ratio
}

// OnTime measures events whose trucks, and not their projections, are counted:
// each event of a truck once. Ratios are in the order of Againsts; groups follow
// all, sorted.
func (h *History) OnTime(asOf calendar.Date) []OnTime {
	type key struct{ what, by, name string }
	at := map[key]int{}
	var list []OnTime
	count := func(k key, against int, day calendar.Date, e *Event) {
		i, ok := at[k]
		if !ok {
			i = len(list)
			at[k] = i
			list = append(list, OnTime{k.what, k.by, k.name, make([]Ratio, len(Againsts))})
		}
		r := &list[i].Ratios[against]
		switch happened := e.Actual != calendar.None && e.Actual < asOf; {
		case !happened:
			r.Open++
			r.Late++
		case e.Actual < day:
			r.Early++
		case e.Actual == day:
			r.OnDay++
		default:
			r.Late++
		}
	}
	for _, what := range h.whats {
		of := map[int][]record{}
		var trucks []int
		for _, r := range h.byWhat[what] {
			if r.Said >= asOf {
				break
			}
			if of[r.truck] == nil {
				trucks = append(trucks, r.truck)
			}
			of[r.truck] = append(of[r.truck], r)
		}
		for _, t := range trucks {
			last := of[t][len(of[t])-1]
			original, latest := calendar.None, calendar.None
			for _, r := range of[t] {
				if r.Actual != calendar.None && r.Said >= r.Actual {
					continue // what is said when it has come is no promise
				}
				if original == calendar.None {
					original = r.Projected
				}
				latest = r.Projected
			}
			for against, day := range []calendar.Date{original, latest, last.Requested, last.Contract} {
				if day == calendar.None || day >= asOf {
					continue
				}
				for _, g := range [][2]string{{"", ""}, {"customer", last.Customer}, {"kind", last.Kind}, {"owner", last.Owner}, {"period", half(day)}} {
					if g[0] == "" || g[1] != "" {
						count(key{what, g[0], g[1]}, against, day, last.Event)
					}
				}
			}
		}
	}
	slices.SortFunc(list, func(a, b OnTime) int {
		return cmp.Or(cmp.Compare(a.What, b.What), cmp.Compare(a.By, b.By), cmp.Compare(a.Name, b.Name))
	})
	return list
}
