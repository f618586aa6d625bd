package main

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/format"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
)

// The rules of the house, kept by the tests in the files house*_test.go. They
// stand here because the program is the one package that may see all others.

// root is the folder of the module.
var root = filepath.Join("..", "..")

// A room is one package of the module, read and type-checked.
type room struct {
	ImportPath   string
	Dir          string
	Export       string // file with its types, for those who import it
	GoFiles      []string
	TestGoFiles  []string
	XTestGoFiles []string
	Module       *struct{ Main bool }

	files map[string]*ast.File // by name: GoFiles and both kinds of test files
	info  *types.Info          // of GoFiles
	pkg   *types.Package
}

// name is the import path within the module: calendar, solver/plant.
func (r *room) name() string { return strings.TrimPrefix(r.ImportPath, "wetdown/") }

// house is every package of the module, testdata among them.
var house = sync.OnceValues(readHouse)

var fset = token.NewFileSet()

func readHouse() ([]*room, error) {
	list := exec.Command("go", "list", "-deps", "-export", "-json=ImportPath,Dir,Export,GoFiles,TestGoFiles,XTestGoFiles,Module", "./...")
	list.Dir = root
	out, err := list.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			err = errors.New("go list: " + string(exit.Stderr))
		}
		return nil, err
	}
	var rooms []*room
	export := map[string]string{}
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		r := &room{}
		if err := d.Decode(r); err == io.EOF {
			break
		} else if err != nil {
			return nil, err
		}
		export[r.ImportPath] = r.Export
		if r.Module != nil && r.Module.Main {
			rooms = append(rooms, r)
		}
	}
	types := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(export[path]) })
	for _, r := range rooms {
		if err := r.read(types); err != nil {
			return nil, err
		}
	}
	return rooms, nil
}

// read parses every file of the room and checks the types of those that are not
// tests.
func (r *room) read(imports types.Importer) error {
	r.files = map[string]*ast.File{}
	var files []*ast.File
	for _, name := range slices.Concat(r.GoFiles, r.TestGoFiles, r.XTestGoFiles) {
		f, err := parser.ParseFile(fset, filepath.Join(r.Dir, name), nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		r.files[name] = f
		if slices.Contains(r.GoFiles, name) {
			files = append(files, f)
		}
	}
	r.info = &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}}
	var err error
	r.pkg, err = (&types.Config{Importer: imports}).Check(r.ImportPath, fset, files, r.info)
	return err
}

// rooms reads the house, which must have its known rooms.
func rooms(t *testing.T) []*room {
	t.Helper()
	list, err := house()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"calendar", "solver", "solver/plant", "solver/check", "solver/sat", "cmd/wetdown"} {
		if !slices.ContainsFunc(list, func(r *room) bool { return r.name() == name }) {
			t.Fatalf("package %s is not found: this test looks in the wrong place", name)
		}
	}
	return list
}

// TestHouse_Top keeps the top level to what is agreed. What .gitignore names is
// nobody's business.
func TestHouse_Top(t *testing.T) {
	must := strings.Fields("cmd solver calendar testdata go.mod go.sum README.md DEVELOPERS.md")
	may := []string{"api"}
	ignore, err := os.ReadFile(filepath.Join(root, ".gitignore"))
	if err != nil {
		t.Fatal(err)
	}
	ignored := func(name string) bool {
		return slices.ContainsFunc(strings.Fields(string(ignore)), func(pattern string) bool {
			ok, err := path.Match(strings.TrimPrefix(pattern, "/"), name)
			return err == nil && ok
		})
	}
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		name := e.Name()
		if n := slices.Index(must, name); n >= 0 {
			must = slices.Delete(must, n, n+1)
		} else if !slices.Contains(may, name) && !ignored(name) && !strings.HasPrefix(name, ".") {
			t.Errorf("%s does not belong on the top level: put it where its noun lives (see DEVELOPERS.md)", name)
		}
	}
	if len(must) > 0 {
		t.Errorf("missing from the top level: %s", strings.Join(must, ", "))
	}
}

