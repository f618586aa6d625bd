package plant

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

// sameNodes compares what matters to the reader: shape, text, place, and whether
// plain text is nothing, a yes or no, or a merge.
func sameNodes(a, b *yaml.Node) error {
	special := func(n *yaml.Node) string {
		if n.Kind == yaml.ScalarNode && (n.Tag == "!!null" || n.Tag == "!!bool") {
			return n.Tag
		}
		return ""
	}
	switch {
	case a.Kind != b.Kind, a.Value != b.Value, a.Style != b.Style, len(a.Content) != len(b.Content), special(a) != special(b):
		return fmt.Errorf("parser: kind %d style %d %q %d %s, library: kind %d style %d %q %d %s",
			a.Kind, a.Style, a.Value, len(a.Content), a.Tag, b.Kind, b.Style, b.Value, len(b.Content), b.Tag)
	case a.Line != b.Line || a.Column != b.Column:
		return fmt.Errorf("%q: parser %d:%d, library %d:%d", a.Value, a.Line, a.Column, b.Line, b.Column)
	}
	for i := range a.Content {
		if err := sameNodes(a.Content[i], b.Content[i]); err != nil {
			return err
		}
	}
	return nil
}

// againstLibrary fails when the parser accepts text that the library refuses or
// reads otherwise, and tells whether the parser accepted it.
func againstLibrary(t *testing.T, text []byte) bool {
	t.Helper()
	if w, _ := strange(text); !w.ok() {
		return false
	}
	root, stop := parse(text)
	if stop != nil || bytes.Contains(text, []byte(`\/`)) {
		return false // an escaped slash is JSON and YAML 1.2, but the library refuses it
	}
	d := yaml.NewDecoder(bytes.NewReader(text))
	var doc, more yaml.Node
	if err := d.Decode(&doc); err != nil {
		t.Fatalf("the library refuses %q: %v", text, err)
	}
	if err := sameNodes(root, doc.Content[0]); err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	if err := d.Decode(&more); err != io.EOF {
		t.Fatalf("%q: a second document: %v", text, err)
	}
	return true
}

// snippets are texts that the parser knows.
var snippets = []string{
	"a: 1\n",
	"a: b c  # comment\n# more\n\nb: 'it''s'\nc: \"x\\n\\u00e9\"",
	"a:\n  - b\n  - c: 1\n    d: [1, {e: f}]\n  -\n    g: h\n",
	"a:\n- b\n- - c\n  - d\ne: f\n",
	"{\"a\":1,\"b\":[true,null,\"x\"],\n \"c\":{\"d\":-1.5}}\n",
	"a: {b: 2027-03-01T06:00, c: 06:00-14:30 break 10:00-10:30}\r\nb: [x,\r\n  y]\r\n",
	"é: ü ß\nk: [ä, {ö: x}, y]\n",
	"a: [\n  # one\n  1, # two\n  2\n]\n",
	"a : b\n'c': d\n\"e\" : f\n",
	"a: x:y\nb: x#y\nc: -5\nd: ~\ne: True\nf: <<\n",
	"[]\n",
	"- {}\n- []\n",
	"a: {}\nb: []\n",
	"a:\n    b:\n          c: d\n    e: f\n",
}

// beyond are texts that are right but left to the library.
var beyond = []string{
	"a: |\n  x\n  y\n", "a: >-\n  x\n", "a: &b c\n", "a: !!str b\n", "? a\n: b\n", "a: b\n  c\n", "a: \"b\n  c\"\n",
	"---\na: b\n", "a: b\n...\n", "a:\nb: c\n", "{a, b: c}\n", "[a: b]\n", "[a, ]\n", "a:\tb\n", "a: b\n---\nc: d\n",
}

func TestParse_SameNodesAsTheLibrary(t *testing.T) {
	texts := append([]string{string(small(t)), string(Write(readSmall(t)))}, snippets...)
	for _, text := range texts {
		if !againstLibrary(t, []byte(text)) {
			_, stop := parse([]byte(text))
			t.Errorf("%q: the parser stops: %+v", text, stop)
		}
	}
}

func TestParse_LeavesTheRestToTheLibrary(t *testing.T) {
	for _, text := range beyond {
		if _, stop := parse([]byte(text)); stop == nil {
			t.Errorf("%q: the parser takes it", text)
		}
		var n yaml.Node
		if err := yaml.Unmarshal([]byte(text), &n); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range append(snippets, beyond...) {
		f.Add([]byte(s))
	}
	f.Add(small(f))
	f.Fuzz(func(t *testing.T, text []byte) { againstLibrary(t, text) })
}

func TestParse_CutAndSplicedText(t *testing.T) {
	text := string(small(t))
	lines := strings.SplitAfter(text, "\n")
	accepted := 0
	for i := range lines {
		for _, piece := range []string{strings.Join(lines[i:], ""), strings.Join(lines[:i], ""), strings.Join(lines[:i], "") + strings.Join(lines[min(i+1, len(lines)):], ""), lines[i]} {
			if againstLibrary(t, []byte(piece)) {
				accepted++
			}
		}
	}
	if accepted < len(lines) {
		t.Errorf("only %d of %d pieces were read: the test looks at nothing", accepted, 4*len(lines))
	}
}
