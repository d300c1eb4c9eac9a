-- The history of a site: what was measured in which picture, how it was judged, what was measured elsewhere.
--
-- Rules:
--   * Raw rows (pictures, measurements, verdicts, tolerances, elsewhere) are written once. Triggers refuse UPDATE and
--     DELETE: a new measurement is a new row.
--   * scans, scan_pictures and runs are the book-keeping of scans: they change while a scan runs.
--   * Times are text in UTC with nine decimals (2026-11-25T10:00:00.000000000Z), so that they sort as text.
--   * Hashes are SHA-256 in lower-case hex. An empty text means that something is not known.
--   * Names of files and labels are kept byte by byte, whatever their encoding.
--   * Tables river_* belong to the queue (River) and are laid out by its own migrations.

-- +goose Up

-- A picture is its bytes: two files of the same bytes are one picture.
CREATE TABLE pictures (
    sha256 TEXT    NOT NULL PRIMARY KEY,
    bytes  INTEGER NOT NULL,
    added  TEXT    NOT NULL
) WITHOUT ROWID;

-- What a program found in a picture when it was asked in a certain way. record is the record's JSON as it was first
-- written, without a verdict; marks are where things were measured, as gzipped JSON (see marks.go).
CREATE TABLE measurements (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    sha256   TEXT    NOT NULL REFERENCES pictures (sha256),
    program  TEXT    NOT NULL, -- version of the program
    request  TEXT    NOT NULL, -- canonical JSON of view, scales and what was declared
    measured TEXT    NOT NULL, -- when
    view     TEXT    NOT NULL,
    taken    TEXT    NOT NULL, -- when the picture was taken, as its metadata say
    refused  INTEGER NOT NULL, -- 1 where the record asks for a better picture
    record   BLOB    NOT NULL,
    marks    BLOB    NOT NULL,
    UNIQUE (sha256, program, request)
);

-- The text of every tolerances file that judged, by its hash. name is what it calls itself, file its path.
CREATE TABLE tolerances (
    hash  TEXT NOT NULL PRIMARY KEY,
    name  TEXT NOT NULL,
    file  TEXT NOT NULL,
    text  TEXT NOT NULL,
    added TEXT NOT NULL
) WITHOUT ROWID;

-- A measurement held against a tolerances file. verdict is its JSON.
CREATE TABLE verdicts (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    measurement INTEGER NOT NULL REFERENCES measurements (id),
    tolerances  TEXT    NOT NULL REFERENCES tolerances (hash),
    judged      TEXT    NOT NULL,
    result      TEXT    NOT NULL,
    score       REAL    NOT NULL,
    verdict     BLOB    NOT NULL
);
CREATE INDEX verdicts_of_measurement ON verdicts (measurement, tolerances);

-- One call of `scan`. source is what was scanned, orders the canonical JSON of all options that bear on the results,
-- output the folder of its evidence. finished is empty while the scan is not at its end.
CREATE TABLE scans (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    source   TEXT NOT NULL,
    program  TEXT NOT NULL,
    orders   TEXT NOT NULL,
    output   TEXT NOT NULL,
    started  TEXT NOT NULL,
    finished TEXT NOT NULL DEFAULT ''
);
CREATE INDEX scans_unfinished ON scans (source) WHERE finished = '';