// TestHouse_Format keeps every file as gofmt writes it, and tests where they are run.
func TestHouse_Format(t *testing.T) {
	seen := 0
	err := filepath.WalkDir(root, func(file string, d os.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && strings.HasPrefix(d.Name(), ".") && file != root:
			return filepath.SkipDir
		case d.IsDir() || !strings.HasSuffix(file, ".go"):
			return nil
		}
		seen++
		if strings.HasSuffix(file, "_test.go") && strings.Contains(filepath.ToSlash(file), "/testdata/") {
			t.Errorf("%s is never run: go test ./... leaves folders named testdata out", file)
		}
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		want, err := format.Source(text)
		if err != nil {
			return err
		}
		if string(want) != string(text) {
			t.Errorf("%s is not as gofmt writes it: gofmt -w %s", file, file)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 100 {
		t.Errorf("%d Go files found: this test looks in the wrong place", seen)
	}
}

// TestHouse_Comments keeps a package comment in doc.go of every package, which says
// what it is and what it leaves out, and a comment at every exported name.
func TestHouse_Comments(t *testing.T) {
	names := 0
	for _, r := range rooms(t) {
		home := "doc.go"
		if r.name() == "testdata" {
			home = "embed.go" // one file that is there for its comments
		}
		f, ok := r.files[home]
		if !ok {
			t.Errorf("package %s has no %s: say what the package is, and what it leaves out", r.name(), home)
			continue
		}
		if f.Doc == nil {
			t.Errorf("%s/%s has no package comment", r.name(), home)
		} else if home == "doc.go" && !strings.Contains(strings.ToLower(f.Doc.Text()), "deliberately absent") {
			t.Errorf("%s/doc.go does not say what is deliberately absent", r.name())
		}
		for _, name := range r.GoFiles {
			if name != home && r.files[name].Doc != nil {
				t.Errorf("%s/%s has a package comment, which belongs in %s", r.name(), name, home)
			}
			for _, d := range r.files[name].Decls {
				names += commented(t, d)
			}
		}
	}
	if names < 200 {
		t.Errorf("%d exported names found: this test looks in the wrong place", names)
	}
}

// commented complains of exported names of a declaration that have no comment, and
// counts exported names. The comment of a group counts for what is in it.
func commented(t *testing.T, d ast.Decl) (names int) {
	check := func(id *ast.Ident, docs ...*ast.CommentGroup) {
		if !id.IsExported() {
			return
		}
		names++
		for _, c := range docs {
			if c != nil && strings.TrimSpace(c.Text()) != "" {
				return
			}
		}
		t.Errorf("%s: %s has no comment", fset.Position(id.Pos()), id.Name)
	}
	switch d := d.(type) {
	case *ast.FuncDecl:
		standard := d.Name.Name == "String" || d.Name.Name == "Error" // everybody knows what they do
		if d.Recv == nil || ast.IsExported(receiver(d)) && !standard {
			check(d.Name, d.Doc)
		}
	case *ast.GenDecl:
		for _, s := range d.Specs {
			switch s := s.(type) {
			case *ast.TypeSpec:
				check(s.Name, d.Doc, s.Doc, s.Comment)
			case *ast.ValueSpec:
				for _, id := range s.Names {
					check(id, d.Doc, s.Doc, s.Comment)
				}
			}
		}
	}
	return names
}

// receiver is the name of a method's type, "" for a function.
func receiver(d *ast.FuncDecl) string {
	if d.Recv == nil {
		return ""
	}
	t := d.Recv.List[0].Type
	for {
		switch x := t.(type) {
		case *ast.StarExpr:
			t = x.X
		case *ast.IndexExpr:
			t = x.X
		case *ast.IndexListExpr:
			t = x.X
		case *ast.Ident:
			return x.Name
		default:
			return ""
		}
	}
}
