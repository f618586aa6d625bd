package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wetdown/api"
)

// A file that is served is not served twice, by whatever name; it can be opened and backed
// up meanwhile, and served again when the first has let go.
func TestServe_Alone(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	name, other := filepath.Join(dir, "plant.db"), filepath.Join(dir, "link.db")
	first, err := Serve(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(name, other); err != nil {
		other = filepath.Join(dir, ".", "plant.db") // not every system has them
	}
	for _, n := range []string{name, other} {
		if s, err := Serve(ctx, n); err == nil || !strings.Contains(err.Error(), "is served by another program already: ask that one, or end it first") {
			t.Errorf("%s: %v, %v", n, s, err)
		}
	}
	beside, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	err = first.Update(ctx, func(x api.Tx) error { return x.AddRevision(revision(1), nil) })
	if err != nil {
		t.Fatal(err)
	}
	if rows, err := beside.Backup(ctx, filepath.Join(dir, "copy")); err != nil || rows == 0 {
		t.Errorf("%d rows, %v", rows, err)
	}
	if err := errors.Join(beside.Close(), first.Close()); err != nil {
		t.Fatal(err)
	}
	second, err := Serve(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	if err := second.Close(); err != nil {
		t.Error(err)
	}
	if _, err := Serve(ctx, ""); err == nil || !strings.Contains(err.Error(), "no database is named") {
		t.Error(err)
	}
}
