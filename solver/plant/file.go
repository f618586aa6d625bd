package plant

import (
	"reflect"
	"strconv"

	"wetdown/calendar"
)

// The words that a plant file allows.
var (
	contents      = []string{Light, Medium, Heavy}
	lengths       = []string{LengthHours, LengthVisit, LengthDrive}
	crossings     = []string{CrossShift, CrossWeekend, CrossClosure}
	marks         = []string{"V", "M", "P", "D"}
	visitKinds    = []string{PrePaint, GraphicsLayout, FinalInspection, ReInspection}
	bookingStates = []string{Requested, Tentative, Confirmed, Held, Cancelled, NoShow}
	measureKinds  = []string{SaturdayShift, ExtraHeads, HiredBay, AskCustomer, ShorterBuffer, FlyLater, PayDamages}
	slipKinds     = []string{LineOffMoved, StageOverran, TestFailed, BayDown, CrewAway, CustomerMoves}
	clocks        = []string{"plant", "supplier", "customer"}
	statuses      = []string{string(Optimal), string(Feasible), string(Infeasible), string(Unknown)}
	outcomes      = []string{Kept, Moved, Placed, Broken}
)

// Bounds of numbers: beyond them a figure is a slip of the pen.
const (
	maxHeads   = 1000
	maxDays    = 3660
	maxDollars = 100_000_000
	maxPrice   = 1_000_000
	maxMiles   = 20_000
	maxFlowGPM = 10_000
	maxLongFt  = 200
	maxHighFt  = 30
)

// plantKeys says which keys a plant file has.
func plantKeys(f form, p *Plant) {
	f.put("wetdown", asWhole(&p.Format, FormatVersion, FormatVersion), need, "Version of the file format.")
	f.put("name", asText(&p.Name), need, "Name of the plant, for people.")
	f.put("zone", asText(&p.Zone), need, "IANA time zone of the plant, such as America/Chicago.")
	f.put("as_of", asMoment(&p.AsOf), need, "The moment the file speaks of. Nothing new is planned before it.")
	section(f, "horizon", true, need, "First and last day that may be planned.", func() { rangeKeys(f, &p.Horizon) })
	standardList(f, "parts", &p.Parts, DefaultParts(), "Parts of the day, in order; the first begins at 00:00. Work starts at the first working minute of a part. Absent: morning, and afternoon from 11:00.", partKeys)
	f.put("calendar", asRef(&p.Calendar, aCalendar), need, "Calendar of the plant, by which it counts working days.")
	list(f, "calendars", "", &p.Calendars, need, "Working time.", calendarKeys)
	standardList(f, "departments", &p.Departments, DefaultDepartments(), "Departments, each with its calendar. Absent: those of the standard route, all on the calendar plant.", departmentKeys)
	list(f, "bays", "", &p.Bays, free, "Places that hold one truck at a time.", bayKeys)
	list(f, "crews", "", &p.Crews, free, "People, or shared gear, counted by head.", crewKeys)
	standardList(f, "route", &p.Route, DefaultRoute(), "Stages after line-off, each after those it needs. Absent: the standard route.", stageKeys)
	standardList(f, "wishes", &p.Wishes, DefaultWishes(), "What a delegation may ask to do inside its visit. Absent: drive and pump.", wishKeys)
	section(f, "line", true, free, "What comes before line-off.", func() { lineKeys(f, p) })
	standardList(f, "notice", &p.Notice, DefaultNotice(), "Notice ladder, furthest rung first. Absent: the standard ladder.", noticeKeys)
	section(f, "prices", true, free, "Weights inside the tiers of the score. Each key that is absent has its standard value.", func() { priceKeys(f, &p.Prices) })
	section(f, "buffer", true, free, "Readiness rule. Each key that is absent has its standard value.", func() { bufferKeys(f, &p.Buffer) })
	standardList(f, "measures", &p.Measures, DefaultMeasures(), "Price list: what can be done when a promise is in danger, and what it costs. Absent: the standard list.", measureKeys)
	list(f, "customers", "", &p.Customers, free, "Fire departments that buy trucks.", customerKeys)
	list(f, "trucks", "", &p.Trucks, free, "Shop orders.", truckKeys)
	list(f, "visits", "", &p.Visits, free, "Delegations that come to see a truck.", visitKeys)
	list(f, "slips", "", &p.Slips, free, "What has happened and a new plan must answer.", slipKeys)
	if !f.standard("plan", p.Plan == nil) {
		plan := p.Plan
		section(f, "plan", plan != nil, free, "The plan in force.", func() {
			if plan == nil {
				plan = &Plan{}
				p.Plan = plan
			}
			planKeys(f, plan)
		})
	}
}

