package check_test

import (
	"go/parser"
	"go/token"
	"os"
	"strconv"
	"strings"
	"testing"
)

// TestImports keeps the judge apart from those he judges: his files import plant,
// calendar and the standard library, and nothing else.
func TestImports(t *testing.T) {
	allowed := map[string]bool{"wetdown/calendar": true, "wetdown/solver/plant": true}
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), f.Name(), nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range parsed.Imports {
			path, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			first, _, _ := strings.Cut(path, "/")
			std := !strings.Contains(first, ".") && first != "wetdown" && first != "C"
			if !std && !allowed[path] {
				t.Errorf("%s imports %s", f.Name(), path)
			}
			if allowed[path] {
				seen++
			}
		}
	}
	if seen == 0 {
		t.Error("no file imports the plant: the test looks in the wrong place")
	}
}
