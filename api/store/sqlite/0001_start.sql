-- +goose Up

-- "wtdn": so that no other program's file is taken for ours.
PRAGMA application_id = 2004116590;

CREATE TABLE revision (
	number BIGINT PRIMARY KEY CHECK (number > 0),
	base   BIGINT NOT NULL,
	at     BIGINT NOT NULL, -- here and below: milliseconds since 1970-01-01 UTC
	who    TEXT NOT NULL,
	act    TEXT NOT NULL,
	why    TEXT NOT NULL,
	what   TEXT NOT NULL,
	undoes BIGINT NOT NULL
);

CREATE TABLE piece (
	key      TEXT NOT NULL,
	revision BIGINT NOT NULL REFERENCES revision (number),
	text     TEXT NOT NULL, -- '': taken away
	PRIMARY KEY (key, revision)
);
CREATE INDEX piece_by_revision ON piece (revision, key);

CREATE TABLE record (
	kind    TEXT NOT NULL,
	id      TEXT NOT NULL,
	state   TEXT NOT NULL,
	ref     TEXT NOT NULL,
	due     BIGINT, -- NULL: never
	body    TEXT NOT NULL,
	version BIGINT NOT NULL,
	seq     BIGINT NOT NULL UNIQUE,
	PRIMARY KEY (kind, id)
);
CREATE INDEX record_by_seq ON record (kind, seq);
CREATE INDEX record_by_state ON record (kind, state, seq);
CREATE INDEX record_by_ref ON record (kind, ref, seq);
CREATE INDEX record_by_due ON record (kind, due) WHERE due IS NOT NULL;

CREATE TABLE event (
	seq     BIGINT PRIMARY KEY CHECK (seq > 0),
	at      BIGINT NOT NULL,
	who     TEXT NOT NULL,
	act     TEXT NOT NULL,
	subject TEXT NOT NULL,
	outcome TEXT NOT NULL,
	detail  TEXT NOT NULL
);

-- One row: the last number given to a record. It never goes back, even when the
-- record is deleted.
CREATE TABLE tally (
	one     BIGINT PRIMARY KEY CHECK (one = 1),
	records BIGINT NOT NULL
);
INSERT INTO tally (one, records) VALUES (1, 0);

-- +goose StatementBegin
CREATE TRIGGER revision_is_not_changed BEFORE UPDATE ON revision
BEGIN SELECT RAISE(ABORT, 'table revision is only ever added to'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER revision_is_not_deleted BEFORE DELETE ON revision
BEGIN SELECT RAISE(ABORT, 'table revision is only ever added to'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER piece_is_not_changed BEFORE UPDATE ON piece
BEGIN SELECT RAISE(ABORT, 'table piece is only ever added to'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER piece_is_not_deleted BEFORE DELETE ON piece
BEGIN SELECT RAISE(ABORT, 'table piece is only ever added to'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'table event is only ever added to'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER event_is_not_deleted BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'table event is only ever added to'); END;
-- +goose StatementEnd
