package plant

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// Limits of a plant file. A plant of 2000 trucks with its plan is within them.
const (
	maxBytes   = 8 << 20
	maxEntries = 800_000 // lines and commas
)

// Read reads a plant file: YAML, or JSON, which is YAML. It reports every fault
// it finds, in the order of the file; the plant is nil if there is any. Name is
// what the faults call the file.
func Read(name string, data []byte) (*Plant, []Fault) {
	p, faults := read(data)
	if len(faults) == 0 {
		return p, nil
	}
	return nil, inFile(name, faults)
}

func read(data []byte) (*Plant, []Fault) {
	r, faults := begin(data)
	if r == nil {
		return nil, faults
	}
	p := &Plant{}
	plantKeys(r, p)
	r.close()
	if len(r.faults) >= maxCounted {
		return nil, r.faults
	}
	for _, v := range validate(p, len(r.faults) == 0) {
		if r.spoils(v.at) || r.spoils(v.because) {
			continue // a value could not be read: that has been said
		}
		r.faults = append(r.faults, v.in(r.root))
	}
	return p, r.faults
}

// begin makes a reader of the text of a file; nil if there is nothing to be read.
func begin(data []byte) (*reader, []Fault) {
	root, w, line, column := document(data)
	if !w.ok() {
		f := w.fault(nil)
		f.Line, f.Column = line, column
		return nil, []Fault{f}
	}
	r := newReader(root)
	if w := version(root); !w.ok() {
		r.fault(locate(root, place{key("wetdown")}), w, key("wetdown"))
		return nil, r.faults
	}
	return r, nil
}

// inFile names the file of faults, and puts them in its order.
func inFile(name string, faults []Fault) []Fault {
	for i := range faults {
		faults[i].File = name
	}
	return sortFaults(faults)
}

// version refuses files of another format, about which nothing else can be said.
func version(root *yaml.Node) wrong {
	n := locate(root, place{key("wetdown")})
	switch {
	case n == root:
		return wrong{"this is no plant file: the key wetdown is missing", "", fmt.Sprintf("begin a plant file with wetdown: %d", FormatVersion)}
	case n.Value != strconv.Itoa(FormatVersion) || n.Kind != yaml.ScalarNode:
		return wrong{"the file says that its format is " + quoted(n.Value), fmt.Sprintf("format %d is what this program reads", FormatVersion), "use a program that reads that format, or correct the number"}
	}
	return wrong{}
}

// document makes nodes of the text, or says what is wrong with it and where.
func document(data []byte) (root *yaml.Node, w wrong, line, column int) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	entries := bytes.Count(data, []byte("\n")) + bytes.Count(data, []byte(","))
	switch {
	case len(bytes.TrimSpace(data)) == 0:
		return nil, wrong{"the file is empty", "", fmt.Sprintf("begin a plant file with wetdown: %d", FormatVersion)}, 1, 0
	case len(data) > maxBytes:
		return nil, wrong{fmt.Sprintf("the file has %d bytes", len(data)), fmt.Sprintf("at most %d bytes", maxBytes), "take out trucks that are delivered, or check that it is a plant file"}, 1, 0
	case entries > maxEntries:
		return nil, wrong{fmt.Sprintf("the file has %d lines and commas", entries), fmt.Sprintf("at most %d", maxEntries), "take out trucks that are delivered, or check that it is a plant file"}, 1, 0
	}
	if w, at := strange(data); !w.ok() {
		before := data[:at]
		begin := bytes.LastIndexByte(before, '\n') + 1
		return nil, w, 1 + bytes.Count(before, []byte("\n")), 1 + utf8.RuneCount(before[begin:])
	}
	root, stop := parse(data)
	if stop != nil {
		root, w, line, column = library(data, stop)
	}
	if w.ok() && root.Kind != yaml.MappingNode {
		w, line, column = wrong{"this is no plant file", "keys with their values", fmt.Sprintf("begin a plant file with wetdown: %d", FormatVersion)}, root.Line, root.Column
	}
	return root, w, line, column
}

// strange looks for bytes that no text has, and says where the first is.
func strange(data []byte) (wrong, int) {
	for i, c := range data {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' {
			return wrong{fmt.Sprintf("the byte %#02x is no text", c), "text in UTF-8", "save the file as plain text in UTF-8; UTF-16 and spreadsheets are not read"}, i
		}
	}
	if utf8.Valid(data) {
		return wrong{}, 0
	}
	for i := 0; ; {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n <= 1 {
			return wrong{fmt.Sprintf("the byte %#02x is not valid UTF-8", data[i]), "text in UTF-8", "save the file in UTF-8"}, i
		}
		i += n
	}
}

// library makes nodes of text at which parse has stopped: what is beyond the
// part of YAML that parse knows.
func library(data []byte, stop *stopped) (root *yaml.Node, w wrong, line, column int) {
	d := yaml.NewDecoder(bytes.NewReader(data))
	var doc, next yaml.Node
	err := d.Decode(&doc)
	if err == nil {
		switch err = d.Decode(&next); {
		case err == nil:
			return nil, wrong{"a second document (---) begins in the file", "one document", "take it out, or put it into a file of its own"}, next.Line, next.Column
		case errors.Is(err, io.EOF):
			return doc.Content[0], wrong{}, 0, 0
		}
	}
	switch {
	case !stop.why.ok():
		return nil, stop.why, stop.line, stop.column
	case errors.Is(err, io.EOF):
		return nil, wrong{"the file has nothing but comments", "", fmt.Sprintf("begin a plant file with wetdown: %d", FormatVersion)}, 1, 0
	}
	line, text := 1, strings.TrimPrefix(err.Error(), "yaml: ")
	if m := lineOfError.FindStringSubmatch(text); m != nil {
		line, _ = strconv.Atoi(m[1])
		text = m[2]
	}
	return nil, wrong{"the text cannot be read as YAML, near this line: " + text, "", "look for a bracket, quote or colon that is missing, or a line that is indented otherwise than its neighbours"}, line, 0
}

var lineOfError = regexp.MustCompile(`^line (\d+): (.*)$`)
