package main

import (
	"bytes"
	"errors"
	"path/filepath"
	"strings"

	"wetdown/api/wire"
	"wetdown/solver"
	"wetdown/testdata"
)

type exportCmd struct {
	planFile
	Format string `required:"" enum:"wcnf,dzn" placeholder:"FORMAT" help:"wcnf: weighted clauses for MaxSAT solvers; dzn: data for MiniZinc, with a model beside it."`
	Model  string `placeholder:"FILE" help:"Where to write the MiniZinc model. Default: beside the file of -o, with .mzn at its end."`
}

// Help says more than one line.
func (*exportCmd) Help() string {
	return `The file asks exactly what wetdown plan answers: every rule, every tier. Slips recorded in the plant file
have happened. In a wcnf, a comment "c tier NAME scale N" for each tier tells how to read the cost of a
solution: the sum of value times scale. Where the scales need the proven values of the best plan, it is
planned first. Exit code 1: there is no plan, or --limit ended that planning.`
}

type wireExport struct {
	Format   string         `json:"format"`
	File     string         `json:"file"`
	Bytes    int            `json:"bytes"`
	Model    *string        `json:"model"`
	Warnings []wire.Warning `json:"warnings"`
}

func (c *exportCmd) run(s *session) (int, error) {
	model, err := c.model(s)
	if err != nil {
		return 0, err
	}
	p, _, err := s.loadNow(c.File)
	if err != nil {
		return 0, err
	}
	w := s.watch("writing the question")
	var b bytes.Buffer
	err = solver.Export(s.ctx, p, c.Format, &b)
	w.stop()
	switch {
	case errors.Is(err, solver.ErrNoStart):
		s.note("%v. Nothing is written.", err)
		return no, nil
	case err != nil && s.ctx.Err() != nil:
		s.note("the tiers of this plant can be weighed only once the best plan is proven, and time ran out before that. Give more with --limit, or ask for --format dzn. Nothing is written.")
		return no, nil
	case err != nil:
		return 0, refuse("%v", err)
	}
	if model != "" {
		if err := write(model, []byte(testdata.ScheduleModel)); err != nil {
			return 0, err
		}
	}
	if err := s.put(b.Bytes(), s.Out); err != nil {
		return 0, err
	}
	if s.Out == "" {
		if c.Format == solver.DZN && model == "" {
			s.note("this is the data alone; -o FILE writes the model beside it, --model FILE where you say.")
		}
		return done, nil
	}
	pg := &page{}
	pg.say("%s: %s bytes.", s.Out, thousands(int64(b.Len())))
	if model != "" {
		pg.say("The model is in %s: minizinc --solver gecode %s %s", model, model, s.Out)
	}
	return s.report(true, wireExport{c.Format, s.Out, b.Len(), wire.Text(model), s.warned()}, pg)
}

// model is where the model goes, "" for nowhere.
func (c *exportCmd) model(s *session) (string, error) {
	if s.JSON && s.Out == "" {
		return "", refuse("the export itself goes to standard output, and it is no JSON: name a file for it with -o, or leave --json out")
	}
	model := c.Model
	switch {
	case c.Format != solver.DZN && model != "":
		return "", refuse("--model belongs to --format dzn: leave it out")
	case c.Format == solver.DZN && model == "" && s.Out != "":
		model = strings.TrimSuffix(s.Out, filepath.Ext(s.Out)) + ".mzn"
		if model == s.Out {
			return "", refuse("-o %s is the name of the model: end the name of the data with .dzn, or say where the model goes with --model", s.Out)
		}
	}
	if err := canWrite(model); err != nil {
		return "", err
	}
	return model, canWrite(s.Out)
}
