package plant

// The house defaults. All of them are data to edit in a plant file; none is "the
// requirement": contract, adopted edition, local authority and the builder's own
// certified procedure decide.

// DefaultParts returns the parts of the day: morning and afternoon.
func DefaultParts() []Part {
	return []Part{{ID: "morning", From: 0}, {ID: "afternoon", From: 11 * 60}}
}

// DefaultDepartments returns the departments of the default route, all on the
// calendar "plant".
func DefaultDepartments() []Department {
	return []Department{
		{ID: "delivery", Name: "Delivery", Calendar: "plant"},
		{ID: "electrical", Name: "Electrical test", Calendar: "plant"},
		{ID: "graphics", Name: "Graphics", Calendar: "plant"},
		{ID: "office", Name: "Order office", Calendar: "plant"},
		{ID: "paint", Name: "Paint", Calendar: "plant"},
		{ID: "quality", Name: "Quality", Calendar: "plant"},
		{ID: "showroom", Name: "Showroom", Calendar: "plant"},
		{ID: "testing", Name: "Pump and road test", Calendar: "plant"},
	}
}

// DefaultPrices returns the weights inside the tiers. Breaking a confirmed visit
// costs more than moving it any distance at short notice. The planning rate of a
// drive-away (400-500 miles a day) is common practice, no source; a delegation of
// 2-3 is advised and 5 is the most that is not called bad practice [FA-TRIPS],
// [FH-P7].
func DefaultPrices() Prices {
	return Prices{
		FrozenPerHead:      1,
		BrokenPerHead:      60,
		MovedPerHead:       10,
		MovedPerHeadDay:    1,
		MovedDaysCap:       15,
		ShortNoticeDays:    21,
		ShortNoticeFactor:  2,
		DeadlineMissed:     1,
		LateDay:            1,
		TentativePerHead:   2,
		WeekdayMissed:      1,
		DisturbedStage:     5,
		WaitDay:            1,
		DriveMilesPerDay:   450,
		DelegationWarnOver: 5,
	}
}

// DefaultBuffer returns the readiness rule: certificates in hand two full
// working days before the customer comes, visits placed two weeks ahead at the
// least. Common practice, no source.
func DefaultBuffer() Buffer {
	return Buffer{ReadyWorkDays: 2, NoticeDays: 14, NearDays: 14, WaitCapDays: 10}
}

// DefaultNotice returns the notice ladder, furthest rung first. The days are
// common practice; they rest on 30 days preferred and one week at the least for
// witnesses [PUMP-HB] and on weeks of approval for public travel [HAMMOND],
// [LAPORTE].
func DefaultNotice() []Notice {
	return []Notice{
		{ID: "window", Name: "Window named to the month", DaysBefore: 90},
		{ID: "week", Name: "Week named", DaysBefore: 45},
		{ID: "tentative", Name: "Day held for the customer", DaysBefore: 30},
		{ID: "confirmed", Name: "Day agreed, travel may be bought", DaysBefore: 21},
		{ID: "roster", Name: "Names and sizes of the delegation known", DaysBefore: 10},
		{ID: "frozen", Name: "Travel bought, the day stands", DaysBefore: 7},
		{ID: "go_no_go", Name: "Last call", DaysBefore: 3},
	}
}

// DefaultMeasures returns the price list. Its figures are invented, to be replaced by
// the plant's own; no source. Payment of damages has no price of its own: the contract
// says what a day costs.
func DefaultMeasures() []Measure {
	list := []Measure{
		{ID: "saturday", Kind: SaturdayShift, Name: "Saturday shift", Dollars: 1800},
		{ID: "driver", Kind: ExtraHeads, Name: "Extra driver day", PerDay: 550},
		{ID: "graphics-bay", Kind: HiredBay, Name: "Hired graphics bay", BayKind: "graphics", Days: 5, PerDay: 400},
		{ID: "ask", Kind: AskCustomer, Name: "Ask the customer to move its visit", Dollars: 200, PerHead: 150},
		{ID: "short-buffer", Kind: ShorterBuffer, Name: "Shorter readiness buffer", Approver: "Head of quality", WorkDays: 1, Dollars: 300},
		{ID: "fly-later", Kind: FlyLater, Name: "Fly the delegation later", Days: 3, PerDay: 100, PerHead: 400},
		{ID: "damages", Kind: PayDamages, Name: "Deliver later and pay damages", Days: 10},
	}
	for i := range list {
		m := &list[i]
		m.Heads, m.Days = max(m.Heads, standardMeasureHeads), max(m.Days, standardMeasureDays)
		m.LeadDays, m.Weeks = standardLeadDays, standardWeeks
	}
	return list
}

// DefaultWishes returns what a delegation may ask to do inside its visit:
// taking the truck on the road and pumping it. A road run of 60-120 minutes is
// common practice, no source.
func DefaultWishes() []Wish {
	return []Wish{
		{
			ID: "drive", Name: "Drive it", Department: "testing", Minutes: 90, Bay: "test_drive",
			Crews: []Need{{"test_drivers", 1}},
		},
		{
			ID: "pump", Name: "Pump it", Department: "testing", Minutes: 90, Bay: "pump_test",
			Crews: []Need{{"pump_operators", 1}}, Needs: []string{"pump"},
		},
	}
}