// standardList describes a list whose absence means a standard list.
func standardList[T any](f form, name string, v *[]T, standard []T, doc string, keys func(form, *T)) {
	same := reflect.DeepEqual(*v, standard)
	if f.standard(name, same) {
		if !same {
			*v = standard
		}
		return
	}
	list(f, name, "", v, presence{empty: true}, doc, keys)
}

func rangeKeys(f form, r *Range) {
	spanKeys(f, &r.From, &r.Through)
	f.put("reason", asText(&r.Reason), free, "Why, for people.")
}

func spanKeys(f form, from, through *calendar.Date) {
	f.put("from", asDate(from), need, "First day.")
	f.put("through", asDate(through), need, "Last day, itself included.")
}

func partKeys(f form, p *Part) {
	f.put("id", asID(&p.ID), need, "Name of the part, such as morning.")
	f.put("from", asClock(&p.From), need, "Clock time at which it begins.")
}

func calendarKeys(f form, c *Calendar) {
	r := &c.Rules
	f.put("id", asID(&c.ID), need, "Name of the calendar.")
	f.put("pattern", asPattern(&r.Week), free, "A week by its name. Days under week replace those of the pattern.")
	section(f, "week", asPattern(&r.Week).format() == "", free, "Shifts by day of the week; a day without shifts is a day of rest.", func() {
		for i := range r.Week {
			d := (i + 1) % 7 // Monday first
			values(f, weekdayNames[d], &r.Week[d], free, "Shifts that begin on this day, such as 07:00-15:30 break 11:00-11:30. Past midnight go on counting: 06:00 of the next day is 30:00.", asShift)
		}
	})
	list(f, "holidays", "set", &r.Holidays, free, "Sets of holidays.", func(f form, h *calendar.HolidaySet) {
		f.put("set", asWord(&h.Set, calendar.HolidaySets()), need, "Name of the set, such as us-federal.")
		values(f, "add", &h.Add, free, "Holidays to add, by name, such as friday-after-thanksgiving.", asID)
		values(f, "drop", &h.Drop, free, "Holidays on which there is work all the same, by name.", asID)
	})
	list(f, "closures", "", &r.Closures, free, "Runs of days without work.", func(f form, c *calendar.Closure) {
		spanKeys(f, &c.From, &c.Through)
		f.put("reason", asText(&c.Reason), free, "Why, for people.")
	})
	list(f, "overtime", "", &r.Overtime, free, "Shifts on one day beside those of its weekday.", func(f form, o *calendar.Overtime) {
		f.put("day", asDate(&o.Day), need, "The day.")
		values(f, "shifts", &o.Shifts, need, "Shifts on that day.", asShift)
		f.put("note", asText(&o.Note), free, "Why, for people.")
	})
}

func departmentKeys(f form, d *Department) {
	f.put("id", asID(&d.ID), need, "Name of the department in the file.")
	f.put("name", asText(&d.Name), free, "Name for people.")
	f.put("calendar", asRef(&d.Calendar, aCalendar), need, "Calendar it works by.")
}

func bayKeys(f form, b *Bay) {
	f.put("id", asID(&b.ID), need, "Name of the bay in the file.")
	f.put("name", asText(&b.Name), free, "Name for people.")
	values(f, "kinds", &b.Kinds, need, "What it can be used as: floor, pump_test, test_drive, graphics, make_ready, aerial_pad ...", asID)
	f.put("max_length_ft", asFeet(&b.MaxLengthFt, 0, maxLongFt), or("0"), "Longest truck, in feet; 0: no limit.")
	f.put("max_height_ft", asFeet(&b.MaxHeightFt, 0, maxHighFt), or("0"), "Highest truck, in feet; 0: no limit.")
	f.put("max_flow_gpm", asWhole(&b.MaxFlowGPM, 0, maxFlowGPM), or("0"), "Largest rated pump flow, in gallons a minute; 0: no limit.")
	values(f, "needs", &b.Needs, free, "Features a truck must have, all of them, to stand in it: its kind, options, graphics package, or pump. With an option for each of several halls, the hall's own trucks.", asID)
	list(f, "closures", "", &b.Closures, free, "Days on which no truck may stand in it.", rangeKeys)
}

