package api_test

import (
	"context"
	"encoding/json"
	"testing"

	"wetdown/api"
	"wetdown/calendar"
	"wetdown/solver"
)

// TestAskWhy_Stale asks for reasons while the plan in force does not fit the plant: they are
// those of the best plan that does.
func TestAskWhy_Stale(t *testing.T) {
	a := started(t, demoPlant(t))
	ctx := context.Background()
	before := newest(t, a)
	if !before.Fits(nil) {
		t.Fatal("the plan of the demo does not fit")
	}
	truck := onLine(before.Plant)
	j, err := before.Plant.Project()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.ReportLineOff(ctx, coordinator, api.Intent{}, api.LineOff{Truck: truck, Day: j.LineOff(truck) + 21}); err != nil {
		t.Fatal(err)
	}
	if newest(t, a).Fits(nil) {
		t.Fatalf("%s is three weeks later, and the plan still fits", truck)
	}
	job, err := a.AskWhy(ctx, coordinator, api.WhyQuestion{Day: calendar.None})
	if err != nil {
		t.Fatal(err)
	}
	if job, err = a.Job(ctx, coordinator, job.ID); err != nil || job.State != api.JobDone {
		t.Fatalf("%v: %+v", err, job)
	}
	var list []*solver.Explanation
	if err := json.Unmarshal(job.Answer, &list); err != nil {
		t.Fatal(err)
	}
	about := 0
	for _, x := range list {
		if x.Truck == truck {
			about++
		}
	}
	if about == 0 {
		t.Errorf("nothing is said about %s, which is three weeks late: %+v", truck, list)
	}
}
