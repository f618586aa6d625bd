package main

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// answer ends a command whose answer -o can send to a file: wire as JSON for
// machines, else the page for people. The exit code says whether it is a yes.
func (s *session) answer(yes bool, wire any, people *page) (code int, err error) {
	return s.tell(yes, wire, people, s.Out)
}

// report is answer for a command that writes something else to the file of -o: it
// prints to standard output.
func (s *session) report(yes bool, wire any, people *page) (code int, err error) {
	return s.tell(yes, wire, people, "")
}

func (s *session) tell(yes bool, wire any, people *page, file string) (code int, err error) {
	data := []byte(people.String())
	if s.JSON {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		if err := e.Encode(wire); err != nil {
			return 0, err
		}
		data = b.Bytes()
	}
	if !yes {
		code = no
	}
	return code, s.put(data, file)
}

// put writes bytes to a file; without a name, to standard output.
func (s *session) put(data []byte, file string) error {
	if file != "" {
		return write(file, data)
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
