package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"wetdown/api/wire"
	"wetdown/calendar"
	"wetdown/solver/check"
	"wetdown/solver/plant"
)

var small = filepath.Join("..", "..", "testdata", "script", "small.yaml")

// ticking returns a clock that goes on by a millisecond whenever it is read.
func ticking() func() time.Time {
	now := time.Date(2027, 5, 10, 12, 0, 0, 0, time.UTC)
	return func() time.Time {
		now = now.Add(time.Millisecond)
		return now
	}
}

// drive runs the program in this process.
func drive(t *testing.T, code int, args ...string) (stdout, stderr string) {
	t.Helper()
	var out, err bytes.Buffer
	if got := run(context.Background(), args, strings.NewReader(""), &out, &err, ticking()); got != code {
		t.Fatalf("wetdown %q: exit code %d, want %d\n%s%s", args, got, code, out.String(), err.String())
	}
	return out.String(), err.String()
}

func decode(t *testing.T, text string, to any) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), to); err != nil {
		t.Fatalf("%v:\n%s", err, text)
	}
}

// keys lists the keys of an object with the kinds of their values.
func keys(v any) map[string]string {
	kinds := map[string]string{}
	object, _ := v.(map[string]any)
	for k, v := range object {
		switch v.(type) {
		case nil:
			kinds[k] = "null"
		case string:
			kinds[k] = "text"
		case float64:
			kinds[k] = "number"
		case bool:
			kinds[k] = "bool"
		case []any:
			kinds[k] = "list"
		case map[string]any:
			kinds[k] = "object"
		}
	}
	return kinds
}

// The objects that plan and slip print have the keys that machines count on.
func TestJSONKeys(t *testing.T) {
	result := map[string]string{
		"status": "text", "tiers": "list", "seconds": "object", "counts": "object", "broken": "list", "reasons": "list", "plan": "object", "cautions": "list", "warnings": "list",
		"conditions": "list", "contradiction": "null",
	}
	slip := map[string]string{
		"displaced": "list", "moved_apart": "list", "repairs": "object", "taken": "null",
		"planned_first": "null", "summary": "text", "happened": "list", "moved": "list", "deliveries": "list", "disturbed": "list",
		"calls": "list", "change": "list", "damages": "object",
	}
	for k, v := range result {
		slip[k] = v
	}
	number := func(names ...string) map[string]string {
		m := map[string]string{}
		for _, n := range names {
			m[n] = "number"
		}
		return m
	}
	for _, c := range []struct {
		command string
		want    map[string]string
	}{{"plan", result}, {"slip", slip}} {
		t.Run(c.command, func(t *testing.T) {
			out, _ := drive(t, done, c.command, small, "--json")
			var v map[string]any
			decode(t, out, &v)
			if d := cmp.Diff(c.want, keys(v)); d != "" {
				t.Error(d)
			}
			if d := cmp.Diff(number("read", "encode", "first", "best", "proof", "total"), keys(v["seconds"])); d != "" {
				t.Error(d)
			}
			if d := cmp.Diff(number("trucks", "stages", "variables", "clauses", "sat_calls", "rounds"), keys(v["counts"])); d != "" {
				t.Error(d)
			}
			for i, tier := range v["tiers"].([]any) {
				if d := cmp.Diff(map[string]string{"name": "text", "value": "number", "bound": "number"}, keys(tier)); d != "" {
					t.Error(d)
				}
				if name := tier.(map[string]any)["name"]; name != plant.TierNames[i] {
					t.Errorf("tier %d is %v, want %s", i, name, plant.TierNames[i])
				}
			}
			again, _ := drive(t, done, c.command, small, "--json")
			if again != out {
				t.Errorf("the same question, the same clock, another answer:\n%s", cmp.Diff(out, again))
			}
		})
	}
}

// Seconds run from the start of the program's work, in the order of its steps.
func TestJSONSeconds(t *testing.T) {
	out, _ := drive(t, done, "plan", small, "--json")
	var v struct{ Seconds wire.Seconds }
	decode(t, out, &v)
	s := v.Seconds
	for i, pair := range [][2]float64{{0, s.Read}, {0, s.Encode}, {s.Encode, s.First}, {s.First, s.Best}, {s.Best, s.Proof}, {s.Read + s.Proof, s.Total}} {
		if pair[1] < pair[0] || pair[1] == 0 {
			t.Errorf("%d: %v comes before %v in %+v", i, pair[1], pair[0], s)
		}
	}
}

