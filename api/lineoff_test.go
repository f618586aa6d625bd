package api_test

import (
	"context"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver/generate"
)

// TestReportLineOff_Row names the row of a report that cannot be, and keeps none of it.
func TestReportLineOff_Row(t *testing.T) {
	ctx := context.Background()
	a := started(t, generate.Generate(generate.Options{Trucks: 8, Seed: 3, Load: 0.8}))
	s := newest(t, a)
	right := api.LineOff{Truck: onLine(s.Plant), Day: s.Plant.AsOf.Date() + 7}
	for _, wrong := range []api.LineOff{{Truck: "nobody", Day: right.Day}, {Truck: right.Truck, Day: calendar.None}, {Truck: right.Truck, Day: s.Plant.AsOf.Date() - 1}} {
		_, err := a.ReportLineOff(ctx, coordinator, api.Intent{}, right, wrong)
		if err == nil {
			t.Errorf("%+v is taken", wrong)
			continue
		}
		if p := api.AsProblem(err); p.Extra["row"] != 2 || p.Next == "" {
			t.Errorf("%+v: %+v", wrong, p)
		}
		if now := newest(t, a).Revision.Number; now != s.Revision.Number {
			t.Errorf("revision %d: half of a report was kept", now)
		}
	}
}
