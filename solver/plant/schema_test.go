package plant

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"

	"wetdown/calendar"
)

var schemaFile = filepath.Join("..", "..", "testdata", "plant.schema.json")

func TestSchema_IsTheOnePublished(t *testing.T) {
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(schemaFile, Schema(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	published, err := os.ReadFile(schemaFile)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(published, Schema()) {
		t.Error("testdata/plant.schema.json is stale: run UPDATE=1 go test ./solver/plant")
	}
}

// compiled is the published schema as an independent validator reads it.
func compiled(t testing.TB) *jsonschema.Schema {
	t.Helper()
	data, err := os.ReadFile(schemaFile)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("plant.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("plant.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asJSON turns YAML into what the validator takes, by the library's reading of
// each value; days stay text, as in JSON.
func asJSON(n *yaml.Node) (any, error) {
	switch n.Kind {
	case yaml.DocumentNode:
		return asJSON(n.Content[0])
	case yaml.MappingNode:
		m := map[string]any{}
		for i := 0; i < len(n.Content); i += 2 {
			v, err := asJSON(n.Content[i+1])
			if err != nil {
				return nil, err
			}
			m[n.Content[i].Value] = v
		}
		return m, nil
	case yaml.SequenceNode:
		l := []any{}
		for _, c := range n.Content {
			v, err := asJSON(c)
			if err != nil {
				return nil, err
			}
			l = append(l, v)
		}
		return l, nil
	case yaml.ScalarNode:
		switch n.ShortTag() {
		case "!!int", "!!float":
			if f, err := strconv.ParseFloat(n.Value, 64); err == nil {
				return f, nil
			}
		case "!!bool":
			return n.Value == "true", nil
		case "!!null":
			return nil, nil
		}
		return n.Value, nil
	}
	return nil, fmt.Errorf("line %d: kind %d", n.Line, n.Kind)
}

func textAsJSON(t testing.TB, text []byte) any {
	t.Helper()
	var n yaml.Node
	if err := yaml.Unmarshal(text, &n); err != nil {
		t.Fatal(err)
	}
	v, err := asJSON(&n)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestSchema_TakesPlants(t *testing.T) {
	s := compiled(t)
	files, _ := filepath.Glob(filepath.Join("..", "..", "testdata", "*", "*.yaml"))
	texts := map[string][]byte{"written": Write(readSmall(t)), "large": large(t)}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(data, []byte("\nhorizon:")) {
			texts[f] = data
		}
	}
	if len(texts) < 3 {
		t.Fatal("no plant files found")
	}
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		if err := s.Validate(textAsJSON(t, texts[name])); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if _, faults := Read(name, texts[name]); len(faults) > 0 {
			t.Error(faults[0])
		}
	}
}

// beyondSchema lists the cases of value.txtar that no schema can refuse.
var beyondSchema = []string{
	"a year that cannot be meant", "hours that are no whole minutes", "hours that do not ascend",
	"a moment on a day that does not exist", "a key that is there twice", "an id twice", "a tag",
}

func TestSchema_RefusesWrongValues(t *testing.T) {
	s := compiled(t)
	archive, err := txtar.ParseFile(filepath.Join("..", "..", "testdata", "fault", "value.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range archive.Files {
		text, _, _ := faultCase(t, string(c.Data))
		var n yaml.Node
		if err := yaml.Unmarshal(text, &n); err != nil {
			t.Fatal(c.Name, err)
		}
		doc, err := asJSON(&n)
		refused := err != nil || s.Validate(doc) != nil
		if refused == slices.Contains(beyondSchema, c.Name) {
			t.Errorf("%s: refused %v", c.Name, refused)
		}
	}
}

// walk calls f for every key in the document with its place (list elements as
// []) and the mapping that holds it.
func walk(doc any, at string, f func(at, key string, in map[string]any)) {
	switch v := doc.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			f(at, k, v)
			walk(v[k], at+"."+k, f)
		}
	case []any:
		for _, e := range v {
			walk(e, at+"[]", f)
		}
	}
}

// schemaKeys lists the keys of the schema in the same way.
func schemaKeys(s map[string]any, at string, into map[string]bool) {
	for _, alternative := range []string{"anyOf"} {
		list, _ := s[alternative].([]any)
		for _, a := range list {
			schemaKeys(a.(map[string]any), at, into)
		}
	}
	if items, ok := s["items"].(map[string]any); ok {
		schemaKeys(items, at+"[]", into)
	}
	properties, _ := s["properties"].(map[string]any)
	for k, v := range properties {
		into[at+"."+k] = true
		schemaKeys(v.(map[string]any), at+"."+k, into)
	}
}

// The small plant has every key that the schema has and none besides, and from
// it the reader fills every field there is: schema, reader and nouns know the
// same.
func TestSchema_ReaderAndNounsKnowTheSame(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	inSchema, inFile := map[string]bool{}, map[string]bool{}
	schemaKeys(doc.(map[string]any), "", inSchema)
	walk(textAsJSON(t, small(t)), "", func(at, key string, _ map[string]any) { inFile[at+"."+key] = true })
	for _, k := range slices.Sorted(maps.Keys(inSchema)) {
		if !inFile[k] {
			t.Errorf("%s is in the schema, not in the small plant", k)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(inFile)) {
		if !inSchema[k] {
			t.Errorf("%s is in the small plant, not in the schema", k)
		}
	}
	filled := map[string]bool{}
	fields(reflect.ValueOf(readSmall(t)), "Plant", filled)
	for _, f := range slices.Sorted(maps.Keys(filled)) {
		if !filled[f] {
			t.Errorf("no key of the small plant fills %s", f)
		}
	}
	if len(filled) < 150 {
		t.Errorf("only %d fields looked at", len(filled))
	}
}

// fields notes for every field whether some value of it is neither zero nor
// absent.
func fields(v reflect.Value, at string, filled map[string]bool) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			fields(v.Elem(), at, filled)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			fields(v.Field(i), at+"."+v.Type().Field(i).Name, filled)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			fields(v.Index(i), at, filled)
		}
		filled[at] = filled[at] || v.Len() > 0
	default:
		absent := v.IsZero() || v.Type() == reflect.TypeFor[calendar.Date]() && v.Int() == int64(calendar.None)
		filled[at] = filled[at] || !absent
	}
}

