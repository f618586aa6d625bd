package history

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/chance"
)

// Levels are the chances at which days are stated.
var Levels = []float64{0.5, 0.8, 0.95}

// reliability are the chances of the reliability table.
var reliability = []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95}

// A Report is how well answers would have held in the past: at every projection,
// in order of time, only what was known on that day was used.
//
// A stated day is judged when it has passed, and only then: whether it is depends
// on nothing that happened later, so neither what was late and is still open nor
// what came early is left out or counted for more. Losses are in working days,
// over the projections whose 95 % day has passed; for one that is still open the
// day of the report stands in for the outcome, which favours nobody and is counted.
type Report struct {
	AsOf          calendar.Date // what had happened before it is known
	From, Through calendar.Date // of the days on which was projected; calendar.None without any
	HalfLifeDays  int

	Events    int // projections made before AsOf
	Unsaid    int // projections without a day on which they were said: left out
	Trucks    int
	Scored    int // projections with answers of experience whose 95 % day has passed
	StillOpen int // of those

	Levels      []Level
	Reliability []Held
	CRPS        Loss // for the naive rule and the contract, the distance

	Bases   []BasisHeld // in the order of Bases, those that occur
	Periods []PeriodHeld
	Classes []Class // thinnest first
	Drifts  []Drift // of each event that has enough for it
}

// Pinball is the mean of the pinball losses of the levels.
func (r *Report) Pinball() (mean Loss) {
	for _, l := range r.Levels {
		n := float64(len(r.Levels))
		mean.Ours += l.Loss.Ours / n
		mean.Naive += l.Loss.Naive / n
		mean.OursOfContract += l.Loss.OursOfContract / n
		mean.Contract += l.Loss.Contract / n
		mean.Events, mean.OfContract = l.Loss.Events, l.Loss.OfContract
	}
	return mean
}

// Thin lists the classes that have fewer than Enough trucks, the thinnest first.
func (r *Report) Thin() (list []Class) {
	for _, c := range r.Classes {
		if c.Trucks < Enough {
			list = append(list, c)
		}
	}
	return list
}

// A Level is how one chance held.
type Level struct {
	Held
	Loss Loss // pinball
}

// A Held says how often a stated day held.
type Held struct {
	chance.Coverage         // counts projections; the interval (95 %) counts trucks, since those of one truck slip together
	Exact           float64 // mean chance that the law itself gave the stated day: whole days have some more than was asked for
	Trucks          int
}

// A Loss compares stated days with simpler rules, in working days, on the same
// projections.
type Loss struct {
	Ours, Naive float64 // Naive: the projection plus the average slip of the event so far
	Events      int

	OursOfContract, Contract float64 // where there is a day of contract
	OfContract               int
}

// A BasisHeld is how 80 % held by what the answer rested on.
type BasisHeld struct {
	Basis    Basis
	Answered int // projections
	Held     Held
}

// A PeriodHeld is how 80 % held of what was projected in half a year.
type PeriodHeld struct {
	Name   string // 2026-H1
	Held   Held
	Median float64 // slip in working days
}

// A Class is trucks of one kind and content at one event.
type Class struct {
	What, Kind, Content string
	Trucks              int // with an outcome
}

// A Drift compares the earlier half of an event's projections, the first of each
// truck, with the later half: the sums of slips within classes against those of
// halves dealt out at random (a stratified permutation test, by its normal
// approximation).
type Drift struct {
	What         string
	Before, From calendar.Date // the later half begins on From
	Early, Late  int           // trucks
	EarlyMean    float64       // slip in working days, stretched to the lead of a month
	LateMean     float64
	P            float64 // chance of such a difference, or a larger one, without any drift
	Drifts       bool    // P is below one in a hundred, shared among the events
}

// scored is one projection with its answer and outcome.
type scored struct {
	record
	Estimate
	at     []float64 // slip stated for each of reliability
	naive  float64
	slip   float64 // what came, or the least that it can be
	open   bool
	passed bool // its 95 % day has
}

// judged reports whether a stated slip lies before the day of the report, and held
// whether the outcome stayed within it.
func (h *History) judged(s *scored, slip float64, asOf calendar.Date) (passed, held bool) {
	return slip < float64(h.o.Days.Between(s.Projected, asOf)), !s.open && s.slip <= slip
}

