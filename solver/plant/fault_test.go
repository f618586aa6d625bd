package plant

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// A case in testdata/fault or testdata/warning changes the small plant as a diff
// does and lists the faults or warnings that must come of it, no more and no fewer:
//
//   - a line to take out; lines that follow each other go together
//   - a line to put in there
//     = a line of a file of its own, in place of the small plant
//     ! a fault or warning
//
// UPDATE=1 writes the faults and warnings anew.
func TestFaults(t *testing.T) {
	eachCase(t, "fault", func(t *testing.T, file string, text []byte) []Fault {
		p, faults := Read("small.yaml", text)
		for _, f := range faults {
			if f.Line < 1 || f.Next == "" || f.Field == "" && f.Line > 1 && f.Column > 1 && !strings.Contains(file, "text") {
				t.Errorf("without place or next step: %+v", f)
			}
		}
		if (p == nil) == (len(faults) == 0) {
			t.Errorf("plant %v with %d faults", p, len(faults))
		}
		return faults
	})
}

func TestWarnings(t *testing.T) {
	eachCase(t, "warning", func(t *testing.T, file string, text []byte) []Fault {
		p, faults := Read("small.yaml", text)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		list := Warnings(p, "small.yaml", text)
		for _, w := range list {
			if w.Next == "" || w.Field == "" {
				t.Errorf("without place or next step: %+v", w)
			}
		}
		// Without the text all is said but the lines.
		plain := Warnings(p, "small.yaml", nil)
		if len(plain) != len(list) {
			t.Errorf("%d warnings without the text, %d with it", len(plain), len(list))
		}
		for _, w := range plain {
			if w.Line != 0 || !slices.ContainsFunc(list, func(f Fault) bool { return f.What == w.What && f.Field == w.Field }) {
				t.Errorf("without the text: %+v", w)
			}
		}
		return list
	})
}

// A route that nobody wrote has no line: a word that does not fit it is the truck's.
// Of its stages that no truck goes through there is nothing to say.
func TestWarnings_StandardRoute(t *testing.T) {
	p := &Plant{Route: DefaultRoute(), Notice: DefaultNotice(), Trucks: []Truck{{ID: "T1", Kind: "rescue"}, {ID: "T2", Kind: "quint", Options: []string{"areial"}}}}
	want := "trucks[T2]: stage aerial_test asks for the feature aerial, which no truck has, but some have areial. Next: write the same in both if the same is meant."
	if list := Warnings(p, "", nil); len(list) != 1 || list[0].String() != want {
		t.Errorf("got %v, want %s", list, want)
	}
}

func eachCase(t *testing.T, folder string, read func(t *testing.T, file string, text []byte) []Fault) {
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", folder, "*.txtar"))
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
				var got strings.Builder
				for _, f := range read(t, file, text) {
					got.WriteString("! " + f.String() + "\n")
				}
				c.Data = []byte(change + got.String())
				if os.Getenv("UPDATE") == "" && got.String() != want {
					t.Errorf("got\n%swant\n%s", got.String(), want)
				}
				if got.Len() == 0 {
					t.Error("nothing is found")
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
