package outside

import (
	"bufio"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
)

// DIMACS is a file of clauses, read by the format alone: "p cnf VARIABLES CLAUSES" and
// clauses that end with 0, or "p wcnf VARIABLES CLAUSES TOP" and a weight before each.
// (The first as in the SAT Competitions, the second as in the MaxSAT Evaluations up to
// 2019.)
type DIMACS struct {
	Variables int
	Hard      [][]int32 // clauses without a weight, or of weight TOP
	Soft      []Soft
}

// Soft is a clause with its weight.
type Soft struct {
	Weight int64
	Clause []int32
}

// ReadDIMACS reads a file and checks it against its header.
func ReadDIMACS(t testing.TB, file string) *DIMACS {
	t.Helper()
	text, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer text.Close()
	f := &DIMACS{}
	clauses, top := -1, int64(0)
	lines := bufio.NewScanner(text)
	lines.Buffer(nil, 1<<24)
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		words := strings.Fields(line)
		switch {
		case strings.HasPrefix(line, "c "):
			continue
		case strings.HasPrefix(line, "p cnf "):
			_, err = fmt.Sscanf(line, "p cnf %d %d", &f.Variables, &clauses)
		case strings.HasPrefix(line, "p wcnf "):
			_, err = fmt.Sscanf(line, "p wcnf %d %d %d", &f.Variables, &clauses, &top)
		case clauses < 0:
			err = fmt.Errorf("a clause before the header")
		default:
			weight := top
			if top > 0 {
				if weight, err = strconv.ParseInt(words[0], 10, 64); err == nil {
					words = words[1:]
				}
			}
			var clause []int32
			if clause, err = f.clause(words); err == nil && weight == top {
				f.Hard = append(f.Hard, clause)
			} else {
				f.Soft = append(f.Soft, Soft{weight, clause})
			}
		}
		if err != nil {
			t.Fatalf("%s, line %d: %v", file, n, err)
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	if n := len(f.Hard) + len(f.Soft); n != clauses {
		t.Fatalf("%s has %d clauses, and its header says %d", file, n, clauses)
	}
	return f
}

// clause reads literals up to the 0 that must be the last word.
func (f *DIMACS) clause(words []string) (clause []int32, err error) {
	for n, word := range words {
		l, err := strconv.ParseInt(word, 10, 32)
		switch {
		case err != nil:
			return nil, err
		case l == 0 && n == len(words)-1:
			return clause, nil
		case l == 0 || int(max(l, -l)) > f.Variables:
			return nil, fmt.Errorf("%d is no literal", l)
		}
		clause = append(clause, int32(l))
	}
	return nil, fmt.Errorf("%q does not end with 0", strings.Join(words, " "))
}

// ReadModel reads lines "v LITERAL ... 0" from a file: a value for every variable, from 1.
func ReadModel(t testing.TB, file string) []bool {
	t.Helper()
	text, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer text.Close()
	v, err := readVerdict(bufio.NewReader(text))
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	return v.Model
}

// Holds reports whether a model makes one literal of the clause true.
func Holds(model []bool, clause []int32) bool {
	for _, l := range clause {
		if l > 0 && model[l] || l < 0 && !model[-l] {
			return true
		}
	}
	return false
}

// Write writes the hard clauses to a file.
func (f *DIMACS) Write(t testing.TB, file string) {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "p cnf %d %d\n", f.Variables, len(f.Hard))
	for _, clause := range f.Hard {
		for _, l := range clause {
			b.WriteString(strconv.Itoa(int(l)))
			b.WriteByte(' ')
		}
		b.WriteString("0\n")
	}
	if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
