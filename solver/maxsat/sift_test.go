package maxsat

import (
	"testing"

	"wetdown/solver/cdcl"
	"wetdown/solver/sat"
)

// Of five that are in each other's way two by two at least four have to go, in each of three parts.
// Part by part all of it is found before there is any model: the first one is best. Asked about
// everything at once a session meets others before.
func TestSift(t *testing.T) {
	for _, parts := range []int{0, 3} {
		s := cdcl.New()
		var softs []Soft
		for part := range 3 {
			var lits []sat.Lit
			for range 5 {
				lits = append(lits, s.Lit())
			}
			for i, a := range lits {
				for _, b := range lits[:i] {
					s.Add2(-a, -b)
				}
				s.Phase(-a)
				softs = append(softs, Soft{Lit: -a, Weight: 1, Part: part + 1})
			}
			s.Part(part+1, lits...)
			s.Decide(lits...)
		}
		models := 0
		var bounds []int64
		least, status := Minimize(background, s, softs, &Hopes{}, -1, Watch{
			Parts: parts,
			Bound: func(lower int64) int64 { bounds = append(bounds, lower); return -1 },
			Model: func(lower int64, final bool) (int64, Verdict) { models++; return -1, Accept },
		})
		if least != 12 || status != sat.Sat {
			t.Errorf("%d parts: %s, least cost %d, want 12", parts, status, least)
		}
		if one := models == 1; one != (parts > 0) {
			t.Errorf("%d parts: %d models, bounds %v", parts, models, bounds)
		}
	}
}

// Where there is no model, a part may say so.
func TestSift_None(t *testing.T) {
	s := cdcl.New()
	a, b := s.Lit(), s.Lit()
	s.Part(1, a)
	s.Part(2, b)
	s.Add2(a, b)
	s.Add2(a, -b)
	s.Add2(-a, b)
	s.Add2(-a, -b)
	if _, status := Minimize(background, s, []Soft{{Lit: a, Weight: 1, Part: 1}}, &Hopes{}, -1, Watch{Parts: 2}); status != sat.Unsat {
		t.Errorf("%s, want unsat", status)
	}
}
