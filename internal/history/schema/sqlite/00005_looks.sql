-- What a picture looks like, to know it again when it is saved anew, and which pictures are one (package likeness).

-- +goose Up

-- Of a picture, whatever is asked of it: pixels is the SHA-256 of its pixels, tiny and small are grey miniatures. method
-- counts the ways in which looks are made; those of two methods are not compared.
CREATE TABLE looks (
    sha256 TEXT    NOT NULL PRIMARY KEY REFERENCES pictures (sha256),
    method INTEGER NOT NULL,
    pixels TEXT    NOT NULL,
    tiny   BLOB    NOT NULL,
    small  BLOB    NOT NULL
) WITHOUT ROWID;

-- Which picture a picture is a copy of: first is the SHA-256 of the one that was known first, its own where it is a copy of
-- none; equal is 1 where their pixels are equal to the last. Pictures that are not here were not compared: their bytes tell.
CREATE TABLE alike (
    sha256 TEXT    NOT NULL PRIMARY KEY REFERENCES pictures (sha256),
    first  TEXT    NOT NULL,
    equal  INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX alike_first ON alike (first);

-- +goose StatementBegin
CREATE TRIGGER looks_stay BEFORE UPDATE ON looks BEGIN
    SELECT RAISE (ABORT, 'looks are never changed');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER looks_remain BEFORE DELETE ON looks BEGIN
    SELECT RAISE (ABORT, 'looks are never deleted');
END;
-- +goose StatementEnd
