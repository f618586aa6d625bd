package schedule

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

var j30 = filepath.Join("..", "..", "testdata", "psplib", "j30")

func readSample(t *testing.T, name string) *Problem {
	t.Helper()
	f, err := os.Open(filepath.Join(j30, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p, err := ReadPSPLIB(f)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if err := p.Validate(); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return p
}

// optima returns the published makespans by file name, and the names in order
// (Kolisch and Sprecher, EJOR 96, 1997).
func optima(t *testing.T) (names []string, optimum map[string]int) {
	t.Helper()
	f, err := os.Open(filepath.Join(j30, "optimum.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	optimum = map[string]int{}
	for _, row := range rows[1:] {
		n, err := strconv.Atoi(row[1])
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, row[0])
		optimum[row[0]] = n
	}
	files, err := filepath.Glob(filepath.Join(j30, "*.sm"))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != len(names) || len(names) < 12 {
		t.Fatalf("%d files, %d optima", len(files), len(names))
	}
	return names, optimum
}

// What the first instance says, read by eye.
func TestReadPSPLIB(t *testing.T) {
	p := readSample(t, "j301_1.sm")
	if len(p.Tasks) != 32 || len(p.Arcs) != 48 || len(p.Resources) != 4 || len(p.Machines) != 0 || len(p.Tiers) != 1 {
		t.Fatalf("%d tasks, %d arcs, %d resources, %d machines, %d tiers; want 32, 48, 4, 0, 1", len(p.Tasks), len(p.Arcs), len(p.Resources), len(p.Machines), len(p.Tiers))
	}
	if p.Slots != 158 {
		t.Errorf("%d slots, want 158: the sum of the durations, which the file also states as its horizon", p.Slots)
	}
	for r, want := range []int32{12, 13, 4, 12} {
		if c := p.Resources[r].Capacity; len(c) != 158 || c[0] != want || c[157] != want {
			t.Errorf("resource %d: capacity %d in slot 0, want %d", r+1, c[0], want)
		}
	}
	if got, want := p.Resources[2].Uses, 2; len(got) != want || got[0].Task != 25 || got[0].Need != 4 || got[1].Task != 30 || got[1].Need != 2 {
		t.Errorf("resource 3 is used by %+v, want job 26 with 4 and job 31 with 2", got)
	}
	var after []int
	for _, a := range p.Arcs {
		if a.From == 7 { // job 8 lasts 9
			after = append(after, a.To+1)
			if k := 5; a.Earliest[k] != p.Tasks[7].Starts[k]+9 {
				t.Errorf("job 8 starts at %d, job %d from %d, want 9 later", p.Tasks[7].Starts[k], a.To+1, a.Earliest[k])
			}
		}
	}
	if !slices.Equal(after, []int{12, 19, 27}) {
		t.Errorf("job 8 precedes %v, want 12, 19 and 27", after)
	}
	// 1, 3 (4), 8 (9), 12 (2), 14 (3) and 17 (6) is the longest path to job 22 or
	// to 23; job 23 (2) then waits for 22 (7), and 24, 30 and 32 follow: 3 + 2.
	if first, last := p.Tasks[16].Starts[0], p.Tasks[16]; first != 18 || last.Starts[len(last.Starts)-1] != 158-6-7-2-3-2 {
		t.Errorf("job 17 starts in [%d, %d], want [18, 138]", first, last.Starts[len(last.Starts)-1])
	}
}

// The earliest end of the project without resources is the critical path, which each
// file states as its MPM time; the published optimum is no shorter, and within the
// time line.
func TestReadPSPLIB_CriticalPath(t *testing.T) {
	names, optimum := optima(t)
	for _, name := range names {
		p := readSample(t, name)
		text, err := os.ReadFile(filepath.Join(j30, name))
		if err != nil {
			t.Fatal(err)
		}
		_, rest, _ := strings.Cut(string(text), "MPM-Time")
		fields := strings.Fields(rest)
		mpm, err := strconv.Atoi(fields[5])
		if err != nil {
			t.Fatalf("%s: MPM time %q", name, fields[5])
		}
		cost := p.Tiers[0].Costs[0]
		if cost.Task != 31 || cost.At[0] != int64(mpm) || cost.At[len(cost.At)-1] != int64(p.Slots) {
			t.Errorf("%s: job %d costs %d to %d, want job 32 and %d to %d", name, cost.Task+1, cost.At[0], cost.At[len(cost.At)-1], mpm, p.Slots)
		}
		if mpm > optimum[name] || optimum[name] > int(p.Slots) {
			t.Errorf("%s: optimum %d is not within [%d, %d]", name, optimum[name], mpm, p.Slots)
		}
		checkWindows(t, name, p)
	}
}

// Every earliest start is 0 or an earliest end of a job before, and every latest end
// is that of the time line or a latest start of a job after; no arc is broken there.
func checkWindows(t *testing.T, name string, p *Problem) {
	t.Helper()
	first := func(i int) (start, end Slot) { return p.Tasks[i].Starts[0], p.Tasks[i].Ends[0] }
	last := func(i int) (start, end Slot) {
		k := len(p.Tasks[i].Starts) - 1
		return p.Tasks[i].Starts[k], p.Tasks[i].Ends[k]
	}
	early, late := make([]Slot, len(p.Tasks)), make([]Slot, len(p.Tasks))
	for i := range late {
		late[i] = p.Slots
	}
	for _, a := range p.Arcs {
		_, end := first(a.From)
		early[a.To] = max(early[a.To], end)
		start, _ := last(a.To)
		late[a.From] = min(late[a.From], start)
	}
	for i := range p.Tasks {
		if start, _ := first(i); start != early[i] {
			t.Errorf("%s: job %d starts from %d, its predecessors end by %d", name, i+1, start, early[i])
		}
		if _, end := last(i); end != late[i] {
			t.Errorf("%s: job %d ends by %d, its successors start by %d", name, i+1, end, late[i])
		}
	}
}

// The published optima, reached and proven.
func TestReadPSPLIB_Optima(t *testing.T) {
	names, optimum := optima(t)
	hard := []string{"j3013", "j3029", "j3045"}
	for _, name := range names {
		if set, _, _ := strings.Cut(name, "_"); testing.Short() && slices.Contains(hard, set) {
			continue // seconds each
		}
		ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
		began := time.Now()
		r, err := Solve(ctx, readSample(t, name), Options{})
		cancel()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		t.Logf("%s: status %v, makespan %v, bound %v, %v", name, r.Status, r.Values, r.Bounds, time.Since(began).Round(time.Millisecond))
		if r.Status != Optimal || len(r.Values) != 1 || r.Values[0] != int64(optimum[name]) {
			t.Errorf("%s: status %v, makespan %v, want %d, proven", name, r.Status, r.Values, optimum[name])
		}
	}
}

// Each refusal names the line and says what is wrong with it.
func TestReadPSPLIB_Refusals(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(j30, "j301_1.sm"))
	if err != nil {
		t.Fatal(err)
	}
	good := string(b)
	for _, c := range []struct{ name, old, new, want string }{
		{"an empty file", good, "", `line 1: the file ends without "PRECEDENCE RELATIONS:"`},
		{"something else", good, "name: value\n", `line 2: the file ends without "PRECEDENCE RELATIONS:"`},
		{"two projects", "projects                      :  1", "projects : 2", "line 5: 2 projects: only files with one"},
		{"no jobs", "jobs (incl. supersource/sink ):  32", "jobs (incl. supersource/sink ): 0", "line 17: the lines above say no number of jobs"},
		{"jobs not said", "jobs (incl. supersource/sink ):  32", "", "line 17: the lines above say no number of jobs"},
		{"jobs no number", "jobs (incl. supersource/sink ):  32", "jobs (incl. supersource/sink ): many", `line 6: jobs (incl. supersource/sink ): "many" is no whole number`},
		{"nonrenewable", "nonrenewable              :  0", "nonrenewable : 2", "line 10: 2 nonrenewable resources: only renewable ones"},
		{"a mode too many", "   5        1          1          20", "   5        2          1          20", "line 23: job 5 has 2 modes"},
		{"a missing row", "   5        1          1          20\n", "", "line 23: the precedences of job 6, want job 5"},
		{"wrong count", "   5        1          1          20", "   5        1          2          20", "line 23: job 5 lists 1 successors, says 2"},
		{"no such job", "   5        1          1          20", "   5        1          1          33", "line 23: job 5 precedes job 33: there are jobs 1 to 32"},
		{"a word", "   5        1          1          20", "   5        1          1          x", `line 23: the successors of job 5: "x" is no whole number`},
		{"a cycle", "  20        1          2          23  25", "  20        1          2          23  5", "have a cycle"},
		{"two ends", "  31        1          1          32", "  31        1          0", "line 50: jobs 31 and 32 have no successor"},
		{"negative need", "  2      1     8       4    0", "  2      1     8      -4    0", `line 56: duration and needs of job 2: "-4" is no whole number`},
		{"needs missing", "  3      1     4      10    0    0    0", "  3      1     4      10    0    0", "line 57: duration and needs of job 3: 6 numbers, want at least 7"},
		{"too long", "  2      1     8       4    0", "  2      1     999999  4    0", "line 56: the durations up to job 2 sum to 999999"},
		{"a mode 2", "  2      1     8       4    0", "  2      2     8       4    0", "line 56: mode 2 of job 2, want mode 1 of job 2"},
		{"cut off", good[strings.Index(good, "RESOURCEAVAIL"):], "", `the file ends without "RESOURCEAVAILABILITIES:"`},
		{"no capacities", "   12   13    4   12", "", "the file ends where capacities should follow"},
	} {
		bad := strings.Replace(good, c.old, c.new, 1)
		if bad == good {
			t.Errorf("%s: the file has no %q", c.name, c.old)
			continue
		}
		_, err := ReadPSPLIB(strings.NewReader(bad))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "psplib: line ") {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
}

// No bytes make the reader panic, and what it accepts is a valid problem.
func FuzzReadPSPLIB(f *testing.F) {
	b, err := os.ReadFile(filepath.Join(j30, "j301_1.sm"))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(b))
	f.Add("jobs (incl. supersource/sink ): 1\nPRECEDENCE RELATIONS:\nx\n1 1 0\nREQUESTS/DURATIONS:\nx\n1 1 3\nRESOURCEAVAILABILITIES:\nx\n0\n")
	f.Fuzz(func(t *testing.T, text string) {
		if p, err := ReadPSPLIB(strings.NewReader(text)); err == nil {
			if err := p.Validate(); err != nil {
				t.Error(err)
			}
		}
	})
}
