package main

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestServe_Alone starts the program on a file that is served: it is refused, and told by
// whom. Backups go on. When the first is killed, the next one starts at once.
func TestServe_Alone(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "plant.db")
	first := launch(t, "--db", db, "--plant", small)
	for n := range 3 {
		out, err := exec.Command("wetdown", "serve", "--listen", "127.0.0.1:0", "--db", db).CombinedOutput()
		said := fmt.Sprintf("%s is served by another program (process %d) already: ask that one, or end it first", db, first.cmd.Process.Pid)
		if err == nil || !strings.Contains(string(out), said) {
			t.Fatalf("%v\n%s\nwant %q", err, out, said)
		}
		wetdown(t, "backup", "--db", db, "-o", filepath.Join(dir, fmt.Sprint("copy-", n)))
		first.kill(t)
		first = launch(t, "--db", db)
	}
	first.end(t)
}
