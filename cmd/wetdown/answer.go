package main

import (
	"bytes"
	"encoding/json"
	"fmt"

	"wetdown/api/wire"
	"wetdown/solver"
	"wetdown/solver/plant"
)

// answer ends a command whose answer -o can send to a file: as JSON for
// machines, else the page for people. The exit code says whether it is a yes.
func (s *session) answer(yes bool, machines any, people *page) (code int, err error) {
	return s.tell(yes, machines, people, s.Out)
}

// report is answer for a command that writes something else to the file of -o: it
// prints to standard output.
func (s *session) report(yes bool, machines any, people *page) (code int, err error) {
	return s.tell(yes, machines, people, "")
}

func (s *session) tell(yes bool, machines any, people *page, file string) (code int, err error) {
	data := []byte(people.String())
	if s.JSON {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		if err := e.Encode(machines); err != nil {
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

// result writes a planning of p. read is how long it took to read the file, in seconds.
func (s *session) result(p *plant.Plant, r *solver.Result, read float64) wire.Result {
	w := wire.ToResult(p, r, read)
	w.Warnings = s.warned()
	return w
}
