package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"unicode/utf8"

	"wetdown/solver/plant"
)

// dangerous finds text at whose beginning a spreadsheet would start to calculate,
// however often it is guarded already.
var dangerous = regexp.MustCompile(`^'*[=+\-@\t\r]`)

// guard puts an apostrophe before text that a spreadsheet would run.
func guard(s string) string {
	if dangerous.MatchString(s) {
		return "'" + s
	}
	return s
}

// unguard takes the apostrophe of guard away.
func unguard(s string) string {
	if len(s) > 0 && s[0] == '\'' && dangerous.MatchString(s) {
		return s[1:]
	}
	return s
}

// separatorLine is a first line by which some programs say which separator follows.
var separatorLine = regexp.MustCompile(`^(?i:sep)=([,;\t])\r?\n`)

// openCSV takes a CSV file apart (RFC 4180): commas, semicolons or tabs, quotes,
// line ends of any kind, with or without a byte-order mark.
func openCSV(kind Kind, data []byte) (*grid, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	first := 1
	comma := rune(0)
	if m := separatorLine.FindSubmatch(data); m != nil {
		comma, data, first = rune(m[1][0]), data[len(m[0]):], 2
	}
	if r := strange(data); r != nil {
		return nil, r
	}
	if bytes.IndexByte(data, '\n') < 0 { // lines that end in nothing but CR
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	if comma == 0 {
		comma = separator(kind, data)
	}
	if n := bytes.Count(data, []byte(string(comma))) + bytes.Count(data, []byte("\n")); n > MaxCells {
		return nil, tooMany(n, "cells", MaxCells)
	}
	r := reader(data, comma)
	g := &grid{}
	for {
		record, err := r.Read()
		if err == io.EOF {
			return g, nil
		}
		var p *csv.ParseError
		if errors.As(err, &p) {
			cause, next := "a quote stands inside a cell that does not begin with one", "write quotes inside a cell twice, and the whole cell in quotes"
			if errors.Is(err, csv.ErrQuote) {
				cause, next = "a quote is not closed, or something follows it", "close the quote, and write quotes inside a cell twice"
			}
			return nil, &Refusal{Line: p.Line + first - 1, Cause: cause, Next: next}
		} else if err != nil {
			return nil, err
		}
		at, _ := r.FieldPos(0)
		l := line{number: at + first - 1}
		if len(record) > MaxColumns {
			return nil, &Refusal{Line: l.number, Cause: fmt.Sprintf("the row has %d cells, more than the %d that are read", len(record), MaxColumns), Next: "take out columns that are not part of the table, or look for a separator too many"}
		}
		for _, s := range record {
			if n := utf8.RuneCountInString(s); n > MaxCell {
				return nil, &Refusal{Line: l.number, Cause: fmt.Sprintf("a cell has %d characters, more than the %d that are read", n, MaxCell), Next: "shorten it, or look for a quote that is not closed"}
			}
			l.cells = append(l.cells, said(unguard(s)))
		}
		if g.lines = append(g.lines, l); len(g.lines) > MaxRows {
			return nil, tooMany(len(g.lines), "rows", MaxRows)
		}
	}
}

func tooMany(n int, things string, most int) *Refusal {
	return &Refusal{Cause: fmt.Sprintf("the file has %d %s or more, and %d are read", n, things, most), Next: "split it, or take out what is not part of the table"}
}

func reader(data []byte, comma rune) *csv.Reader {
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma, r.FieldsPerRecord = comma, -1
	return r
}

// strange looks for what no text has.
func strange(data []byte) *Refusal {
	line := func(at int) int { return 1 + bytes.Count(data[:at], []byte("\n")) }
	if i := bytes.IndexByte(data, 0); i >= 0 {
		return &Refusal{Line: line(i), Cause: "the file holds a byte 0, which no text has", Next: "save the table as CSV in UTF-8, or as XLSX"}
	}
	if utf8.Valid(data) {
		return nil
	}
	for i := 0; ; {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n <= 1 {
			return &Refusal{Line: line(i), Cause: fmt.Sprintf("the byte %#02x is not valid UTF-8", data[i]), Next: "save the table as CSV in UTF-8, or as XLSX"}
		}
		i += n
	}
}

// separator finds the separator by which one of the first rows names most columns
// of the table; a comma where none does.
func separator(kind Kind, data []byte) rune {
	knows := knownHeaders(kind)
	best, most := ',', 0
	for _, comma := range []rune{',', ';', '\t'} {
		r := reader(head16(data), comma)
		for range 3 {
			record, err := r.Read()
			if err != nil {
				break
			}
			n := 0
			for _, s := range record[:min(len(record), MaxColumns)] {
				if name, _, err := named(s); err == nil && knows(name) {
					n++
				}
			}
			if n > most {
				best, most = comma, n
			}
		}
	}
	return best
}

// head16 is the beginning of a file, in which its header is looked for.
func head16(data []byte) []byte { return data[:min(len(data), 16<<10)] }

// writeCSV prints rows as RFC 4180 has it: commas, CRLF, quotes where needed.
func writeCSV(head []string, rows [][]string) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	for _, row := range append([][]string{head}, rows...) {
		guarded := make([]string, len(row))
		for i, s := range row {
			guarded[i] = guard(s)
		}
		if err := w.Write(guarded); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// knownHeaders returns whether the table of a kind has a column of a header.
func knownHeaders(kind Kind) func(string) bool {
	empty := &plant.Plant{}
	switch kind {
	case Trucks:
		return func(h string) bool { return truckTable(empty).find(h) >= 0 }
	case LineOff:
		return func(h string) bool { return lineOffTable(empty).find(h) >= 0 }
	case Bookings:
		return func(h string) bool { return bookingTable(empty, false).find(h) >= 0 }
	}
	return func(h string) bool { return historyTable(nil).find(h) >= 0 }
}
