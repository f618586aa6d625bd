package sat

import (
	"errors"
	"strings"
	"testing"
)

func TestFormula(t *testing.T) {
	var f Formula
	a, b, c := f.Lit(), f.Lit(), f.Lit()
	buffer := []Lit{a, -b, c, a}
	f.Add(buffer...)
	buffer[0] = -a // the clause is a copy
	f.Add2(-a, b)
	f.Add3(-a, -b, -c)
	f.Add(c)
	f.Add()
	var out strings.Builder
	if err := f.WriteDIMACS(&out); err != nil {
		t.Fatal(err)
	}
	want := "p cnf 3 5\n1 -2 3 1 0\n-1 2 0\n-1 -2 -3 0\n3 0\n0\n"
	if out.String() != want {
		t.Errorf("WriteDIMACS:\n%swant:\n%s", out.String(), want)
	}
	out.Reset()
	if err := f.WriteClauses(&out, "77 "); err != nil {
		t.Fatal(err)
	}
	if got, want := out.String(), "77 1 -2 3 1 0\n77 -1 2 0\n77 -1 -2 -3 0\n77 3 0\n77 0\n"; got != want {
		t.Errorf("WriteClauses with a weight:\n%swant:\n%s", got, want)
	}
	for _, l := range []Lit{0, 4, -4} {
		for _, add := range []func(){func() { f.Add(a, l) }, func() { f.Add2(a, l) }, func() { f.Add3(a, b, l) }} {
			if panics(add) == "" {
				t.Errorf("literal %d of 3 variables is accepted", l)
			}
		}
	}
	if f.NumVars() != 3 || f.NumClauses() != 5 {
		t.Errorf("%d variables and %d clauses, want 3 and 5: a refused clause leaves nothing behind", f.NumVars(), f.NumClauses())
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestFormula_WriteError(t *testing.T) {
	var f Formula
	f.Add(f.Lit())
	if err := f.WriteClauses(fullDisk{}, ""); err == nil {
		t.Error("WriteClauses drops the writer's error")
	}
	if err := f.WriteDIMACS(fullDisk{}); err == nil {
		t.Error("WriteDIMACS drops the writer's error")
	}
}
