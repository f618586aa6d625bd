package sheet

import "wetdown/solver/plant"

type truck = plant.Truck

// truckTable is the table of trucks. Their overruns, feeders, and what is done or
// under way do not stand in it.
func truckTable(p *plant.Plant) *table[truck] {
	return &table[truck]{
		kind: Trucks, noun: "truck",
		columns: []column[truck]{
			needed(id("truck", "id", func(t *truck) *string { return &t.ID }, "id", "truck number", "truck no", "shop order", "shop order number", "shop order no", "order", "order number", "job", "job number", "job no", "unit")),
			needed(customer(p)),
			needed(id("kind", "kind", func(t *truck) *string { return &t.Kind }, "type", "truck kind", "truck type", "apparatus", "apparatus type")),
			needed(word("content", "content", func(t *truck) *string { return &t.Content }, contents, "work content", "complexity", "size")),
			needed(feet("length_ft", "length_ft", func(t *truck) *float64 { return &t.LengthFt }, "length", "length over all", "overall length", "oal")),
			needed(feet("height_ft", "height_ft", func(t *truck) *float64 { return &t.HeightFt }, "height", "overall height", "travel height")),
			whole("flow_gpm", "flow_gpm", func(t *truck) *int { return &t.FlowGPM }, 0, "flow", "gpm", "pump", "pump flow", "pump gpm", "rated flow", "rated pump flow"),
			ids("options", "options", func(t *truck) *[]string { return &t.Options }, "option", "equipment"),
			id("graphics", "graphics", func(t *truck) *string { return &t.Graphics }, "graphics package", "striping", "lettering"),
			needed(day("due", "contract.due", func(t *truck) *date { return &t.Contract.Due }, "due date", "delivery", "delivery date", "contract", "contract date", "contract due", "contract delivery", "contract delivery date")),
			whole("damages_dollars_per_day", "contract.damages_dollars_per_day", func(t *truck) *int { return &t.Contract.DamagesPerDay }, 0, "damages", "damages per day", "damages day", "liquidated damages", "liquidated damages per day", "ld", "lds", "ld per day", "penalty per day"),
			whole("damages_cap_dollars", "contract.damages_cap_dollars", func(t *truck) *int { return &t.Contract.DamagesCap }, 0, "damages cap", "ld cap", "cap", "most damages"),
			day("deadline", "contract.deadline", func(t *truck) *date { return &t.Contract.Deadline }, "hard deadline", "grant deadline", "grant lapses", "grant expires"),
			whole("weight", "contract.weight", func(t *truck) *int { return &t.Contract.Weight }, 1, "late weight"),
			readyDays(),
			text("ready_approver", "ready.approver", func(t *truck) *string { return &t.Ready.Approver }, "buffer approved by"),
			id("station", "line.station", func(t *truck) *string { return &t.Line.Station }, "at station", "line station"),
			day("since", "line.since", func(t *truck) *date { return &t.Line.Since }, "at station since", "entered station"),
			day("line_off", "line.line_off", func(t *truck) *date { return &t.Line.Off }, "line off date", "actual line off", "came off the line", "off line"),
			day("enters", "line.enters", func(t *truck) *date { return &t.Line.Enters }, "enters line", "enters the line", "line entry", "line start"),
		},
		fresh: func() truck {
			t := truck{}
			t.Contract.Due, t.Contract.Deadline, t.Contract.Weight = none, none, 1
			t.Line.Since, t.Line.Off, t.Line.Enters = none, none, none
			return t
		},
		match: func(row *truck, _ func(string) bool, _ []bool) int {
			return indexOf(p.Trucks, row.ID, func(t *truck) string { return t.ID })
		},
		name:  func(t *truck) string { return t.ID },
		place: func(t *truck) string { return "trucks[" + t.ID + "]" },
	}
}

var contents = []string{plant.Light, plant.Medium, plant.Heavy}

// customer is the column of a truck's customer, by id, or by its name if only one
// has it.
func customer(p *plant.Plant) column[truck] {
	c := id("customer", "customer", func(t *truck) *string { return &t.Customer }, "customer id", "customer name", "department", "fire department", "buyer", "purchaser")
	c.read = func(from cell, _ layout) (string, trouble) {
		s := idOf(from)
		if s == "" || p.FindCustomer(s) != nil {
			return s, trouble{}
		}
		var found, names []string
		for i := range p.Customers {
			names = append(names, p.Customers[i].ID, p.Customers[i].Name)
			if plain(p.Customers[i].Name) == plain(s) {
				found = append(found, p.Customers[i].ID)
			}
		}
		switch len(found) {
		case 1:
			return found[0], trouble{}
		case 0:
			next := "write the id of a customer of the plant, or add the customer first"
			if near := plant.Nearest(s, names); near != "" {
				next = "write " + near + " if that is meant"
			}
			return "", trouble{cause: "there is no customer " + short(s), next: next}
		}
		return "", trouble{cause: count(len(found), "customer") + " are called " + short(s), next: "write the id: " + found[0] + " or " + found[1]}
	}
	return c
}

// readyDays is the column of the days of a shorter readiness buffer, which mean
// something with an approver only.
func readyDays() column[truck] {
	c := whole("ready_work_days", "ready.work_days", func(t *truck) *int { return &t.Ready.WorkDays }, 0, "ready days", "buffer days", "readiness buffer")
	return column[truck]{
		name: c.name, field: c.field, also: c.also, as: asNumber,
		get: func(t *truck) string {
			if t.Ready == (plant.Ready{}) {
				return ""
			}
			return c.get(t)
		},
		set: c.set,
		read: func(from cell, l layout) (string, trouble) {
			if from.text == "" {
				return "", trouble{}
			}
			return c.read(from, l)
		},
	}
}

// indexOf returns the index of the element of that name, -1 if there is none.
func indexOf[T any](list []T, name string, of func(*T) string) int {
	for i := range list {
		if of(&list[i]) == name {
			return i
		}
	}
	return -1
}
