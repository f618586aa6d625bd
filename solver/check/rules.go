package check

// A Rule is a hard rule: a plan that breaks one is refused.
type Rule struct {
	Name     string
	Sentence string // for people

	judge func(*hearing)
}

// Rules lists every rule, in the order in which violations are listed.
var Rules = []Rule{
	{"complete", "Every open stage of every truck, and every wish of a visit that takes place, is in the plan exactly once, and nothing else is.", complete},
	{"release", "No work starts before now, nor on or before the day the truck comes off the line; a stage at a station of the line lies within the days the truck stands there.", release},
	{"hours", "Work starts at the first working minute of a part of the day in which the stage may start, holds its bay from the line-up before it, and ends when its working time is over.", hours},
	{"crossing", "A stage runs over the end of a shift, a weekend or a closure only where it may.", crossing},
	{"route", "A stage starts after its predecessors, with the waits between them.", route},
	{"place", "A truck is in one place at a time.", place},
	{"bay", "A bay holds one truck at a time.", bay},
	{"able", "The bay is of the kind the stage needs and takes the truck's length, height and rated flow, and the truck has every feature that the bay needs; a stage that needs no bay has none.", able},
	{"closed", "No truck stands in a bay on a day on which the bay is closed.", closed},
	{"crew", "In every part of the day, the heads that the stages at work need of a crew are at most the heads it has.", crew},
	{"customer", "Every day of a visit lies in one of the customer's windows, and no day of it, nor of the travel before and after, is a blackout or closed by the customer's calendar.", customer},
	{"floor", "A truck takes the floor on the plant's working day before the visit or later.", floor},
	{"readiness", "Between the day of the last certificate and the first day of a final inspection lie the full working days of the readiness buffer.", readiness},
	{"started", "Running work is in the plan as it runs: same start, same bay, the remaining time.", started},
	{"standing", "A truck that stands ready in a bay for a stage has that stage there.", standing},
	{"frozen", "A frozen visit stays on its day or is declared broken; it is never moved.", frozen},
	{"notice", "A visit is not placed on, or moved to, a day nearer than the notice that customers are given, unless that is its booked day.", notice},
	{"declared", "Every requested, tentative or confirmed visit has exactly one row, and its outcome, day and bay are what the stages say.", declared},
	{"wish", "The work of a wish lies inside the visit, and two wishes of one visit do not share a part of the day.", wish},
	{"horizon", "Everything lies within the horizon.", horizon},
}
