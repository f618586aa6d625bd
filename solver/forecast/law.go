package forecast

import (
	"wetdown/calendar"
	"wetdown/solver/chance"
	"wetdown/solver/plant"
)

// A Law is a law of chance with what it rests on. Without one, nil, nothing is left to chance.
type Law struct {
	chance.Law
	Sample int // number of past cases behind it, 0 for an estimate
}

// Laws say how things go otherwise than planned. The zero value rests on estimates
// alone: those of the route for stages, and those below for line and suppliers.
type Laws struct {
	// LineOff is the slip of a truck's projected line-off day in working days of the line.
	// Where it is known it takes the place of the estimates of line and suppliers.
	LineOff func(t *plant.Truck, projected calendar.Date) (law Law, known bool)
	// Line is the slip of the line alone, beside what it waits for, of what is so many
	// working days ahead; nil: an estimate.
	Line func(t *plant.Truck, lead int) Law
	// Feeder is for how many working days of the line a delivery to it is late; nil: an estimate.
	Feeder func(f *plant.Feeder, lead int) Law
	// Wait is for how many working days of its department a stage that could begin waits for
	// people who are not the plant's: a witness, a supplier, the customer. Nil: for none.
	Wait func(t *plant.Truck, s *plant.Stage) Law
	// Says tells people what the laws rest on, beside the estimates.
	Says []string
	// All says that no estimate of line and suppliers is needed beside the laws.
	All bool
}

// Together is the share of runs in which those who wait for one supplier share their luck, instead
// of each having its own. Common practice, no source.
const Together = 0.5

// Estimates where there is no history: least, likely and most, each in working days, of
// what is so many working days ahead. Common practice, no source: what is far ahead is
// uncertain, and late more often than early.
const (
	lineEarly, lineLate, lineDays       = 0.02, 0.10, 1 // of the days ahead, and days more
	feederEarly, feederLate, feederDays = 0.05, 0.25, 2
)

// steps is how finely three-point estimates are tabled.
const steps = 256

// lineLaw is the law of the line alone.
func (m *model) lineLaw(t *plant.Truck, lead int32) chance.Law {
	if m.laws.Line != nil {
		return m.laws.Line(t, int(lead)).Law
	}
	n := float64(lead)
	return m.pert(-lineEarly*n, 0, lineLate*n+lineDays)
}

// feederLaw is the law of a delivery to the line.
func (m *model) feederLaw(f *plant.Feeder, lead int32) chance.Law {
	if m.laws.Feeder != nil {
		return m.laws.Feeder(f, int(lead)).Law
	}
	n := float64(lead)
	return m.pert(-feederEarly*n, 0, feederLate*n+feederDays)
}

// pert is a three-point estimate, nil if it leaves nothing to chance.
func (m *model) pert(least, likely, most float64) chance.Law {
	likely = min(max(likely, least), most)
	if most <= least {
		return nil
	}
	points := [3]float64{least, likely, most}
	t, ok := m.tables[points]
	if !ok {
		t = chance.NewTable(chance.PERT{Least: least, Likely: likely, Most: most}, steps)
		m.tables[points] = t
	}
	return t
}

// assumptions says on what the answer rests.
func (l *Laws) assumptions() []string {
	list := append(l.Says[:len(l.Says):len(l.Says)],
		"Line-off, where it is a projection: an estimate without history, from 2% of the working days ahead early to 10% and a day late, with the projected day the likely one.",
		"Deliveries to the line: an estimate without history, from 5% of the working days ahead early to 25% and two days late. Those who wait for one supplier share its luck in half of the runs.",
	)
	if l.All {
		list = list[:len(l.Says):len(l.Says)]
	}
	return append(list,
		"Stages take from their least to their most hours, by the estimates of the route (PERT), and an hour more than is likely is made up by staying on. Visits and drives take as long as planned, and no test is failed.",
		"Work keeps the order of the plan in force and does not begin before its planned time, except in the place of work that is late.")
}