func crewKeys(f form, c *Crew) {
	f.put("id", asID(&c.ID), need, "Name of the crew in the file.")
	f.put("name", asText(&c.Name), free, "Name for people.")
	f.put("calendar", asRef(&c.Calendar, aCalendar), need, "Calendar it works by.")
	f.put("heads", asWhole(&c.Size, 0, maxHeads), need, "Heads on a working day.")
	list(f, "days", "", &c.Days, free, "Days with another number of heads.", func(f form, d *CrewChange) {
		spanKeys(f, &d.From, &d.Through)
		f.put("heads", asWhole(&d.Size, 0, maxHeads), need, "Heads on these days.")
		f.put("reason", asText(&d.Reason), free, "Why, for people.")
	})
}

func stageKeys(f form, s *Stage) {
	f.put("id", asInnerID(&s.ID), need, "Name of the stage in the file.")
	f.put("name", asText(&s.Name), free, "Name for people.")
	f.put("department", asRef(&s.Department, aDepartment), need, "Department that does it.")
	f.put("length", asWord(&s.Length, lengths), or(LengthHours), "How its length is found: from hours, the visit's own halves, or days of drive.")
	h := &s.Hours
	f.estimate("hours", &h.Medium, Estimate{}, "Working hours: the likely value, or [least, likely, most].")
	f.estimate("light_hours", &h.Light, h.Medium, "Working hours for light work content. Absent: as hours.")
	f.estimate("heavy_hours", &h.Heavy, h.Medium, "Working hours for heavy work content. Absent: as hours.")
	list(f, "extra", "", &s.Extra, free, "Hours more for trucks with a feature.", func(f form, e *Extra) {
		f.put("feature", asID(&e.Feature), need, "Kind, option or graphics package of the truck, or pump.")
		f.put("hours", asHours(&e.Minutes, 0, maxMinutes), need, "Working hours more.")
	})
	f.put("bay", asID(&s.Bay), free, "Kind of bay that it holds from start to end. Absent: none.")
	list(f, "crews", "", &s.Crews, free, "Heads that it needs while it works.", needKeys)
	list(f, "after", "stage", &s.After, free, "Stages that come before it, with the waits between.", func(f form, a *After) {
		f.put("stage", asRef(&a.Stage, aStage), need, "The stage before.")
		f.put("min_work_hours", asHours(&a.MinWorkMinutes, 0, maxMinutes), or("0"), "Least wait in working hours of this stage's department.")
		f.put("max_work_hours", asHours(&a.MaxWorkMinutes, 0, maxMinutes), or("0"), "Longest wait in working hours of this stage's department; 0: no limit.")
		f.put("min_elapsed_hours", asHours(&a.MinElapsedMinutes, 0, maxMinutes), or("0"), "Least wait in real time, nights and weekends included.")
		f.put("max_elapsed_hours", asHours(&a.MaxElapsedMinutes, 0, maxMinutes), or("0"), "Longest wait in real time; 0: no limit.")
	})
	values(f, "start_in", &s.StartIn, free, "Parts of the day in which it may start. Absent: any.", func(p *string) scalar { return asRef(p, aPart) })
	values(f, "crosses", &s.Crosses, free, "What it may run over: shift, weekend, closure. Absent: nothing.", func(p *string) scalar { return asWord(p, crossings) })
	values(f, "needs", &s.Needs, free, "Features a truck must have, all of them, for the stage to apply: its kind, options, graphics package, or pump.", asID)
	f.put("certifies", asBool(&s.Certifies), free, "Its end is a certificate from which the readiness buffer counts.")
	f.put("visit", asWord(&s.Visit, visitKinds), free, "Kind of visit that it is. Absent: work of the plant.")
	f.put("lasting", asBool(&s.Lasting), free, "What it made stays made: it is not repeated when a stage before it is.")
	f.put("delivers", asBool(&s.Delivers), free, "Its end is the delivery of the truck.")
	f.put("station", asID(&s.Station), free, "Station of the line at which it takes place. Absent: after line-off.")
	f.put("hold_before_parts", asWhole(&s.HoldBefore, 0, 100), or("0"), "Working parts of the day for which the bay is held before it starts.")
	f.put("mark", asWord(&s.Mark, marks), free, "How well its figures are founded: V seen in a source, M from memory, P common practice, D computed.")
}

