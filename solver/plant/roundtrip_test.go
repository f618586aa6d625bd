package plant

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wetdown/calendar"
)

// words are texts that YAML, or some reader of it, could take for something
// else.
var words = []string{
	"a", "Elm Fork", "Tolliver: Fire & Rescue", "007", "12", "1e3", "0x1F", "-", "- x", "--", "---", "...", "~", "null", "Null", "yes", "No", "true", "FALSE",
	"on", "y", "2027-03-01", "2027-03-01T06:00", "06:00", "5h40", "nan", ".inf", "a: b", "a:", ":a", "a #b", "#a", "a#b", "{a}", "[a", "a,b", "&a", "*a", "!a",
	"|", ">", "%a", "@a", "`a`", "'", "''", `"`, `\`, `\n`, "a'b", "it's", "é", "Fête nationale", "日本", "a\u2028b", "a\u00a0b", "\ufeffa", "=", "<<", "? a", "?", "a ?", "a  b", "x\ty",
	"A very long text that goes on and on, so that whatever has it in it does not fit on one line any more and must be broken up into several",
}

// mayBeAbsent lists the fields whose empty value a file can state, by leaving
// the key away.
var mayBeAbsent = map[string]bool{
	"Range.Reason": true, "Closure.Reason": true, "Overtime.Note": true, "Department.Name": true, "Bay.Name": true, "Crew.Name": true, "Stage.Name": true,
	"Stage.Bay": true, "Stage.Visit": true, "Stage.Station": true, "Stage.Mark": true, "Wish.Name": true, "Wish.Bay": true, "Wish.Caution": true,
	"Station.Name": true, "Notice.Name": true, "Customer.Town": true, "Customer.Calendar": true, "Truck.Graphics": true, "Contract.Deadline": true,
	"Place.Station": true, "Place.Since": true, "Place.Off": true, "Place.Enters": true, "Override.By": true, "Override.Reason": true, "Override.Cause": true,
	"Running.Bay": true, "Booking.Day": true, "Booking.HoldUntil": true, "Slip.Truck": true, "Slip.Stage": true, "Slip.Bay": true, "Slip.Crew": true,
	"Slip.Visit": true, "Slip.Known": true, "Slip.Cause": true, "Slip.Clock": true, "Plan.Made": true, "Plan.Program": true, "Planned.Bay": true,
	"PlannedVisit.Day": true, "PlannedVisit.Bay": true, "Measure.Name": true, "Measure.Department": true, "Measure.Crew": true,
	"Measure.BayKind": true, "Measure.Customer": true, "Measure.Approver": true,
}

// fillAny gives a value anything that its type can hold and a file can state.
func fillAny(r *rand.Rand, v reflect.Value, name string) {
	absent := mayBeAbsent[name] && r.IntN(3) == 0
	switch v.Type() {
	case reflect.TypeFor[calendar.Date]():
		v.SetInt(int64(calendar.NewDate(2027, 1, 1+r.IntN(900))))
		if absent {
			v.SetInt(int64(calendar.None))
		}
		return
	case reflect.TypeFor[calendar.Moment]():
		v.SetInt(int64(calendar.NewDate(2027, 1, 1+r.IntN(900)).At(calendar.Clock(r.IntN(1440)))))
		if absent {
			v.SetInt(int64(calendar.NoMoment))
		}
		return
	case reflect.TypeFor[calendar.Clock]():
		v.SetInt(int64(r.IntN(1440)))
		return
	case reflect.TypeFor[calendar.Weekday]():
		v.SetInt(int64(r.IntN(7)))
		return
	}
	switch v.Kind() {
	case reflect.String:
		if !absent {
			v.SetString(words[r.IntN(len(words))])
		}
	case reflect.Int, reflect.Int64:
		v.SetInt(int64(r.IntN(2000)))
		if name == "Running.RemainingMinutes" && r.IntN(2) == 0 {
			v.SetInt(-1)
		}
		if (name == "Overrun.Minutes" || name == "Slip.Minutes" || name == "Slip.Days") && r.IntN(2) == 0 {
			v.SetInt(-v.Int())
		}
	case reflect.Uint64:
		v.SetUint(r.Uint64() >> r.IntN(64))
	case reflect.Float64:
		v.SetFloat(float64(r.IntN(4000)) / []float64{1, 4, 12, 100}[r.IntN(4)])
	case reflect.Bool:
		v.SetBool(r.IntN(2) == 0)
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			fillAny(r, v.Field(i), v.Type().Name()+"."+f.Name)
		}
	case reflect.Slice:
		if n := r.IntN(4); n > 0 {
			v.Set(reflect.MakeSlice(v.Type(), n, n))
		}
		fallthrough
	case reflect.Array:
		for i := range v.Len() {
			fillAny(r, v.Index(i), name)
		}
	case reflect.Pointer:
		if r.IntN(2) == 0 {
			v.Set(reflect.New(v.Type().Elem()))
			fillAny(r, v.Elem(), name)
		}
	default:
		panic(v.Type().String())
	}
}

// anyPlant is a plant of nonsense that a file can state all the same.
func anyPlant(seed uint64) *Plant {
	r := rand.New(rand.NewPCG(seed, 0))
	p := &Plant{}
	fillAny(r, reflect.ValueOf(p).Elem(), "Plant")
	p.Format = FormatVersion
	for i := range p.Slips {
		if o := &p.Slips[i].Over; r.IntN(2) == 0 {
			*o = Range{From: calendar.None, Through: calendar.None}
		}
	}
	for i := range p.Route {
		if h := &p.Route[i].Hours; r.IntN(2) == 0 {
			h.Light, h.Heavy = h.Medium, Estimate{h.Medium.LikelyMinutes, h.Medium.LikelyMinutes, h.Medium.LikelyMinutes}
		}
	}
	for i, standard := range []func(){
		func() { p.Parts = DefaultParts() },
		func() { p.Departments = DefaultDepartments() },
		func() { p.Route = DefaultRoute() },
		func() { p.Wishes = DefaultWishes() },
		func() { p.Notice = DefaultNotice() },
		func() { p.Measures = DefaultMeasures() },
		func() { p.Prices = DefaultPrices() },
		func() { p.Buffer = DefaultBuffer() },
	} {
		if seed>>i&1 == 1 {
			standard()
		}
	}
	return p
}

// What the writer prints of any plant the reader fills in again, field by field,
// whatever the rules think of it.
func TestWrite_AnyPlantIsReadBack(t *testing.T) {
	own := 0
	for seed := range uint64(600) {
		p := anyPlant(seed)
		text := Write(p)
		if string(text) != string(Write(p)) {
			t.Fatalf("seed %d: two texts of one plant", seed)
		}
		root, w, line, column := document(text)
		if !w.ok() {
			t.Fatalf("seed %d: %d:%d: %v", seed, line, column, w)
		}
		if _, stop := parse(text); stop == nil {
			own++
		}
		r := newReader(root)
		again := &Plant{}
		plantKeys(r, again)
		r.close()
		for _, f := range r.faults {
			t.Errorf("seed %d: %v", seed, f)
		}
		if d := cmp.Diff(p, again); d != "" {
			t.Errorf("seed %d:\n%s", seed, d)
		}
		if t.Failed() {
			t.Fatalf("%s", text)
		}
	}
	if own < 500 {
		t.Errorf("the parser leaves %d of 600 texts of the writer to the library", 600-own)
	}
}

// mustRead reads a plant without faults.
func mustRead(t *testing.T, text string) *Plant {
	t.Helper()
	p, faults := Read("text", []byte(text))
	if len(faults) > 0 {
		t.Fatalf("%v\n%s", faults, text)
	}
	return p
}

// A file that says nothing but what it must has the house's standards.
func TestRead_StandardsWhereTheFileIsSilent(t *testing.T) {
	text := `wetdown: 1
name: Bare
zone: America/Chicago
as_of: 2027-03-01T06:00
horizon: {from: 2027-03-01, through: 2027-06-30}
calendar: plant
calendars: [{id: plant, pattern: 5x8}]
`
	p := mustRead(t, text)
	want := &Plant{
		Format: 1, Name: "Bare", Zone: "America/Chicago", AsOf: p.AsOf, Horizon: p.Horizon, Calendar: "plant", Calendars: p.Calendars,
		Parts: DefaultParts(), Departments: DefaultDepartments(), Route: DefaultRoute(), Wishes: DefaultWishes(),
		Line: Line{Calendar: "plant"}, Notice: DefaultNotice(), Measures: DefaultMeasures(), Prices: DefaultPrices(), Buffer: DefaultBuffer(),
	}
	if d := cmp.Diff(want, p); d != "" {
		t.Error(d)
	}
	if got := p.AsOf.String() + " " + p.Horizon.Through.String(); got != "2027-03-01T06:00 2027-06-30" {
		t.Error(got)
	}
	if again := mustRead(t, string(Write(p))); !cmp.Equal(p, again) {
		t.Error(cmp.Diff(p, again))
	}
}

// The same plant as JSON.
func TestRead_JSON(t *testing.T) {
	text := `{"wetdown": 1, "name": "Bare", "zone": "America/Chicago", "as_of": "2027-03-01T06:00",
		"horizon": {"from": "2027-03-01", "through": "2027-06-30"}, "calendar": "plant",
		"calendars": [{"id": "plant", "week": {"mon": ["07:00-15:30 break 11:00-11:30"]}}],
		"wishes": [{"id": "pump", "department": "testing", "hours": "1h20"}, {"id": "drive", "department": "testing", "hours": 1.5}]}`
	p := mustRead(t, text)
	if p.Name != "Bare" || p.Calendars[0].Rules.Week.Minutes() != 480 || p.Wishes[0].Minutes != 80 || p.Wishes[1].Minutes != 90 {
		t.Errorf("%+v", p)
	}
}

// Days under week replace those of the pattern.
func TestRead_WeekOverPattern(t *testing.T) {
	text := `wetdown: 1
name: Bare
zone: America/Chicago
as_of: 2027-03-01T06:00
horizon: {from: 2027-03-01, through: 2027-06-30}
calendar: plant
calendars: [{id: plant, pattern: 5x8, week: {fri: [], sat: ["07:00-12:00"]}}]
`
	p := mustRead(t, text)
	if got, want := p.Calendars[0].Rules.Week.Minutes(), 4*480+300; got != want {
		t.Errorf("%d minutes a week, want %d", got, want)
	}
	if again := mustRead(t, string(Write(p))); !cmp.Equal(p, again) {
		t.Error(cmp.Diff(p, again))
	}
}
