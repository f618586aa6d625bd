package plant

import (
	"fmt"
	"os"
	"testing"

	"go.yaml.in/yaml/v3"

	"wetdown/calendar"
)

// large makes the text of a plant of 200 trucks with a plan of 15 rows each out
// of the small one: about 400 KB.
func large(t testing.TB) []byte {
	p := readSmall(t)
	p.Horizon.Through = p.Horizon.From + 365
	p.Slips = nil
	p.Plan.Stages, p.Plan.Visits = nil, nil
	first, visit := p.Trucks[1], p.Visits[1]
	first.Standing = Standing{} // they cannot all be there
	p.Trucks, p.Visits = nil, nil
	for i := range 200 {
		truck := first
		truck.ID = fmt.Sprintf("J-%d", 3000+i)
		p.Trucks = append(p.Trucks, truck)
		v := visit
		v.ID, v.Truck = fmt.Sprintf("V-%d", 3000+i), truck.ID
		p.Visits = append(p.Visits, v)
		p.Plan.Visits = append(p.Plan.Visits, PlannedVisit{Visit: v.ID, Outcome: Kept, Day: v.Booking.Day, Bay: "floor-1"})
		for j := range 15 {
			start := calendar.Moment(int64(p.AsOf) + int64(j)*1440)
			stage := p.Route[j%len(p.Route)].ID
			p.Plan.Stages = append(p.Plan.Stages, Planned{Truck: truck.ID, Stage: stage, Hold: start, Start: start, End: start + 480, Bay: "graphics-1"})
		}
	}
	return Write(p)
}

func BenchmarkRead(b *testing.B) {
	data := large(b)
	if name := os.Getenv("PLANT"); name != "" {
		var err error
		if data, err = os.ReadFile(name); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		p, faults := Read("large.yaml", data)
		if p == nil || len(p.Trucks) != 200 || len(faults) > 0 {
			b.Fatal(faults[0])
		}
	}
}

func BenchmarkParse(b *testing.B) {
	data := large(b)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if root, _ := parse(data); root == nil {
			b.Fatal("not read")
		}
	}
}

// BenchmarkLibrary is BenchmarkParse by the library alone.
func BenchmarkLibrary(b *testing.B) {
	data := large(b)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		var n yaml.Node
		if err := yaml.Unmarshal(data, &n); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	p, _ := Read("large.yaml", large(b))
	for b.Loop() {
		if len(Write(p)) == 0 {
			b.Fatal("nothing written")
		}
	}
}
