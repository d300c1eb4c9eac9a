-- Which crimp a value measured elsewhere is of, where several have its string, trainee and name: made is the day on which
-- the crimp was made (YYYY-MM-DD), source where its pictures were scanned (as in scans). Empty where nobody said, as in all rows from before.

-- +goose Up

ALTER TABLE elsewhere ADD COLUMN made TEXT NOT NULL DEFAULT '';
ALTER TABLE elsewhere ADD COLUMN source TEXT NOT NULL DEFAULT '';
