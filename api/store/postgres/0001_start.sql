-- +goose Up

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
	key      TEXT COLLATE "C" NOT NULL,
	revision BIGINT NOT NULL REFERENCES revision (number),
	text     TEXT NOT NULL, -- '': taken away
	PRIMARY KEY (key, revision)
);
CREATE INDEX piece_by_revision ON piece (revision, key);

CREATE TABLE record (
	kind    TEXT COLLATE "C" NOT NULL,
	id      TEXT COLLATE "C" NOT NULL,
	state   TEXT COLLATE "C" NOT NULL,
	ref     TEXT COLLATE "C" NOT NULL,
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
-- record is deleted. Whoever writes locks it first.
CREATE TABLE tally (
	one     BIGINT PRIMARY KEY CHECK (one = 1),
	records BIGINT NOT NULL
);
INSERT INTO tally (one, records) VALUES (1, 0);

-- +goose StatementBegin
CREATE FUNCTION only_added_to() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
	RAISE EXCEPTION 'table % is only ever added to', TG_TABLE_NAME;
END $$;
-- +goose StatementEnd
CREATE TRIGGER revision_is_only_added_to BEFORE UPDATE OR DELETE OR TRUNCATE ON revision
	FOR EACH STATEMENT EXECUTE FUNCTION only_added_to();
CREATE TRIGGER piece_is_only_added_to BEFORE UPDATE OR DELETE OR TRUNCATE ON piece
	FOR EACH STATEMENT EXECUTE FUNCTION only_added_to();
CREATE TRIGGER event_is_only_added_to BEFORE UPDATE OR DELETE OR TRUNCATE ON event
	FOR EACH STATEMENT EXECUTE FUNCTION only_added_to();
