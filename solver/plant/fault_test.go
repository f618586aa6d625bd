package plant

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// A case in testdata/fault changes the small plant as a diff does and lists the
// faults that must come of it, no more and no fewer:
//
//   - a line to take out; lines that follow each other go together
//   - a line to put in there
//     = a line of a file of its own, in place of the small plant
//     ! a fault
//
// UPDATE=1 writes the faults anew.
func TestFaults(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "fault", "*.txtar"))
	if err != nil || len(files) == 0 {
		t.Fatal("no cases", err)
	}
	for _, file := range files {
		archive, err := txtar.ParseFile(file)
		if err != nil {
			t.Fatal(err)
		}
		before := txtar.Format(archive)
		for i := range archive.Files {
			c := &archive.Files[i]
			t.Run(filepath.Base(file)+"/"+c.Name, func(t *testing.T) {
				text, change, want := faultCase(t, string(c.Data))
				p, faults := Read("small.yaml", text)
				var got strings.Builder
				for _, f := range faults {
					got.WriteString("! " + f.String() + "\n")
					if f.Line < 1 || f.Next == "" || f.Field == "" && f.Line > 1 && f.Column > 1 && !strings.Contains(file, "text") {
						t.Errorf("without place or next step: %+v", f)
					}
				}
				if (p == nil) == (len(faults) == 0) {
					t.Errorf("plant %v with %d faults", p, len(faults))
				}
				c.Data = []byte(change + got.String())
				if os.Getenv("UPDATE") == "" && got.String() != want {
					t.Errorf("got\n%swant\n%s", got.String(), want)
				}
				if len(faults) == 0 {
					t.Error("no fault")
				}
			})
		}
		if after := txtar.Format(archive); os.Getenv("UPDATE") != "" && !bytes.Equal(before, after) {
			if err := os.WriteFile(file, after, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// faultCase makes the text of a case; change is the case without its faults.
func faultCase(t *testing.T, data string) (text []byte, change, want string) {
	t.Helper()
	base, own := string(small(t)), ""
	var out, in string
	flush := func() {
		if out == "" && in == "" {
			return
		}
		if n := strings.Count("\n"+base, "\n"+out); n != 1 || out == "" {
			t.Fatalf("%q is %d times in the small plant", out, n)
		}
		base = strings.TrimPrefix(strings.Replace("\n"+base, "\n"+out, "\n"+in, 1), "\n")
		out, in = "", ""
	}
	last := byte(' ')
	for _, line := range strings.SplitAfter(data, "\n") {
		if line == "" {
			continue
		}
		if line[0] == '\n' || line[0] == '-' && last != '-' {
			flush()
		}
		switch last = line[0]; last {
		case '\n':
		case '-':
			out += line[1:]
		case '+':
			in += line[1:]
		case '=':
			own += line[1:]
		case '!':
			want += line
			continue
		default:
			t.Fatalf("what is %q?", line)
		}
		change += line
	}
	flush()
	if own != "" {
		return []byte(own), change, want
	}
	return []byte(base), change, want
}
