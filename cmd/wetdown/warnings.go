package main

import "wetdown/solver/plant"

// wireWarning is what is allowed in a file but is probably not meant, for machines.
type wireWarning struct {
	File  string  `json:"file"`
	Line  *int    `json:"line"` // from 1; null for what is not written there
	Field *string `json:"field"`
	What  string  `json:"what"`
	Next  string  `json:"next"`
}

// mostWarnings is how many warnings people are told one by one.
const mostWarnings = 20

// warn tells people the warnings of a file that was read, on standard error; for
// machines it keeps them for the answer.
func (s *session) warn(list []plant.Fault) {
	s.warnings = append(s.warnings, list...)
	if s.JSON {
		return
	}
	for _, w := range list[:min(len(list), mostWarnings)] {
		s.note("warning: %s", w)
	}
	if rest := len(list) - mostWarnings; rest > 0 {
		s.note("%s of %s: --json lists them all.", count(rest, "more warning"), list[0].File)
	}
}

// warned lists the warnings of all files read, for machines.
func (s *session) warned() []wireWarning {
	return each(s.warnings, func(f plant.Fault) wireWarning {
		w := wireWarning{File: f.File, Field: text(f.Field), What: f.What, Next: f.Next}
		if f.Line > 0 {
			w.Line = &f.Line
		}
		return w
	})
}
