package plant

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/txtar"
)

// noise is text of about n bytes that wastes a reader's time, by name.
func noise(n int) map[string]string {
	random := func(letters string) string {
		r := rand.New(rand.NewPCG(1, 2))
		b := make([]byte, n)
		for i := range b {
			b[i] = letters[r.IntN(len(letters))]
		}
		return string(b)
	}
	rep := func(s string) string { return strings.Repeat(s, n/len(s)) }
	begin := "wetdown: 1\n"
	var stairs strings.Builder
	for i := 0; stairs.Len() < n; i++ {
		stairs.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	rows := func(head, row string) string {
		var b strings.Builder
		b.WriteString(begin + head + "\n")
		for i := 0; b.Len() < n; i++ {
			fmt.Fprintf(&b, row+"\n", i)
		}
		return b.String()
	}
	return map[string]string{
		"blanks": rep(" "), "lines": rep("\n"), "zeros": rep("\x00"), "letters": rep("a"), "random bytes": random("\x00\x01\xfe\xff ab:-\n"),
		"random signs": begin + random("[]{}:,-?&*!|>'\"%@` \nab1"), "random letters": begin + random("ab: \n-"),
		"open lists": rep("["), "open keys": rep("{a: "), "dashes": rep("- "), "questions": rep("? "), "quotes": rep("'"), "one quote": `"` + rep("a"),
		"lists": "[" + rep("[],") + "]", "flow": begin + "trucks: [" + rep("{},") + "{}]", "commas": begin + "x: {" + rep("a,") + "}",
		"unknown keys": rows("", "key%d: 1"), "same key": begin + rep("a: b\n"), "comments": begin + rep("# a\n"), "key with comments": begin + rep("a: b # c\n# d\n"),
		"anchors": begin + "a0: &a0 [x]\n" + strings.Join(bomb(n), ""), "documents": rep("---\n"), "literal": begin + "name: |\n" + rep(" x\n"),
		"stairs": stairs.String(), "long key": begin + rep("a") + ": b", "long value": begin + "name: " + rep("a"), "long id": begin + "trucks: [{id: " + rep("a") + "}]",
		"trucks": rows("trucks:", "- {id: t%d}"), "same truck": rows("trucks:", "- {id: t, x: %d}"), "stages": rows("route:", "- {id: s%[1]d, after: [s%[1]d, t]}"),
		"chain": rows("route:", "- {id: s%[1]d, department: d, hours: 1, after: [r%[1]d]}"), "bays": rows("bays:", "- {id: b%d, kinds: [x]}"),
		"plan rows": rows("plan:\n  stages:", "  - {truck: t%d, stage: s, start: 2027-03-01T07:00, end: 2027-03-01T08:00}"),
		"options":   rows("trucks:\n- id: t\n  options:", "  - option%d"), "closures": rows("calendars:\n- id: c\n  closures:", "  - {from: 2027-01-01, through: 2027-01-0%d}"),
		"overtime": rows("calendars:\n- id: c\n  holidays: [us-federal]\n  overtime:", "  - {day: 2027-01-01, shifts: [07:00-08:00]} # %d"),
		"mixed":    rows("trucks: x\nvisits: y\nbays:", "- {id: b%d, kinds: [x]}"),
	}
}

// bomb is lines in each of which nine aliases name the anchor of the line before.
func bomb(n int) []string {
	var lines []string
	for i := 1; n > 0; i++ {
		line := fmt.Sprintf("a%d: &a%d [%s]\n", i, i, strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 9))
		lines = append(lines, line)
		n -= len(line)
	}
	return lines
}

