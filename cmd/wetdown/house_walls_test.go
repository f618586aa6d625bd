package main

import (
	"go/ast"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// A wall says what one package may import besides the standard library.
type wall struct {
	may     string // import paths; those of this module without its name
	tests   string // more of them in tests
	files   bool   // it may open files, run programs, read the environment, talk
	secrets bool   // it may make what nobody can guess
}

// walls of the house, by package. What speaks of the plant may import plant and
// calendar; schedule, cnf, maxsat and sat speak of tasks, literals and weights
// only; nobody but sat meets gini; the judge never meets what makes plans; nobody
// imports cmd.
var walls = map[string]wall{
	"api": {
		may:     "api/ical api/pace api/sheet api/wire calendar solver solver/plant solver/check solver/forecast solver/history golang.org/x/crypto/argon2 golang.org/x/text/unicode/norm",
		tests:   "api api/store api/store/pgtest solver/forecast solver/generate solver/outside testdata go.uber.org/goleak",
		secrets: true,
	},
	"api/ical": {may: "calendar solver/plant", tests: "github.com/emersion/go-ical github.com/google/go-cmp/cmp github.com/google/go-cmp/cmp/cmpopts pgregory.net/rapid"},
	"api/oidc": {may: "api github.com/coreos/go-oidc/v3/oidc golang.org/x/oauth2", tests: "api/oidc", files: true},
	"api/outbound": {
		may:   "api api/ical github.com/wneessen/go-mail",
		tests: "api/outbound api/store calendar solver solver/plant testdata github.com/emersion/go-ical go.uber.org/goleak",
		files: true,
	},
	"api/pace":  {},
	"api/paper": {may: "calendar solver/plant", tests: "api/paper solver testdata golang.org/x/net/html"},
	"api/queue": {
		may:   "api github.com/jackc/pgx/v5 github.com/jackc/pgx/v5/pgxpool github.com/riverqueue/river github.com/riverqueue/river/riverdriver/riverpgxv5 github.com/riverqueue/river/rivermigrate github.com/riverqueue/river/rivertype",
		tests: "api/queue api/store api/store/pgtest solver solver/generate solver/plant github.com/google/go-cmp/cmp go.uber.org/goleak",
		files: true, // it logs, and talks to a database
	},
	"api/web": {may: "api api/sheet calendar solver solver/forecast solver/history solver/plant go.yaml.in/yaml/v3", tests: "api api/queue api/rest api/store api/web solver/forecast solver/generate solver/history testdata github.com/chromedp/cdproto/cdp github.com/chromedp/cdproto/emulation github.com/chromedp/chromedp github.com/emersion/go-ical golang.org/x/net/html", files: true},
	"api/rest": {
		may:   "api api/pace api/paper api/sheet api/wire calendar solver solver/plant solver/history github.com/labstack/echo/v4 github.com/prometheus/client_golang/prometheus github.com/prometheus/client_golang/prometheus/collectors github.com/prometheus/client_golang/prometheus/promhttp go.yaml.in/yaml/v3",
		tests: "api/rest api/queue api/store solver/generate testdata github.com/getkin/kin-openapi/openapi3 github.com/getkin/kin-openapi/openapi3filter github.com/getkin/kin-openapi/routers github.com/getkin/kin-openapi/routers/legacy",
		files: true,
	},
	"api/sheet": {may: "calendar solver/history solver/plant github.com/xuri/excelize/v2", tests: "api/sheet solver/generate testdata github.com/google/go-cmp/cmp pgregory.net/rapid"},
	"api/store": {
		may:   "api solver/plant modernc.org/sqlite modernc.org/sqlite/lib github.com/jackc/pgx/v5 github.com/jackc/pgx/v5/pgconn github.com/jackc/pgx/v5/stdlib github.com/pressly/goose/v3 github.com/pressly/goose/v3/lock",
		tests: "api/store/pgtest github.com/google/go-cmp/cmp pgregory.net/rapid",
		files: true,
	},
	"api/store/pgtest": {may: "github.com/jackc/pgx/v5/stdlib", files: true}, // for tests: it runs a server

	"api/wire": {may: "calendar solver solver/plant solver/check solver/forecast solver/history"},

	"calendar": {may: "github.com/rickar/cal/v2 github.com/rickar/cal/v2/aa github.com/rickar/cal/v2/ca github.com/rickar/cal/v2/us", tests: "pgregory.net/rapid"},

	"solver/plant":    {may: "calendar go.yaml.in/yaml/v3", tests: "github.com/google/go-cmp/cmp github.com/rogpeppe/go-internal/txtar github.com/santhosh-tekuri/jsonschema/v6"},
	"solver/check":    {may: "calendar solver/plant", tests: "solver/check github.com/rogpeppe/go-internal/txtar"},
	"solver/generate": {may: "calendar solver/chance solver/history solver/plant", tests: "solver/check"},
	"solver":          {may: "calendar solver/plant solver/check solver/schedule", tests: "solver/generate solver/outside github.com/google/go-cmp/cmp go.yaml.in/yaml/v3 pgregory.net/rapid"},

	"solver/history":  {may: "calendar solver/chance solver/plant", tests: "solver/generate solver/history"},
	"solver/chance":   {may: "gonum.org/v1/gonum/mathext", tests: "solver/chance gonum.org/v1/gonum/stat/distuv"},
	"solver/forecast": {may: "calendar solver/plant solver/chance solver/history", tests: "solver solver/forecast solver/generate solver/check testdata github.com/google/go-cmp/cmp"},

	"solver/schedule": {may: "solver/cdcl solver/cnf solver/maxsat solver/sat", tests: "solver/outside"},
	"solver/maxsat":   {may: "solver/cdcl solver/cnf solver/sat"},
	"solver/cdcl":     {may: "solver/sat", tests: "solver/outside"},
	"solver/cnf":      {may: "solver/sat"},
	"solver/sat":      {may: "github.com/go-air/gini github.com/go-air/gini/z"},

	"solver/outside": {files: true}, // for tests: it runs other programs
	"testdata":       {},

	"cmd/wetdown": {
		may:   "api api/oidc api/outbound api/queue api/rest api/sheet api/store api/web api/wire calendar solver solver/plant solver/check solver/forecast solver/generate solver/history solver/schedule testdata github.com/alecthomas/kong go.yaml.in/yaml/v3 golang.org/x/term",
		tests: "api/store/pgtest github.com/google/go-cmp/cmp github.com/rogpeppe/go-internal/testscript",
		files: true,
	},
}

// impure packages of the standard library open files, run programs, talk, or make
// equal calls unequal.
var impure = strings.Fields("os net log flag syscall plugin embed io/ioutil path/filepath hash/maphash crypto/rand math/rand time/tzdata testing runtime")

// pure are packages below those that do no such thing.
var pure = strings.Fields("math/rand/v2 net/netip net/url")

// TestHouse_Walls parses every import of every file.
func TestHouse_Walls(t *testing.T) {
	used := map[string]map[string]bool{} // by package: walls that somebody goes through
	for _, r := range rooms(t) {
		w, ok := walls[r.name()]
		if !ok {
			t.Errorf("package %s has no walls: say in this file what it may import", r.name())
			continue
		}
		used[r.name()] = map[string]bool{}
		for _, name := range slices.Sorted(maps.Keys(r.files)) {
			test := !slices.Contains(r.GoFiles, name)
			may := strings.Fields(w.may)
			if test {
				may = append(may, strings.Fields(w.tests)...)
			}
			for _, i := range r.files[name].Imports {
				path := imported(t, i)
				switch {
				case path == "embed" && r.name() == "testdata":
				case standard(path):
					if !test && !w.files && !(w.secrets && path == "crypto/rand") && slices.ContainsFunc(impure, func(p string) bool {
						return path == p || strings.HasPrefix(path, p+"/") && !slices.Contains(pure, path)
					}) {
						t.Errorf("%s/%s imports %s: only cmd and api touch the world outside", r.name(), name, path)
					}
				case slices.Contains(may, path):
					used[r.name()][path] = true
				default:
					t.Errorf("%s/%s imports %s, which the walls of %s leave out: see DEVELOPERS.md", r.name(), name, path, r.name())
				}
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(walls)) {
		for _, path := range strings.Fields(walls[name].may + " " + walls[name].tests) {
			if used[name] != nil && !used[name][path] {
				t.Errorf("the walls of %s let %s through, and nobody goes there: take it out", name, path)
			}
		}
		if used[name] == nil {
			t.Errorf("there are walls for %s, and no such package", name)
		}
	}
}

// imported is the path of an import, that of a package of this module without the
// module's name.
func imported(t *testing.T, i *ast.ImportSpec) string {
	path, err := strconv.Unquote(i.Path.Value)
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimPrefix(path, "wetdown/")
}

// standard reports whether a path is of the standard library, which has no dot in
// its first part and is none of ours.
func standard(path string) bool {
	first, _, _ := strings.Cut(path, "/")
	return !strings.Contains(first, ".") && !slices.Contains([]string{"calendar", "solver", "cmd", "api", "testdata", "wetdown"}, first)
}
