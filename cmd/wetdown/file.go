package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wetdown/calendar"
	"wetdown/solver/plant"
)

// maxFile bounds what is read at all: no input of this program is a tenth of it.
const maxFile = 64 << 20

// read reads a whole input file; - is standard input.
func (s *session) read(name string) ([]byte, error) {
	in := s.stdin
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, unread(name, err)
		}
		defer f.Close()
		if i, err := f.Stat(); err == nil && i.IsDir() {
			return nil, refuse("%s is a folder: name a file in it", name)
		}
		in = f
	}
	data, err := io.ReadAll(io.LimitReader(in, maxFile+1))
	if err != nil {
		return nil, unread(name, err)
	}
	if len(data) > maxFile {
		return nil, refuse("%s has more than %s bytes: this is no input of wetdown; check the name", name, thousands(maxFile))
	}
	return data, nil
}

// unread says why a file cannot be read.
func unread(name string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return refuse("there is no file %s: check the name and the folder", name)
	case errors.Is(err, fs.ErrPermission):
		return refuse("%s may not be read by you: ask for the right, or copy it", name)
	}
	return refuse("%s cannot be read: %v", name, cause(err))
}

// cause is an error without the operation and path that a file error repeats.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// load reads a plant file, sets the moment from which to plan, and warns.
func (s *session) load(name string) (*plant.Plant, error) {
	data, err := s.read(name)
	if err != nil {
		return nil, err
	}
	p, err := s.plant(called(name), data)
	if err == nil {
		s.warn(plant.Warnings(p, called(name), data))
	}
	return p, err
}

// called is the name of an input file for people.
func called(name string) string {
	if name == "-" {
		return "standard input"
	}
	return name
}

// plant reads a plant from the bytes of a file that is called so, and sets the
// moment from which to plan.
func (s *session) plant(called string, data []byte) (*plant.Plant, error) {
	p, faults := plant.Read(called, data)
	if len(faults) > 0 {
		return nil, told(faults)
	}
	if p.Plan != nil && p.Plan.Plant != p.Name {
		return nil, refuse("%s: the plan in it was made for the plant %q, and this is %q: take the plan out, or use the file it was made for", called, p.Plan.Plant, p.Name)
	}
	if s.AsOf != "" {
		if err := s.asOf(p); err != nil {
			return nil, err
		}
		if faults := plant.Validate(p); len(faults) > 0 {
			r := told(faults)
			for i := range r {
				r[i] = fmt.Sprintf("%s with --as-of %s: %s", called, s.AsOf, r[i])
			}
			return nil, r
		}
	}
	return p, nil
}

func told(faults []plant.Fault) (r refusal) {
	for _, f := range faults {
		r = append(r, f.String())
	}
	return r
}

// asOf sets the moment from which to plan: a day, at the time of day of the file,
// or a moment.
func (s *session) asOf(p *plant.Plant) error {
	if strings.Contains(s.AsOf, "T") {
		m, err := calendar.ParseMoment(s.AsOf)
		if err != nil {
			return refuse("--as-of: %v", err)
		}
		p.AsOf = m
		return nil
	}
	d, err := calendar.ParseDate(s.AsOf)
	if err != nil {
		return refuse("--as-of: %v", err)
	}
	p.AsOf = d.At(p.AsOf.Clock())
	return nil
}

// loadNow is load with the slips of the file made facts: they have happened.
func (s *session) loadNow(name string) (p *plant.Plant, slips []plant.Slip, err error) {
	file, err := s.load(name)
	if err != nil {
		return nil, nil, err
	}
	p, err = file.Apply(file.Slips)
	if err != nil {
		return nil, nil, refuseEach(err)
	}
	return p, file.Slips, nil
}

// refuseEach makes a refusal of joined errors, one line each.
func refuseEach(err error) error { return refusal(strings.Split(err.Error(), "\n")) }

// canWrite looks whether a file can be written, so that nobody waits for a plan
// that then goes nowhere.
func canWrite(name string) error {
	if name == "" {
		return nil
	}
	i, err := os.Stat(name)
	switch {
	case err == nil && i.IsDir():
		return refuse("-o %s is a folder: name a file in it", name)
	case err == nil && !i.Mode().IsRegular():
		return nil
	}
	dir := filepath.Dir(name)
	switch i, err := os.Stat(dir); {
	case err != nil:
		return refuse("-o %s: the folder %s is not there: make it first, or name another file", name, dir)
	case !i.IsDir():
		return refuse("-o %s: %s is no folder: name another file", name, dir)
	}
	try, err := os.CreateTemp(dir, ".wetdown-*")
	if err != nil {
		return unwritten(name, err)
	}
	try.Close()
	return os.Remove(try.Name())
}

// write writes a file whole or not at all: a new file in the same folder takes its
// place once it is complete. What is no plain file (a device, a pipe) is written to.
func write(name string, data []byte) error {
	mode := fs.FileMode(0o666)
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	switch i, err := os.Stat(name); {
	case err == nil && !i.Mode().IsRegular():
		if err := os.WriteFile(name, data, mode); err != nil {
			return unwritten(name, err)
		}
		return nil
	case err == nil:
		mode = i.Mode().Perm()
	}
	part := filepath.Join(filepath.Dir(name), fmt.Sprintf(".%s.%d.part", filepath.Base(name), os.Getpid()))
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, mode)
	if err != nil {
		return unwritten(name, err)
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(part, name)
	}
	if err != nil {
		os.Remove(part)
		return unwritten(name, err)
	}
	return nil
}

func unwritten(name string, err error) error {
	return refuse("%s cannot be written: %v: name another file with -o, or make room", name, cause(err))
}
