package main

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"wetdown/api"
	"wetdown/api/store"
	"wetdown/solver/plant"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"wetdown": main, "wetdown-earlier": earlier})
}

// TestScript runs the scripts in testdata/script, each with the plants that lie
// beside them in its folder. UPDATE=1 writes what is printed into the scripts.
func TestScript(t *testing.T) {
	dir := filepath.Join("..", "..", "testdata", "script")
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       os.Getenv("UPDATE") != "",
		Setup: func(e *testscript.Env) error {
			e.Setenv("SM", filepath.Join(mustAbs(dir), "..", "psplib", "j30"))
			for _, name := range []string{"small.yaml"} {
				data, err := os.ReadFile(filepath.Join(dir, name))
				if err != nil {
					return err
				}
				if err := os.WriteFile(filepath.Join(e.WorkDir, name), data, 0o644); err != nil {
					return err
				}
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"code":  exitCode,
			"keep":  keep,
			"noise": noise,
		},
	})
}

func mustAbs(dir string) string {
	abs, err := filepath.Abs(dir)
	if err != nil {
		panic(err)
	}
	return abs
}

// exitCode is the command "code N PROGRAM ARG...": the program must end with that
// exit code.
func exitCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: code N program arg...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		coded, ok := err.(interface{ ExitCode() int })
		if !ok {
			ts.Fatalf("%v", err)
		}
		got = coded.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// keep is the command "keep FILE": a database in that file, with a revision, a record and
// an event.
func keep(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: keep file")
	}
	ctx := context.Background()
	db, err := store.Open(ctx, ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(db.Update(ctx, func(t api.Tx) error {
		_, err := t.Put(api.Record{Kind: "call", ID: "C-1", Body: []byte(`{"who": "Mirrenwade"}`)})
		return errors.Join(err, t.AddEvent(api.Event{Who: "ada", Act: "book"}),
			t.AddRevision(api.Revision{Number: 1}, []plant.PieceChange{{Key: "name", After: "Vellimere"}}))
	}))
	ts.Check(db.Close())
}

// noise is the command "noise FILE BYTES": a file of random bytes, always the same.
func noise(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: noise file bytes")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	r := rand.New(rand.NewPCG(1, 1))
	data := make([]byte, n)
	for i := range data {
		data[i] = byte(r.Uint32())
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}
