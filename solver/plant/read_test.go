package plant

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func small(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "plant", "small.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func readSmall(t testing.TB) *Plant {
	t.Helper()
	p, faults := Read("small.yaml", small(t))
	for _, f := range faults {
		t.Error(f)
	}
	if p == nil {
		t.FailNow()
	}
	return p
}

func TestRead_WriteGivesTheSamePlantBack(t *testing.T) {
	p := readSmall(t)
	text := Write(p)
	again, faults := Read("written", text)
	for _, f := range faults {
		t.Error(f)
	}
	if d := cmp.Diff(p, again); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(string(text), string(Write(again))); d != "" {
		t.Error(d)
	}
	if _, stop := parse(text); stop != nil {
		t.Errorf("%+v", stop)
	}
}
