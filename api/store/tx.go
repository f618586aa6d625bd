package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"wetdown/api"
)

// A tx is one transaction.
type tx struct {
	*sql.Tx
	ctx    context.Context
	writes bool
}

var _ api.Tx = (*tx)(nil)

// querier is what a query can be put to.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// rows runs a query and scans all that it finds.
func rows[T any](ctx context.Context, q querier, scan func(*sql.Rows, *T) error, query string, args ...any) ([]T, error) {
	r, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	var list []T
	for r.Next() {
		var v T
		if err := scan(r, &v); err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, r.Err()
}

// one is the only row of a query, or ErrNone.
func one[T any](t *tx, scan func(*sql.Rows, *T) error, query string, args ...any) (v T, err error) {
	list, err := rows(t.ctx, t, scan, query, args...)
	if err == nil && len(list) == 0 {
		err = api.ErrNone
	}
	if err != nil {
		return v, err
	}
	return list[0], nil
}

// number is the integer that a query yields.
func (t *tx) number(query string, args ...any) (n int64, err error) {
	return n, t.QueryRowContext(t.ctx, query, args...).Scan(&n)
}

// exec runs a statement that changes something.
func (t *tx) exec(statement string, args ...any) error {
	_, err := t.ExecContext(t.ctx, statement, args...)
	return err
}

// may says whether this transaction may write texts: a view may not, and not every
// database keeps every byte.
func (t *tx) may(what string, texts ...string) error {
	if !t.writes {
		return errors.New(what + " cannot be written in a view: use Update")
	}
	for _, text := range texts {
		if !utf8.ValidString(text) || strings.Contains(text, "\x00") {
			return fmt.Errorf("%s has a text with bytes that are no text (not UTF-8, or a zero byte): take them out", what)
		}
	}
	return nil
}

// insert adds rows of a table, many with one statement.
func (t *tx) insert(table string, columns []string, list [][]any) error {
	const most = 500 // rows; the databases take some 32,000 values at once
	for len(list) > 0 {
		some := list[:min(most, len(list))]
		list = list[len(some):]
		var b strings.Builder
		fmt.Fprintf(&b, "INSERT INTO %s (%s) VALUES ", table, strings.Join(columns, ", "))
		var args []any
		for i, row := range some {
			if i > 0 {
				b.WriteString(", ")
			}
			for k, v := range row {
				fmt.Fprintf(&b, "%c$%d", "(,"[min(k, 1)], len(args)+1)
				args = append(args, v)
			}
			b.WriteString(")")
		}
		if err := t.exec(b.String(), args...); err != nil {
			return err
		}
	}
	return nil
}

// most is a limit as the databases understand it: 0 is none.
func most(limit int) int64 {
	if limit <= 0 {
		return math.MaxInt64
	}
	return int64(limit)
}

// below is the bound of a page: 0 is none.
func below(before int64) int64 {
	if before <= 0 {
		return math.MaxInt64
	}
	return before
}

// moment is a stored time.
func moment(ms int64) time.Time { return time.UnixMilli(ms).UTC() }