func needKeys(f form, n *Need) {
	f.put("crew", asID(&n.Crew), need, "The crew.")
	f.put("heads", asWhole(&n.Heads, 1, maxHeads), need, "Heads of it.")
}

func wishKeys(f form, w *Wish) {
	f.put("id", asInnerID(&w.ID), need, "Name of the wish in the file.")
	f.put("name", asText(&w.Name), free, "Name for people.")
	f.put("department", asRef(&w.Department, aDepartment), need, "Department that does it.")
	f.put("hours", asHours(&w.Minutes, 1, maxMinutes), need, "Working hours inside the visit.")
	f.put("bay", asID(&w.Bay), free, "Kind of bay that it needs.")
	list(f, "crews", "", &w.Crews, free, "Heads that it needs.", needKeys)
	values(f, "needs", &w.Needs, free, "Features a truck must have, all of them.", asID)
	f.put("caution", asText(&w.Caution), free, "Ids of cautions to show beside those of its kind of work, with blanks between.")
}

func lineKeys(f form, p *Plant) {
	l := &p.Line
	f.put("calendar", asRef(&l.Calendar, aCalendar), like(p.Calendar), "Calendar that the line works by. Absent: the plant's.")
	list(f, "stations", "", &l.Stations, free, "Stations that every truck passes, in order.", func(f form, s *Station) {
		f.put("id", asID(&s.ID), need, "Name of the station in the file.")
		f.put("name", asText(&s.Name), free, "Name for people.")
		t := &s.Takt
		f.put("takt_hours", asHours(&t.MediumMinutes, 1, maxMinutes), need, "Working hours that a truck spends here.")
		f.put("light_takt_hours", asHours(&t.LightMinutes, 1, maxMinutes), like(formatHours(t.MediumMinutes)), "The same for light work content. Absent: as takt_hours.")
		f.put("heavy_takt_hours", asHours(&t.HeavyMinutes, 1, maxMinutes), like(formatHours(t.MediumMinutes)), "The same for heavy work content. Absent: as takt_hours.")
		f.put("lanes", asBool(&s.Lanes), free, "Light, medium and heavy trucks take separate lanes here.")
	})
	list(f, "free_slots", "", &l.FreeSlots, free, "Places on the line for orders not started.", func(f form, s *FreeSlot) {
		f.put("week", asDate(&s.Week), need, "Day on which the week begins.")
		f.put("content", asWord(&s.Content, contents), need, "Work content.")
		f.put("count", asWhole(&s.Count, 0, maxHeads), need, "Trucks that may enter the line in this week.")
	})
}

func noticeKeys(f form, n *Notice) {
	f.put("id", asID(&n.ID), need, "Name of the rung; the rung frozen says from when a confirmed visit is never moved.")
	f.put("name", asText(&n.Name), free, "Name for people.")
	f.put("days_before", asWhole(&n.DaysBefore, 0, maxDays), need, "Calendar days before the visit.")
}

