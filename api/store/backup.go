package store

import (
	"bufio"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// format is the version of the tables in a backup. It goes up with a migration that
// changes them.
const format = 1

// A table is what a backup holds of a table of the database, in the order in which it
// can be put back.
type table struct {
	Name    string   `json:"table"`
	Columns []string `json:"columns"` // integers and texts
	order   string
}

var tables = []table{
	{"revision", strings.Split(revisionColumns, ", "), "number"},
	{"piece", []string{"key", "revision", "text"}, "revision, key"},
	{"record", strings.Split(recordColumns, ", "), "seq"},
	{"event", strings.Split(eventColumns, ", "), "seq"},
	{"tally", []string{"one", "records"}, "one"},
}

// The first and the last line of a backup.
type (
	backupHead struct {
		Format int `json:"wetdown_backup"`
	}
	backupEnd struct {
		Rows   int64  `json:"rows"`
		SHA256 string `json:"sha256"` // of all lines before
	}
)

// A backupWriter writes lines of JSON and adds them up.
type backupWriter struct {
	out  *bufio.Writer
	sum  hash.Hash
	json *json.Encoder // to both
	rows int64
}

// Backup writes a snapshot of everything to a new file, whole or not at all, reads it
// back, and returns the number of rows in it. A file that is there is left alone, and that is an
// error. The file is for this account alone.
func (s *Store) Backup(ctx context.Context, name string) (rows int64, err error) {
	if _, err := os.Lstat(name); err == nil {
		return 0, taken(name)
	}
	dir := filepath.Dir(name)
	part, err := os.CreateTemp(dir, ".wetdown-*.part")
	if err != nil {
		return 0, fmt.Errorf("%s cannot be written: %w: name a file in a folder that is there and may be written", name, bare(err))
	}
	defer func() { err = errors.Join(err, gone(os.Remove(part.Name()))) }()
	defer part.Close()
	err = s.view(ctx, func(t *tx) error {
		rows, err = t.backup(part)
		return err
	})
	var unwritten *fs.PathError
	switch {
	case errors.As(err, &unwritten):
		return 0, fmt.Errorf("%s cannot be written: %w: make room, or name another file", name, bare(err))
	case err != nil:
		return 0, err
	}
	if err := part.Sync(); err != nil {
		return 0, fmt.Errorf("%s cannot be written: %w: make room, or name another file", name, bare(err))
	}
	if _, err := part.Seek(0, io.SeekStart); err != nil {
		return 0, err
	}
	if _, err := readBackup(part, func(table, []any) error { return ctx.Err() }); err != nil {
		return 0, fmt.Errorf("%s does not come back as it was written: %w: look at the disk, or name another file", name, err)
	}
	switch err := os.Link(part.Name(), name); {
	case errors.Is(err, fs.ErrExist):
		return 0, taken(name)
	case err != nil: // there are disks without links
		if err := os.Rename(part.Name(), name); err != nil {
			return 0, err
		}
	}
	return rows, syncFolder(dir)
}

func taken(name string) error {
	return fmt.Errorf("%s is there already, and a backup overwrites nothing: name another file", name)
}

// gone is an error of taking a file away, nil if it was not there.
func gone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// bare is an error without the operation and path that a file error repeats.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// syncFolder has the disk know of the files in a folder.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// backup writes everything.
func (t *tx) backup(out io.Writer) (int64, error) {
	zip := gzip.NewWriter(out)
	w := &backupWriter{out: bufio.NewWriter(zip), sum: sha256.New()}
	w.json = json.NewEncoder(io.MultiWriter(w.out, w.sum))
	w.json.SetEscapeHTML(false)
	err := w.json.Encode(backupHead{format})
	for _, table := range tables {
		if err == nil {
			err = t.backupTable(w, table)
		}
	}
	if err == nil {
		err = w.json.Encode(backupEnd{w.rows, hex.EncodeToString(w.sum.Sum(nil))})
	}
	return w.rows, errors.Join(err, w.out.Flush(), zip.Close())
}

// backupTable writes a head with the columns, and each row as a list.
func (t *tx) backupTable(w *backupWriter, table table) (err error) {
	if err := w.json.Encode(table); err != nil {
		return err
	}
	r, err := t.QueryContext(t.ctx, fmt.Sprintf("SELECT %s FROM %s ORDER BY %s", strings.Join(table.Columns, ", "), table.Name, table.order))
	if err != nil {
		return err
	}
	defer r.Close()
	row := make([]any, len(table.Columns))
	to := make([]any, len(row))
	for i := range row {
		to[i] = &row[i]
	}
	for r.Next() {
		if err := r.Scan(to...); err != nil {
			return err
		}
		for i, v := range row {
			switch v := v.(type) {
			case nil, int64, string:
			case []byte:
				row[i] = string(v)
			default:
				return fmt.Errorf("column %s of table %s has a %T: a backup has integers and texts only", table.Columns[i], table.Name, v)
			}
		}
		if err := w.json.Encode(row); err != nil {
			return err
		}
		w.rows++
	}
	return r.Err()
}
