package outside

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

// Find returns the path of a program, which comes with the Debian package. A test
// is skipped without it, but fails in continuous integration (CI=true), where it
// must be installed.
func Find(t testing.TB, program, debian string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	switch {
	case err == nil:
		return path
	case os.Getenv("CI") == "true":
		t.Fatalf("%s is missing, and this test means nothing without it: apt-get install %s", program, debian)
	default:
		t.Skipf("NOT TESTED: %s is missing: apt-get install %s", program, debian)
	}
	return ""
}

// A Verdict is what a MaxSAT solver says of a file.
type Verdict struct {
	Status string // the line s: "OPTIMUM FOUND", "UNSATISFIABLE", "UNKNOWN"
	Cost   int64  // the last line o, -1 without one
	Model  []bool // the last model, by variable from 1; Model[0] is unused
}

// Clasp asks clasp (Gebser, Kaufmann, Schaub, "Conflict-driven answer set solving",
// Artificial Intelligence 187, 2012) about a WCNF file. When ctx ends first the
// status is "UNKNOWN" and the rest is what was known by then.
func Clasp(ctx context.Context, t testing.TB, file string, args ...string) Verdict {
	t.Helper()
	cmd := exec.CommandContext(ctx, Find(t, "clasp", "clasp"), append(args, file)...)
	var complaint strings.Builder
	cmd.Stderr = &complaint
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	v, err := readVerdict(bufio.NewReaderSize(out, 1<<20))
	if err != nil {
		t.Fatalf("clasp's output: %v", err)
	}
	err = cmd.Wait() // its exit codes say again what the line s says
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatalf("clasp: %v", err)
	}
	if ctx.Err() != nil {
		v.Status = "UNKNOWN"
	} else if complaint.Len() > 0 || v.Status == "" {
		t.Fatalf("clasp on %s: status %q, %s", file, v.Status, complaint.String())
	}
	return v
}

// Cadical asks cadical (Biere, Fazekas, Fleury and Heisinger, "CaDiCaL, Kissat, Paracooba,
// Plingeling and Treengeling entering the SAT Competition 2020") about a file of clauses
// and returns its line s. With the name of a proof it writes one there, in text.
func Cadical(ctx context.Context, t testing.TB, file, proof string) string {
	t.Helper()
	args := []string{"-q", "--no-binary", file}
	if proof != "" {
		args = append(args, proof)
	}
	cmd := exec.CommandContext(ctx, Find(t, "cadical", "cadical"), args...)
	var complaint strings.Builder
	cmd.Stderr = &complaint
	out, err := cmd.Output() // its exit codes say again what the line s says
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) || complaint.Len() > 0 {
		t.Fatalf("cadical on %s: %v, %s", file, err, complaint.String())
	}
	v, err := readVerdict(bufio.NewReader(strings.NewReader(string(out))))
	if err != nil || v.Status == "" {
		t.Fatalf("cadical on %s says nothing: %v", file, err)
	}
	return v.Status
}

// readVerdict reads lines s, o and v, as solvers write them in the MaxSAT
// Evaluations up to 2019.
func readVerdict(r *bufio.Reader) (Verdict, error) {
	v := Verdict{Cost: -1}
	fresh := true
	for {
		line, err := r.ReadString('\n')
		if len(line) < 2 || line[1] != ' ' {
			line = "c "
		}
		rest := strings.TrimSpace(line[2:])
		switch line[0] {
		case 's':
			v.Status = rest
		case 'o':
			cost, err := strconv.ParseInt(rest, 10, 64)
			if err != nil {
				return v, err
			}
			v.Cost = cost
		case 'v':
			if fresh {
				v.Model, fresh = []bool{false}, false
			}
			for _, word := range strings.Fields(rest) {
				l, err := strconv.Atoi(word)
				switch {
				case err != nil:
					return v, err
				case l == 0:
					fresh = true
				case max(l, -l) != len(v.Model):
					return v, fmt.Errorf("a model leaps to %d after variable %d", l, len(v.Model)-1)
				default:
					v.Model = append(v.Model, l > 0)
				}
			}
		}
		if err != nil {
			return v, nil // the end
		}
	}
}

// MiniZinc runs a model on data with Gecode and returns what it prints.
func MiniZinc(ctx context.Context, t testing.TB, model, data string) (string, error) {
	t.Helper()
	Find(t, "fzn-gecode", "minizinc")
	cmd := exec.CommandContext(ctx, Find(t, "minizinc", "minizinc"), "--solver", "gecode", model, data)
	var complaint strings.Builder
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		return string(out), fmt.Errorf("minizinc on %s: %v: %s", data, err, complaint.String())
	}
	return string(out), nil
}
