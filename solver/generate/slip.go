package generate

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// slips invents what has just happened: a late truck, and one more for every
// hundred trucks, a pump bay down, a host away; and where the plant has a case for
// it a failed test, a stage that overran, a customer who cannot come.
func slips(p *plant.Plant, r *rand.Rand) []plant.Slip {
	var list []plant.Slip
	add := func(s plant.Slip) {
		s.ID = fmt.Sprintf("S%d", len(list)+1)
		s.Known = asOf.Date()
		if s.Over == (plant.Range{}) {
			s.Over = plant.Range{From: calendar.None, Through: calendar.None}
		}
		list = append(list, s)
	}
	line, err := p.Project()
	if err != nil {
		panic(err) // the plant of this package
	}
	var soon []string
	for _, t := range p.Trucks {
		if off := line.LineOff(t.ID); t.Line.Off == calendar.None && off <= asOf.Date()+14 {
			soon = append(soon, t.ID)
		}
	}
	r.Shuffle(len(soon), func(i, k int) { soon[i], soon[k] = soon[k], soon[i] })
	for _, id := range soon[:min(len(soon), 1+len(p.Trucks)/100)] {
		add(plant.Slip{Kind: plant.LineOffMoved, Truck: id, Days: between(r, 2, 5), Cause: "parts", Clock: "supplier"})
	}
	near := func(days int) plant.Range {
		from := asOf.Date() + calendar.Date(between(r, 1, 3))
		return plant.Range{From: from, Through: from.AddDays(days - 1)}
	}
	if i := slices.IndexFunc(p.Bays, func(b plant.Bay) bool { return slices.Contains(b.Kinds, "pump_test") }); i >= 0 {
		add(plant.Slip{Kind: plant.BayDown, Bay: p.Bays[i].ID, Over: near(2), Cause: "pit pump", Clock: "plant"})
	}
	add(plant.Slip{Kind: plant.CrewAway, Crew: "hosts", Heads: 1, Over: near(3), Cause: "illness", Clock: "plant"})
	if t, stage := failed(p); t != "" {
		add(plant.Slip{Kind: plant.TestFailed, Truck: t, Stage: stage, Cause: "workmanship", Clock: "plant"})
	}
	if t, stage := underWay(p); t != "" {
		add(plant.Slip{Kind: plant.StageOverran, Truck: t, Stage: stage, Minutes: 60 * between(r, 3, 8), Cause: "rework", Clock: "plant"})
	}
	for i := range p.Visits {
		v := &p.Visits[i]
		days := v.Booking.Day - asOf.Date()
		if v.Kind == plant.FinalInspection && v.Booking.State == plant.Confirmed && !p.Frozen(v) && days <= 30 {
			add(plant.Slip{Kind: plant.CustomerMoves, Visit: v.ID, Over: plant.Range{From: v.Booking.Day, Through: v.Booking.Day + 1},
				Cause: "council meeting", Clock: "customer"})
			break
		}
	}
	return list
}

// failed finds a certifying test that is done while the release check is still to
// come: one of the longest, the last one finished.
func failed(p *plant.Plant) (truck, stage string) {
	longest, latest := 0, calendar.NoMoment
	for i := range p.Trucks {
		t := &p.Trucks[i]
		begun := slices.ContainsFunc(t.Done, func(d plant.Done) bool { return d.Stage == "release_check" }) ||
			slices.ContainsFunc(t.Running, func(r plant.Running) bool { return r.Stage == "release_check" })
		if begun {
			continue
		}
		for _, d := range t.Done {
			s := p.FindStage(d.Stage)
			m := p.StageMinutes(t, s)
			if s.Certifies && (m > longest || m == longest && d.Ended > latest) {
				longest, latest, truck, stage = m, d.Ended, t.ID, s.ID
			}
		}
	}
	return truck, stage
}

// underWay finds running work in a graphics bay, or any with hours.
func underWay(p *plant.Plant) (truck, stage string) {
	for _, t := range p.Trucks {
		for _, r := range t.Running {
			s := p.FindStage(r.Stage)
			if s.Length == plant.LengthHours && (s.Bay == "graphics" || truck == "") {
				truck, stage = t.ID, s.ID
			}
		}
	}
	return truck, stage
}
