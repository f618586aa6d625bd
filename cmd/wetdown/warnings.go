package main

import (
	"wetdown/api/wire"
	"wetdown/solver/plant"
)

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
func (s *session) warned() []wire.Warning { return wire.Each(s.warnings, wire.ToWarning) }