// Backtest walks through the history as it would have been on asOf; calendar.None
// is the day after the last of its days. The error is that of ctx, when it ends early.
func (h *History) Backtest(ctx context.Context, asOf calendar.Date) (*Report, error) {
	if asOf == calendar.None {
		for _, e := range h.events {
			asOf = max(asOf, e.Said+1, e.Actual+1)
		}
	}
	r := &Report{AsOf: asOf, From: calendar.None, Through: calendar.None, HalfLifeDays: h.o.HalfLifeDays, Unsaid: h.unsaid}
	var all []scored
	trucks := map[int]bool{}
	for _, what := range h.whats {
		for _, rec := range h.byWhat[what] {
			if rec.Said >= asOf {
				break
			}
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			trucks[rec.truck] = true
			if r.From == calendar.None || rec.Said < r.From {
				r.From = rec.Said
			}
			r.Through = max(r.Through, rec.Said)
			all = append(all, h.score(rec, asOf))
		}
	}
	r.Events, r.Trucks = len(all), len(trucks)
	var due, proven []scored // answered by experience; of them, with the 95 % day passed
	for _, s := range all {
		if s.Basis == ByKind || s.Basis == ByContent || s.Basis == ByEvent {
			due = append(due, s)
			if s.passed {
				proven = append(proven, s)
				if s.open {
					r.StillOpen++
				}
			}
		}
	}
	r.Scored = len(proven)
	for _, p := range reliability {
		held := h.held(due, p, asOf)
		r.Reliability = append(r.Reliability, held)
		if slices.Contains(Levels, p) {
			r.Levels = append(r.Levels, Level{held, h.loss(proven, func(s *scored, stated float64) float64 {
				return chance.Pinball(p, stated, s.slip)
			}, func(s *scored) float64 { return chance.Pinball(p, s.Law.Quantile(p), s.slip) })})
		}
	}
	r.CRPS = h.loss(proven,
		func(s *scored, stated float64) float64 { return math.Abs(s.slip - stated) },
		func(s *scored) float64 { return s.Law.CRPS(s.slip) })
	for _, b := range Bases {
		of := slices.DeleteFunc(slices.Clone(all), func(s scored) bool { return s.Basis != b })
		if len(of) > 0 {
			r.Bases = append(r.Bases, BasisHeld{b, len(of), h.held(of, 0.8, asOf)})
		}
	}
	r.Periods = h.periods(due, asOf)
	r.Classes = h.classes(asOf)
	for _, what := range h.whats {
		if d, ok := h.drift(what, all); ok {
			r.Drifts = append(r.Drifts, d)
		}
	}
	for i := range r.Drifts {
		r.Drifts[i].Drifts = r.Drifts[i].P < 0.01/float64(len(r.Drifts))
	}
	return r, nil
}

// score answers a projection with what was known on its day, and looks at what
// came of it by asOf.
func (h *History) score(rec record, asOf calendar.Date) scored {
	s := scored{record: rec, open: !rec.happened(asOf), slip: float64(rec.slip)}
	if s.open {
		s.slip = float64(h.o.Days.Between(rec.Projected, asOf))
	}
	s.Estimate = h.Ask(Question{What: rec.What, Kind: rec.Kind, Content: rec.Content, On: rec.Said, Projected: rec.Projected})
	if s.Law == nil {
		return s
	}
	for _, p := range reliability {
		s.at = append(s.at, s.Law.Quantile(p))
	}
	sum, n := 0, 0
	for _, o := range h.byWhat[rec.What] {
		if o.Said >= rec.Said {
			break
		}
		if o.happened(rec.Said) {
			sum += o.slip
			n++
		}
	}
	if n > 0 {
		s.naive = float64(sum) / float64(n)
	}
	s.passed, _ = h.judged(&s, s.at[len(s.at)-1], asOf)
	return s
}

// held counts how often the days stated for one chance held, of those that have
// passed.
func (h *History) held(list []scored, p float64, asOf calendar.Date) Held {
	c := Held{Coverage: chance.Coverage{Stated: p, Interval: chance.Interval{High: 1}}}
	trucks := map[int]bool{}
	k := slices.Index(reliability, p)
	for i := range list {
		s := &list[i]
		if s.Law == nil {
			continue
		}
		passed, held := h.judged(s, s.at[k], asOf)
		if !passed {
			continue
		}
		c.Of++
		c.Exact += s.Law.CDF(s.at[k])
		trucks[s.truck] = true
		if held {
			c.Held++
		}
	}
	if c.Trucks = len(trucks); c.Of > 0 {
		c.Exact /= c.Of
		c.Interval = chance.Wilson(c.Share(), float64(c.Trucks), 0.95)
	}
	return c
}

