package sheet_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"wetdown/api/sheet"
	"wetdown/solver/plant"
)

// packed makes a workbook of parts by hand. A part that is left out is that of a
// plain workbook with one sheet.
func packed(t testing.TB, parts map[string]string) []byte {
	t.Helper()
	const rels = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">%s</Relationships>`
	const of = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/"
	all := [][2]string{
		{"_rels/.rels", fmt.Sprintf(rels, `<Relationship Id="r1" Type="`+of+`officeDocument" Target="xl/workbook.xml"/>`)},
		{"xl/workbook.xml", `<workbook xmlns:r="x"><sheets><sheet name="a" r:id="r1"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", fmt.Sprintf(rels, `<Relationship Id="r1" Type="`+of+`worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Type="`+of+`styles" Target="styles.xml"/><Relationship Id="r3" Type="`+of+`sharedStrings" Target="/xl/sharedStrings.xml"/>`)},
		{"xl/styles.xml", `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="[$-409]d\-mmm\-yyyy;@"/><numFmt numFmtId="165" formatCode="0.0&quot; days&quot;"/></numFmts><cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="165"/></cellXfs></styleSheet>`},
		{"xl/sharedStrings.xml", `<sst/>`},
		{"xl/worksheets/sheet1.xml", `<worksheet/>`},
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, p := range all {
		if own, ok := parts[p[0]]; ok {
			p[1] = own
		}
		w, err := z.Create(p[0])
		if err == nil {
			_, err = w.Write([]byte(p[1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// sheetOf packs one sheet of rows.
func sheetOf(t testing.TB, rows string) []byte {
	return packed(t, map[string]string{"xl/worksheets/sheet1.xml": "<worksheet><sheetData>" + rows + "</sheetData></worksheet>"})
}

// noise is bytes of no meaning, always the same.
func noise(n int) []byte {
	dice := rand.New(rand.NewPCG(1, 2))
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(dice.Uint32())
	}
	return b
}

func inline(s string) string { return `<c t="inlineStr"><is><t>` + s + `</t></is></c>` }

// TestRead_Hostile reads files that are none, or that would fill memory, and asks
// for a refusal in words that goes on to say what to do.
func TestRead_Hostile(t *testing.T) {
	p := demo(t)
	head := `<row r="1">` + inline("truck") + inline("due") + `</row>`
	encrypted := append([]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), make([]byte, 512)...)
	twice := func(s string) string { return strings.Repeat(s, 2) }
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"nothing", nil, "no header row"},
		{"blanks", []byte("\n\n , ,\n"), "no header row"},
		{"10 MB of noise", noise(10 << 20), "more than the 8388608 that are read"},
		{"noise", noise(1 << 16), "byte 0"},
		{"a NUL", []byte("truck,due\nH1001,2027\x00\n"), "line 2: the file holds a byte 0"},
		{"broken UTF-8", []byte("truck,due\nH1001,2027-\xff\n"), "line 2: the byte 0xff is not valid UTF-8"},
		{"UTF-16", []byte("\xff\xfet\x00r\x00"), "byte 0"},
		{"a quote never closed", []byte("truck,due\n\"H1001,2027-03-04\n"), "line 2: a quote is not closed"},
		{"a quote in the middle", []byte("truck,due\nH1\"001,2027-03-04\n"), "line 2: a quote stands inside"},
		{"too many columns", []byte("truck" + strings.Repeat(",", 200) + "\n"), "201 cells"},
		{"nothing but separators", bytes.Repeat([]byte(","), 4<<20), "cells or more"},
		{"too many rows", bytes.Repeat([]byte("truck\n"), 30_000), "rows or more"},
		{"a cell too long", []byte("truck\n" + strings.Repeat("x", 40_000) + "\n"), "40000 characters"},
		{"a two-digit year", []byte("truck,due (MM/DD/YY)\n"), "names no way to write days"},
		{"a layout twice the month", []byte("dates: MM/MM/YYYY\ntruck,due\n"), "names no way to write days"},
		{"a column twice", []byte("truck,job,due\n"), "the column truck is there twice"},
		{"an old workbook", encrypted, "old or an encrypted workbook"},
		{"an archive cut off", packed(t, nil)[:300], "damaged"},
		{"an archive of something else", packed(t, map[string]string{"_rels/.rels": "<a/>"}), "no workbook"},
		{"a workbook without a sheet", packed(t, map[string]string{"xl/workbook.xml": "<workbook/>"}), "no sheet"},
		{"a sheet that is no XML", packed(t, map[string]string{"xl/worksheets/sheet1.xml": "<worksheet><row"}), "damaged"},
		{"a sheet in another encoding", packed(t, map[string]string{"xl/worksheets/sheet1.xml": `<?xml version="1.0" encoding="utf-16"?><worksheet/>`}), "damaged"},
		{"entities that grow", packed(t, map[string]string{"xl/sharedStrings.xml": `<!DOCTYPE s [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><sst><si><t>&b;</t></si></sst>`}), "damaged"},
		{"a zip bomb", sheetOf(t, head+strings.Repeat("<row>"+inline("x")+"</row>", 1_000_000)), "rows or more"},
		{"a bomb of one text", sheetOf(t, "<row>"+inline(strings.Repeat("x", 60<<20))+"</row>"), "48 MB"},
		{"a bomb of attributes", sheetOf(t, "<row"+strings.Repeat(` a=""`, 1<<20)+"/>"), "48 MB"},
		{"a bomb of depth", sheetOf(t, strings.Repeat("<a>", 1<<20)), "damaged"},
		{"a bomb of texts", packed(t, map[string]string{"xl/sharedStrings.xml": "<sst>" + strings.Repeat("<si/>", 2_000_000) + "</sst>"}), "texts or more"},
		{"a bomb of pieces of a text", packed(t, map[string]string{"xl/sharedStrings.xml": "<sst><si>" + strings.Repeat("<t>a</t>", 1_000_000) + "</si></sst>"}), "more than the 32767 characters"},
		{"a cell at the far end", sheetOf(t, `<row r="1"><c r="XFD1"><v>1</v></c></row>`), "beyond the 100 columns"},
		{"a cell at no place", sheetOf(t, `<row r="1"><c r="1A"><v>1</v></c></row>`), "beyond the 100 columns"},
		{"rows that go back", sheetOf(t, twice(`<row r="7"/>`)), "not in order"},
		{"a header that is a formula", sheetOf(t, `<row r="1"><c r="A1"><f>1+1</f></c></row>`), "a header cannot be read"},
		{"a huge size that is a lie", lying(t), "damaged"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			v, err := sheet.Read(sheet.Trucks, "table", c.data, p, sheet.Options{})
			runtime.ReadMemStats(&after)
			var r *sheet.Refusal
			if !errors.As(err, &r) {
				t.Fatalf("it was taken: %v, %v", v, err)
			}
			if !strings.Contains(err.Error(), c.want) || r.Next == "" || r.File != "table" {
				t.Errorf("got %q, want %q", err, c.want)
			}
			if got := after.TotalAlloc - before.TotalAlloc; got > 512<<20 {
				t.Errorf("%d MB were asked for", got>>20)
			}
		})
	}
}

// lying is a workbook of which a part says that it is larger than memory.
func lying(t testing.TB) []byte {
	data := packed(t, nil)
	// The central directory has the size of each part at offset 24 of its entry.
	at := bytes.Index(data, []byte("PK\x01\x02"))
	copy(data[at+24:], "\xff\xff\xff\x7f")
	return data
}

// TestRead_Cells reads cells of a workbook of each type.
func TestRead_Cells(t *testing.T) {
	p := demo(t)
	for _, c := range []struct{ cell, want string }{
		{`<c r="B2" s="1"><v>46478</v></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
		{`<c r="B2" s="2"><v>46478</v></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
		{`<c r="B2" t="d"><v>2027-04-01T00:00:00</v></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
		{`<c r="B2" t="str"><f>TEXT(1)</f><v>2027-04-01</v></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
		{`<c r="B2" s="1"><f>A1+1</f><v>46478</v></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
		{`<c r="B2" t="s"><v>0</v></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
		{`<c r="B2" t="s"><v>9</v></c>`, "lacks the text"},
		{`<c r="B2" t="s"><v>-1</v></c>`, "lacks the text"},
		{`<c r="B2" s="3"><v>46478</v></c>`, "holds the number 46478, and not a date"},
		{`<c r="B2"><v>46478</v></c>`, "format the cell as a date"},
		{`<c r="B2" s="99"><v>46478</v></c>`, "format the cell as a date"},
		{`<c r="B2" s="1"><v>46478.5</v></c>`, "a time of day"},
		{`<c r="B2" s="1"><v>60</v></c>`, "which never was"},
		{`<c r="B2" s="1"><v>-1</v></c>`, "is none"},
		{`<c r="B2" s="1"><v>1e300</v></c>`, "is none"},
		{`<c r="B2" s="1"><v>NaN</v></c>`, "is none"},
		{`<c r="B2" s="1"><v>soon</v></c>`, "where a number belongs"},
		{`<c r="B2" s="1"><f>A1+1</f></c>`, "a formula without a plain value"},
		{`<c r="B2" t="e"><f>1/0</f><v>#DIV/0!</v></c>`, "a formula without a plain value"},
		{`<c r="B2" t="e"><v>#REF!</v></c>`, "holds the error"},
		{`<c r="B2" t="inlineStr"><is><r><t>2027-</t></r><r><t>04-01</t></r><rPh sb="0"><t>sound</t></rPh></is></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
		{`<c r="B2" t="inlineStr"><is><t>2027-04_x002D_01</t></is></c>`, "due: \"2027-03-10\" to \"2027-04-01\""},
	} {
		data := packed(t, map[string]string{
			"xl/sharedStrings.xml":     `<sst><si><r><t>2027-</t></r><r><t xml:space="preserve">04-01</t></r><rPh><t>sound</t></rPh></si></sst>`,
			"xl/worksheets/sheet1.xml": `<worksheet><sheetData><row r="1">` + inline("truck") + inline("due") + `</row><row r="2">` + inline("H1001") + c.cell + `</row></sheetData></worksheet>`,
		})
		v, err := sheet.Read(sheet.Trucks, "table", data, p, sheet.Options{})
		if err != nil {
			t.Errorf("%s: %v", c.cell, err)
		} else if got := told(v); !strings.Contains(got, c.want) {
			t.Errorf("%s: got %s, want %s", c.cell, got, c.want)
		}
	}
	// A number in a column of names, and a name that a spreadsheet took for a date.
	data := sheetOf(t, `<row r="1">`+inline("truck")+inline("line off")+`</row><row r="2"><c r="A2"><v>2.041E3</v></c>`+inline("2027-04-01")+`</row><row r="3"><c r="A3" s="1"><v>46478</v></c>`+inline("2027-04-01")+`</row>`)
	v, err := sheet.Read(sheet.LineOff, "table", data, p, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := told(v); !strings.Contains(got, `no truck "2041"`) || !strings.Contains(got, "holds a date, where truck belongs") {
		t.Errorf("got %s", got)
	}
}

// TestRead_Sheets picks the sheet that is named like the table, and says which it
// leaves out.
func TestRead_Sheets(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	for _, s := range []struct{ name, head string }{{"Sheet1", "nothing"}, {"Line off", "truck"}} {
		if _, err := f.NewSheet(s.name); err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellStr(s.name, "A1", s.head); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if _, err := f.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	v, err := sheet.Read(sheet.LineOff, "table", b.Bytes(), demo(t), sheet.Options{})
	if err != nil || len(v.Rows) != 0 || fmt.Sprint(v.Ignored) != "[sheet Sheet1]" {
		t.Errorf("got %+v, %v", v, err)
	}
}

// fuzz reads anything: no panic, and what is taken can be written and read again.
func fuzz(f *testing.F, seeds ...[]byte) {
	p := demo(f)
	for _, s := range seeds {
		for k := range sheet.Kinds {
			f.Add(uint8(k), s)
		}
	}
	f.Fuzz(func(t *testing.T, k uint8, data []byte) {
		kind := sheet.Kinds[int(k)%len(sheet.Kinds)]
		v, err := sheet.Read(kind, "table", data, p, sheet.Options{MovePromises: true})
		if err != nil {
			var r *sheet.Refusal
			if !errors.As(err, &r) || r.Cause == "" || r.Next == "" {
				t.Fatalf("a refusal without a cause or a next step: %v", err)
			}
			return
		}
		if kind == sheet.History {
			return
		}
		q, err := v.Plant()
		if err != nil {
			return
		}
		if faults := plant.Validate(q); len(faults) > 0 {
			t.Fatalf("it was taken, and the plant is wrong: %v", faults[0])
		}
		unchanged(t, kind, sheet.CSV, q, rowsOf(q, kind))
	})
}

func FuzzCSV(f *testing.F) {
	var seeds [][]byte
	for _, c := range cases {
		seeds = append(seeds, []byte(c.file))
	}
	fuzz(f, append(seeds, []byte("sep=;\ntruck;due\nH1001;2027-04-01\n"), []byte("truck\rH1001\r"))...)
}

func FuzzXLSX(f *testing.F) {
	p := demo(f)
	var seeds [][]byte
	for _, kind := range plantKinds {
		data, err := sheet.Write(kind, sheet.XLSX, p)
		if err != nil {
			f.Fatal(err)
		}
		seeds = append(seeds, data)
	}
	fuzz(f, append(seeds, sheetOf(f, `<row>`+inline("truck")+inline("due")+`</row><row>`+inline("H1001")+`<c s="1"><v>46478</v></c></row>`))...)
}

// FuzzSheet reads anything that stands in the sheet of a right workbook, where
// bytes changed at random in an archive seldom come.
func FuzzSheet(f *testing.F) {
	p := demo(f)
	f.Add(`<worksheet><sheetData><row r="1">` + inline("truck") + inline("due") + `</row><row r="2">` + inline("H1001") + `<c r="B2" s="1"><v>46478</v></c></row></sheetData></worksheet>`)
	f.Fuzz(func(t *testing.T, text string) {
		_, err := sheet.Read(sheet.Trucks, "table", packed(t, map[string]string{"xl/worksheets/sheet1.xml": text}), p, sheet.Options{})
		var r *sheet.Refusal
		if err != nil && (!errors.As(err, &r) || r.Next == "") {
			t.Fatalf("a refusal without a next step: %v", err)
		}
	})
}
