package outside

import (
	"bufio"
	"cmp"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// A WCNF is an exported file, read back with nothing but what its comments say.
type WCNF struct {
	Tiers     []string
	Scales    []int64
	Tasks     []Task
	Variables int64
	Clauses   int64
}

// A Task is a line "c task N first=K later=V..W skip=S on=M+M:V name=NAME".
type Task struct {
	Name     string
	first    int
	from, to int // variables
	skip     int // variable, 0 for none
	classes  []class
}

// A class is machines that are alike, and the variable that says "on one of them".
type class struct {
	machines []int
	variable int
}

// ReadWCNF reads a file and checks its form: as many clauses as the header says, no
// variable beyond it, hard clauses of weight TOP before soft ones of one literal,
// whose weights fit 31 bits and sum to less than TOP.
func ReadWCNF(t testing.TB, file string) *WCNF {
	t.Helper()
	text, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer text.Close()
	f := &WCNF{}
	var top, clauses, variable, sum int64
	soft := false
	lines := bufio.NewScanner(text)
	lines.Buffer(nil, 1<<24)
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		words := strings.Fields(line)
		switch {
		case strings.HasPrefix(line, "c tier "):
			if len(words) != 5 || words[3] != "scale" {
				t.Fatalf("line %d: %q is not c tier NAME scale N", n, line)
			}
			s, err := strconv.ParseInt(words[4], 10, 64)
			if err != nil || s < 1 {
				t.Fatalf("line %d: %q has no scale", n, line)
			}
			f.Tiers, f.Scales = append(f.Tiers, words[2]), append(f.Scales, s)
		case strings.HasPrefix(line, "c task "):
			task, err := readTask(line)
			if err != nil {
				t.Fatalf("line %d: %v", n, err)
			}
			f.Tasks = append(f.Tasks, task)
		case strings.HasPrefix(line, "c "):
		case strings.HasPrefix(line, "p "):
			if _, err := fmt.Sscanf(line, "p wcnf %d %d %d", &f.Variables, &f.Clauses, &top); err != nil {
				t.Fatalf("line %d: %q: %v", n, line, err)
			}
		default:
			clauses++
			numbers := make([]int64, len(words))
			for i, w := range words {
				if numbers[i], err = strconv.ParseInt(w, 10, 64); err != nil {
					t.Fatalf("line %d: %v", n, err)
				}
			}
			weight, lits := numbers[0], numbers[1:]
			if slices.Index(lits, 0) != len(lits)-1 {
				t.Fatalf("line %d: %q does not end with its only 0", n, line)
			}
			for _, l := range lits {
				variable = max(variable, l, -l)
			}
			switch {
			case weight == top && soft:
				t.Fatalf("line %d: a hard clause after a soft one", n)
			case weight == top:
			case weight < 1 || weight >= 1<<31 || len(lits) != 2:
				t.Fatalf("line %d: %q is not a soft clause of one literal and 31 bits", n, line)
			default:
				soft = true
				sum += weight
			}
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	if clauses != f.Clauses || variable > f.Variables || !soft || sum >= top {
		t.Fatalf("%s: the header says %d variables, %d clauses, top %d; there are %d clauses, variable %d, soft weights of %d in all",
			file, f.Variables, f.Clauses, top, clauses, variable, sum)
	}
	return f
}

func readTask(line string) (w Task, err error) {
	head, name, _ := strings.Cut(line, " name=")
	w.Name = name
	for _, word := range strings.Fields(head)[3:] {
		key, value, _ := strings.Cut(word, "=")
		if key == "on" {
			c, err := readClass(value)
			if err != nil {
				return w, err
			}
			w.classes = append(w.classes, c)
			continue
		}
		one, other, two := strings.Cut(strings.Replace(value, "..", ":", 1), ":")
		x, err := strconv.Atoi(one)
		if err != nil {
			return w, err
		}
		y := 0
		if two {
			if y, err = strconv.Atoi(other); err != nil {
				return w, err
			}
		}
		switch key {
		case "first":
			w.first = x
		case "later":
			w.from, w.to = x, y
		case "skip":
			w.skip = x
		default:
			return w, fmt.Errorf("what is %s in %q", key, line)
		}
	}
	return w, nil
}

func readClass(text string) (c class, err error) {
	list, variable, _ := strings.Cut(text, ":")
	if c.variable, err = strconv.Atoi(variable); err != nil {
		return c, err
	}
	for _, word := range strings.Split(list, "+") {
		m, err := strconv.Atoi(word)
		if err != nil {
			return c, err
		}
		c.machines = append(c.machines, m)
	}
	return c, nil
}

// Places reads a model as the comments tell to: by task, which of its starts it
// has, from 0, and the machine, from 0. Both are -1 for a task left out; the machine
// is -1 too where none of the class is free. slots tells when a task is there that has
// a start.
func (f *WCNF) Places(model []bool, slots func(task, start int) (from, to int32)) (start, machine []int) {
	var order []int
	on := make([]class, len(f.Tasks))
	for n, w := range f.Tasks {
		s := w.first
		for v := w.from; v <= w.to && v > 0; v++ {
			if model[v] {
				s++
			}
		}
		for _, c := range w.classes {
			if model[c.variable] {
				on[n] = c
			}
		}
		if w.skip > 0 && model[w.skip] {
			s, on[n] = -1, class{}
		}
		start, machine = append(start, s), append(machine, -1)
		if s >= 0 {
			order = append(order, n)
		}
	}
	slices.SortStableFunc(order, func(x, y int) int {
		a, _ := slots(x, start[x])
		b, _ := slots(y, start[y])
		return cmp.Or(cmp.Compare(a, b), cmp.Compare(len(on[x].machines), len(on[y].machines)))
	})
	free := map[int]int32{} // from when on, by machine
	for _, n := range order {
		from, to := slots(n, start[n])
		for _, m := range on[n].machines {
			if free[m] <= from {
				machine[n], free[m] = m, to
				break
			}
		}
	}
	return start, machine
}

// Cost is the sum of value × scale.
func (f *WCNF) Cost(values []int64) (sum int64) {
	for n, s := range f.Scales {
		sum += s * values[n]
	}
	return sum
}
