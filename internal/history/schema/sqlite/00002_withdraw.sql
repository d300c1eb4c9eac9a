-- Values measured elsewhere that were entered wrongly or belong to another crimp: the value stays, a row here says that it
-- no longer counts, who says so, when and why. A row is written once, like the value itself.

-- +goose Up

CREATE TABLE withdrawals (
    elsewhere INTEGER NOT NULL PRIMARY KEY REFERENCES elsewhere (id),
    who       TEXT    NOT NULL,
    note      TEXT    NOT NULL, -- why
    added     TEXT    NOT NULL
);

-- +goose StatementBegin
CREATE TRIGGER withdrawals_stay BEFORE UPDATE ON withdrawals BEGIN
    SELECT RAISE (ABORT, 'withdrawals are never changed');
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER withdrawals_remain BEFORE DELETE ON withdrawals BEGIN
    SELECT RAISE (ABORT, 'withdrawals are never deleted: add the value again');
END;
-- +goose StatementEnd
