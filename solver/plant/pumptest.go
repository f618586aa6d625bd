package plant

// A PumpElement is one step of the certification of a new pump, in the order in
// which the steps are done. Figures differ by edition: they are planning
// defaults, not the requirement.
type PumpElement struct {
	ID          string
	Name        string
	Minutes     int
	FlowPercent int    // of rated flow, 0 for a step without a pumping run
	NetPSI      int    // net pump pressure of the run, 0 for none
	Unbroken    bool   // starts again when interrupted
	Mark        string // see Stage.Mark
}

// SmallPumpGPM is the rated flow from which a pump gets the long run with an
// overload: the third-party threshold of about 750 gpm (2,800 L/min)
// [FB-GLOBAL], overload only above it [SVC-PAGE].
const SmallPumpGPM = 750

// PumpTest returns the elements of the certification for a rated flow. Sources:
// dry vacuum, the four runs and their minutes [FE-UL2]; the names of the rest
// [CH16]; setting up, controls and tearing down are common practice, no source.
// The 50-minute run for smaller pumps is from memory.
func PumpTest(gpm int) []PumpElement {
	runs := []PumpElement{
		{"capacity", "Rated flow at 150 psi", 120, 100, 150, true, "V"},
		{"overload", "Overload, rated flow at 165 psi", 10, 100, 165, true, "V"},
		{"flow_70", "70 % of rated flow at 200 psi", 30, 70, 200, true, "V"},
		{"flow_50", "50 % of rated flow at 250 psi", 30, 50, 250, true, "V"},
	}
	if gpm < SmallPumpGPM {
		runs = []PumpElement{
			{"capacity", "Rated flow at 150 psi", 30, 100, 150, true, "M"},
			{"flow_70", "70 % of rated flow at 200 psi", 10, 70, 200, true, "M"},
			{"flow_50", "50 % of rated flow at 250 psi", 10, 50, 250, true, "M"},
		}
	}
	list := []PumpElement{
		{ID: "set_up", Name: "Set up: hoses, gauges, load", Minutes: 60, Mark: "P"},
		{ID: "vacuum_prime", Name: "Hydrostatic, dry vacuum and priming", Minutes: 20, Mark: "P"},
	}
	list = append(list, runs...)
	return append(list,
		PumpElement{ID: "controls", Name: "Pressure control, three points", Minutes: 15, Mark: "P"},
		PumpElement{ID: "tank_to_pump", Name: "Tank to pump, tank, interlocks and gauges", Minutes: 25, Mark: "P"},
		PumpElement{ID: "tear_down", Name: "Tear down", Minutes: 30, Mark: "P"},
	)
}

// PumpingMinutes returns the minutes of the pumping runs: 190 for 750 gpm and
// over, 50 for smaller pumps.
func PumpingMinutes(gpm int) int {
	m := 0
	for _, e := range PumpTest(gpm) {
		if e.FlowPercent > 0 {
			m += e.Minutes
		}
	}
	return m
}

// PumpBayMinutes returns the minutes for which the certification needs its bay:
// 340 for 750 gpm and over.
func PumpBayMinutes(gpm int) int {
	m := 0
	for _, e := range PumpTest(gpm) {
		m += e.Minutes
	}
	return m
}

// PumpedGallons returns the water that goes through the pump in the runs.
func PumpedGallons(gpm int) int {
	percent := 0
	for _, e := range PumpTest(gpm) {
		percent += e.FlowPercent * e.Minutes
	}
	return gpm * percent / 100
}

// WaterHorsepower returns the power put into the water: flow times net pressure
// over 1714.
func WaterHorsepower(gpm, netPSI int) float64 { return float64(gpm) * float64(netPSI) / 1714 }

// PitRise returns by how many degrees Fahrenheit the runs warm a pit of so many
// gallons, at worst: pump efficiency 65 %, all shaft power stays in the water.
// One horsepower is 2544.43 Btu an hour; a gallon of water weighs 8.33 lb.
func PitRise(gpm, gallons int) float64 {
	btu := 0.0
	for _, e := range PumpTest(gpm) {
		if e.FlowPercent > 0 {
			shaft := WaterHorsepower(gpm*e.FlowPercent/100, e.NetPSI) / 0.65
			btu += shaft * 2544.43 * float64(e.Minutes) / 60
		}
	}
	return btu / (8.33 * float64(gallons))
}
