package plant

import "testing"

func TestApplies(t *testing.T) {
	p := &Plant{Route: DefaultRoute()}
	truck := &Truck{ID: "T1", Kind: "pumper", FlowGPM: 1500, Options: []string{"foam"}, Graphics: "stripes"}
	aerial := &Truck{ID: "T2", Kind: "aerial", Options: []string{"generator"}, Graphics: "gold_leaf"}
	p.Visits = []Visit{
		{ID: "V1", Truck: "T1", Kind: FinalInspection, Booking: Booking{State: Tentative}},
		{ID: "V2", Truck: "T1", Kind: PrePaint, Booking: Booking{State: Held}},
		{ID: "V3", Truck: "T2", Kind: FinalInspection, Booking: Booking{State: Cancelled}},
		{ID: "V4", Truck: "T2", Kind: FinalInspection, Booking: Booking{State: Requested}},
	}
	for _, c := range []struct {
		truck *Truck
		stage string
		want  bool
	}{
		{truck, "weigh", true},
		{truck, "pump_test", true},
		{truck, "foam_test", true},
		{truck, "aerial_test", false},
		{truck, "gold_leaf", false},
		{truck, "final_inspection", true},
		{truck, "pre_paint", false}, // held already
		{truck, "re_inspection", false},
		{aerial, "pump_test", false},
		{aerial, "aerial_test", true},
		{aerial, "line_voltage", true},
		{aerial, "gold_leaf", true},
		{aerial, "final_inspection", true}, // cancelled once, requested again
	} {
		if got := p.Applies(c.truck, p.FindStage(c.stage)); got != c.want {
			t.Errorf("%s %s: applies %v, want %v", c.truck.ID, c.stage, got, c.want)
		}
	}
	if v := p.VisitOf(aerial, FinalInspection); v == nil || v.ID != "V4" {
		t.Errorf("the visit of T2 is %v, want V4", v)
	}
}

func TestStageMinutes(t *testing.T) {
	s := &Stage{ID: "s", Length: LengthHours, Hours: ByContent{hours(1, 2, 3), hours(2, 3, 4), hours(3, 4, 5)},
		Extra: []Extra{{"foam", 30}, {"pump", 15}, {"gold_leaf", 500}}}
	for _, c := range []struct {
		name  string
		truck Truck
		want  int
	}{
		{"light", Truck{Content: Light}, 120},
		{"medium", Truck{Content: Medium}, 180},
		{"heavy with foam and a pump", Truck{Content: Heavy, Options: []string{"foam"}, FlowGPM: 500}, 285},
		{"overruns add up", Truck{Content: Light, Overruns: []Overrun{{"s", 20}, {"other", 99}, {"s", 5}}}, 145},
		{"never less than a minute", Truck{Content: Light, Overruns: []Overrun{{"s", -500}}}, 1},
	} {
		if got := (&Plant{}).StageMinutes(&c.truck, s); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
	if got := (&Plant{}).StageMinutes(&Truck{}, &Stage{Length: LengthVisit}); got != 0 {
		t.Errorf("a visit has %d minutes of its own, want 0", got)
	}
}

// Miles over the daily rate, rounded up, at least a day: 450 miles a day are a
// planning rate of common practice, no source.
func TestDriveDays(t *testing.T) {
	p := &Plant{Prices: DefaultPrices(), Customers: []Customer{{ID: "C", Miles: 0}}}
	for miles, want := range map[int]int{0: 1, 1: 1, 450: 1, 451: 2, 900: 2, 1000: 3} {
		p.Customers[0].Miles = miles
		if got := p.DriveDays(&Truck{Customer: "C"}); got != want {
			t.Errorf("%d miles: %d days, want %d", miles, got, want)
		}
	}
	if got := p.DriveDays(&Truck{Customer: "nobody"}); got != 1 {
		t.Errorf("unknown customer: %d days, want 1", got)
	}
}
