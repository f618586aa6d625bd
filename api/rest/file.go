package rest

import (
	"net/http"
	"strings"

	"wetdown/api/sheet"
	"wetdown/api/wire"
)

// Media types of tables.
const (
	csvType  = "text/csv"
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// A wirePreview says what would become of each row of a table.
type wirePreview struct {
	Revision int64         `json:"revision"` // of the plant that it speaks of; to be given back when the table is applied
	Rows     []wireRow     `json:"rows"`
	Ignored  []string      `json:"ignored"` // headers and sheets that are not read
	Refusals []wireRefusal `json:"refusals"`
	Counts   wireFates     `json:"counts"`
	Applied  bool          `json:"applied"`
}

type wireFates struct {
	Added     int `json:"added"`
	Changed   int `json:"changed"`
	Unchanged int `json:"unchanged"`
	Refused   int `json:"refused"`
}

type wireRow struct {
	Line     int           `json:"line"`
	ID       string        `json:"id"`
	Fate     string        `json:"fate"`
	Changes  []wireCell    `json:"changes"`
	Refusals []wireRefusal `json:"refusals"`
}

type wireCell struct {
	Column string `json:"column"`
	From   string `json:"from"`
	To     string `json:"to"`
}

type wireRefusal struct {
	Line   int    `json:"line"`
	Column string `json:"column"`
	Cause  string `json:"cause"`
	Next   string `json:"next"`
}

func toPreview(p *sheet.Preview, revision int64, applied bool) wirePreview {
	refusal := func(r sheet.Refusal) wireRefusal { return wireRefusal{r.Line, r.Column, r.Cause, r.Next} }
	return wirePreview{
		Revision: revision, Applied: applied, Ignored: wire.Texts(p.Ignored), Refusals: wire.Each(p.Refusals, refusal),
		Rows: wire.Each(p.Rows, func(r sheet.Row) wireRow {
			return wireRow{r.Line, r.ID, string(r.Fate), wire.Each(r.Changes, func(c sheet.Change) wireCell { return wireCell{c.Column, c.From, c.To} }), wire.Each(r.Refusals, refusal)}
		}),
		Counts: wireFates{p.Count(sheet.Added), p.Count(sheet.Changed), p.Count(sheet.Unchanged), p.Count(sheet.Refused)},
	}
}

// kind is the table that a route is about.
func (x *exchange) kind() sheet.Kind {
	_, rest, _ := strings.Cut(strings.TrimPrefix(x.route.path, "/"), "/")
	name, _, _ := strings.Cut(rest, "/")
	return sheet.Kind(strings.ReplaceAll(name, "-", "_"))
}

// table is the name of the file that was sent, by its media type.
func (x *exchange) table() (string, error) {
	if err := x.isA(csvType); err == nil {
		return string(x.kind()) + ".csv", nil
	}
	return string(x.kind()) + ".xlsx", x.isA(csvType, xlsxType)
}

// getFile gives a table out.
func getFile(x *exchange) error {
	format, of := sheet.CSV, csvType+"; charset=utf-8"
	switch x.QueryParam("format") {
	case "", "csv":
	case "xlsx":
		format, of = sheet.XLSX, xlsxType
	default:
		return invalid("format", "There is no such format.", "Write csv or xlsx.")
	}
	data, err := x.app.GiveFile(x.Request().Context(), x.who, x.kind(), format)
	if err != nil {
		return err
	}
	return x.file(string(x.kind())+"."+string(format), of, data)
}

// previewFile says what would become of a table. Nothing is changed.
func previewFile(x *exchange) error {
	name, err := x.table()
	if err != nil {
		return err
	}
	p, revision, err := x.app.PreviewFile(x.Request().Context(), x.who, x.kind(), name, x.body)
	if err != nil {
		return err
	}
	return x.JSON(http.StatusOK, toPreview(p, revision, false))
}

// postFile brings a table in, all of it or nothing: as of the revision that its preview
// spoke of, if that is given.
func postFile(x *exchange) error {
	name, err := x.table()
	if err != nil {
		return err
	}
	seen, err := x.number("revision")
	if err != nil {
		return err
	}
	i, err := x.intent("")
	if err != nil {
		return err
	}
	s, p, err := x.app.TakeFile(x.Request().Context(), x.who, i, x.kind(), name, x.body, seen)
	if err != nil {
		return err
	}
	x.detail = s.Revision.What
	x.Response().Header().Set("ETag", tag(s.Revision.Number))
	return x.JSON(http.StatusOK, toPreview(p, s.Revision.Number, true))
}