-- A picture of a scan, in the order of its input, which crimp it is said to show, and what came of it. settled is empty
-- while nothing has; then either measurement is set, or failure tells why there is none.
CREATE TABLE scan_pictures (
    scan        INTEGER NOT NULL REFERENCES scans (id),
    position    INTEGER NOT NULL,
    file        TEXT    NOT NULL, -- path in the source, slashes between folders
    string      TEXT    NOT NULL,
    crimp       TEXT    NOT NULL,
    crew        TEXT    NOT NULL,
    tool        TEXT    NOT NULL,
    trainee     TEXT    NOT NULL,
    made        TEXT    NOT NULL, -- when the crimp was made, YYYY-MM-DD
    own         TEXT    NOT NULL, -- the maker's own judgement
    note        TEXT    NOT NULL,
    origin      TEXT    NOT NULL, -- where it is known from which crimp it is
    request     TEXT    NOT NULL, -- what is asked of this picture, as in measurements
    wanted      TEXT    NOT NULL, -- hashes of the tolerances files to judge it by, each in quotes
    settled     TEXT    NOT NULL DEFAULT '',
    sha256      TEXT    NOT NULL DEFAULT '',
    bytes       INTEGER NOT NULL DEFAULT 0,
    tag         TEXT    NOT NULL DEFAULT '', -- what the card's tag in the picture says
    measurement INTEGER REFERENCES measurements (id),
    verdict     INTEGER REFERENCES verdicts (id),
    tolerances  TEXT    NOT NULL DEFAULT '', -- hash of the file that judged it
    failure     TEXT    NOT NULL DEFAULT '',
    -- Which crimp the picture shows, as scans group pictures: the card's tag goes before the file's name, the manifest
    -- before both; a picture of which none of them tells anything is a crimp of its own. Sorts by string, trainee, crimp.
    crimp_id    TEXT    NOT NULL GENERATED ALWAYS AS (CASE
        WHEN tag <> '' AND (origin <> 'manifest' OR crimp = '') THEN 'tag' || char(31) || tag
        WHEN crimp <> '' THEN 'crimp' || char(31) || string || char(31) || trainee || char(31) || crimp
        ELSE 'file' || char(31) || file
    END) VIRTUAL,
    PRIMARY KEY (scan, position)
);
CREATE INDEX scan_pictures_pending ON scan_pictures (scan, position) WHERE settled = '';
CREATE INDEX scan_pictures_of_crimp ON scan_pictures (crimp_id, scan, position) WHERE settled <> '';
CREATE INDEX scan_pictures_crimp ON scan_pictures (crimp);
CREATE INDEX scan_pictures_tag ON scan_pictures (tag) WHERE tag <> '';
CREATE INDEX scan_pictures_trainee ON scan_pictures (trainee) WHERE trainee <> '';
CREATE INDEX scan_pictures_tool ON scan_pictures (tool) WHERE tool <> '';
CREATE INDEX scan_pictures_sha256 ON scan_pictures (sha256) WHERE sha256 <> '';

-- Values of a crimp that were measured with another instrument. u is expanded (k = 2), in the value's unit.
CREATE TABLE elsewhere (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    string  TEXT NOT NULL,
    trainee TEXT NOT NULL,
    crimp   TEXT NOT NULL,
    key     TEXT NOT NULL,
    value   REAL NOT NULL,
    u       REAL NOT NULL,
    unit    TEXT NOT NULL,
    who     TEXT NOT NULL,
    done    TEXT NOT NULL, -- when it was measured, YYYY-MM-DD
    note    TEXT NOT NULL,
    added   TEXT NOT NULL
);
CREATE INDEX elsewhere_of_crimp ON elsewhere (crimp, string, trainee);

-- Which process works on which scan, through which queue: tells at the next start what a killed one left behind. born
-- is when the process began as its system counts, seen is written every few seconds, ended is empty while it runs.
CREATE TABLE runs (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    scan  INTEGER NOT NULL REFERENCES scans (id),
    host  TEXT    NOT NULL,
    pid   INTEGER NOT NULL,
    born  TEXT    NOT NULL,
    seen  TEXT    NOT NULL,
    ended TEXT    NOT NULL DEFAULT ''
);
CREATE INDEX runs_open ON runs (scan) WHERE ended = '';

-- +goose StatementBegin
CREATE TRIGGER pictures_stay BEFORE UPDATE ON pictures BEGIN
    SELECT RAISE (ABORT, 'pictures are never changed');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER pictures_remain BEFORE DELETE ON pictures BEGIN
    SELECT RAISE (ABORT, 'pictures are never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER measurements_stay BEFORE UPDATE ON measurements BEGIN
    SELECT RAISE (ABORT, 'measurements are never changed: a new one is a new row');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER measurements_remain BEFORE DELETE ON measurements BEGIN
    SELECT RAISE (ABORT, 'measurements are never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER tolerances_stay BEFORE UPDATE ON tolerances BEGIN
    SELECT RAISE (ABORT, 'tolerances are never changed: another text is another row');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER tolerances_remain BEFORE DELETE ON tolerances BEGIN
    SELECT RAISE (ABORT, 'tolerances are never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER verdicts_stay BEFORE UPDATE ON verdicts BEGIN
    SELECT RAISE (ABORT, 'verdicts are never changed: a new one is a new row');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER verdicts_remain BEFORE DELETE ON verdicts BEGIN
    SELECT RAISE (ABORT, 'verdicts are never deleted');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER elsewhere_stay BEFORE UPDATE ON elsewhere BEGIN
    SELECT RAISE (ABORT, 'values measured elsewhere are never changed: a new one is a new row');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER elsewhere_remain BEFORE DELETE ON elsewhere BEGIN
    SELECT RAISE (ABORT, 'values measured elsewhere are never deleted');
END;
-- +goose StatementEnd