// Whatever comes in, the reader says what is wrong within a few seconds and
// without taking the machine's memory.
func TestRead_Noise(t *testing.T) {
	n := 1 << 19
	if testing.Short() {
		n = 1 << 17
	}
	texts := noise(n)
	for _, name := range sortedKeys(texts) {
		text := []byte(texts[name])
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		start := time.Now()
		p, faults := Read("noise", text)
		took := time.Since(start)
		runtime.ReadMemStats(&after)
		if p != nil || len(faults) == 0 || len(faults) > maxFaults+1 {
			t.Errorf("%s: plant %v, %d faults", name, p != nil, len(faults))
		}
		if took > 20*time.Second {
			t.Errorf("%s: took %v", name, took)
		}
		if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > 1000 {
			t.Errorf("%s: %d MB allocated", name, mb)
		}
		for _, f := range faults {
			if s := f.String(); len(s) > 2000 || strings.Contains(s, "\n") {
				t.Errorf("%s: fault of %d bytes: %.200s", name, len(s), s)
				break
			}
		}
		if took > time.Second {
			t.Logf("%s: %v, %d MB, %d faults, first: %.150s", name, took.Round(time.Millisecond), (after.TotalAlloc-before.TotalAlloc)>>20, len(faults), faults[0])
		}
	}
}

func sortedKeys(m map[string]string) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func TestRead_TooLarge(t *testing.T) {
	for _, text := range []string{"wetdown: 1\n" + strings.Repeat("# noise\n", 10<<20/8), "wetdown: 1\nx: [" + strings.Repeat("1,", maxEntries+1) + "1]"} {
		_, faults := Read("large", []byte(text))
		if len(faults) != 1 || !strings.Contains(faults[0].String(), "Allowed: at most") {
			t.Errorf("%.300v", faults)
		}
	}
}

// Faults come in the order of the file, and no more than can be read.
func TestRead_ManyFaults(t *testing.T) {
	var b strings.Builder
	b.WriteString("wetdown: 1\ntrucks:\n")
	for i := range 3000 {
		fmt.Fprintf(&b, "- {idd: %d}\n", i)
	}
	_, faults := Read("many", []byte(b.String()))
	if len(faults) != maxFaults+1 {
		t.Fatalf("%d faults", len(faults))
	}
	if !slices.IsSortedFunc(faults[:maxFaults], func(a, b Fault) int { return a.Line - b.Line }) {
		t.Error("not in order")
	}
	if last := faults[maxFaults].String(); !strings.Contains(last, "more faults are not listed") {
		t.Error(last)
	}
}

func FuzzRead(f *testing.F) {
	f.Add(small(f))
	f.Add(Write(readSmall(f)))
	for _, s := range append(snippets, beyond...) {
		f.Add([]byte("wetdown: 1\n" + s))
	}
	files, _ := filepath.Glob(filepath.Join("..", "..", "testdata", "fault", "*.txtar"))
	for _, file := range files {
		archive, err := txtar.ParseFile(file)
		if err != nil {
			f.Fatal(err)
		}
		for _, c := range archive.Files {
			text := string(small(f))
			for _, line := range strings.Split(string(c.Data), "\n") { // every line that a case puts in, wherever it fits
				if strings.HasPrefix(line, "+") {
					text = strings.Replace(text, "\nbuffer:", "\n"+line[1:]+"\nbuffer:", 1)
				}
			}
			f.Add([]byte(text))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, faults := Read("fuzz", data)
		for _, fault := range faults {
			if fault.Line < 1 || fault.What == "" || fault.Next == "" || strings.Contains(fault.String(), "\n") {
				t.Errorf("%+v", fault)
			}
		}
		if (p == nil) == (len(faults) == 0) {
			t.Fatalf("plant %v, %d faults", p != nil, len(faults))
		}
		if p == nil {
			return
		}
		Warnings(p, "noise", data)
		text := Write(p)
		again, faults := Read("written", text)
		if len(faults) > 0 {
			t.Fatalf("%v\n%s", faults, text)
		}
		if d := cmp.Diff(p, again); d != "" {
			t.Fatalf("%s\n%s", d, text)
		}
		if !bytes.Equal(text, Write(again)) {
			t.Fatalf("written otherwise the second time:\n%s", text)
		}
	})
}
