package plant

// hours makes an estimate from hours.
func hours(min, likely, max float64) Estimate {
	return Estimate{int(min * 60), int(likely * 60), int(max * 60)}
}

// same gives every work content one estimate.
func same(e Estimate) ByContent { return ByContent{e, e, e} }

// DefaultRoute returns the stages of a truck, in an order in which each comes
// after what it needs. It is data: a plant edits it.
//
// Three branches run side by side after line-off: weigh, burnish, road test
// (weight before burnish before any measured stop); low voltage, line voltage,
// breathing air; pump certification, foam, aerial (foam and the aerial water run
// come after the pump certificate). They meet in the release check, about one
// working day before graphics. Then graphics, gold leaf, make-ready about one
// day before the customer arrives, the inspection, corrections, re-check, papers
// and the drive. Working hours by default; waits for paint, film and leaf are
// elapsed.
//
// The mark of a stage tells how well its duration is founded; a fixed core that
// was seen in a source is named beside it.
func DefaultRoute() []Stage {
	const (
		hour = 60
		day  = 24 * hour // elapsed
		work = 8 * hour  // a working day
	)
	shift := []string{CrossShift}
	overWeekend := []string{CrossShift, CrossWeekend}
	anything := []string{CrossShift, CrossWeekend, CrossClosure}
	morning := []string{"morning"}
	after := func(stages ...string) (list []After) {
		for _, s := range stages {
			list = append(list, After{Stage: s})
		}
		return list
	}
	return []Stage{
		{
			// On the line, once the body is mounted and before paint; half a day to a day.
			ID: "pre_paint", Name: "Pre-paint visit", Department: "showroom", Length: LengthVisit, Visit: PrePaint,
			Station: "body", Crews: []Need{{"hosts", 1}}, Crosses: shift, Mark: "P",
		},

		{
			ID: "weigh", Name: "Weigh", Department: "testing", Length: LengthHours, Hours: same(hours(1, 1, 2)),
			Bay: "scale", Crews: []Need{{"test_drivers", 1}}, Certifies: true, Mark: "P",
		},
		{
			// 500 snubs from 40 to 20 mph, about a mile apart (from memory); may be split over days.
			ID: "burnish", Name: "Brake burnish", Department: "testing", Length: LengthHours, Hours: same(hours(4, 6, 8)),
			Bay: "test_drive", Crews: []Need{{"test_drivers", 1}}, After: after("weigh"), Crosses: shift, Mark: "P",
		},
		{
			// Acceleration, top speed, service brake and parking brake [SPEC-P12], [BRAIN-P3].
			ID: "road_test", Name: "Road, brake and parking test", Department: "testing", Length: LengthHours, Hours: same(hours(2, 3, 4)),
			Bay: "test_drive", Crews: []Need{{"test_drivers", 1}}, After: after("burnish"), Certifies: true, Mark: "P",
		},

		{
			// Reserve, idle, full load, alarm in this order [KREM-TOC]; full load 120 minutes unbroken.
			ID: "low_voltage", Name: "Low-voltage electrical test", Department: "electrical", Length: LengthHours, Hours: same(hours(4, 5, 8)),
			Bay: "electrical", Crews: []Need{{"electricians", 1}}, StartIn: morning, Mark: "P",
		},
		{
			// Source at full rated power for 120 minutes [LV17], then dielectric.
			ID: "line_voltage", Name: "Line-voltage test", Department: "electrical", Length: LengthHours, Hours: same(hours(3, 3.5, 5)),
			Bay: "electrical", Crews: []Need{{"electricians", 1}}, After: after("low_voltage"), Needs: []string{"generator"}, Certifies: true, Mark: "P",
		},
		{
			ID: "breathing_air", Name: "Breathing-air system test", Department: "electrical", Length: LengthHours, Hours: same(hours(4, 6, 8)),
			Bay: "air_test", Crews: []Need{{"electricians", 1}}, After: after("line_voltage"), StartIn: morning, Needs: []string{"breathing_air"}, Mark: "P",
		},

		{
			// The runs are unbroken: one shift, one bay, a witness. See PumpTest.
			ID: "pump_test", Name: "Pump certification", Department: "testing", Length: LengthHours,
			Hours: same(Estimate{300, PumpBayMinutes(SmallPumpGPM), 480}),
			Bay:   "pump_test", Crews: []Need{{"pump_operators", 1}, {"witnesses", 1}}, StartIn: morning, Needs: []string{"pump"}, Certifies: true, Mark: "D",
		},
		{
			ID: "foam_test", Name: "Foam proportioner test", Department: "testing", Length: LengthHours, Hours: same(hours(1, 1.5, 3)),
			Bay: "pump_test", Crews: []Need{{"pump_operators", 1}}, After: after("pump_test"), Needs: []string{"foam"}, Mark: "P",
		},
		{
			ID: "aerial_test", Name: "Aerial tests", Department: "testing", Length: LengthHours, Hours: same(hours(8, 12, 20)),
			Bay: "aerial_pad", Crews: []Need{{"pump_operators", 1}, {"witnesses", 1}}, After: after("foam_test"), StartIn: morning, Crosses: shift,
			Needs: []string{"aerial"}, Certifies: true, Mark: "P",
		},

		{
			// Nicks from final assembly, for trucks on which some were found.
			ID: "touch_up", Name: "Paint touch-up", Department: "paint", Length: LengthHours, Hours: same(hours(1, 3, 6)),
			Bay: "paint", Crews: []Need{{"painters", 1}}, Needs: []string{"touch_up"}, Lasting: true, Mark: "P",
		},
		{
			ID: "release_check", Name: "Release check", Department: "quality", Length: LengthHours, Hours: same(hours(6, 8, 16)),
			Bay: "release_check", Crews: []Need{{"inspectors", 1}}, Crosses: shift,
			After: after("road_test", "breathing_air", "aerial_test", "touch_up"), Mark: "P",
		},

		{
			ID: "graphics_layout", Name: "Graphics layout visit", Department: "graphics", Length: LengthVisit, Visit: GraphicsLayout,
			Bay: "graphics", Crews: []Need{{"artists", 1}}, After: after("release_check"), Crosses: shift, Mark: "P",
		},
		{
			// Stripes and chevron 16-24 h, letters and numbers 8-16 h more, all custom 24-40 h. Paint that is
			// not cured gives off gas and lifts the film [FILM]; 72 h after a baked touch-up.
			ID: "graphics", Name: "Graphics", Department: "graphics", Length: LengthHours,
			Hours: ByContent{Light: hours(12, 16, 24), Medium: hours(16, 20, 32), Heavy: hours(18, 24, 40)},
			Extra: []Extra{{"lettering", 8 * hour}, {"custom", 16 * hour}, {"gold_leaf", 8 * hour}},
			Bay:   "graphics", Crews: []Need{{"artists", 1}}, Crosses: anything, Lasting: true, Mark: "P",
			After: []After{{Stage: "graphics_layout"}, {Stage: "touch_up", MinElapsedMinutes: 3 * day}},
		},
		{
			// Size must be hard dry before anything covers it [LEAF]: 24-72 h (from memory), 48 h held after it.
			ID: "gold_leaf", Name: "Gold leaf", Department: "graphics", Length: LengthHours, Hours: same(hours(16, 32, 60)),
			Bay: "graphics", Crews: []Need{{"gilders", 1}}, After: after("graphics"), Crosses: overWeekend, Needs: []string{"gold_leaf"}, Lasting: true, Mark: "P",
		},

		{
			// Film is not washed for 24 h; the laboratory's written result on the air takes 3-10 working days.
			ID: "make_ready", Name: "Make-ready", Department: "quality", Length: LengthHours, Hours: same(hours(6, 8, 12)),
			Bay: "make_ready", Crews: []Need{{"detailers", 1}}, Crosses: shift, Mark: "P",
			After: []After{
				{Stage: "graphics", MinElapsedMinutes: 1 * day},
				{Stage: "gold_leaf", MinElapsedMinutes: 2 * day},
				{Stage: "breathing_air", MinWorkMinutes: 5 * work},
			},
		},
		{
			// The truck takes the floor half a day before. Make-ready does not keep longer than a working week.
			ID: "final_inspection", Name: "Final inspection visit", Department: "showroom", Length: LengthVisit, Visit: FinalInspection,
			Bay: "floor", Crews: []Need{{"hosts", 1}}, After: []After{{Stage: "make_ready", MaxWorkMinutes: 5 * work}},
			StartIn: morning, Crosses: shift, HoldBefore: 1, Mark: "P",
		},
		{
			ID: "corrections", Name: "Corrections", Department: "quality", Length: LengthHours, Hours: same(hours(8, 16, 40)),
			Bay: "correction", Crews: []Need{{"correctors", 1}}, After: after("final_inspection"), Crosses: anything, Lasting: true, Mark: "P",
		},
		{
			ID: "re_check", Name: "Re-check", Department: "quality", Length: LengthHours, Hours: same(hours(1, 2, 8)),
			Bay: "correction", Crews: []Need{{"inspectors", 1}}, After: after("corrections"), Mark: "P",
		},
		{
			ID: "re_inspection", Name: "Re-inspection visit", Department: "showroom", Length: LengthVisit, Visit: ReInspection,
			Bay: "floor", Crews: []Need{{"hosts", 1}}, After: after("re_check"), Crosses: shift, Mark: "P",
		},
		{
			ID: "papers", Name: "Papers and release", Department: "office", Length: LengthHours, Hours: same(hours(8, 16, 40)),
			Crews: []Need{{"clerks", 1}}, After: after("re_inspection"), Crosses: anything, Lasting: true, Mark: "P",
		},
		{
			ID: "delivery", Name: "Delivery", Department: "delivery", Length: LengthDrive,
			Crews: []Need{{"drivers", 1}}, After: after("papers"), StartIn: morning, Crosses: anything, Delivers: true, Mark: "P",
		},
	}
}
