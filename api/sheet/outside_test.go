package sheet

import (
	"bytes"
	"encoding/csv"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"wetdown/calendar"
	"wetdown/solver/plant"
	"wetdown/testdata"
)

// TestSerial holds the numbers under dates against known ones.
//
// 1900-01-01 is 1, 1900-03-01 is 61 since the 1900 system counts a 29 February
// 1900 that never was; 2008-01-01 is 39448, the example of ECMA-376-1 and of the
// help page of DATEVALUE; the two systems are 1462 days apart (Microsoft, "Date
// systems in Excel"; all from memory, and excelize agrees below).
func TestSerial(t *testing.T) {
	for _, c := range []struct {
		serial float64
		base04 bool
		want   string
	}{
		{1, false, "1900-01-01"}, {59, false, "1900-02-28"}, {61, false, "1900-03-01"}, {39448, false, "2008-01-01"},
		{0, true, "1904-01-01"}, {39448 - 1462, true, "2008-01-01"}, {61, true, "1904-03-02"},
		{60, false, ""}, {0, false, ""}, {-1, false, ""}, {2_958_465, false, "9999-12-31"}, {2_958_466, false, ""},
	} {
		got, w := serialDay(c.serial, c.base04)
		if got.String() != c.want || (w.cause == "") != (c.want != "") {
			t.Errorf("serialDay(%v, %v) = %v, %q, want %s", c.serial, c.base04, got, w.cause, c.want)
		}
	}
	for n := 61; n < 110_000; n += 97 {
		for _, base04 := range []bool{false, true} {
			got, _ := serialDay(float64(n), base04)
			want, err := excelize.ExcelDateToTime(float64(n), base04)
			if err != nil || got.String() != want.Format(time.DateOnly) {
				t.Fatalf("serialDay(%d, %v) = %v, excelize says %v, %v", n, base04, got, want, err)
			}
		}
		d, _ := serialDay(float64(n), false)
		if back, ok := daySerial(d); !ok || back != n {
			t.Fatalf("daySerial(%v) = %d", d, back)
		}
	}
}

// TestCSV_RFC4180 reads the examples of RFC 4180, section 2.
func TestCSV_RFC4180(t *testing.T) {
	for _, c := range []struct {
		file string
		want [][]string
	}{
		{"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"aaa,bbb,ccc\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "b\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"\"aaa\",\"b\"\"bb\",\"ccc\"", [][]string{{"aaa", "b\"bb", "ccc"}}},
	} {
		g, err := openCSV(Trucks, []byte(c.file))
		if err != nil {
			t.Errorf("%q: %v", c.file, err)
			continue
		}
		var got [][]string
		for _, l := range g.lines {
			var row []string
			for _, cell := range l.cells {
				row = append(row, cell.text)
			}
			got = append(got, row)
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%q: %s", c.file, d)
		}
	}
}

// TestGuard asks that guarded text is run by no spreadsheet, and comes back.
func TestGuard(t *testing.T) {
	for _, s := range []string{"", "a", "'", "''", "'a", "=1+1", "+1", "-1", "@A1", "\tx", "\rx", "'=1", "''=1", "'-"} {
		g := guard(s)
		if g != "" && strings.ContainsRune("=+-@\t\r", rune(g[0])) {
			t.Errorf("guard(%q) = %q begins as a formula does", s, g)
		}
		if back := unguard(g); back != s {
			t.Errorf("unguard(guard(%q)) = %q", s, back)
		}
	}
}

func demoPlant(t *testing.T) *plant.Plant {
	t.Helper()
	p, faults := plant.Read("plant.yaml", []byte(testdata.DemoPlant))
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	p.Trucks[0].Ready = plant.Ready{WorkDays: 1, Approver: `=cmd|"calc", '_x0041_' <&> end`}
	return p
}

// wanted are the trucks as a table of text.
func wanted(p *plant.Plant) [][]string {
	t := truckTable(p)
	rows := [][]string{nil}
	for _, c := range t.columns {
		rows[0] = append(rows[0], c.name)
	}
	for i := range p.Trucks {
		var row []string
		for _, c := range t.columns {
			row = append(row, c.get(&p.Trucks[i]))
		}
		rows = append(rows, row)
	}
	return rows
}

