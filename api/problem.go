package api

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"wetdown/solver/plant"
)

// A Kind of problem says whose turn it is.
type Kind int

// Kinds of problem.
const (
	Invalid   Kind = iota + 1 // what was asked makes no sense: ask otherwise
	NotFound                  // there is no such thing
	Conflict                  // it does not fit the plant as it is now
	Stale                     // it was asked of a revision that is no longer the newest
	Refused                   // a truthful no: the planner says it cannot be
	Unknown                   // nobody is known to ask: log in
	Forbidden                 // who asks may not
	TooLarge                  // more than is taken at once
	Busy                      // later
	Broken                    // a fault of the program
)

// A Problem is why something was not done, for the person who asked. Nothing was
// changed by the call that returns it.
type Problem struct {
	Kind   Kind
	Title  string         // the same for every problem of its sort
	Detail string         // this one, in a sentence
	Next   string         // what to do now
	Faults []plant.Fault  // field by field, for Invalid
	Extra  map[string]any // state that matters, by names in the style of plant files
	Wait   time.Duration  // for Busy: when to try again
}

// inRow says which row of a list that was sent it is about, n from 0.
func (p *Problem) inRow(n int) *Problem {
	if p.Extra == nil {
		p.Extra = map[string]any{}
	}
	p.Extra["row"] = n + 1
	return p
}

func (p *Problem) Error() string {
	text := p.Title
	if p.Detail != "" {
		text += ": " + p.Detail
	}
	if p.Next != "" {
		text += " " + p.Next
	}
	return text
}

// AsProblem returns the problem in err, or one that says that the program is at fault
// and nothing else: what went on inside is for the log.
func AsProblem(err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	if errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled) {
		return &Problem{Kind: Busy, Title: "It took too long", Detail: "What was asked did not come to an end in the time given.", Next: "Try again in a moment.", Wait: 5 * time.Second}
	}
	return &Problem{Kind: Broken, Title: "Something went wrong in the program", Next: "Try once more. If it stays, give your administrator the time at which it happened."}
}

// invalid is a problem with one field of what was asked.
func invalid(field, detail, next string) *Problem {
	return &Problem{Kind: Invalid, Title: "This cannot be taken as it is", Detail: detail, Next: next, Extra: map[string]any{"field": field}}
}

// noSuch is a problem with a name that nothing bears.
func noSuch(noun, id string, known []string) *Problem {
	next := "Look it up in the list."
	if n := plant.Nearest(id, known); n != "" {
		next = fmt.Sprintf("Did you mean %s?", n)
	}
	return &Problem{Kind: NotFound, Title: "There is no such " + noun, Detail: fmt.Sprintf("Nothing here is the %s %q.", noun, id), Next: next}
}

// faulty is a problem with a plant that would come of what was asked.
func faulty(faults []plant.Fault) *Problem {
	p := &Problem{Kind: Invalid, Title: "The plant would contradict itself", Faults: faults, Next: "Correct the fields named and ask again."}
	var said []string
	for _, f := range faults[:min(3, len(faults))] {
		said = append(said, f.String())
	}
	p.Detail = strings.Join(said, " ")
	if n := len(faults) - len(said); n > 0 {
		p.Detail += fmt.Sprintf(" And %d more.", n)
	}
	return p
}