func priceKeys(f form, p *Prices) {
	d := DefaultPrices()
	put := func(name string, v *int, standard, least int, doc string) {
		f.put(name, asWhole(v, least, maxPrice), or(strconv.Itoa(standard)), doc)
	}
	put("frozen_per_head", &p.FrozenPerHead, d.FrozenPerHead, 0, "Per head of a frozen visit that is broken.")
	put("broken_per_head", &p.BrokenPerHead, d.BrokenPerHead, 0, "Per head of any other visit that is held on no day.")
	put("moved_per_head", &p.MovedPerHead, d.MovedPerHead, 0, "Per head of a confirmed visit moved to another day.")
	put("moved_per_head_day", &p.MovedPerHeadDay, d.MovedPerHeadDay, 0, "More per head and calendar day of distance.")
	put("moved_days_cap", &p.MovedDaysCap, d.MovedDaysCap, 0, "Days of distance that count at the most.")
	put("short_notice_days", &p.ShortNoticeDays, d.ShortNoticeDays, 0, "A confirmed visit this near or nearer counts short_notice_factor times.")
	put("short_notice_factor", &p.ShortNoticeFactor, d.ShortNoticeFactor, 1, "See short_notice_days.")
	put("deadline_missed", &p.DeadlineMissed, d.DeadlineMissed, 0, "Per truck delivered after its hard deadline.")
	put("late_day", &p.LateDay, d.LateDay, 0, "Per calendar day of delivery after the contract date, times the weight of the truck.")
	put("tentative_per_head", &p.TentativePerHead, d.TentativePerHead, 0, "Per head of a tentative visit moved to another day.")
	put("weekday_missed", &p.WeekdayMissed, d.WeekdayMissed, 0, "Per visit placed or moved off the customer's preferred weekdays.")
	put("disturbed_stage", &p.DisturbedStage, d.DisturbedStage, 0, "Per near stage that starts at another time than in the plan before.")
	put("wait_day", &p.WaitDay, d.WaitDay, 0, "Per calendar day between a visit and the start of delivery.")
	put("drive_miles_per_day", &p.DriveMilesPerDay, d.DriveMilesPerDay, 1, "Miles a day that a delivery is driven.")
	put("delegation_warn_over", &p.DelegationWarnOver, d.DelegationWarnOver, 0, "Heads above which a visit draws a warning.")
}

func bufferKeys(f form, b *Buffer) {
	d := DefaultBuffer()
	put := func(name string, v *int, standard int, doc string) {
		f.put(name, asWhole(v, 0, maxDays), or(strconv.Itoa(standard)), doc)
	}
	put("ready_work_days", &b.ReadyWorkDays, d.ReadyWorkDays, "Full working days between the last certificate and the first day of a final inspection.")
	put("notice_days", &b.NoticeDays, d.NoticeDays, "A visit is never placed or moved nearer to as_of than so many calendar days.")
	put("near_days", &b.NearDays, d.NearDays, "Calendar days from as_of in which planned work counts as near.")
	put("wait_cap_days", &b.WaitCapDays, d.WaitCapDays, "Days of waiting per truck that count at the most.")
}

func measureKeys(f form, m *Measure) {
	f.put("id", asID(&m.ID), need, "Name of the measure in the file.")
	f.put("kind", asWord(&m.Kind, measureKinds), need, "What is done.")
	f.put("name", asText(&m.Name), free, "Name for people. Absent: that of the kind.")
	f.put("department", asRef(&m.Department, aDepartment), free, "The department: for saturday_shift. Absent: every department that works on trucks by the hour, or drives them.")
	f.put("crew", asRef(&m.Crew, aCrew), free, "The crew: for extra_heads. Absent: the crews that drive trucks to their customers.")
	f.put("bay_kind", asID(&m.BayKind), free, "What the bay can be used as: for hired_bay.")
	f.put("customer", asRef(&m.Customer, aCustomer), free, "The customer: for ask_customer, fly_later. Absent: any.")
	f.put("approver", asText(&m.Approver), free, "Role of who must agree: for shorter_buffer.")
	f.put("work_days", asWhole(&m.WorkDays, 0, maxDays), or("0"), "Full working days between the last certificate and the visit that are left: for shorter_buffer.")
	f.put("heads", asWhole(&m.Heads, 1, maxHeads), or(strconv.Itoa(standardMeasureHeads)), "Heads more: for extra_heads.")
	f.put("days", asWhole(&m.Days, 1, 60), or(strconv.Itoa(standardMeasureDays)), "Calendar days that it lasts: for extra_heads, hired_bay. Days later at the most: for fly_later, pay_damages.")
	f.put("lead_days", asWhole(&m.LeadDays, 0, maxDays), or(strconv.Itoa(standardLeadDays)), "It begins at the earliest so many calendar days after as_of: for saturday_shift, extra_heads, hired_bay.")
	f.put("weeks", asWhole(&m.Weeks, 1, 26), or(strconv.Itoa(standardWeeks)), "It begins at the latest in so many weeks: for saturday_shift, extra_heads, hired_bay.")
	values(f, "shifts", &m.Shifts, free, "Shifts on the Saturday: for saturday_shift. Absent: the first shift of the department's last working day before.", asShift)
	put := func(name string, v *int, doc string) { f.put(name, asWhole(v, 0, maxDollars), or("0"), doc) }
	put("dollars", &m.Dollars, "What it costs to take it.")
	put("dollars_per_day", &m.PerDay, "More for each of its days.")
	put("dollars_per_head", &m.PerHead, "More for each head: of the delegation, or of those added.")
}

