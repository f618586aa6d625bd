package plant

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"wetdown/calendar"
)

func day(s string) calendar.Date {
	d, err := calendar.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func moment(s string) calendar.Moment {
	m, err := calendar.ParseMoment(s)
	if err != nil {
		panic(err)
	}
	return m
}

// linePlant is a line of two stations on a week of five days of 480 minutes,
// Monday 1 March 2027, 06:00: a frame station for all, a body station with lanes.
func linePlant(trucks ...Truck) *Plant {
	week, err := calendar.Pattern("5x8")
	if err != nil {
		panic(err)
	}
	return &Plant{
		Zone:        "America/Chicago",
		AsOf:        moment("2027-03-01T06:00"),
		Horizon:     Range{From: day("2027-03-01"), Through: day("2027-06-30")},
		Parts:       DefaultParts(),
		Calendar:    "plant",
		Calendars:   []Calendar{{ID: "plant", Rules: calendar.Rules{Week: week}}},
		Departments: DefaultDepartments(),
		Route:       DefaultRoute(),
		Prices:      DefaultPrices(),
		Line: Line{Calendar: "plant", Stations: []Station{
			{ID: "frame", Takt: Takt{240, 480, 960}},
			{ID: "body", Takt: Takt{480, 960, 1440}, Lanes: true},
		}},
		Trucks: trucks,
	}
}

// at is a truck at a station since a day; coming one that enters on a day.
func at(id, content, station, since string) Truck {
	return Truck{ID: id, Content: content, Line: Place{Station: station, Since: day(since), Off: calendar.None, Enters: calendar.None}}
}

func coming(id, content, enters string) Truck {
	return Truck{ID: id, Content: content, Line: Place{Enters: day(enters), Off: calendar.None, Since: calendar.None}}
}

// Every want is worked out by hand from takts of 240, 480, 960 minutes (frame)
// and 480, 960, 1440 (body) and days of 480.
func TestLineOff(t *testing.T) {
	feeder := func(tr Truck, station, expected string) Truck {
		tr.Line.Feeders = append(tr.Line.Feeders, Feeder{Name: "cab", Station: station, Expected: day(expected)})
		return tr
	}
	override := func(tr Truck, on, off string) Truck {
		tr.Line.Overrides = append(tr.Line.Overrides, Override{On: day(on), Off: day(off)})
		return tr
	}
	off := at("T1", Medium, "", "2027-02-01")
	off.Line = Place{Off: day("2027-02-19"), Since: calendar.None, Enters: calendar.None}
	for _, c := range []struct {
		name   string
		trucks []Truck
		want   string // line-off days in the order of the trucks
	}{
		{"off already", []Truck{off}, "2027-02-19"},
		{"a light body takes its one day", []Truck{at("T1", Light, "body", "2027-03-01")}, "2027-03-01"},
		{"two of two days, entered on Friday", []Truck{at("T1", Medium, "body", "2027-02-26")}, "2027-03-01"},
		{"overdue in the last station: today", []Truck{at("T1", Light, "body", "2027-02-22")}, "2027-03-01"},
		{"overdue in the first: two days of body from now", []Truck{at("T1", Medium, "frame", "2027-02-22")}, "2027-03-02"},
		{"half a day of frame, then a day of body ends on Tuesday noon", []Truck{at("T1", Light, "frame", "2027-03-01")}, "2027-03-02"},
		{"not yet on the line: two days frame, three days body, over a weekend", []Truck{coming("T1", Heavy, "2027-03-04")}, "2027-03-10"},
		{"the day of entry is past: from now", []Truck{coming("T1", Light, "2027-02-01")}, "2027-03-02"},
		{"one lane: a takt behind the truck in front",
			[]Truck{at("T1", Medium, "body", "2027-03-01"), at("T2", Medium, "frame", "2027-03-01")}, "2027-03-02 2027-03-04"},
		{"another lane: nothing to wait for",
			[]Truck{at("T1", Heavy, "body", "2027-03-01"), at("T2", Medium, "frame", "2027-03-01")}, "2027-03-03 2027-03-03"},
		{"in a frame for all, the first to enter goes first",
			[]Truck{coming("T1", Medium, "2027-03-03"), coming("T2", Light, "2027-03-02")}, "2027-03-05 2027-03-03"},
		{"same day: the lower number first, half a day of frame between them",
			[]Truck{coming("T2", Light, "2027-03-02"), coming("T1", Light, "2027-03-02")}, "2027-03-04 2027-03-03"},
		{"a feeder holds the body", []Truck{feeder(at("T1", Light, "frame", "2027-03-01"), "body", "2027-03-09")}, "2027-03-09"},
		{"a feeder of the station it stands at", []Truck{feeder(at("T1", Medium, "body", "2027-02-25"), "body", "2027-03-02")}, "2027-03-03"},
		{"a feeder of a station behind it", []Truck{feeder(at("T1", Light, "body", "2027-03-01"), "frame", "2027-03-20")}, "2027-03-01"},
		{"a feeder on a Saturday counts from Monday", []Truck{feeder(at("T1", Light, "frame", "2027-03-01"), "body", "2027-03-06")}, "2027-03-08"},
		{"who waits for a feeder lets another pass",
			[]Truck{feeder(at("T1", Light, "frame", "2027-02-26"), "body", "2027-03-08"), coming("T2", Light, "2027-03-01")}, "2027-03-08 2027-03-02"},
		{"an override wins", []Truck{override(at("T1", Light, "frame", "2027-03-01"), "2027-02-20", "2027-03-12")}, "2027-03-12"},
		{"of two overrides the newest day wins, wherever it stands",
			[]Truck{override(override(at("T1", Light, "frame", "2027-03-01"), "2027-02-21", "2027-03-15"), "2027-02-20", "2027-03-12")}, "2027-03-15"},
		{"of two on one day the later in the list",
			[]Truck{override(override(at("T1", Light, "frame", "2027-03-01"), "2027-02-21", "2027-03-15"), "2027-02-21", "2027-03-12")}, "2027-03-12"},
		{"an override cannot state the past", []Truck{override(at("T1", Light, "frame", "2027-03-01"), "2027-02-20", "2027-02-25")}, "2027-03-01"},
		{"an override moves nobody else",
			[]Truck{override(at("T1", Medium, "body", "2027-03-01"), "2027-02-28", "2027-03-31"), at("T2", Medium, "frame", "2027-03-01")}, "2027-03-31 2027-03-04"},
	} {
		t.Run(c.name, func(t *testing.T) {
			j, err := linePlant(c.trucks...).Project()
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, tr := range c.trucks {
				got = append(got, j.LineOff(tr.ID).String())
			}
			if g := strings.Join(got, " "); g != c.want {
				t.Errorf("line-off %s, want %s", g, c.want)
			}
		})
	}
	if j, _ := linePlant().Project(); j.LineOff("nobody") != calendar.None {
		t.Error("an unknown truck has a line-off day")
	}
}

func TestStay(t *testing.T) {
	moved := coming("T4", Medium, "2027-03-08")
	moved.Line.Overrides = []Override{{On: day("2027-02-20"), Off: day("2027-03-15")}} // the line says Wednesday 10
	p := linePlant(
		at("T1", Medium, "body", "2027-02-26"),
		at("T2", Light, "frame", "2027-03-01"),
		coming("T3", Heavy, "2027-03-04"),
		moved,
	)
	j, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ truck, station, want string }{
		{"T1", "frame", "gone"},
		{"T1", "body", "2027-02-26 2027-03-01"},
		{"T2", "frame", "2027-03-01 2027-03-01"},
		{"T2", "body", "2027-03-01 2027-03-02"}, // from Monday noon to Tuesday noon
		{"T3", "frame", "2027-03-04 2027-03-05"},
		{"T3", "body", "2027-03-08 2027-03-10"},
		{"T4", "frame", "2027-03-11 2027-03-11"}, // three working days after the 8th
		{"T4", "body", "2027-03-12 2027-03-15"},
		{"T9", "body", "gone"},
	} {
		got := "gone"
		if r, ok := j.Stay(c.truck, c.station); ok {
			got = fmt.Sprint(r.From, " ", r.Through)
		}
		if got != c.want {
			t.Errorf("%s at %s: %s, want %s", c.truck, c.station, got, c.want)
		}
	}
}

