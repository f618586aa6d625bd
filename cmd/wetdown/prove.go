package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"

	"wetdown/api/wire"
	"wetdown/solver"
	"wetdown/solver/plant"
	"wetdown/solver/schedule"
)

type proveCmd struct {
	planFile
	Most int `default:"5000000" placeholder:"CLAUSES" help:"Write no file of more clauses than this. A million are some 30 to 40 MB. Default: ${default}."`
}

// Help says more than one line.
func (*proveCmd) Help() string {
	return `Plans as wetdown plan does, and writes into the new folder of -o what others need to check, with their own
programs, that the plan is right and that none is better: the question and the plan as clauses, and for each tier
clauses that a better plan would satisfy, which any SAT solver finds contradictory. README.txt there says how. Slips
recorded in the plant file have happened. Exit code 1, and nothing is written: the plan is not proven to be the
best.`
}

type wireProof struct {
	Folder   string          `json:"folder"`
	Status   plant.Status    `json:"status"`
	Tiers    []wire.Tier     `json:"tiers"`
	Files    []wireProofFile `json:"files"`
	Warnings []wire.Warning  `json:"warnings"`
}

type wireProofFile struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

func (c *proveCmd) run(s *session) (int, error) {
	switch {
	case s.Out == "":
		return 0, refuse("a proof is a folder of files: name a new one with -o")
	case c.Most < 1:
		return 0, refuse("--most %d leaves no clause to write: give a number of clauses such as 5000000, or leave it out", c.Most)
	}
	if err := canFill(s.Out); err != nil {
		return 0, err
	}
	p, _, err := s.loadNow(c.File)
	if err != nil {
		return 0, err
	}
	w := s.watch("counting clauses")
	x, err := solver.Prove(s.ctx, p, c.Most, s.options(w), w.set)
	var files []solver.ProofFile
	if err == nil && x.Complete() {
		files, err = fill(s.ctx, s.Out, w, x)
	}
	w.stop()
	var large *solver.TooLarge
	switch {
	case errors.As(err, &large):
		enough := (large.Clauses*11/10/100_000 + 1) * 100_000 // what a plan costs adds some
		return 0, refuse("%s would have %s clauses, some %s MB, and --most is %s. Next: --most %d writes it all the same; fewer trucks, or a nearer last day of the horizon, make less of it. Nothing is written", large.File, thousands(int64(large.Clauses)), thousands(int64(large.Clauses)*35/1e6+1), thousands(int64(large.Most)), enough)
	case errors.Is(err, schedule.ErrHeavy):
		return 0, refuse("%v. Nothing is written", err)
	case err != nil:
		return 0, err
	}
	pg := &page{}
	heading(pg, p)
	verdict(pg, s.ctx, x.Result)
	if x.Result.Plan != nil {
		tiers(pg, x.Result.Tiers)
	}
	pg.gap("")
	switch {
	case files != nil:
		t := &table{heads: []string{"file", ">bytes"}}
		for _, f := range files {
			t.add(f.Name, thousands(f.Bytes))
		}
		pg.table(t)
		pg.gap("")
		pg.say("%s says what they are, what proves what, and how to check it.", filepath.Join(s.Out, "README.txt"))
	case x.Result.Status == plant.Optimal:
		pg.say("%s is not written: time ran out before its clauses were chosen. Give more with --limit, or leave it out.", s.Out)
	case x.Result.Status == plant.Infeasible:
		pg.say("%s is not written: there is no plan to prove anything about. First change the plant as said above.", s.Out)
	default:
		pg.say("%s is not written: there is no proof yet that no plan is better. Give more time with --limit, or leave it out.", s.Out)
	}
	out := wireProof{Folder: s.Out, Status: x.Result.Status, Tiers: []wire.Tier{}, Files: []wireProofFile{}, Warnings: s.warned()}
	for _, v := range x.Result.Tiers {
		out.Tiers = append(out.Tiers, wire.ToTier(v))
	}
	for _, f := range files {
		out.Files = append(out.Files, wireProofFile{f.Name, f.Bytes, f.Sum})
	}
	return s.report(files != nil, out, pg)
}

// canFill looks whether a folder can be made, or is there and empty.
func canFill(name string) error {
	i, err := os.Stat(name)
	if err != nil {
		return canWrite(filepath.Clean(name))
	}
	if !i.IsDir() {
		return refuse("-o %s is a file, and a proof is a folder of files: name a new one", name)
	}
	inside, err := os.ReadDir(name)
	switch {
	case err != nil:
		return refuse("-o %s cannot be read: %v: name a new folder", name, cause(err))
	case len(inside) > 0:
		return refuse("-o %s is not empty, and nothing in it is overwritten: name a new folder, or empty this one", name)
	}
	return canWrite(filepath.Join(name, "README.txt"))
}

// fill writes the files of a proof. The folder is there with all of them or not at
// all: they are written into one beside it, which then takes its name.
func fill(ctx context.Context, name string, w *watch, x *solver.Proof) ([]solver.ProofFile, error) {
	name = filepath.Clean(name)
	part := filepath.Join(filepath.Dir(name), fmt.Sprintf(".%s.%d.part", filepath.Base(name), os.Getpid()))
	if err := os.Mkdir(part, 0o777); err != nil {
		return nil, unwritten(name, err)
	}
	defer os.RemoveAll(part) // nothing once it has its name
	files, err := x.Write(maker(), func(file string) (io.WriteCloser, error) {
		f, err := os.Create(filepath.Join(part, file))
		return &shown{File: f, ctx: ctx, watch: w}, err
	})
	if err == nil {
		os.Remove(name) // an empty one
		err = os.Rename(part, name)
	}
	switch {
	case ctx.Err() != nil && err != nil:
		return nil, nil
	case err != nil:
		return nil, unwritten(name, err)
	}
	return files, nil
}

// shown is a file of a proof that shows how far its writing is, and ends with ctx.
type shown struct {
	*os.File
	ctx     context.Context
	watch   *watch
	written int64
}

func (f *shown) Write(b []byte) (int, error) {
	if err := f.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := f.File.Write(b)
	f.written += int64(n)
	f.watch.set(fmt.Sprintf("writing %s: %s MB", filepath.Base(f.Name()), thousands(f.written/1e6)))
	return n, err
}

// maker is this program, with the revision of its source where that is known.
func maker() string {
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, x := range info.Settings {
			if x.Key == "vcs.revision" {
				return solver.Program + ", revision " + x.Value
			}
		}
	}
	return solver.Program
}
