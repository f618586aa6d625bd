package forecast

import (
	"math"
	"testing"

	"wetdown/calendar"
	"wetdown/solver/chance"
	"wetdown/solver/plant"
)

// TestPert_Means draws three-point estimates. Expected means are (least + 4 likely + most)
// / 6 of the rows of the table on schedule risk in GAO-16-89G: drywall, inspection,
// finish, insulation, texture, wall finish, tile. In sum they are 20.5 days.
func TestPert_Means(t *testing.T) {
	rows := [][3]float64{{3, 4, 6}, {1, 1, 2}, {3, 5, 6}, {1, 1, 2}, {2, 3, 4}, {2, 3, 4}, {2, 3, 5}}
	want := []float64{4.1667, 1.1667, 4.8333, 1.1667, 3, 3, 3.1667}
	m := &model{tables: map[[3]float64]*chance.Table{}}
	const runs = 40000
	sum := 0.0
	for i, p := range rows {
		law := m.pert(p[0], p[1], p[2])
		var drawn []float64
		for run := range runs {
			drawn = append(drawn, law.Quantile(uniform(run, key(7, "row", string(rune('a'+i))))))
		}
		mean, variance := moments(drawn)
		if d := math.Abs(mean - want[i]); d > 3.3*math.Sqrt(variance/runs)+0.0005 {
			t.Errorf("%v: mean %.4f, want %.4f", p, mean, want[i])
		}
		sum += mean
	}
	if math.Abs(sum-20.5) > 0.05 {
		t.Errorf("sum of means %.3f, want 20.5", sum)
	}
}

// TestUniform: one key's numbers over the runs are even (chi-square, 99.9 % for 63 degrees
// of freedom is 103.4, by common tables), and those of two keys have nothing to do with each other.
func TestUniform(t *testing.T) {
	const runs, cells = 64000, 64
	a, b := key(1, "stage", "H1", "graphics"), key(1, "stage", "H2", "graphics")
	var count [cells]int
	cross := 0.0
	for run := range runs {
		u, v := uniform(run, a), uniform(run, b)
		if u <= 0 || u >= 1 {
			t.Fatalf("run %d: %v", run, u)
		}
		count[int(u*cells)]++
		cross += (u - 0.5) * (v - 0.5)
	}
	chi := 0.0
	for _, n := range count {
		d := float64(n) - runs/cells
		chi += d * d / (runs / cells)
	}
	if chi > 103.4 {
		t.Errorf("chi-square %.1f", chi)
	}
	if r := cross / runs * 12; math.Abs(r) > 3.3/math.Sqrt(runs) {
		t.Errorf("correlation %.4f", r)
	}
}

// TestMixed: trucks that wait for one supplier are in time together more often than by
// accident, and each as often as its law says. With a share of 1/2 each, both share in 1/4 of
// the runs: 1/4 of 0.8 and 3/4 of 0.64 are 0.68.
func TestMixed(t *testing.T) {
	const runs = 40000
	same, other := key(1, "supplier", "chassis"), key(1, "supplier", "pump")
	inTime := func(run int, truck string, supplier uint64) bool {
		return mixed(run, key(1, "feeder", truck), supplier, key(1, "choice", truck)) < 0.8
	}
	var one, both, apart int
	for run := range runs {
		a := inTime(run, "H1", same)
		if a {
			one++
		}
		if a && inTime(run, "H2", same) {
			both++
		}
		if a && inTime(run, "H3", other) {
			apart++
		}
	}
	for _, x := range []struct {
		name string
		n    int
		want float64
	}{{"one", one, 0.8}, {"two of one supplier", both, 0.68}, {"two of two suppliers", apart, 0.64}} {
		if c := chanceOf(x.n, runs); math.Abs(c.Share-x.want) > 3.3*c.Error {
			t.Errorf("%s in time: %.4f, want %.2f", x.name, c.Share, x.want)
		}
	}
}

// TestRank is the nearest rank: of eight slips of 0 0 2 3 5 8 13 21 working days 50 % is the
// fourth, 80 % the seventh and 95 % the eighth, computed by hand.
func TestRank(t *testing.T) {
	days := []int32{0, 0, 2, 3, 5, 8, 13, 21}
	for _, x := range []struct {
		share float64
		want  int32
	}{{0.50, 3}, {0.80, 13}, {0.95, 21}} {
		if got := rank(days, x.share); got != x.want {
			t.Errorf("%v: %d, want %d", x.share, got, x.want)
		}
	}
}

// TestMinutes_Running: work under way never ends before now, and its likely end is kept
// without chance.
func TestMinutes_Running(t *testing.T) {
	m := &model{tables: map[[3]float64]*chance.Table{}}
	law := m.pert(300, 480, 960)
	by := take{law: law, key: 3, likely: 480, least: 401, past: law.CDF(400)}
	left := take{law: law, key: 3, base: 200, likely: 320, scale: 120.0 / 480, least: 201}
	for run := range 5000 {
		if x := by.minutes(run); x < 401 || x > 960 {
			t.Fatalf("run %d: %d minutes of work that has taken 400", run, x)
		}
		if x := left.minutes(run); x < 201 || x > 440 {
			t.Fatalf("run %d: %d minutes", run, x)
		}
	}
}

// TestOff_Days: a slip counts in working days of the line, and nothing comes off before
// today.
func TestOff_Days(t *testing.T) {
	monday := calendar.NewDate(2027, 3, 1)
	p := &plant.Plant{Zone: "UTC", AsOf: monday.At(0), Calendar: "c", Parts: plant.DefaultParts(), Line: plant.Line{Calendar: "c"}}
	week, err := calendar.Pattern("5x8")
	if err != nil {
		t.Fatal(err)
	}
	p.Calendars = []plant.Calendar{{ID: "c", Rules: calendar.Rules{Week: week}}}
	g, err := p.Grid(monday-7, monday+60)
	if err != nil {
		t.Fatal(err)
	}
	m := &model{p: p, grid: g}
	if err := m.open(); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		late float64
		want calendar.Date
	}{{0, monday + 4}, {1, monday + 7}, {5, monday + 11}, {-1, monday + 3}, {-30, monday}} {
		one, err := chance.NewEmpirical([]float64{x.late}, nil)
		if err != nil {
			t.Fatal(err)
		}
		f := off{day: 7 + 4, slot: (7 + 5) * m.parts, slip: one}
		if got := m.date(m.lineOffIn(&f, 1, free)/m.parts - 1); got != x.want {
			t.Errorf("%v days late: %v, want %v", x.late, got, x.want)
		}
	}
}
