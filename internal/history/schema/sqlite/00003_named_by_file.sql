-- A file's name says which crimp its picture shows before the card's tag does, unless the pattern was nobody's (origin
-- 'assumed'): a card that was left lying must not make one crimp of two. A tag is read with the string and the trainee that are known
-- otherwise.

-- +goose Up

DROP INDEX scan_pictures_of_crimp;
ALTER TABLE scan_pictures DROP COLUMN crimp_id;
ALTER TABLE scan_pictures ADD COLUMN crimp_id TEXT NOT NULL GENERATED ALWAYS AS (CASE
        WHEN tag <> '' AND (crimp = '' OR origin = 'assumed') THEN 'tag' || char(31) || tag || char(31) || string || char(31) || trainee
        WHEN crimp <> '' THEN 'crimp' || char(31) || string || char(31) || trainee || char(31) || crimp
        ELSE 'file' || char(31) || file
    END) VIRTUAL;
CREATE INDEX scan_pictures_of_crimp ON scan_pictures (crimp_id, scan, position) WHERE settled <> '';