// TestWrite_Excelize reads a workbook with the reader of excelize: header frozen,
// days shown as days.
func TestWrite_Excelize(t *testing.T) {
	p := demoPlant(t)
	data, err := Write(Trucks, XLSX, p)
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{UnzipSizeLimit: MaxUnzipped, UnzipXMLSizeLimit: MaxUnzipped})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	got, err := f.GetRows(string(Trucks)) // as they are shown
	if err != nil {
		t.Fatal(err)
	}
	want := wanted(p)
	for i := range got {
		for len(got[i]) < len(want[0]) {
			got[i] = append(got[i], "")
		}
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if panes, err := f.GetPanes(string(Trucks)); err != nil || !panes.Freeze || panes.YSplit != 1 {
		t.Errorf("the header is not frozen: %+v, %v", panes, err)
	}
}

// reference is a reader of workbooks and CSV in Python's standard library. It
// knows the workbooks that are written here, and nothing of this package.
const reference = `
import csv, io, sys, zipfile, datetime
import xml.etree.ElementTree as et
kind, path = sys.argv[1:3]
out = csv.writer(sys.stdout)
def local(e): return e.tag.rsplit('}', 1)[-1]
def number(ref):
    n = 0
    for c in ref:
        if c.isalpha(): n = 26 * n + ord(c) - 64
    return n
if kind == 'csv':
    for row in csv.reader(io.open(path, newline='', encoding='utf-8')):
        out.writerow(row)
else:
    z = zipfile.ZipFile(path)
    shared = [''.join(t.text or '' for t in si.iter() if local(t) == 't') for si in et.fromstring(z.read('xl/sharedStrings.xml'))]
    styles = et.fromstring(z.read('xl/styles.xml'))
    codes = {f.get('numFmtId'): f.get('formatCode') for f in styles.iter() if local(f) == 'numFmt'}
    xfs = [codes.get(x.get('numFmtId')) for g in styles if local(g) == 'cellXfs' for x in g]
    for row in et.fromstring(z.read('xl/worksheets/sheet1.xml')).iter():
        if local(row) != 'row': continue
        cells = []
        for c in row:
            while len(cells) < number(c.get('r')): cells.append('')
            v = ''.join(x.text or '' for x in c if local(x) == 'v')
            if c.get('t') == 's' and v: v = shared[int(v)].replace('_x005F_', '_')
            elif v and xfs[int(c.get('s', 0))] == 'yyyy-mm-dd':
                v = (datetime.date(1899, 12, 30) + datetime.timedelta(int(v))).isoformat()
            cells[-1] = v
        out.writerow(cells)
`

// TestWrite_Python reads both formats with Python.
func TestWrite_Python(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatal("python3 is missing (Debian: apt-get install python3)")
	}
	if err != nil {
		t.Skip("python3 is missing (Debian: apt-get install python3)")
	}
	p := demoPlant(t)
	for _, format := range []Format{CSV, XLSX} {
		data, err := Write(Trucks, format, p)
		if err != nil {
			t.Fatal(err)
		}
		path := t.TempDir() + "/table"
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		run := exec.Command(python, "-c", reference, string(format), path)
		run.Env = []string{"PYTHONIOENCODING=utf-8"}
		out, err := run.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		r := csv.NewReader(bytes.NewReader(out))
		r.FieldsPerRecord = -1
		got, err := r.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		want := wanted(p)
		for i := range want {
			for len(got[i]) < len(want[0]) {
				got[i] = append(got[i], "")
			}
			for k := range want[i] {
				if format == CSV {
					want[i][k] = guard(want[i][k])
				}
			}
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s: %s", format, d)
		}
	}
}

// TestRead_1904 reads a workbook of the 1904 date system that excelize has made.
func TestRead_1904(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	yes := true
	if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}); err != nil {
		t.Fatal(err)
	}
	style, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	if err != nil {
		t.Fatal(err)
	}
	day := calendar.NewDate(2027, time.May, 20)
	serial, _ := daySerial(day)
	for _, err := range []error{
		f.SetCellStr("Sheet1", "A1", "truck"), f.SetCellStr("Sheet1", "B1", "due"), f.SetCellStr("Sheet1", "A2", "H1001"),
		f.SetCellInt("Sheet1", "B2", int64(serial-1462)), f.SetCellStyle("Sheet1", "B2", "B2", style),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if _, err := f.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	v, err := Read(Trucks, "table", b.Bytes(), demoPlant(t), Options{})
	if err != nil {
		t.Fatal(err)
	}
	q, err := v.Plant()
	if err != nil || q.Trucks[0].Contract.Due != day {
		t.Errorf("due is %v, want %v (%v)", q, day, err)
	}
}
