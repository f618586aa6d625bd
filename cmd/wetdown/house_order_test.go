package main

import (
	"go/ast"
	"go/types"
	"slices"
	"strings"
	"testing"
)

// unordered lists the places that walk over a map, each with the reason why its
// order reaches nothing that anybody sees. A place is file, function and what is
// walked over.
var unordered = map[string]string{
	"solver/check/rule_place.go sortedKeys: groups": "it is what sorts the keys for everybody else",
	"solver/generate/shop.go job.delivery: j.fits":  "looks for the only stage that delivers",
	"solver/generate/shop.go shop.ready: j.fits":    "the latest of the certificates",
	"solver/generate/state.go job.expects: j.fits":  "whether there is one",
}

// clocks and dice are what makes equal calls unequal.
var clocks = strings.Fields("time.Now time.Since time.Until time.Local time.After time.Tick time.AfterFunc time.NewTimer time.NewTicker")

// timed lists the places below cmd and api that may look at a clock, each with the
// reason.
var timed = map[string]string{
	"solver/sat/session.go Session.search: time.NewTimer": "how often it looks whether the solver is done changes no answer",
}

// TestHouse_Order looks in everything that is no test for what makes equal calls
// unequal: walking over a map where order can be seen, a clock, the shared dice.
func TestHouse_Order(t *testing.T) {
	walks, looks := map[string]bool{}, map[string]bool{}
	for _, r := range rooms(t) {
		for _, name := range r.GoFiles {
			for _, d := range r.files[name].Decls {
				at := r.name() + "/" + name
				if f, ok := d.(*ast.FuncDecl); ok {
					at += " " + f.Name.Name
					if typ := receiver(f); typ != "" {
						at = r.name() + "/" + name + " " + typ + "." + f.Name.Name
					}
				}
				sorted := map[ast.Node]bool{}
				ast.Inspect(d, func(n ast.Node) bool {
					if walked := r.walks(n, sorted); walked != "" {
						place := at + ": " + walked
						walks[place] = true
						if unordered[place] == "" {
							t.Errorf("%s: walks over a map.\nSort its keys first; or, if the order reaches nothing, add to unordered, with the reason:\n%q: \"\",", fset.Position(n.Pos()), place)
						}
					}
					if used := r.uses(n); used != "" && !strings.HasPrefix(r.name(), "cmd/") && !strings.HasPrefix(r.name(), "api") {
						place := at + ": " + used
						looks[place] = true
						if timed[place] == "" {
							t.Errorf("%s: uses %s, which makes equal calls unequal: take a clock or a seed as an argument (%q)", fset.Position(n.Pos()), used, place)
						}
					}
					return true
				})
			}
		}
	}
	for _, list := range []struct {
		name    string
		allowed map[string]string
		found   map[string]bool
	}{{"unordered", unordered, walks}, {"timed", timed, looks}} {
		for place, reason := range list.allowed {
			if !list.found[place] || reason == "" {
				t.Errorf("%s lists %q (%s), which is not there any more or has no reason: take it out", list.name, place, reason)
			}
		}
	}
}

// core is the type that a type parameter or a named type stands for.
func core(t types.Type) types.Type {
	p, ok := t.(*types.TypeParam)
	if !ok {
		return t.Underlying()
	}
	if c := p.Constraint().Underlying().(*types.Interface); c.NumEmbeddeds() == 1 {
		if union, ok := c.EmbeddedType(0).(*types.Union); ok && union.Len() > 0 {
			return union.Term(0).Type().Underlying()
		}
		return c.EmbeddedType(0).Underlying()
	}
	return p
}

// shuffled are functions of the standard library that hand out a map in its own
// order, unless the result goes straight into a sort.
var shuffled = strings.Fields("maps.Keys maps.Values maps.All reflect.MapKeys reflect.MapRange sync.Range")

// walks says what a node walks over in the order of a map, "" for nothing.
func (r *room) walks(n ast.Node, sorted map[ast.Node]bool) string {
	switch n := n.(type) {
	case *ast.RangeStmt:
		if t := r.info.Types[n.X].Type; t != nil {
			if _, ok := core(t).(*types.Map); ok {
				return types.ExprString(n.X)
			}
		}
	case *ast.CallExpr:
		called := r.called(n)
		if strings.HasPrefix(called, "slices.Sorted") {
			for _, a := range n.Args {
				sorted[a] = true
			}
		}
		if slices.Contains(shuffled, called) && !sorted[n] {
			return types.ExprString(n)
		}
	}
	return ""
}

// called is the function that a call calls, with the last part of its package.
func (r *room) called(n *ast.CallExpr) string {
	fun := ast.Unparen(n.Fun)
	switch x := fun.(type) { // an instance of a generic function
	case *ast.IndexExpr:
		fun = x.X
	case *ast.IndexListExpr:
		fun = x.X
	}
	switch x := fun.(type) {
	case *ast.SelectorExpr:
		return r.origin(x.Sel)
	case *ast.Ident:
		return r.origin(x)
	}
	return ""
}

// origin is a name of another package, with the last part of that package: time.Now.
func (r *room) origin(id *ast.Ident) string {
	o := r.info.Uses[id]
	if o == nil || o.Pkg() == nil || o.Pkg() == r.pkg {
		return ""
	}
	return o.Pkg().Name() + "." + o.Name()
}

// uses says which clock or which shared dice a node uses, "" for none.
func (r *room) uses(n ast.Node) string {
	id, ok := n.(*ast.Ident)
	if !ok {
		return ""
	}
	name := r.origin(id)
	f, _ := r.info.Uses[id].(*types.Func)
	method := f != nil && f.Signature().Recv() != nil
	switch {
	case slices.Contains(clocks, name) && !method:
		return name
	case f == nil || f.Pkg() == nil || !strings.Contains(f.Pkg().Path(), "/rand"):
		return ""
	case f.Pkg().Path() == "math/rand/v2" && (method || strings.HasPrefix(f.Name(), "New")):
		return "" // dice of one's own, with a seed
	}
	return name
}