// A would-be order takes the room that is left and moves nobody.
func TestEnter(t *testing.T) {
	p := linePlant(coming("T1", Medium, "2027-03-08"), coming("T2", Medium, "2027-03-10"))
	j, err := p.Project()
	if err != nil {
		t.Fatal(err)
	}
	// Frame: T1 on the 8th, T2 on the 10th. Body: T1 9-10, T2 11-12, next free 15.
	for _, c := range []struct{ content, week, want string }{
		{Medium, "2027-03-08", "2027-03-16"}, // frame on the 9th, body 15-16
		{Light, "2027-03-08", "2027-03-10"},  // frame on the 9th to noon, body from then
		{Medium, "2027-03-01", "2027-03-03"}, // ahead of both
	} {
		for range 2 {
			got, err := j.Enter(c.content, day(c.week))
			if err != nil || got.String() != c.want {
				t.Errorf("%s entering %s: %v %v, want %s", c.content, c.week, got, err, c.want)
			}
		}
	}
}

func TestProjectRefuses(t *testing.T) {
	nowhere := coming("T1", Light, "2027-03-01")
	nowhere.Line.Enters = calendar.None
	lost := at("T1", Light, "attic", "2027-03-01")
	undated := at("T1", Light, "body", "2027-03-01")
	undated.Line.Since = calendar.None
	late := coming("T1", Light, "2027-03-01")
	late.Line.Feeders = []Feeder{{Name: "cab", Station: "body", Expected: day("2099-01-01")}}
	noStations := linePlant(coming("T1", Light, "2027-03-01"))
	noStations.Line.Stations = nil
	noCalendar := linePlant()
	noCalendar.Line.Calendar = "moon"
	for _, c := range []struct {
		p    *Plant
		want string
	}{
		{linePlant(nowhere), "neither off the line, nor at a station, nor due to enter: give"},
		{linePlant(lost), `"attic", which the line does not have: name one`},
		{linePlant(undated), "since no day: give"},
		{linePlant(late), "does not come off the line before"},
		{noStations, "no stations: give"},
		{noCalendar, `no calendar "moon": add it`},
	} {
		if _, err := c.p.Project(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want an error with %q", err, c.want)
		}
	}
}

