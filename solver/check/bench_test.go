package check_test

import (
	"fmt"
	"slices"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

// many returns the small plant n times over under one roof: the trucks, visits
// and bays of each copy have names of their own, the crews are n times as large.
// The plan is right. W-205 is left out, since the line passes one truck at a time.
func many(tb testing.TB, n int) *plant.Plant {
	small := right(tb)
	p := right(tb)
	p.Trucks, p.Visits, p.Bays, p.Plan = nil, nil, nil, &plant.Plan{}
	for i := range p.Crews {
		c := &p.Crews[i]
		c.Size *= n
		for k := range c.Days {
			c.Days[k].Size *= n
		}
	}
	for copy := range n {
		name := func(id string) string {
			if id == "" {
				return ""
			}
			return fmt.Sprintf("%s-%d", id, copy)
		}
		for _, b := range small.Bays {
			b.ID = name(b.ID)
			p.Bays = append(p.Bays, b)
		}
		for _, t := range small.Trucks {
			if t.ID == "W-205" {
				continue
			}
			t.ID = name(t.ID)
			if t.Line.Off == calendar.None {
				t.Line = plant.Place{Off: small.AsOf.Date() - 1, Since: calendar.None, Enters: calendar.None}
			}
			t.Running = slices.Clone(t.Running)
			for i := range t.Running {
				t.Running[i].Bay = name(t.Running[i].Bay)
			}
			p.Trucks = append(p.Trucks, t)
		}
		for _, v := range small.Visits {
			if v.Truck != "W-205" {
				v.ID, v.Truck = name(v.ID), name(v.Truck)
				p.Visits = append(p.Visits, v)
			}
		}
		for _, r := range small.Plan.Stages {
			if r.Truck != "W-205" {
				r.Truck, r.Bay = name(r.Truck), name(r.Bay)
				p.Plan.Stages = append(p.Plan.Stages, r)
			}
		}
		for _, v := range small.Plan.Visits {
			if small.FindVisit(v.Visit).Truck != "W-205" {
				v.Visit, v.Bay = name(v.Visit), name(v.Bay)
				p.Plan.Visits = append(p.Plan.Visits, v)
			}
		}
	}
	return p
}

func BenchmarkPlan(b *testing.B) {
	for _, copies := range []int{1, 50, 100} {
		p := many(b, copies)
		b.Run(fmt.Sprintf("%d_trucks", len(p.Trucks)), func(b *testing.B) {
			for b.Loop() {
				if v := check.Plan(p, p.Plan); !v.Right() {
					b.Fatal(v.Broken)
				}
			}
			b.ReportMetric(float64(len(p.Plan.Stages)), "rows")
		})
	}
}
