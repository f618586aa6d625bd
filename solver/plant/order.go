package plant

import "wetdown/calendar"

// An Order is a truck that might be ordered, with the visit that its customer
// would make.
type Order struct {
	Customer Customer // one that the plant does not know yet; without an ID: the truck names one that it knows
	Truck    Truck    // nothing is promised of it: its contract is the end of the horizon
	Visit    Visit    // without an ID: no visit
}

// With returns the plant with the order's customer among its own.
func (o *Order) With(p *Plant) *Plant {
	if o.Customer.ID == "" {
		return p
	}
	with := *p
	with.Customers = append(p.Customers[:len(p.Customers):len(p.Customers)], o.Customer)
	return &with
}

// orderKeys says which keys an order file has. format is its version.
func orderKeys(f form, format *int, o *Order) {
	f.put("wetdown", asWhole(format, FormatVersion, FormatVersion), need, "Version of the file format.")
	section(f, "customer", true, free, "A customer that the plant file does not know.", func() { customerKeys(f, &o.Customer) })
	section(f, "truck", true, need, "The truck.", func() {
		t := &o.Truck
		f.put("id", asID(&t.ID), or("would-be"), "What to call it.")
		f.put("customer", asRef(&t.Customer, aCustomer), or(o.Customer.ID), "A customer of the plant file. Absent: the one above.")
		builtKeys(f, t)
		f.put("enters", asDate(&t.Line.Enters), free, "Day on which it enters the line. Absent: the first free place on the line.")
	})
	section(f, "visit", true, free, "The visit that its customer would make. Absent: none.", func() {
		v := &o.Visit
		f.put("kind", asWord(&v.Kind, visitKinds), or(FinalInspection), "Kind of visit.")
		f.put("heads", asWhole(&v.Heads, 1, maxHeads), need, "People in the delegation.")
		f.put("halves", asWhole(&v.Halves, 1, 100), need, "Length in working parts of the day: half days.")
		list(f, "windows", "", &v.Windows, free, "Days on which the customer can come. Absent: any.", rangeKeys)
		list(f, "blackouts", "", &v.Blackouts, free, "Days on which neither visit nor travel may fall.", rangeKeys)
		f.put("travel_days", asWhole(&v.TravelDays, 0, 30), or("0"), "Days of travel before and after.")
		values(f, "wishes", &v.Wishes, free, "What they want to do: drive, pump.", func(p *string) scalar { return asRef(p, aWish) })
	})
}

// ReadOrder reads the file of an order for the plant, in the manner of Read.
func ReadOrder(name string, data []byte, p *Plant) (*Order, []Fault) {
	o, faults := readOrder(data, p)
	if len(faults) == 0 {
		return o, nil
	}
	return nil, inFile(name, faults)
}

func readOrder(data []byte, p *Plant) (*Order, []Fault) {
	r, faults := begin(data)
	if r == nil {
		return nil, faults
	}
	o, format := &Order{}, 0
	orderKeys(r, &format, o)
	r.close()
	o.complete(p)
	// The plant with the order in it must be as right as any other plant; the
	// places of what is wrong are those of the order file.
	for _, v := range validate(o.in(p), len(r.faults) == 0) {
		at, ours := inOrder(v.at, p)
		if !ours || r.spoils(at) {
			continue
		}
		v.at = at
		r.faults = append(r.faults, v.in(r.root))
	}
	return o, r.faults
}

// in returns the plant with all of the order in it.
func (o *Order) in(p *Plant) *Plant {
	with := *o.With(p)
	with.Trucks = append(p.Trucks[:len(p.Trucks):len(p.Trucks)], o.Truck)
	t := &with.Trucks[len(p.Trucks)]
	if t.Line.Enters == calendar.None {
		t.Line.Enters = p.AsOf.Date()
	}
	if o.Visit.ID != "" {
		with.Visits = append(p.Visits[:len(p.Visits):len(p.Visits)], o.Visit)
	}
	return &with
}

// complete fills in what an order file does not say.
func (o *Order) complete(p *Plant) {
	t := &o.Truck
	t.Contract = Contract{Due: p.Horizon.Through, Deadline: calendar.None, Weight: 1}
	t.Line.Since, t.Line.Off = calendar.None, calendar.None
	if v := &o.Visit; v.Heads != 0 || v.Halves != 0 || v.TravelDays != 0 || len(v.Wishes)+len(v.Windows)+len(v.Blackouts) > 0 { // it is there
		v.ID, v.Truck = t.ID+"-visit", t.ID
		v.Booking = Booking{State: Requested, Day: calendar.None, HoldUntil: calendar.None}
		if len(v.Windows) == 0 {
			v.Windows = []Range{{From: p.AsOf.Date(), Through: p.Horizon.Through}}
		}
	}
}

// inOrder turns a place in the plant with the order in it to one in the order
// file; false when it is not about the order.
func inOrder(at place, p *Plant) (place, bool) {
	if len(at) < 2 {
		return nil, false
	}
	for _, part := range []struct {
		list string
		had  int
		key  string
	}{{"customers", len(p.Customers), "customer"}, {"trucks", len(p.Trucks), "truck"}, {"visits", len(p.Visits), "visit"}} {
		if at[0].key == part.list && at[1].key == "" && at[1].index == part.had {
			return append(place{key(part.key)}, at[2:]...), true
		}
	}
	return nil, false
}
