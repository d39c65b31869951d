-- Whether a print made through a correction is what that promised: the strips of prints are counted
-- by it. All numbers are found anew.
ALTER TABLE figures ADD COLUMN kept INTEGER CHECK (kept IN (0, 1));
DELETE FROM figures;