// Every key of the small plant, given something of another kind or another name,
// is refused by the reader and by the schema alike.
func TestSchema_AndReaderRefuseTheSame(t *testing.T) {
	s := compiled(t)
	tried := map[string]bool{}
	doc := textAsJSON(t, small(t))
	walk(doc, "", func(at, key string, in map[string]any) {
		if tried[at+"."+key] {
			return
		}
		tried[at+"."+key] = true
		was := in[key]
		for _, change := range []struct {
			what string
			do   func()
		}{
			{"nothing", func() { in[key] = nil }},
			{"keys", func() { in[key] = map[string]any{"x": "y"} }},
			{"a list of lists", func() { in[key] = []any{[]any{"x"}} }},
			{"a key that is unknown", func() { in["x-"+key] = was }},
			{"a bool", func() {
				if was == true {
					in[key] = "true"
				} else {
					in[key] = true
				}
			}},
		} {
			change.do()
			if err := s.Validate(doc); err == nil {
				t.Errorf("%s.%s: the schema takes %s", at, key, change.what)
			}
			text, err := json.Marshal(doc)
			if err != nil {
				t.Fatal(err)
			}
			if _, faults := Read("changed", text); len(faults) == 0 {
				t.Errorf("%s.%s: the reader takes %s", at, key, change.what)
			}
			in[key] = was
			delete(in, "x-"+key)
		}
	})
	if len(tried) < 200 {
		t.Errorf("only %d keys tried", len(tried))
	}
	if err := s.Validate(doc); err != nil {
		t.Error("the document was not restored:", err)
	}
}

func TestSchema_DescribesEveryKey(t *testing.T) {
	doc, _ := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	walk(doc, "", func(at, key string, in map[string]any) {
		if strings.HasSuffix(at, ".properties") {
			if d, _ := in[key].(map[string]any)["description"].(string); !strings.HasSuffix(d, ".") && !strings.HasSuffix(d, "...") {
				t.Errorf("%s.%s: description %q", at, key, d)
			}
		}
	})
}
