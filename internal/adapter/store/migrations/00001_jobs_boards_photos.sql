-- The first shape of the workshop file. Times are milliseconds since 1970, UTC.

-- +goose Up
PRAGMA application_id = 1752395884; -- "hspl": how a file is known to be ours
PRAGMA user_version = 1;            -- always the number of the last migration

CREATE TABLE job (
	id          INTEGER PRIMARY KEY,
	opening_key TEXT NOT NULL UNIQUE CHECK (length(opening_key) BETWEEN 1 AND 200),
	title       TEXT NOT NULL,
	owner       TEXT NOT NULL,
	state       TEXT NOT NULL,
	waiting     TEXT NOT NULL,
	stage       TEXT NOT NULL,
	text        TEXT NOT NULL,
	folded      TEXT NOT NULL, -- all of the above in one case, for the search
	opened      INTEGER NOT NULL,
	changed     INTEGER NOT NULL CHECK (changed >= opened),
	touched     INTEGER NOT NULL UNIQUE CHECK (touched >= 1) -- counts up with every write to any job: the order of the list, whatever the clock did
) STRICT;

CREATE TABLE event (
	job  INTEGER NOT NULL REFERENCES job (id),
	seq  INTEGER NOT NULL CHECK (seq >= 1),
	at   INTEGER NOT NULL,
	key  TEXT NOT NULL CHECK (length(key) BETWEEN 1 AND 200),
	kind TEXT NOT NULL CHECK (kind <> ''),
	data TEXT NOT NULL CHECK (json_valid(data)),
	PRIMARY KEY (job, seq),
	UNIQUE (job, key)
) STRICT, WITHOUT ROWID;

CREATE TABLE board (
	id INTEGER PRIMARY KEY
) STRICT;

CREATE TABLE board_version (
	id     INTEGER PRIMARY KEY,
	board  INTEGER NOT NULL REFERENCES board (id),
	number INTEGER NOT NULL CHECK (number >= 1),
	title  TEXT NOT NULL,
	parts  INTEGER NOT NULL CHECK (parts >= 0),
	sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
	at     INTEGER NOT NULL,
	text   TEXT NOT NULL,
	UNIQUE (board, number)
) STRICT;

CREATE TABLE board_file (
	version INTEGER NOT NULL REFERENCES board_version (id),
	name    TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 100 AND name NOT GLOB '*[/\]*'),
	data    BLOB NOT NULL,
	PRIMARY KEY (version, name)
) STRICT;

CREATE TABLE draft (
	name TEXT PRIMARY KEY CHECK (length(name) BETWEEN 1 AND 200),
	text TEXT NOT NULL CHECK (text <> ''),
	at   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE photo (
	id     INTEGER PRIMARY KEY,
	job    INTEGER NOT NULL REFERENCES job (id),
	width  INTEGER NOT NULL CHECK (width BETWEEN 1 AND 65535),
	height INTEGER NOT NULL CHECK (height BETWEEN 1 AND 65535),
	at     INTEGER NOT NULL
) STRICT;

CREATE INDEX photo_of_job ON photo (job);

CREATE TABLE photo_data (
	photo INTEGER NOT NULL REFERENCES photo (id),
	small INTEGER NOT NULL CHECK (small IN (0, 1)),
	jpeg  BLOB NOT NULL CHECK (substr(jpeg, 1, 3) = x'FFD8FF'),
	PRIMARY KEY (photo, small)
) STRICT;

CREATE TABLE setting (
	name  TEXT PRIMARY KEY CHECK (length(name) BETWEEN 1 AND 200),
	value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