// The plan that JSON tells is a plan that the judge passes, with the value that
// JSON tells, and its deliveries sum to it.
func TestJSONPlanIsRight(t *testing.T) {
	data, err := os.ReadFile(small)
	if err != nil {
		t.Fatal(err)
	}
	p, faults := plant.Read(small, data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if p, err = p.Apply(p.Slips); err != nil {
		t.Fatal(err)
	}
	out, _ := drive(t, done, "slip", small, "--json")
	var v wire.Slip
	decode(t, out, &v)
	at := func(s *string) calendar.Moment {
		if s == nil {
			return calendar.NoMoment
		}
		m, err := calendar.ParseMoment(*s)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	named := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	plan := &plant.Plan{Plant: p.Name}
	for _, r := range v.Plan.Stages {
		plan.Stages = append(plan.Stages, plant.Planned{Truck: r.Truck, Stage: r.Stage, Hold: at(r.Hold), Start: at(r.Start), End: at(r.End), Bay: named(r.Bay)})
	}
	for _, r := range v.Plan.Visits {
		on := calendar.None
		if r.Day != nil {
			if on, err = calendar.ParseDate(*r.Day); err != nil {
				t.Fatal(err)
			}
		}
		plan.Visits = append(plan.Visits, plant.PlannedVisit{Visit: r.Visit, Outcome: r.Outcome, Day: on, Bay: named(r.Bay)})
	}
	verdict := check.Plan(p, plan)
	for _, b := range verdict.Broken {
		t.Error(b.Sentence)
	}
	for i, tier := range verdict.Tiers {
		if *v.Tiers[i].Value != tier.Value {
			t.Errorf("tier %s is told as %d, the judge says %d", tier.Name, *v.Tiers[i].Value, tier.Value)
		}
	}
	if !verdict.Right() || verdict.Asked == 0 {
		t.Errorf("asked %d, looked at %d", verdict.Asked, verdict.Looked)
	}
	damages := int64(0)
	for _, d := range v.Plan.Deliveries {
		damages += d.Damages
	}
	if damages != v.Damages.After || damages != *v.Tiers[3].Value {
		t.Errorf("damages %d by delivery, %d in all, %d in the tier", damages, v.Damages.After, *v.Tiers[3].Value)
	}
	// What moved is what the visits say against the bookings of the file.
	moved := map[string]bool{}
	for _, m := range v.Moved {
		moved[m.Visit] = true
	}
	for _, r := range v.Plan.Visits {
		if (r.Outcome == plant.Moved || r.Outcome == plant.Broken) != moved[r.Visit] {
			t.Errorf("visit %s is %s, and told as moved: %t", r.Visit, r.Outcome, moved[r.Visit])
		}
	}
}

// Nothing printed for people is wider than a page, whatever the names.
func TestPageWidth(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "plant.yaml")
	drive(t, done, "generate", "--trucks", "15", "--seed", "4", "--load", "1", "--slip", "-o", file)
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	long := filepath.Join(dir, "long.yaml")
	text := strings.ReplaceAll(string(data), "Fire Department", "Fire Department and Ambulance Corps of the Township of Ümläutfell upon the Larrow")
	if text == string(data) {
		t.Fatal("no name became longer")
	}
	if err := os.WriteFile(long, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var truck string
	p, _ := plant.Read(long, []byte(text))
	for _, v := range p.Visits {
		if v.Planned() && v.Kind == plant.FinalInspection {
			truck = v.Truck
		}
	}
	for _, args := range [][]string{
		{"plan", long, "--stages"}, {"slip", long}, {"check", long}, {"offers", long, "--truck", truck}, {"--help"}, {"slip", "--help"},
	} {
		var out, stderr bytes.Buffer
		if code := run(context.Background(), args, strings.NewReader(""), &out, &stderr, ticking()); code > no {
			t.Fatalf("wetdown %q: exit code %d\n%s", args, code, stderr.String())
		}
		if out.Len() == 0 {
			t.Errorf("wetdown %q prints nothing", args)
		}
		for line := range strings.Lines(out.String()) {
			if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > pageWidth {
				t.Errorf("wetdown %q: %d characters: %s", args, n, line)
			}
		}
	}
}

// A fault of the program has an exit code of its own, and says what to do.
func TestInternalFault(t *testing.T) {
	var out, stderr bytes.Buffer
	clock := func() time.Time { panic("the clock is broken") }
	if code := run(context.Background(), []string{"plan", small}, nil, &out, &stderr, clock); code != internal {
		t.Errorf("exit code %d, want %d", code, internal)
	}
	if out.Len() > 0 || !strings.HasPrefix(stderr.String(), "wetdown: internal fault: the clock is broken\n") {
		t.Errorf("%s%s", out.String(), stderr.String())
	}
}

// full is a stream that takes nothing.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

// An answer that cannot be written is not passed over in silence.
func TestAnswerLost(t *testing.T) {
	var stderr bytes.Buffer
	if code := run(context.Background(), []string{"check", small, "--json"}, nil, full{}, &stderr, ticking()); code != badInput {
		t.Errorf("exit code %d, want %d", code, badInput)
	}
	if want := "wetdown: the answer cannot be written to standard output: no room\n"; stderr.String() != want {
		t.Errorf("%s", stderr.String())
	}
}

// A file with a great many warnings does not bury the answer.
func TestWarn_Many(t *testing.T) {
	var stderr bytes.Buffer
	s := &session{stderr: &stderr}
	list := make([]plant.Fault, mostWarnings+2)
	for i := range list {
		list[i] = plant.Fault{File: "plant.yaml", Line: i + 1, Field: "visits", What: "it is so", Next: "look"}
	}
	s.warn(list)
	lines := strings.Split(strings.TrimSpace(stderr.String()), "\n")
	if len(lines) != mostWarnings+1 || lines[0] != "wetdown: warning: plant.yaml:1: visits: it is so. Next: look." || lines[mostWarnings] != "wetdown: 2 more warnings of plant.yaml: --json lists them all." {
		t.Errorf("%s", stderr.String())
	}
	if n := len(s.warned()); n != len(list) {
		t.Errorf("machines are told %d, want %d", n, len(list))
	}
}

func TestWrap(t *testing.T) {
	var p page
	p.item("%s", strings.Repeat("0123456789 ", 11)+strings.Repeat("x", 120)+" end")
	want := "- " + strings.TrimSpace(strings.Repeat("0123456789 ", 9)) + "\n" +
		"  " + strings.TrimSpace(strings.Repeat("0123456789 ", 2)) + "\n" +
		"  " + strings.Repeat("x", 120) + "\n  end\n" // a word is never cut
	if d := cmp.Diff(want, p.String()); d != "" {
		t.Error(d)
	}
}

func TestTable(t *testing.T) {
	tab := &table{heads: []string{"id", "~name", ">n"}}
	tab.add("a", "short", "1")
	tab.add("bb", strings.Repeat("ü", 120), "12,000")
	var p page
	p.table(tab)
	lines := strings.SplitAfter(p.String(), "\n")
	for i, line := range lines[:3] {
		if n := utf8.RuneCountInString(line) - 1; n != pageWidth {
			t.Errorf("line %d has %d characters, want %d: %q", i, n, pageWidth, line)
		}
	}
	if !strings.HasPrefix(lines[2], "bb  ü") || !strings.HasSuffix(lines[2], "ü…  12,000\n") || !strings.HasSuffix(lines[0], "       n\n") {
		t.Errorf("%q", lines)
	}
	p = page{}
	p.table(&table{heads: []string{"id"}})
	if p.Len() != 0 {
		t.Errorf("a table without rows is printed: %q", p.String())
	}
}

func TestThousands(t *testing.T) {
	for n, want := range map[int64]string{0: "0", 999: "999", 1000: "1,000", 123456: "123,456", -1234567: "-1,234,567", -123: "-123"} {
		if got := thousands(n); got != want {
			t.Errorf("thousands(%d) = %s, want %s", n, got, want)
		}
	}
}
