package sheet

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"wetdown/calendar"
)

// A workbook is read part by part, as a stream: its list of sheets, the texts that
// cells share, the styles that show numbers as days, and one sheet. Names of
// elements are those of ECMA-376, whatever the namespace.
type workbook struct {
	parts    map[string]*zip.File
	left     int64 // bytes that may still be unzipped
	from1904 bool
	shared   []string
	dates    []bool // by style: a number is shown as a day
}

// Limits inside a workbook beyond those of every file.
const (
	maxParts = 2000    // files in the archive
	maxDepth = 64      // of elements
	maxGap   = 1 << 20 // bytes between the ends of two tags
	maxXfs   = 65_536  // styles
)

// openWorkbook takes the sheet out of a workbook that is named like the table, or
// else the first one.
func openWorkbook(kind Kind, data []byte) (*grid, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil || len(z.File) > maxParts {
		return nil, &Refusal{Cause: "the workbook is damaged", Next: "open it in a spreadsheet and save it again as XLSX, or as CSV"}
	}
	w := &workbook{parts: map[string]*zip.File{}, left: MaxUnzipped}
	for _, f := range z.File {
		w.parts[strings.ToLower(strings.TrimPrefix(f.Name, "/"))] = f
	}
	top, err := w.relations("")
	if err != nil {
		return nil, err
	}
	book := leads(top, "officeDocument")
	if w.part(book) == nil {
		return nil, &Refusal{Cause: "the file is an archive, and no workbook", Next: "save the table as XLSX, or as CSV"}
	}
	type tab struct{ name, part string }
	var tabs []tab
	targets, err := w.relations(book)
	if err != nil {
		return nil, err
	}
	err = w.each(book, func(e xml.StartElement, _ func() (string, error)) error {
		switch e.Name.Local {
		case "workbookPr":
			w.from1904 = truth(attr(e, "date1904"))
		case "sheet":
			for _, r := range targets {
				if r.id == attr(e, "id") && strings.HasSuffix(r.kind, "/worksheet") {
					tabs = append(tabs, tab{attr(e, "name"), r.target})
				}
			}
		}
		if len(tabs) > maxParts {
			return errors.New("the workbook lists too many sheets")
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(tabs) == 0 {
		return nil, &Refusal{Cause: "the workbook has no sheet", Next: "write the table on a sheet of it"}
	}
	at := max(0, slices.IndexFunc(tabs, func(t tab) bool { return plain(t.name) == plain(string(kind)) }))
	if part := leads(targets, "styles"); part != "" {
		if err := w.styles(part); err != nil {
			return nil, err
		}
	}
	if part := leads(targets, "sharedStrings"); part != "" {
		if err := w.strings(part); err != nil {
			return nil, err
		}
	}
	g, err := w.sheet(tabs[at].part)
	if err != nil {
		return nil, err
	}
	for i, t := range tabs {
		if i != at {
			g.ignored = append(g.ignored, "sheet "+t.name)
		}
	}
	return g, nil
}

func (w *workbook) part(name string) *zip.File { return w.parts[strings.ToLower(name)] }

// A relation leads from one part to another.
type relation struct{ id, kind, target string }

// relations lists where a part leads; "" is the workbook as a whole.
func (w *workbook) relations(part string) (list []relation, err error) {
	dir, base := path.Split(part)
	rels := dir + "_rels/" + base + ".rels"
	if w.part(rels) == nil {
		return nil, nil
	}
	err = w.each(rels, func(e xml.StartElement, _ func() (string, error)) error {
		if e.Name.Local != "Relationship" {
			return nil
		}
		to := attr(e, "Target")
		if !strings.HasPrefix(to, "/") {
			to = dir + to
		}
		list = append(list, relation{attr(e, "Id"), attr(e, "Type"), strings.TrimPrefix(path.Clean("/"+to), "/")})
		if len(list) > maxParts {
			return errors.New("the workbook lists too many parts")
		}
		return nil
	})
	return list, err
}

// leads returns the first part to which relations lead as kind, "" if none does.
func leads(list []relation, kind string) string {
	for _, r := range list {
		if strings.HasSuffix(r.kind, "/"+kind) {
			return r.target
		}
	}
	return ""
}

// each calls f with every element of a part. inner reads the text of the element,
// the elements in it passed over: each then goes on behind it.
func (w *workbook) each(part string, f func(e xml.StartElement, inner func() (string, error)) error) error {
	damaged := &Refusal{Cause: "the workbook is damaged: " + short(part) + " cannot be read", Next: "open it in a spreadsheet and save it again as XLSX, or as CSV"}
	z := w.part(part)
	if z == nil {
		return damaged
	}
	r, err := z.Open()
	if err != nil {
		return damaged
	}
	defer r.Close()
	d := xml.NewDecoder(&bounded{from: r, left: &w.left})
	depth := 0
	step := func() (xml.Token, error) {
		t, err := d.Token()
		switch {
		case errors.Is(err, errTooLarge):
			return nil, &Refusal{Cause: fmt.Sprintf("the workbook holds more than the %d MB that are read, or more in one place than a table does", MaxUnzipped>>20), Next: "copy the table alone into a new workbook, or save it as CSV"}
		case err != nil && err != io.EOF:
			return nil, damaged
		}
		switch t.(type) {
		case xml.StartElement:
			if depth++; depth > maxDepth {
				return nil, damaged
			}
		case xml.EndElement:
			depth--
		}
		return t, err
	}
	for {
		t, err := step()
		if err == io.EOF {
			return nil
		} else if err != nil {
			return err
		}
		e, ok := t.(xml.StartElement)
		if !ok {
			continue
		}
		above := depth - 1
		inner := func() (string, error) {
			var b strings.Builder
			for depth > above {
				t, err := step()
				if err == io.EOF {
					return "", damaged
				} else if err != nil {
					return "", err
				}
				if text, ok := t.(xml.CharData); ok && depth == above+1 {
					b.Write(text)
				}
			}
			return b.String(), nil
		}
		if err := f(e, inner); err != nil {
			return err
		}
	}
}

var errTooLarge = errors.New("too large")

// bounded reads no more than what is left, and no tag or text beyond all measure.
type bounded struct {
	from io.Reader
	left *int64
	gap  int // bytes since the end of a tag
}

func (b *bounded) Read(p []byte) (int, error) {
	n, err := b.from.Read(p[:min(len(p), 4096)])
	*b.left -= int64(n)
	if i := bytes.LastIndexByte(p[:n], '>'); i >= 0 {
		b.gap = n - 1 - i
	} else {
		b.gap += n
	}
	if *b.left < 0 || b.gap > maxGap {
		return 0, errTooLarge
	}
	return n, err
}

// attr is an attribute of an element, whatever its namespace.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func truth(s string) bool { return s == "1" || s == "true" || s == "on" }

// strings reads the texts that cells share: runs of a text are put together, hints
// of its sound left out.
func (w *workbook) strings(part string) error {
	var b strings.Builder
	open, sound := false, false
	put := func() {
		if open {
			w.shared = append(w.shared, unescape(b.String()))
			b.Reset()
		}
	}
	err := w.each(part, func(e xml.StartElement, inner func() (string, error)) error {
		switch e.Name.Local {
		case "si":
			put()
			open, sound = true, false
			if len(w.shared) > MaxCells {
				return tooMany(len(w.shared), "texts", MaxCells)
			}
		case "r":
			sound = false
		case "rPh":
			sound = true
		case "t":
			s, err := inner()
			if err != nil {
				return err
			}
			if !sound {
				b.WriteString(s)
			}
			if b.Len() > utf8.UTFMax*MaxCell {
				return tooLong(0)
			}
		}
		return nil
	})
	put()
	return err
}

func tooLong(line int) *Refusal {
	return &Refusal{Line: line, Cause: fmt.Sprintf("a cell has more than the %d characters that are read", MaxCell), Next: "shorten it"}
}

// styles finds the styles by which a number is shown as a day: formats 14 to 17
// and 22 of ECMA-376 18.8.30, those of East Asia, and own ones with a year or day
// in them.
func (w *workbook) styles(part string) error {
	own := map[string]bool{}
	cells := false
	return w.each(part, func(e xml.StartElement, _ func() (string, error)) error {
		switch e.Name.Local {
		case "numFmt":
			if own[attr(e, "numFmtId")] = showsDay(attr(e, "formatCode")); len(own) > maxXfs {
				return errors.New("the workbook has too many styles")
			}
		case "cellXfs":
			cells = true
		case "cellStyles", "dxfs":
			cells = false
		case "xf":
			if !cells {
				break
			}
			id := attr(e, "numFmtId")
			isDay, isOwn := own[id]
			if n, err := strconv.Atoi(id); !isOwn && err == nil {
				isDay = n >= 14 && n <= 17 || n == 22 || n >= 27 && n <= 36 || n >= 50 && n <= 58
			}
			if w.dates = append(w.dates, isDay); len(w.dates) > maxXfs {
				return errors.New("the workbook has too many styles")
			}
		}
		return nil
	})
}

// asides are parts of a format that are no fields: text, what is escaped or left
// blank, colours and countries.
var asides = regexp.MustCompile(`"[^"]*"|\\.|_.|\*.|\[[^\]]*\]`)

// showsDay reports whether a number format shows a number as a day.
func showsDay(format string) bool {
	return strings.ContainsAny(strings.ToLower(asides.ReplaceAllString(format, "")), "yd")
}

// sheet reads the cells of a sheet.
func (w *workbook) sheet(part string) (*grid, error) {
	g := &grid{}
	var at, col, cells int // the row; the column and the number of cells so far
	var in *cellIn
	put := func() error {
		if in == nil {
			return nil
		}
		l := &g.lines[len(g.lines)-1]
		for len(l.cells) < in.col {
			l.cells = append(l.cells, said(""))
			cells++
		}
		l.cells[in.col-1] = w.cell(in)
		in = nil
		if cells > MaxCells {
			return tooMany(cells, "cells", MaxCells)
		}
		return nil
	}
	err := w.each(part, func(e xml.StartElement, inner func() (string, error)) error {
		switch e.Name.Local {
		case "row":
			if err := put(); err != nil {
				return err
			}
			at++
			if n, err := strconv.Atoi(attr(e, "r")); err == nil {
				if n < at {
					return &Refusal{Line: n, Cause: "the rows of the sheet are not in order", Next: "open it in a spreadsheet and save it again"}
				}
				at = n
			}
			if len(g.lines) >= MaxRows {
				return tooMany(len(g.lines)+1, "rows", MaxRows)
			}
			g.lines = append(g.lines, line{number: at})
			col = 0
		case "c":
			if err := put(); err != nil {
				return err
			}
			col++
			if r := attr(e, "r"); r != "" {
				col = columnOf(r)
			}
			if len(g.lines) == 0 || col < 1 || col > MaxColumns {
				return &Refusal{Line: at, Cause: fmt.Sprintf("there is a cell beyond the %d columns that are read", MaxColumns), Next: "take out columns that are not part of the table"}
			}
			style, _ := strconv.Atoi(attr(e, "s"))
			in = &cellIn{col: col, kind: attr(e, "t"), style: style}
		case "f":
			if in != nil {
				in.formula = true
			}
			_, err := inner()
			return err
		case "v", "t":
			s, err := inner()
			if err != nil {
				return err
			}
			if in != nil {
				in.text.WriteString(s)
				in.has = true
				if in.text.Len() > utf8.UTFMax*MaxCell {
					return tooLong(at)
				}
			}
		case "rPh":
			_, err := inner()
			return err
		case "sheetData":
		case "mergeCells", "hyperlinks", "drawing", "tableParts", "extLst", "dataValidations", "conditionalFormatting":
			_, err := inner()
			return err
		}
		return nil
	})
	if err == nil {
		err = put()
	}
	if err != nil {
		return nil, err
	}
	return g, nil
}

// cellIn is a cell as its sheet has it.
type cellIn struct {
	col, style   int
	kind         string
	text         strings.Builder
	has, formula bool
}

// cell reads a cell. A formula counts with the value that the program which saved
// it had worked out.
func (w *workbook) cell(in *cellIn) cell {
	bad := func(cause, next string) cell {
		return cell{day: none, bad: trouble{cause: cause, next: next}}
	}
	text := in.text.String()
	if in.formula && (!in.has || in.kind == "e") {
		return bad("the cell holds a formula without a plain value", "copy the column and paste it as values")
	}
	switch in.kind {
	case "e":
		return bad("the cell holds the error "+short(text), "correct it, or empty the cell")
	case "s":
		n, err := strconv.Atoi(strings.TrimSpace(text))
		if !in.has {
			return said("")
		}
		if err != nil || n < 0 || n >= len(w.shared) {
			return bad("the workbook lacks the text of the cell", "type it again")
		}
		return said(w.shared[n])
	case "b":
		return said(map[bool]string{true: "yes", false: "no"}[truth(strings.TrimSpace(text))])
	case "inlineStr", "str":
		return said(unescape(text))
	case "d":
		d, t := layout{}.day(strings.TrimSpace(text))
		if t.cause != "" {
			return bad(t.cause, t.next)
		}
		return cell{text: d.String(), day: d}
	}
	s := strings.TrimSpace(text)
	if s == "" {
		return said("")
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return bad(short(s)+" stands where a number belongs", "type the cell again")
	}
	if in.style >= 0 && in.style < len(w.dates) && w.dates[in.style] {
		d, t := serialDay(f, w.from1904)
		if t.cause != "" {
			return bad(t.cause, t.next)
		}
		return cell{text: d.String(), day: d}
	}
	return cell{text: s, number: true, day: calendar.None}
}

// columnOf is the column of a cell such as AB12, from 1; 0 if it names none.
func columnOf(ref string) int {
	n := 0
	for i := range len(ref) {
		c := ref[i] &^ 0x20
		switch {
		case c >= 'A' && c <= 'Z' && n <= MaxColumns:
			n = 26*n + int(c-'A') + 1
		case ref[i] >= '0' && ref[i] <= '9':
			return n
		default:
			return 0
		}
	}
	return 0
}

// escaped finds characters that a workbook writes by their number: _x000D_.
var escaped = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

// escape writes text that looks like such a character so that it stays text.
func escape(s string) string {
	for at := 0; ; {
		m := escaped.FindStringIndex(s[at:])
		if m == nil {
			return s
		}
		at += m[0]
		s = s[:at] + "_x005F" + s[at:]
		at += len("_x005F_")
	}
}

func unescape(s string) string {
	return escaped.ReplaceAllStringFunc(s, func(m string) string {
		n, err := strconv.ParseUint(m[2:6], 16, 16)
		if err != nil || !utf8.ValidRune(rune(n)) {
			return m
		}
		return string(rune(n))
	})
}
