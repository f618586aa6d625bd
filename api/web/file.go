package web

import (
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strconv"

	"wetdown/api"
	"wetdown/api/sheet"
	"wetdown/solver/plant"
)

// maxTable is how many bytes a table may have that a page takes. It comes twice: to be
// looked at, and to be taken in.
const maxTable = 4 << 20

// rowsShown bounds how many rows of a table are told one by one.
const rowsShown = 300

// A tableKind is one sort of table, for people.
type tableKind struct {
	Kind       sheet.Kind
	Name, Says string
	Path       string // of the table at the service
	May        bool   // bring it in
}

// tableKinds lists all sorts of tables.
func (v *view) tableKinds() []tableKind {
	return []tableKind{
		{sheet.Trucks, "Trucks", "One row a truck: whose it is, what it is, when it is owed.", "/files/trucks", v.Who.May(api.ActSetUp)},
		{sheet.LineOff, "Line-off days", "One row a day that somebody stated for a truck to come off the line.", "/files/line-off", v.Who.May(api.ActReport)},
		{sheet.Bookings, "Bookings", "One row a visit, with its booking.", "/files/bookings", v.Who.May(api.ActBook)},
		{sheet.History, "History", "One row a day that was projected, and what came of it: how far such days can be trusted.", "/files/history", v.Who.May(api.ActSetUp)},
	}
}

func (v *view) tableKind(k sheet.Kind) (tableKind, error) {
	for _, t := range v.tableKinds() {
		if t.Kind == k {
			return t, nil
		}
	}
	return tableKind{}, &api.Problem{Kind: api.Invalid, Title: "Which table is it?", Detail: "What was sent names none of the tables.", Next: "Choose one of the list."}
}

type filesData struct {
	Kinds []tableKind
	Takes bool // some kind may be brought in
	Kind  sheet.Kind
	Bays  []plant.Bay
	Most  int // megabytes
}

func (v *view) filesPage(kind sheet.Kind) {
	d := filesData{Kinds: v.tableKinds(), Kind: kind, Most: maxTable >> 20}
	for _, k := range d.Kinds {
		d.Takes = d.Takes || k.May
	}
	if v.State != nil {
		d.Bays = v.State.Plant.Bays
	}
	v.setUp("Tables in and out", d)
}

func (w *Web) files(v *view) error {
	if v.State == nil {
		return api.ErrEmpty
	}
	v.filesPage("")
	v.show(http.StatusOK, "files")
	return nil
}

// A sent table is what a form brought.
type sentTable struct {
	Kind tableKind
	Name string // of the file
	data []byte
}

// Kept is the table as it goes along with the form that takes it in.
func (t sentTable) Kept() string { return base64.StdEncoding.EncodeToString(t.data) }

// table reads a form with a table: the file that was chosen, or the one that went along.
func (v *view) table() (t sentTable, err error) {
	large := &api.Problem{Kind: api.TooLarge, Title: "The file is too large for this page", Detail: fmt.Sprintf("It takes files up to %d MB.", maxTable>>20), Next: "Cut the table in parts, or send it to the service itself: POST it to /files/…; /openapi.json says how."}
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, 2*maxTable)
	if err := v.r.ParseMultipartForm(2 * maxTable); err != nil {
		var most *http.MaxBytesError
		if errors.As(err, &most) {
			return t, large
		}
		return t, &api.Problem{Kind: api.Invalid, Title: "The form cannot be read", Next: "Choose the file once more."}
	}
	defer v.r.MultipartForm.RemoveAll()
	if t.Kind, err = v.tableKind(sheet.Kind(v.r.PostFormValue("kind"))); err != nil {
		return t, err
	}
	if kept := v.r.PostFormValue("kept"); kept != "" {
		t.Name = v.r.PostFormValue("name")
		if t.data, err = base64.StdEncoding.DecodeString(kept); err != nil {
			return t, &api.Problem{Kind: api.Invalid, Title: "The table did not come back whole", Next: "Choose the file once more."}
		}
	} else {
		f, h, err := v.r.FormFile("file")
		if err != nil {
			return t, &api.Problem{Kind: api.Invalid, Title: "No file was chosen", Next: "Choose the file with the table, CSV or XLSX."}
		}
		defer f.Close()
		t.Name = filepath.Base(h.Filename)
		if t.data, err = io.ReadAll(f); err != nil {
			return t, err
		}
	}
	if len(t.data) > maxTable {
		return t, large
	}
	return t, nil
}

type previewData struct {
	sentTable
	Preview  *sheet.Preview
	Revision int64 // that it speaks of
	Rows     []sheet.Row
	More     int // rows that are not told
	Clean    bool
	Empty    bool // nothing would change
}

// Count is how many rows have a fate.
func (d previewData) Count(fate string) int { return d.Preview.Count(sheet.Fate(fate)) }

// previewFile shows what would become of every row of a table. The refused come first.
func (w *Web) previewFile(v *view) error {
	t, err := v.table()
	if err == nil {
		err = v.showPreview(t, http.StatusOK)
	}
	if err != nil {
		v.filesPage(t.Kind.Kind)
		return v.again(err, "files")
	}
	return nil
}

func (v *view) showPreview(t sentTable, status int) error {
	p, revision, err := v.app.PreviewFile(v.ctx, v.Who, t.Kind.Kind, t.Name, t.data)
	if err != nil {
		return err
	}
	d := previewData{sentTable: t, Preview: p, Revision: revision}
	for _, fate := range []sheet.Fate{sheet.Refused, sheet.Changed, sheet.Added} {
		for _, r := range p.Rows {
			switch {
			case r.Fate != fate:
			case len(d.Rows) < rowsShown:
				d.Rows = append(d.Rows, r)
			default:
				d.More++
			}
		}
	}
	d.Clean = len(p.Refusals) == 0 && p.Count(sheet.Refused) == 0
	d.Empty = d.Clean && len(d.Rows) == 0
	v.setUp("What would become of "+t.Name, d)
	v.show(status, "preview")
	return nil
}

// takeFile brings a table in that was looked at. When the plant has moved on since, it is
// shown anew.
func (w *Web) takeFile(v *view) error {
	t, err := v.table()
	if err != nil {
		v.filesPage(t.Kind.Kind)
		return v.again(err, "files")
	}
	seen, err := strconv.ParseInt(v.r.PostFormValue("seen"), 10, 64)
	if err != nil || seen < 1 {
		return v.showPreview(t, http.StatusOK)
	}
	s, _, err := w.app.TakeFile(v.ctx, v.Who, api.Intent{Why: v.r.PostFormValue("why")}, t.Kind.Kind, t.Name, t.data, seen)
	if err != nil {
		v.Said = api.AsProblem(err)
		return v.showPreview(t, statusOf(v.Said.Kind))
	}
	return v.back("/revisions/" + strconv.FormatInt(s.Revision.Number, 10))
}