func customerKeys(f form, c *Customer) {
	f.put("id", asID(&c.ID), need, "Name of the customer in the file.")
	f.put("name", asText(&c.Name), need, "Name of the fire department.")
	f.put("town", asText(&c.Town), free, "Town it stands in.")
	f.put("calendar", asRef(&c.Calendar, aCalendar), free, "Calendar of its own holidays.")
	f.put("miles", asWhole(&c.Miles, 0, maxMiles), or("0"), "Road miles from the plant.")
}

func truckKeys(f form, t *Truck) {
	f.put("id", asID(&t.ID), need, "Shop order number.")
	f.put("customer", asRef(&t.Customer, aCustomer), need, "The customer that buys it.")
	builtKeys(f, t)
	section(f, "contract", true, need, "What was promised about its delivery.", func() {
		c := &t.Contract
		f.put("due", asDate(&c.Due), need, "Contract delivery day.")
		f.put("damages_dollars_per_day", asWhole(&c.DamagesPerDay, 0, maxDollars), or("0"), "Liquidated damages per calendar day late.")
		f.put("damages_cap_dollars", asWhole(&c.DamagesCap, 0, maxDollars), or("0"), "Most damages; 0: no cap.")
		f.put("deadline", asDate(&c.Deadline), free, "Day on which a grant lapses.")
		f.put("weight", asWhole(&c.Weight, 1, maxPrice), or("1"), "Weight of a late day.")
	})
	section(f, "ready", t.Ready != Ready{}, free, "A shorter readiness buffer for this truck, that somebody has approved. Absent: the plant's.", func() {
		f.put("work_days", asWhole(&t.Ready.WorkDays, 0, maxDays), need, "Full working days between the last certificate and the first day of a final inspection.")
		f.put("approver", asText(&t.Ready.Approver), need, "Role of who has approved it.")
	})
	section(f, "reserved", t.Reserved.set(), free, "It is not ordered yet, and holds its place until a day. Absent: it is ordered.", func() {
		f.put("until", asDate(&t.Reserved.Until), need, "Last day on which it holds its place.")
		f.put("for", asText(&t.Reserved.For), need, "For whom, or by which quote.")
	})
	section(f, "line", true, free, "Where it stands on the line as of now.", func() { lineOffKeys(f, &t.Line) })
	list(f, "done", "", &t.Done, free, "Stages finished before now.", func(f form, d *Done) {
		f.put("stage", asRef(&d.Stage, aStage), need, "The stage.")
		f.put("ended", asMoment(&d.Ended), need, "When it ended.")
	})
	list(f, "running", "", &t.Running, free, "Stages under way now.", func(f form, r *Running) {
		f.put("stage", asRef(&r.Stage, aStage), need, "The stage.")
		f.put("started", asMoment(&r.Started), need, "When it started.")
		f.put("bay", asRef(&r.Bay, aBay), free, "The bay it holds.")
		f.put("remaining_hours", asRemaining(&r.RemainingMinutes), free, "Working hours still needed after as_of. Absent: by the estimate from the start.")
	})
	section(f, "standing", t.Standing != Standing{}, free, "The bay in which it stands lined up now, for a stage that has not begun.", func() {
		f.put("stage", asRef(&t.Standing.Stage, aStage), need, "The stage.")
		f.put("bay", asRef(&t.Standing.Bay, aBay), need, "The bay.")
	})
	list(f, "overruns", "", &t.Overruns, free, "Coming stages of this truck that need longer than the route says.", func(f form, o *Overrun) {
		f.put("stage", asRef(&o.Stage, aStage), need, "The stage.")
		f.put("hours", asHours(&o.Minutes, -maxMinutes, maxMinutes), need, "Working hours more; negative for less.")
	})
}

