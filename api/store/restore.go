package store

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

// Restore puts a backup into the database, all of it or nothing, and returns the number
// of its rows. The file is read through first, and what was put back is looked at
// before it is kept. A database in which something is kept is left alone, and that
// is an error, unless replace: then what it holds is gone. A service that runs on
// the database must be started anew.
func (s *Store) Restore(ctx context.Context, name string, replace bool) (rows int64, err error) {
	file, err := os.Open(name)
	if err != nil {
		return 0, fmt.Errorf("%s cannot be read: %w: check the name and the folder", name, bare(err))
	}
	defer file.Close()
	if rows, err = readBackup(file, func(table, []any) error { return ctx.Err() }); err != nil {
		return 0, unusable(name, err)
	}
	err = s.update(ctx, func(t *tx) error {
		kept, err := t.number("SELECT (SELECT count(*) FROM revision) + (SELECT count(*) FROM record) + (SELECT count(*) FROM event)")
		if err != nil {
			return err
		}
		if kept > 0 && !replace {
			return fmt.Errorf("%s is not empty, and was left as it is: restore to another database; to lose what this one holds, say --replace", s.base.place())
		}
		if _, err := file.Seek(0, io.SeekStart); err != nil {
			return err
		}
		if err := t.empty(s.base); err != nil {
			return err
		}
		if err := t.restore(file); err != nil {
			return err
		}
		if err := t.coherent(); err != nil {
			return fmt.Errorf("what %s holds does not hang together: %w: nothing was changed; take an older backup", name, err)
		}
		return nil
	})
	return rows, err
}

// unusable says that a file is no backup to restore from.
func unusable(name string, err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return fmt.Errorf("%s cannot be restored: %w: nothing was changed; take another backup", name, err)
}

// empty takes everything away, also what is otherwise only added to.
func (t *tx) empty(base database) error {
	guard, err := base.unguard(t.ctx, t.Tx)
	if err != nil {
		return err
	}
	for _, table := range slices.Backward(tables) {
		if err := t.exec("DELETE FROM " + table.Name); err != nil {
			return err
		}
	}
	return guard()
}

// restore fills tables that are empty, with statements of some hundred rows and not much
// more than a megabyte.
func (t *tx) restore(file io.Reader) error {
	const most, mostBytes = 500, 1 << 20
	var into table
	var list [][]any
	size := 0
	flush := func() error {
		err := t.insert(into.Name, into.Columns, list)
		list, size = nil, 0
		return err
	}
	_, err := readBackup(file, func(table table, row []any) error {
		if table.Name != into.Name || len(list) == most || size > mostBytes {
			if err := flush(); err != nil {
				return err
			}
			into = table
		}
		for _, v := range row {
			if text, ok := v.(string); ok {
				size += len(text)
			}
		}
		list = append(list, row)
		return nil
	})
	if err != nil {
		return err
	}
	return flush()
}

// readBackup hands over the rows of a backup, and returns how many there are. That it
// is whole is known at the end only.
func readBackup(file io.Reader, each func(table, []any) error) (rows int64, err error) {
	zip, err := gzip.NewReader(bufio.NewReader(file))
	if err != nil {
		return 0, errors.New("it is no backup made by wetdown backup")
	}
	in := bufio.NewReaderSize(zip, 1<<16)
	sum := sha256.New()
	next := func() ([]byte, error) {
		line, err := in.ReadBytes('\n')
		if err != nil {
			return nil, errors.New("it is cut short or damaged")
		}
		return line, nil
	}
	line, err := next()
	if err != nil {
		return 0, err
	}
	var head backupHead
	if json.Unmarshal(line, &head) != nil || head.Format == 0 {
		return 0, errors.New("it is no backup made by wetdown backup")
	}
	if head.Format != format {
		return 0, fmt.Errorf("its format is %d, and this program reads %d: use the wetdown that made it", head.Format, format)
	}
	sum.Write(line)
	left := tables
	var now table
	for {
		if line, err = next(); err != nil {
			return 0, err
		}
		switch {
		case line[0] == '[':
			row, err := readRow(line, now)
			if err != nil {
				return 0, err
			}
			if err := each(now, row); err != nil {
				return 0, err
			}
			rows++
		case bytes.HasPrefix(line, []byte(`{"table"`)) && len(left) > 0:
			var named table
			if json.Unmarshal(line, &named) != nil || named.Name != left[0].Name || !slices.Equal(named.Columns, left[0].Columns) {
				return 0, fmt.Errorf("it has other tables than this program: where %s should be there is %s", left[0].Name, strings.TrimSpace(string(line)))
			}
			now, left = left[0], left[1:]
		default:
			var end backupEnd
			if json.Unmarshal(line, &end) != nil || end.Rows != rows || len(left) > 0 || end.SHA256 != hex.EncodeToString(sum.Sum(nil)) {
				return 0, errors.New("it is damaged: its rows are not those of which it has the sum")
			}
			if _, err := in.ReadByte(); err != io.EOF {
				return 0, errors.New("it is damaged: there is more after its end")
			}
			return rows, nil
		}
		sum.Write(line)
	}
}

// readRow reads a row of a table: integers, texts and nothings.
func readRow(line []byte, of table) ([]any, error) {
	var row []any
	d := json.NewDecoder(bytes.NewReader(line))
	d.UseNumber()
	if err := d.Decode(&row); err != nil || len(row) != len(of.Columns) {
		return nil, fmt.Errorf("it is damaged: a row of table %q has not its %d columns", of.Name, len(of.Columns))
	}
	for i, v := range row {
		switch v := v.(type) {
		case nil, string:
		case json.Number:
			n, err := v.Int64()
			if err != nil {
				return nil, fmt.Errorf("it is damaged: column %s of table %s is no integer", of.Columns[i], of.Name)
			}
			row[i] = n
		default:
			return nil, fmt.Errorf("it is damaged: column %s of table %s is neither integer nor text", of.Columns[i], of.Name)
		}
	}
	return row, nil
}
