package plant

import (
	"slices"

	"wetdown/calendar"
)

// An inquiry looks at what must hold between the values of a plant. Its rules
// are spread over the files valid_*.go, one for each noun. They pass over values
// that the checker or the reader complains about.
type inquiry struct {
	p        *Plant
	known    *known
	findings []finding
	facts    []facts // of the trucks
	applied  []bool  // by stage: it applies to some truck
	wished   []bool  // by wish: some visit that is planned wants it
	ring     bool    // some stage comes before itself: what is done in which order says nothing
}

// facts are what is known of one truck.
type facts struct {
	features []string
	visits   []*Visit // that are planned
	stage    []status // by stage of the route
}

// status is where a truck is with a stage.
type status int

const (
	notItsOwn status = iota // the stage does not apply
	isOpen
	isRunning
	isDone
)

func newInquiry(p *Plant, k *known) *inquiry {
	q := &inquiry{p: p, known: k, facts: make([]facts, len(p.Trucks)), applied: make([]bool, len(p.Route)), wished: make([]bool, len(p.Wishes))}
	for i := range p.Visits {
		v := &p.Visits[i]
		if t, ok := k.at[aTruck][v.Truck]; ok && v.Planned() {
			q.facts[t].visits = append(q.facts[t].visits, v)
		}
	}
	for i := range p.Trucks {
		t, f := &p.Trucks[i], &q.facts[i]
		f.features = t.Features()
		f.stage = make([]status, len(p.Route))
		for j := range p.Route {
			s := &p.Route[j]
			if f.applies(s) {
				f.stage[j] = isOpen
				q.applied[j] = true
			}
		}
		for _, r := range t.Running {
			if j, ok := k.at[aStage][r.Stage]; ok {
				f.stage[j] = isRunning
			}
		}
		for _, d := range t.Done {
			if j, ok := k.at[aStage][d.Stage]; ok {
				f.stage[j] = isDone
			}
		}
		for _, v := range f.visits {
			for _, w := range v.Wishes {
				if j, ok := k.at[aWish][w]; ok && f.has(p.Wishes[j].Needs) {
					q.wished[j] = true
				}
			}
		}
	}
	return q
}

// applies is Plant.Applies.
func (f *facts) applies(s *Stage) bool {
	return f.has(s.Needs) && (s.Visit == "" || f.visit(s.Visit) != nil)
}

// has reports whether the truck has every feature.
func (f *facts) has(needs []string) bool {
	for _, n := range needs {
		if _, ok := slices.BinarySearch(f.features, n); !ok {
			return false
		}
	}
	return true
}

// visit returns the planned visit of the kind, or nil.
func (f *facts) visit(kind string) *Visit {
	for _, v := range f.visits {
		if v.Kind == kind {
			return v
		}
	}
	return nil
}

func (q *inquiry) find(w wrong, at ...step) { q.findIf(nil, w, at...) }

// findIf is find for what counts only if the value at another place could be
// read.
func (q *inquiry) findIf(because place, w wrong, at ...step) {
	if !w.ok() && len(q.findings) < maxCounted {
		q.findings = append(q.findings, finding{w, at, because})
	}
}

// span looks at the first and last day of a run of days.
func (q *inquiry) span(from, through calendar.Date, at ...step) bool {
	if from == calendar.None || through == calendar.None {
		return false
	}
	if through < from {
		q.find(wrong{
			"the last day, " + through.String() + ", comes before the first, " + from.String(),
			"a last day that is the first day or later", "correct one of the two",
		}, append(at, key("through"))...)
		return false
	}
	return true
}
