package store

import (
	"database/sql"

	"wetdown/api"
)

const eventColumns = "seq, at, who, act, subject, outcome, detail"

func scanEvent(r *sql.Rows, e *api.Event) error {
	var at int64
	err := r.Scan(&e.Seq, &at, &e.Who, &e.Act, &e.Subject, &e.Outcome, &e.Detail)
	e.At = moment(at)
	return err
}

// AddEvent appends to the trail. At is kept in whole milliseconds, rounded down.
func (t *tx) AddEvent(e api.Event) error {
	if err := t.may("an event", e.Who, e.Act, e.Subject, e.Outcome, e.Detail); err != nil {
		return err
	}
	return t.exec("INSERT INTO event ("+eventColumns+") VALUES ((SELECT coalesce(max(seq), 0) + 1 FROM event), $1, $2, $3, $4, $5, $6)",
		e.At.UnixMilli(), e.Who, e.Act, e.Subject, e.Outcome, e.Detail)
}

// Events lists the trail below `before`, the newest first. 0 is no bound, and no
// limit.
func (t *tx) Events(before int64, limit int) ([]api.Event, error) {
	return rows(t.ctx, t, scanEvent, "SELECT "+eventColumns+" FROM event WHERE seq < $1 ORDER BY seq DESC LIMIT $2",
		below(before), most(limit))
}
