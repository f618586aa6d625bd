package solver

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"strings"

	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

// ErrTooLarge is returned for a question, or a tier, of more clauses than were
// asked for at the most.
var ErrTooLarge = errors.New("too large")

// A TooLarge says which file of a proof has too many clauses. It is ErrTooLarge.
type TooLarge struct {
	File          string
	Clauses, Most int
}

func (e *TooLarge) Error() string {
	return fmt.Sprintf("%s: %s has %d clauses, more than %d", ErrTooLarge, e.File, e.Clauses, e.Most)
}

// Is makes it ErrTooLarge.
func (e *TooLarge) Is(err error) bool { return err == ErrTooLarge }

// A Proof is a best plan with what somebody who does not trust this program needs to
// check that it is right and that none is better.
type Proof struct {
	Result *Result
	p      *plant.Plant
	q      *question
	c      *schedule.Certificate // nil: there is no plan, or it is not proven to be the best, or time ran out
}

// A ProofFile is a file of a proof that was written.
type ProofFile struct {
	Name  string
	Bytes int64
	Sum   string // SHA-256, in hexadecimal
}

// Complete reports whether there is anything to write: a plan that is proven to be
// the best, and everything that shows it.
func (x *Proof) Complete() bool { return x.c != nil }

// Prove plans as Plan does and prepares the files of the proof. It returns a TooLarge
// when one of them would have more than most clauses; the question is counted
// before the planning begins. A proof that ctx ended, or a plant without a plan, is
// not complete, and no error. Say is told what is being done.
func Prove(ctx context.Context, p *plant.Plant, most int, o Options, say func(string)) (*Proof, error) {
	q, lost, err := ask(p)
	if err != nil {
		return nil, err
	}
	if len(lost) == 0 {
		if n := schedule.CountClauses(&q.problem); n > most {
			return nil, &TooLarge{questionFile, n, most}
		}
	}
	x := &Proof{p: p, q: q}
	if x.Result, err = q.best(ctx, lost, o, false, stopwatch(o.Clock)); err != nil || x.Result.Status != plant.Optimal {
		return x, err
	}
	if err := x.certify(ctx, most, say); err != nil && ctx.Err() == nil {
		return nil, err
	}
	return x, nil
}

// certify prepares the files for the plan of the result.
func (x *Proof) certify(ctx context.Context, most int, say func(string)) error {
	var values []int64
	for _, v := range x.Result.Tiers {
		values = append(values, v.Value)
	}
	say("writing the rules as clauses")
	c, err := schedule.Certify(ctx, &x.q.problem, x.q.recall(x.Result.Plan), values, func(t int) {
		say(fmt.Sprintf("choosing the clauses of tier %s (%d of %d)", plant.TierNames[t], t+1, len(plant.TierNames)))
	})
	if err != nil {
		return err
	}
	if c.Clauses > most {
		return &TooLarge{questionFile, c.Clauses, most}
	}
	for _, t := range c.Tiers {
		if t.Clauses > most {
			return &TooLarge{tierFile(t.Tier), t.Clauses, most}
		}
	}
	x.c = c
	return nil
}

// Names of the files of a proof.
const (
	readmeFile   = "README.txt"
	questionFile = "question.wcnf"
	modelFile    = "plan.model"
	costsFile    = "costs.txt"
	startsFile   = "starts.csv"
	planFile     = "plan.yaml"
)

func tierFile(t int) string { return "tier-" + plant.TierNames[t] + ".cnf" }

// Write writes the files of a complete proof, the one to read first at last; create
// makes one of them. The same plant makes the same bytes. Program names what made
// them, the version with its revision where that is known.
func (x *Proof) Write(program string, create func(name string) (io.WriteCloser, error)) ([]ProofFile, error) {
	with := *x.p
	with.Plan = x.Result.Plan
	var list []ProofFile
	put := func(name string, write func(w io.Writer) error) error {
		w, err := create(name)
		if err != nil {
			return err
		}
		sum := sha256.New()
		n := &counting{}
		if err := errors.Join(write(io.MultiWriter(w, sum, n)), w.Close()); err != nil {
			return err
		}
		list = append(list, ProofFile{name, n.bytes, fmt.Sprintf("%x", sum.Sum(nil))})
		return nil
	}
	err := put(planFile, func(w io.Writer) error { _, err := w.Write(plant.Write(&with)); return err })
	for _, f := range []struct {
		name  string
		write func(w io.Writer) error
	}{
		{questionFile, x.c.WriteQuestion},
		{startsFile, x.writeStarts},
		{costsFile, x.c.WriteCosts},
		{modelFile, x.c.WriteModel},
	} {
		if err == nil {
			err = put(f.name, f.write)
		}
	}
	for _, t := range x.c.Tiers {
		if err == nil {
			err = put(tierFile(t.Tier), func(w io.Writer) error { return x.c.WriteTier(w, t) })
		}
	}
	if err == nil {
		var sums []string
		for _, f := range list {
			sums = append(sums, f.Sum+"  "+f.Name)
		}
		err = put(readmeFile, func(w io.Writer) error { return x.writeReadme(w, program, sums) })
	}
	return list, err
}

// counting counts what is written to it.
type counting struct{ bytes int64 }

func (c *counting) Write(b []byte) (int, error) {
	c.bytes += int64(len(b))
	return len(b), nil
}

// writeStarts says what every start of every task is on the calendar.
func (x *Proof) writeStarts(w io.Writer) error {
	var b bytes.Buffer
	b.WriteString("task,start,truck,stage,from,to\n")
	for i := range x.q.work {
		k := &x.q.work[i]
		for n, m := range k.moves {
			fmt.Fprintf(&b, "%d,%d,%s,%s,%s,%s\n", i, n, k.truck.ID, k.row(), m.start, m.end)
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (x *Proof) writeReadme(w io.Writer, program string, sums []string) error {
	return proofReadme.Execute(w, map[string]any{
		"Plant": x.p.Name, "AsOf": x.p.AsOf.String(), "Program": program, "Revision": x.Result.Plan.Revision,
		"Tiers": x.Result.Tiers, "Question": x.c, "Sums": strings.Join(sums, "\n"),
	})
}