// randomLine is a line with trucks everywhere on it.
func randomLine(r *rand.Rand) *Plant {
	contents := []string{Light, Medium, Heavy}
	var trucks []Truck
	for i := range 3 + r.IntN(12) {
		id, content := fmt.Sprintf("T%02d", i), contents[r.IntN(3)]
		back := fmt.Sprintf("2027-02-%02d", 15+r.IntN(12))
		ahead := day("2027-03-01").AddDays(r.IntN(40)).String()
		tr := coming(id, content, ahead)
		if k := r.IntN(4); k < 2 {
			tr = at(id, content, []string{"frame", "body"}[k], back)
		}
		for _, s := range []string{"frame", "body"} {
			if r.IntN(3) == 0 {
				tr.Line.Feeders = append(tr.Line.Feeders, Feeder{Station: s, Expected: day("2027-03-01").AddDays(r.IntN(50))})
			}
		}
		trucks = append(trucks, tr)
	}
	return linePlant(trucks...)
}

func TestLineProperties(t *testing.T) {
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 0))
		p := randomLine(r)
		j, err := p.Project()
		if err != nil {
			t.Fatal(seed, err)
		}
		// Nobody is off before now, and stations follow one another.
		for _, tr := range p.Trucks {
			if j.LineOff(tr.ID) < p.AsOf.Date() {
				t.Fatalf("seed %d: %s off on %s, before now", seed, tr.ID, j.LineOff(tr.ID))
			}
			f, onFrame := j.Stay(tr.ID, "frame")
			b, onBody := j.Stay(tr.ID, "body")
			if !onBody || b.Through != j.LineOff(tr.ID) || onFrame && f.Through > b.From {
				t.Fatalf("seed %d: %s frame %v body %v, off %s", seed, tr.ID, f, b, j.LineOff(tr.ID))
			}
		}
		// The order of the list does not matter.
		q := *p
		q.Trucks = append([]Truck{}, p.Trucks...)
		r.Shuffle(len(q.Trucks), func(a, b int) { q.Trucks[a], q.Trucks[b] = q.Trucks[b], q.Trucks[a] })
		k, err := q.Project()
		if err != nil {
			t.Fatal(seed, err)
		}
		for _, tr := range p.Trucks {
			if j.LineOff(tr.ID) != k.LineOff(tr.ID) {
				t.Fatalf("seed %d: shuffled, %s comes off on %s instead of %s", seed, tr.ID, k.LineOff(tr.ID), j.LineOff(tr.ID))
			}
		}
		// A later feeder never makes the line-off of its truck earlier.
		i := r.IntN(len(p.Trucks))
		feeders := append([]Feeder{}, p.Trucks[i].Line.Feeders...)
		if len(feeders) == 0 {
			continue
		}
		feeders[r.IntN(len(feeders))].Expected += calendar.Date(1 + r.IntN(20))
		p.Trucks[i].Line.Feeders = feeders
		l, err := p.Project()
		if err != nil {
			t.Fatal(seed, err)
		}
		if id := p.Trucks[i].ID; l.LineOff(id) < j.LineOff(id) {
			t.Fatalf("seed %d: with a later feeder %s comes off on %s, before %s", seed, id, l.LineOff(id), j.LineOff(id))
		}
	}
}
