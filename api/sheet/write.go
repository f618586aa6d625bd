package sheet

import (
	"bytes"
	"fmt"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"wetdown/solver/plant"
)

// A Format is a kind of file.
type Format string

// The formats.
const (
	CSV  Format = "csv"  // RFC 4180, UTF-8 without a byte-order mark
	XLSX Format = "xlsx" // one sheet, days as dates
)

// Write prints a table of the plant, rows in the order of the plant: Read against
// the same plant finds all of them unchanged. In CSV, text at which a spreadsheet
// would start to calculate (it begins with = + - @, a tab or CR) has an apostrophe
// before it, which Read takes away; a workbook needs none, since its texts are
// texts. Unknown kinds and formats, History (see WriteHistory), and text longer
// than MaxCell are errors.
func Write(kind Kind, f Format, p *plant.Plant) ([]byte, error) {
	switch kind {
	case Trucks:
		return write(truckTable(p), f, p.Trucks)
	case LineOff:
		return write(lineOffTable(p), f, statedIn(p))
	case Bookings:
		return write(bookingTable(p, false), f, p.Visits)
	}
	return nil, fmt.Errorf("a plant has no table %q: ask for %s, %s or %s", kind, Trucks, LineOff, Bookings)
}

// WriteHistory prints the table of the history, as Write does.
func WriteHistory(f Format, rows []Past) ([]byte, error) {
	return write(historyTable(rows), f, rows)
}

func write[T any](t *table[T], f Format, list []T) ([]byte, error) {
	head := make([]string, len(t.columns))
	for i := range t.columns {
		head[i] = t.columns[i].name
	}
	rows := make([][]string, len(list))
	for i := range list {
		rows[i] = make([]string, len(t.columns))
		for k := range t.columns {
			s := t.columns[k].get(&list[i])
			if n := utf8.RuneCountInString(s); n > MaxCell {
				return nil, fmt.Errorf("%s of %s has %d characters, and a cell holds %d: shorten it", t.columns[k].name, t.name(&list[i]), n, MaxCell)
			}
			rows[i][k] = s
		}
	}
	switch f {
	case CSV:
		return writeCSV(head, rows)
	case XLSX:
		shapes := make([]shape, len(t.columns))
		for k := range t.columns {
			shapes[k] = t.columns[k].as
		}
		return writeWorkbook(string(t.kind), head, shapes, rows)
	}
	return nil, fmt.Errorf("%q is no format: ask for %s or %s", f, CSV, XLSX)
}

// Widths of columns of a workbook, in characters.
const (
	minWidth = 10
	maxWidth = 48
)

// writeWorkbook prints rows as a workbook of one sheet: the header frozen, days as
// dates, columns as wide as what is in them.
func writeWorkbook(name string, head []string, shapes []shape, rows [][]string) (_ []byte, err error) {
	f := excelize.NewFile()
	defer f.Close()
	must := func(e error) {
		if err == nil {
			err = e
		}
	}
	iso := "yyyy-mm-dd"
	bold, e := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Border: []excelize.Border{{Type: "bottom", Style: 1, Color: "000000"}}})
	must(e)
	days, e := f.NewStyle(&excelize.Style{CustomNumFmt: &iso})
	must(e)
	must(f.SetSheetName("Sheet1", name))
	for k := range head {
		must(f.SetCellStr(name, ref(k, 1), head[k]))
		width := utf8.RuneCountInString(head[k])
		for i := range rows {
			s := rows[i][k]
			width = max(width, utf8.RuneCountInString(s))
			at := ref(k, i+2)
			switch serial, ok := daySerial(dayOf(s)); {
			case s == "":
			case shapes[k] == asDay && ok:
				must(f.SetCellInt(name, at, int64(serial)))
				must(f.SetCellStyle(name, at, at, days))
			case shapes[k] == asNumber:
				must(f.SetCellDefault(name, at, s))
			default:
				must(f.SetCellStr(name, at, escape(s)))
			}
		}
		column, e := excelize.ColumnNumberToName(k + 1)
		must(e)
		must(f.SetColWidth(name, column, column, float64(2+min(max(width, minWidth), maxWidth))))
	}
	must(f.SetCellStyle(name, ref(0, 1), ref(len(head)-1, 1), bold))
	must(f.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	var b bytes.Buffer
	if err == nil {
		_, err = f.WriteTo(&b)
	}
	if err != nil {
		return nil, fmt.Errorf("the workbook cannot be written: %w", err)
	}
	return b.Bytes(), nil
}

// ref is the name of a cell; columns count from 0, rows from 1.
func ref(column, row int) string {
	s, err := excelize.CoordinatesToCellName(column+1, row)
	if err != nil {
		return ""
	}
	return s
}
