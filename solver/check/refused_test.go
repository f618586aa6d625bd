package check_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"wetdown/solver/check"
)

// TestRefused judges every case of testdata/refused: the plant file beside them,
// with the lines changed that the section edit names. The judge must say exactly
// what the section verdict says, and complain about the one rule that the name of
// the file begins with. UPDATE=1 writes the verdicts anew.
func TestRefused(t *testing.T) {
	names, err := filepath.Glob(refused + "*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	base := text(t)
	cases := map[string]int{}
	for _, name := range names {
		rule, _, _ := strings.Cut(filepath.Base(name), "__")
		cases[rule]++
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txtar"), func(t *testing.T) {
			archive, err := txtar.ParseFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if len(archive.Files) != 2 || archive.Files[0].Name != "edit" || archive.Files[1].Name != "verdict" {
				t.Fatal("a case has a section edit and a section verdict")
			}
			p := read(t, edit(t, base, string(archive.Files[0].Data)))
			v := check.Plan(p, p.Plan)
			if v.Right() {
				t.Fatal("the judge finds nothing wrong")
			}
			var got strings.Builder
			for _, b := range v.Broken {
				if b.Rule != rule {
					t.Errorf("breaks the rule %s too: %s", b.Rule, b.Sentence)
				}
				fmt.Fprintln(&got, line(b))
			}
			if os.Getenv("UPDATE") != "" {
				archive.Files[1].Data = []byte(got.String())
				if err := os.WriteFile(name, txtar.Format(archive), 0o644); err != nil {
					t.Fatal(err)
				}
			} else if want := string(archive.Files[1].Data); got.String() != want {
				t.Errorf("got\n%swant\n%s", got.String(), want)
			}
			if broken, whole := newOracle(t, p).judge(p.Plan); !broken[rule] || whole && len(broken) > 1 {
				t.Errorf("the oracle says %s", words(broken))
			}
		})
	}
	for _, r := range check.Rules {
		if cases[r.Name] == 0 {
			t.Errorf("no plan in %s breaks the rule %s", refused, r.Name)
		}
		delete(cases, r.Name)
	}
	for rule := range cases {
		t.Errorf("%s has cases for %q, which is no rule", refused, rule)
	}
}

// line prints a violation on one line: what it is about, then its sentence.
func line(b check.Violation) string {
	var about []string
	for _, s := range []string{b.Truck, b.Stage, b.Visit, b.Bay, b.Crew, b.At.String()} {
		if s != "" {
			about = append(about, s)
		}
	}
	return strings.Join(about, " ") + ": " + b.Sentence
}

// edit changes a file. An edit is a run of lines that begin with "- ", each of
// which is one line of the file, and then a run that begin with "+ ", which stand
// in the place of the last of them, as far in as it stood.
func edit(t testing.TB, file, edits string) string {
	t.Helper()
	lines := strings.Split(file, "\n")
	at, indent := -1, ""
	for i, l := range strings.Split(strings.TrimSuffix(edits, "\n"), "\n") {
		switch {
		case strings.HasPrefix(l, "- "):
			found := -1
			for k, have := range lines {
				if strings.TrimSpace(have) != l[2:] {
					continue
				}
				if found >= 0 {
					t.Fatalf("edit line %d: the file has two lines %s", i+1, l[2:])
				}
				found = k
			}
			if found < 0 {
				t.Fatalf("edit line %d: the file has no line %s", i+1, l[2:])
			}
			at, indent = found, lines[found][:len(lines[found])-len(l[2:])]
			lines = append(lines[:at:at], lines[at+1:]...)
		case strings.HasPrefix(l, "+ ") && at >= 0:
			lines = append(lines[:at:at], append([]string{indent + l[2:]}, lines[at:]...)...)
			at++
		default:
			t.Fatalf("edit line %d: write - and a line of the file, or + and a line in its place", i+1)
		}
	}
	return strings.Join(lines, "\n")
}
