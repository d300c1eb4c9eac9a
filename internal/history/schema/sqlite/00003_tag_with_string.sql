-- A tag on a card is read with the string and the trainee that are known otherwise: tag 1 of two trainees is of two crimps.

-- +goose Up

DROP INDEX scan_pictures_of_crimp;
ALTER TABLE scan_pictures DROP COLUMN crimp_id;
ALTER TABLE scan_pictures ADD COLUMN crimp_id TEXT NOT NULL GENERATED ALWAYS AS (CASE
        WHEN tag <> '' AND (crimp = '' OR origin <> 'manifest') THEN 'tag' || char(31) || tag || char(31) || string || char(31) || trainee
        WHEN crimp <> '' THEN 'crimp' || char(31) || string || char(31) || trainee || char(31) || crimp
        ELSE 'file' || char(31) || file
    END) VIRTUAL;
CREATE INDEX scan_pictures_of_crimp ON scan_pictures (crimp_id, scan, position) WHERE settled <> '';
