package outside

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// pigeons is "n+1 pigeons in n holes, two in none": no clause of it can be spared.
func pigeons(n int32) *DIMACS {
	f := &DIMACS{Variables: int(n * (n + 1))}
	in := func(pigeon, hole int32) int32 { return pigeon*n + hole + 1 }
	for p := range n + 1 {
		var some []int32
		for h := range n {
			some = append(some, in(p, h))
			for other := range p {
				f.Hard = append(f.Hard, []int32{-in(p, h), -in(other, h)})
			}
		}
		f.Hard = append(f.Hard, some)
	}
	return f
}

// TestCheckProof has proofs of cadical passed, and refused once a clause is struck out:
// one of the formula, which can then be satisfied; one of the proof that others rest on;
// all of the proof.
func TestCheckProof(t *testing.T) {
	for n := int32(3); n <= 7; n++ {
		f := pigeons(n)
		dir := t.TempDir()
		file, proof := filepath.Join(dir, "f.cnf"), filepath.Join(dir, "f.drat")
		f.Write(t, file)
		if got := ReadDIMACS(t, file); !slices.EqualFunc(got.Hard, f.Hard, slices.Equal) || got.Variables != f.Variables {
			t.Fatalf("%d holes: what was written is not read again", n)
		}
		if s := Cadical(context.Background(), t, file, proof); s != "UNSATISFIABLE" {
			t.Fatalf("%d holes: cadical says %s", n, s)
		}
		text, err := os.ReadFile(proof)
		if err != nil {
			t.Fatal(err)
		}
		if err := CheckProof(f, strings.NewReader(string(text))); err != nil {
			t.Errorf("%d holes: %v", n, err)
		}
		for i := range f.Hard {
			less := &DIMACS{Variables: f.Variables, Hard: slices.Delete(slices.Clone(f.Hard), i, i+1)}
			if CheckProof(less, strings.NewReader(string(text))) == nil {
				t.Errorf("%d holes, clause %v struck out: a contradiction where there is none", n, f.Hard[i])
			}
		}
		lines := strings.SplitAfter(string(text), "\n")
		added := slices.IndexFunc(lines, func(l string) bool { return !strings.HasPrefix(l, "d ") })
		refused := 0
		for i := added; i < min(added+200, len(lines)); i++ {
			if !strings.HasPrefix(lines[i], "d ") && CheckProof(f, strings.NewReader(strings.Join(slices.Delete(slices.Clone(lines), i, i+1), ""))) != nil {
				refused++
			}
		}
		t.Logf("%d holes: %d lines, %d of the first 200 cannot be spared", n, len(lines), refused)
		if refused == 0 {
			t.Errorf("%d holes: no clause of the proof is missed", n)
		}
		for _, c := range []struct{ proof, want string }{
			{"", "ends before"},
			{"0\n", "line 1"},
			{"1 0\n" + string(text), "line 1"},
			{"1 2\n", "line 1"},
		} {
			if err := CheckProof(f, strings.NewReader(c.proof)); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%d holes, %.10q: %v, want %q", n, c.proof, err, c.want)
			}
		}
	}
}

// TestCheckProof_Small decides proofs by hand.
func TestCheckProof_Small(t *testing.T) {
	all := [][]int32{{1, 2}, {1, -2}, {-1, 2}, {-1, -2}}
	for _, c := range []struct {
		name    string
		clauses [][]int32
		proof   string
		right   bool
	}{
		{"two steps", all, "1 0\n0\n", true},
		{"one step, the other follows at once", all, "1 0\n", true},
		{"a step too far", all, "0\n", false},
		{"what is deleted is gone", all, "d 2 1 0\n1 0\n0\n", false},
		{"what was deleted once of two stays", append([][]int32{{2, 1}}, all...), "d 1 2 0\n1 0\n0\n", true},
		{"what makes a literal true stays true", [][]int32{{1}, {-1, 2}, {-2, 3}, {-3, -2, 4}, {-4, 5, 6}, {-4, 5, -6}, {-5, 6}, {-5, -6}}, "d 1 0\nd 2 -1 0\n5 0\n", true},
		{"without a step", [][]int32{{1}, {2}, {-1}, {3}, {4, 5}}, "", true},
		{"a literal twice", [][]int32{{1, 1}, {-1, -1, -1}}, "", true},
		{"satisfied", [][]int32{{1, 2}, {-1, 2}}, "2 0\n0\n", false},
		{"only by resolution with all there", [][]int32{{1, 2}, {-1, 3}}, "4 1 0\n", false},
	} {
		err := CheckProof(&DIMACS{Variables: 6, Hard: c.clauses}, strings.NewReader(c.proof))
		if (err == nil) != c.right {
			t.Errorf("%s: %v, want a proof: %t", c.name, err, c.right)
		}
	}
}