// builtKeys describes what a truck is.
func builtKeys(f form, t *Truck) {
	f.put("kind", asID(&t.Kind), need, "Kind of truck: pumper, aerial, tanker, rescue ...")
	f.put("content", asWord(&t.Content, contents), need, "Work content.")
	f.put("length_ft", asFeet(&t.LengthFt, 1, maxLongFt), need, "Length over all, in feet.")
	f.put("height_ft", asFeet(&t.HeightFt, 1, maxHighFt), need, "Height as driven, in feet.")
	f.put("flow_gpm", asWhole(&t.FlowGPM, 0, maxFlowGPM), or("0"), "Rated pump flow in gallons a minute; 0: no pump.")
	values(f, "options", &t.Options, free, "Options: aerial, foam, generator, breathing_air ...", asID)
	f.put("graphics", asID(&t.Graphics), free, "Graphics package: stripes, lettering, custom, gold_leaf.")
}

func lineOffKeys(f form, l *Place) {
	f.put("station", asRef(&l.Station, aStation), free, "Station it stands at. Absent: past the line, or not yet on it.")
	f.put("since", asDate(&l.Since), free, "Day on which it entered the station.")
	f.put("line_off", asDate(&l.Off), free, "Day on which it came off the line.")
	f.put("enters", asDate(&l.Enters), free, "Day on which it is due to enter the first station.")
	list(f, "feeders", "", &l.Feeders, free, "What a station must wait for.", func(f form, v *Feeder) {
		f.put("name", asText(&v.Name), need, "Chassis, cab, painted body, pump ...")
		f.put("station", asRef(&v.Station, aStation), need, "Station that waits for it.")
		f.put("expected", asDate(&v.Expected), need, "Day on which it is expected.")
	})
	list(f, "overrides", "", &l.Overrides, free, "Line-off days stated by people, oldest first; the newest counts.", func(f form, o *Override) {
		f.put("said", asDate(&o.On), need, "Day on which it was said.")
		f.put("line_off", asDate(&o.Off), need, "The line-off day stated.")
		f.put("by", asText(&o.By), free, "Role of who said it.")
		f.put("reason", asText(&o.Reason), free, "Why, for people.")
		f.put("cause", asText(&o.Cause), free, "Cause code.")
	})
}

func visitKeys(f form, v *Visit) {
	f.put("id", asID(&v.ID), need, "Name of the visit in the file.")
	f.put("truck", asRef(&v.Truck, aTruck), need, "The truck they come to see.")
	f.put("kind", asWord(&v.Kind, visitKinds), need, "Kind of visit.")
	f.put("heads", asWhole(&v.Heads, 1, maxHeads), need, "People in the delegation.")
	f.put("halves", asWhole(&v.Halves, 1, 100), need, "Length in working parts of the day: half days.")
	list(f, "windows", "", &v.Windows, need, "Days on which the customer can come.", rangeKeys)
	list(f, "blackouts", "", &v.Blackouts, free, "Days on which neither visit nor travel may fall.", rangeKeys)
	values(f, "weekdays", &v.Weekdays, free, "Preferred days of the week to start. Absent: any.", asWeekday)
	f.put("travel_days", asWhole(&v.TravelDays, 0, 30), or("0"), "Days of travel before and after.")
	values(f, "wishes", &v.Wishes, free, "What they want to do: drive, pump.", func(p *string) scalar { return asRef(p, aWish) })
	section(f, "booking", true, free, "What was agreed about the day.", func() {
		b := &v.Booking
		f.put("state", asWord(&b.State, bookingStates), or(Requested), "State of the booking.")
		f.put("day", asDate(&b.Day), free, "First day of the visit. Absent: none agreed.")
		f.put("hold_until", asDate(&b.HoldUntil), free, "Last day on which a tentative day is held.")
		f.put("travel_bought", asBool(&b.TravelBought), free, "The customer has bought travel: the visit is frozen.")
	})
}