// loss is the mean of a mark, for the naive rule and the contract by the slip that
// they state.
func (h *History) loss(list []scored, mark func(*scored, float64) float64, ours func(*scored) float64) (l Loss) {
	for i := range list {
		s := &list[i]
		mine := ours(s)
		l.Events++
		l.Ours += mine
		l.Naive += mark(s, s.naive)
		if s.Contract != calendar.None && s.What == Delivery {
			l.OfContract++
			l.OursOfContract += mine
			l.Contract += mark(s, float64(h.o.Days.Between(s.Projected, s.Contract)))
		}
	}
	if l.Events > 0 {
		l.Ours /= float64(l.Events)
		l.Naive /= float64(l.Events)
	}
	if l.OfContract > 0 {
		l.OursOfContract /= float64(l.OfContract)
		l.Contract /= float64(l.OfContract)
	}
	return l
}

// half names the half-year of a day.
func half(d calendar.Date) string {
	year, month, _ := d.YMD()
	return fmt.Sprintf("%d-H%d", year, 1+(int(month)-1)/6)
}

func (h *History) periods(list []scored, asOf calendar.Date) (periods []PeriodHeld) {
	in := map[string][]scored{}
	var names []string
	for _, s := range list {
		name := half(s.Said)
		if in[name] == nil {
			names = append(names, name)
		}
		in[name] = append(in[name], s)
	}
	slices.Sort(names)
	for _, name := range names {
		p := PeriodHeld{Name: name, Held: h.held(in[name], 0.8, asOf)}
		var slips []float64
		for _, s := range in[name] {
			if s.passed {
				slips = append(slips, s.slip)
			}
		}
		if len(slips) == 0 {
			continue
		}
		p.Median = chance.NearestRank(slips, 0.5)
		periods = append(periods, p)
	}
	return periods
}

// classes counts trucks by event, kind and content.
func (h *History) classes(asOf calendar.Date) (list []Class) {
	for _, what := range h.whats {
		type key struct{ kind, content string }
		in := map[key][]record{}
		var keys []key
		for _, r := range h.byWhat[what] {
			if r.Said >= asOf {
				break
			}
			k := key{r.Kind, r.Content}
			if in[k] == nil {
				keys = append(keys, k)
			}
			in[k] = append(in[k], r)
		}
		for _, k := range keys {
			n, _ := known(in[k], asOf)
			list = append(list, Class{what, k.kind, k.content, n})
		}
	}
	slices.SortFunc(list, func(a, b Class) int {
		return cmp.Or(cmp.Compare(a.Trucks, b.Trucks), cmp.Compare(a.What, b.What), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Content, b.Content))
	})
	return list
}

// month is the lead in working days to which slips are stretched before they are
// compared with each other.
const month = 21

// drift compares the halves of an event. Only projections whose 95 % day has passed
// count, or the later half would lack its late ones.
func (h *History) drift(what string, all []scored) (Drift, bool) {
	type stretched struct {
		scored
		z    float64
		late bool
	}
	seen := map[int]bool{}
	var list []stretched
	for _, s := range all {
		if s.What == what && s.passed && !seen[s.truck] {
			seen[s.truck] = true
			list = append(list, stretched{scored: s, z: s.slip * scale(month) / scale(s.lead)})
		}
	}
	if len(list) < 4*Enough {
		return Drift{}, false
	}
	d := Drift{What: what, Before: list[0].Said, From: list[len(list)/2].Said}
	for i := range list {
		if list[i].late = list[i].Said >= d.From; list[i].late {
			d.Late++
			d.LateMean += list[i].z
		} else {
			d.Early++
			d.EarlyMean += list[i].z
		}
	}
	if d.Early == 0 || d.Late == 0 {
		return Drift{}, false
	}
	d.EarlyMean /= float64(d.Early)
	d.LateMean /= float64(d.Late)
	slices.SortStableFunc(list, func(a, b stretched) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Content, b.Content))
	})
	sum, variance := 0.0, 0.0
	for from := 0; from < len(list); {
		to := from
		for to < len(list) && list[to].Kind == list[from].Kind && list[to].Content == list[from].Content {
			to++
		}
		z, late := make([]float64, 0, to-from), make([]bool, 0, to-from)
		for _, s := range list[from:to] {
			z, late = append(z, s.z), append(late, s.late)
		}
		w, v := excess(z, late)
		sum += w
		variance += v
		from = to
	}
	d.P = 1
	if variance > 0 {
		d.P = math.Erfc(math.Abs(sum) / math.Sqrt(2*variance))
	}
	return d, true
}

// excess is by how much the marked values exceed in sum what they would if the
// marks were dealt out at random, and the variance of that.
func excess(values []float64, marked []bool) (sum, variance float64) {
	n, m, mean, squares := float64(len(values)), 0.0, 0.0, 0.0
	for _, v := range values {
		mean += v / n
	}
	for i, v := range values {
		squares += (v - mean) * (v - mean)
		if marked[i] {
			m++
			sum += v - mean
		}
	}
	if n > 1 {
		variance = m * (n - m) / n * squares / (n - 1)
	}
	return sum, variance
}
