package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// hard makes a folder with the file of a plant that takes minutes to prove, and the
// name of one to come.
func hard(t *testing.T) (dir, file, out string) {
	t.Helper()
	if testing.Short() {
		t.Skip("takes several seconds")
	}
	dir = t.TempDir()
	file, out = filepath.Join(dir, "plant.yaml"), filepath.Join(dir, "out.yaml")
	wetdown(t, "generate", "--trucks", "600", "--seed", "2", "--load", "1.15", "-o", file)
	return dir, file, out
}

// An interrupt during a long planning gives the best plan so far, as feasible, and
// a whole file that the judge passes; or, before the first plan, no file at all.
func TestInterrupt(t *testing.T) {
	dir, file, out := hard(t)
	for _, wait := range []time.Duration{3 * time.Second, 15 * time.Second, time.Minute} {
		cmd := exec.Command("wetdown", "plan", file, "--json", "-o", out)
		var stdout, stderr bytes.Buffer
		cmd.Stdout, cmd.Stderr = &stdout, &stderr
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(wait)
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Fatalf("after %v: %v: it is over already, and this test needs a harder plant\n%s", wait, err, stdout.String())
		}
		asked := time.Now()
		err := cmd.Wait()
		if took := time.Since(asked); took > 30*time.Second {
			t.Errorf("it went on for %v after the interrupt", took)
		}
		var r struct {
			Status string
			Tiers  []struct{ Value, Bound int64 }
			Plan   *struct{ Stages []any }
		}
		if e := json.Unmarshal(stdout.Bytes(), &r); e != nil {
			t.Fatalf("after %v: %v, %v\n%s%s", wait, err, e, stdout.String(), stderr.String())
		}
		if err != nil && r.Status == "unknown" && r.Plan == nil && cmd.ProcessState.ExitCode() == no {
			if _, e := os.Stat(out); e == nil {
				t.Fatal("a file was written without a plan")
			}
			continue // it had no plan yet: wait longer
		}
		if err != nil || r.Status != "feasible" || r.Plan == nil || len(r.Plan.Stages) == 0 {
			t.Fatalf("after %v: %v, status %s\n%s", wait, err, r.Status, stderr.String())
		}
		gap := false
		for _, tier := range r.Tiers {
			gap = gap || tier.Bound < tier.Value
		}
		if !gap {
			t.Error("feasible, and yet no bound is below its value")
		}
		wetdown(t, "check", out)
		alone(t, dir, file, out)
		return
	}
	t.Fatal("no plan came within a minute")
}

// A second interrupt ends the program at once, and nothing is half-written.
func TestInterruptTwice(t *testing.T) {
	_, file, out := hard(t)
	if err := os.WriteFile(out, []byte("as it was\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("wetdown", "plan", file, "-o", out)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond)
	over := make(chan error, 1)
	go func() { over <- cmd.Wait() }()
	for deadline := time.Now().Add(20 * time.Second); ; {
		if time.Now().After(deadline) {
			cmd.Process.Kill()
			t.Fatal("it is still there")
		}
		cmd.Process.Signal(os.Interrupt)
		select {
		case <-over:
		case <-time.After(50 * time.Millisecond):
			continue
		}
		break
	}
	data, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	if string(data) != "as it was\n" {
		wetdown(t, "check", out) // the first interrupt was enough: then the file is whole
	}
}

// wetdown runs the real program, which must end with exit code 0.
func wetdown(t *testing.T, args ...string) {
	t.Helper()
	if b, err := exec.Command("wetdown", args...).CombinedOutput(); err != nil {
		t.Fatalf("wetdown %q: %v\n%s", args, err, b)
	}
}

// alone looks that a folder has these files and no other.
func alone(t *testing.T, dir string, files ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(files) {
		t.Errorf("%d files in the folder, want %d: %v", len(entries), len(files), entries)
	}
}
