package main

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// answer prints what a command found: wire as JSON for machines, else the page for
// people. It goes to standard output; with toFile, to the file that -o names.
func (s *session) answer(wire any, people *page, toFile bool) error {
	data := []byte(people.String())
	if s.JSON {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		if err := e.Encode(wire); err != nil {
			return err
		}
		data = b.Bytes()
	}
	return s.put(data, toFile)
}

// put writes bytes to standard output; with toFile, to the file that -o names.
func (s *session) put(data []byte, toFile bool) error {
	if toFile && s.Out != "" {
		return write(s.Out, data)
	}
	if _, err := s.stdout.Write(data); err != nil {
		return refuse("the answer cannot be written to standard output: %v", cause(err))
	}
	return nil
}

// note tells people something beside the answer, on standard error.
func (s *session) note(format string, args ...any) {
	fmt.Fprintf(s.stderr, "wetdown: "+format+"\n", args...)
}