func slipKeys(f form, s *Slip) {
	f.put("id", asID(&s.ID), need, "Name of the slip in the file.")
	f.put("kind", asWord(&s.Kind, slipKinds), need, "What happened.")
	f.put("truck", asRef(&s.Truck, aTruck), free, "The truck: for line_off_moved, stage_overran, test_failed.")
	f.put("stage", asRef(&s.Stage, aStage), free, "The stage: for stage_overran, test_failed.")
	f.put("bay", asRef(&s.Bay, aBay), free, "The bay: for bay_down.")
	f.put("crew", asRef(&s.Crew, aCrew), free, "The crew: for crew_away.")
	f.put("visit", asRef(&s.Visit, aVisit), free, "The visit: for customer_moves.")
	f.put("work_days", asWhole(&s.Days, -maxDays, maxDays), or("0"), "Working days of the line by which line-off is later, negative: earlier.")
	f.put("hours", asHours(&s.Minutes, -maxMinutes, maxMinutes), or("0"), "Working hours that the stage needs more.")
	f.put("heads", asWhole(&s.Heads, 0, maxHeads), or("0"), "Heads that are missing.")
	section(f, "over", true, free, "The days: for bay_down, crew_away, customer_moves.", func() {
		f.put("from", asDate(&s.Over.From), free, "First day.")
		f.put("through", asDate(&s.Over.Through), free, "Last day, itself included.")
		f.put("reason", asText(&s.Over.Reason), free, "Why, for people.")
	})
	f.put("known", asDate(&s.Known), free, "Day since which it is known.")
	f.put("cause", asText(&s.Cause), free, "Cause code.")
	f.put("clock", asWord(&s.Clock, clocks), free, "Whose clock runs.")
}

func planKeys(f form, p *Plan) {
	f.put("revision", asWhole(&p.Revision, 1, 1_000_000_000), need, "Number of the plan.")
	f.put("plant", asText(&p.Plant), need, "Name of the plant for which it was made.")
	f.put("made", asMoment(&p.Made), free, "When it was made.")
	f.put("program", asText(&p.Program), free, "Version of the program that made it.")
	f.put("seed", asWhole(&p.Seed, 0, 1<<64-1), or("0"), "Seed of random choices.")
	f.put("status", asWord((*string)(&p.Status), statuses), need, "What is known of the plan.")
	list(f, "tiers", "", &p.Tiers, free, "Value and proven bound in each tier, in order.", func(f form, t *TierValue) {
		f.put("name", asWord(&t.Name, TierNames), need, "The tier.")
		f.put("value", asWhole(&t.Value, 0, 1<<62), need, "Value of the plan.")
		f.put("bound", asWhole(&t.Bound, 0, 1<<62), need, "Proven lower bound.")
	})
	list(f, "stages", "", &p.Stages, free, "Every open stage of every truck, sorted by truck, start, stage.", func(f form, s *Planned) {
		f.put("truck", asRef(&s.Truck, aTruck), need, "The truck.")
		f.put("stage", asID(&s.Stage), need, "The stage; for a wish inside a visit: stage, point, wish.")
		f.put("start", asMoment(&s.Start), need, "First working minute.")
		f.put("end", asMoment(&s.End), need, "End of work, exclusive.")
		f.put("hold", asMoment(&s.Hold), like(momentText(s.Start)), "When the bay is taken. Absent: at the start.")
		f.put("bay", asRef(&s.Bay, aBay), free, "The bay. Absent: none.")
	})
	list(f, "visits", "", &p.Visits, free, "Outcome of every visit.", func(f form, v *PlannedVisit) {
		f.put("visit", asRef(&v.Visit, aVisit), need, "The visit.")
		f.put("outcome", asWord(&v.Outcome, outcomes), need, "What the plan makes of it.")
		f.put("day", asDate(&v.Day), free, "First day of the visit. Absent: broken.")
		f.put("bay", asRef(&v.Bay, aBay), free, "Where the truck stands.")
	})
}
