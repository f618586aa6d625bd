package plant

import (
	"slices"

	"wetdown/calendar"
)

// Work contents. They choose durations and the final lane of the line.
const (
	Light  = "light"
	Medium = "medium"
	Heavy  = "heavy"
)

// A Truck is one shop order.
type Truck struct {
	ID       string // shop order number
	Customer string
	Kind     string   // pumper, aerial, tanker, rescue ...
	Content  string   // Light, Medium or Heavy
	LengthFt float64  // over all
	HeightFt float64  // as driven
	FlowGPM  int      // rated pump flow, 0 without pump
	Options  []string // aerial, foam, generator, breathing_air ...
	Graphics string   // package: stripes, lettering, custom, gold_leaf
	Contract Contract
	Ready    Ready
	Reserved Reserved // of an order to come
	Line     Place
	Done     []Done
	Running  []Running
	Standing Standing  // the zero value: it stands ready for nothing
	Overruns []Overrun // coming stages of this truck that need longer than the route says
}

// Contract is what was promised about the delivery of one truck.
type Contract struct {
	Due           calendar.Date
	DamagesPerDay int           // dollars per calendar day late
	DamagesCap    int           // dollars, 0: no cap
	Deadline      calendar.Date // day a grant lapses; calendar.None: none
	Weight        int           // weight of a late day, at least 1
}

// Ready is a shorter readiness buffer for one truck. Without an Approver there is
// none, and the plant's holds.
type Ready struct {
	WorkDays int
	Approver string // role of who has approved it
}

// Reserved says that the truck holds its place for an order that is not placed yet. The
// plant plans for it as for any other.
type Reserved struct {
	Until calendar.Date // last day on which it does
	For   string        // for whom, or by which quote; "" and no day: it is ordered
}

func (r Reserved) set() bool { return r.For != "" || r.Until != calendar.None && r.Until != 0 }

// A Place is where a truck stands on the line as of now.
type Place struct {
	Station   string        // id of the station it stands at; "" when it is past the line or not yet on it
	Since     calendar.Date // day it entered the station
	Off       calendar.Date // day it came off the line, calendar.None while on it
	Enters    calendar.Date // day it is due to enter the first station, for a truck not yet on the line
	Feeders   []Feeder
	Overrides []Override // dated line-off projections by people, the history; the newest wins
}

// A Feeder is a chassis, cab, painted body or pump that a station must wait for.
type Feeder struct {
	Name     string
	Station  string
	Expected calendar.Date
}

// An Override is a line-off day set by a person.
type Override struct {
	On     calendar.Date // day it was said
	Off    calendar.Date // the line-off day it states
	By     string        // role of who said it
	Reason string
	Cause  string // cause code
}

// Done is a stage finished before now.
type Done struct {
	Stage string
	Ended calendar.Moment
}

// Running is a stage under way now. It holds its bay and goes on.
type Running struct {
	Stage            string
	Started          calendar.Moment
	Bay              string
	RemainingMinutes int // working minutes still needed after AsOf; -1: by the estimate from Started
}

// Standing says that the truck stands in a bay, lined up for a stage that has not begun
// and holds its bay before it starts (Stage.HoldBefore). The stage takes place there: its
// hold may lie before now. A truck that leaves stands ready for nothing any more.
type Standing struct {
	Stage string // "": none
	Bay   string
}

// An Overrun lengthens one stage of one truck that has not begun; see
// Plant.StageMinutes. Several for one stage add up. Work that runs says what is
// left of it in Running instead.
type Overrun struct {
	Stage   string
	Minutes int // working minutes; negative for a stage that needs less
}

// Features returns, sorted, what stages and wishes can ask of the truck: its
// kind, its options, its graphics package, and "pump" when it has one.
func (t *Truck) Features() []string {
	f := append([]string{t.Kind}, t.Options...)
	if t.Graphics != "" {
		f = append(f, t.Graphics)
	}
	if t.FlowGPM > 0 {
		f = append(f, "pump")
	}
	slices.Sort(f)
	return slices.Compact(f)
}

// Has reports whether the truck has every feature in needs.
func (t *Truck) Has(needs []string) bool {
	f := t.Features()
	for _, n := range needs {
		if _, ok := slices.BinarySearch(f, n); !ok {
			return false
		}
	}
	return true
}

// Takes reports whether the bay can be used as kind for the truck: long, high
// and strong enough, and for such trucks at all. Closures are another matter.
func (b *Bay) Takes(kind string, t *Truck) bool {
	return slices.Contains(b.Kinds, kind) &&
		(b.MaxLengthFt == 0 || t.LengthFt <= b.MaxLengthFt) &&
		(b.MaxHeightFt == 0 || t.HeightFt <= b.MaxHeightFt) &&
		(b.MaxFlowGPM == 0 || t.FlowGPM <= b.MaxFlowGPM) &&
		(len(b.Needs) == 0 || t.Has(b.Needs))
}
