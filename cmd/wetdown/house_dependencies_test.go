package main

import (
	"encoding/json"
	"os/exec"
	"strings"
	"testing"
)

// TestHouse_Dependencies compares what go.mod requires directly with the table in
// DEVELOPERS.md, which has a reason for each: nothing comes in without a line there.
func TestHouse_Dependencies(t *testing.T) {
	edit := exec.Command("go", "mod", "edit", "-json")
	edit.Dir = root
	out, err := edit.Output()
	if err != nil {
		t.Fatal(err)
	}
	var mod struct {
		Require []struct {
			Path, Version string
			Indirect      bool
		}
		Replace []struct{ Old struct{ Path string } }
	}
	if err := json.Unmarshal(out, &mod); err != nil {
		t.Fatal(err)
	}
	for _, r := range mod.Replace {
		t.Errorf("go.mod replaces %s: a copy of our own needs no replace, and a module of others is taken as it is", r.Old.Path)
	}
	reasons := dependencies(t)
	for _, r := range mod.Require {
		if r.Indirect {
			continue
		}
		if reasons[r.Path] == "" {
			t.Errorf("go.mod requires %s, which the table of dependencies in DEVELOPERS.md does not list with a reason", r.Path)
		}
		delete(reasons, r.Path)
	}
	for path := range reasons {
		t.Errorf("DEVELOPERS.md lists %s as a dependency, and go.mod does not require it: run go mod tidy, or take the line out", path)
	}
}

// dependencies reads the table below the heading "Dependencies" of DEVELOPERS.md:
// the reason by module.
func dependencies(t *testing.T) map[string]string {
	table := section(t, pageOf(t, "DEVELOPERS.md"), "## Dependencies")
	reasons := map[string]string{}
	for _, line := range strings.Split(table, "\n") {
		cells := strings.Split(line, "|")
		if len(cells) != 5 || !strings.Contains(cells[1], "`") {
			continue
		}
		path := strings.Trim(strings.TrimSpace(cells[1]), "`")
		if reasons[path] = strings.TrimSpace(cells[3]); reasons[path] == "" {
			t.Errorf("DEVELOPERS.md gives no reason for %s", path)
		}
	}
	if len(reasons) == 0 {
		t.Fatal("DEVELOPERS.md lists no dependencies")
	}
	return reasons
}
