-- A reading in numbers, as a program of `version` found them with the aims of `through`: nothing
-- that cannot be computed anew from the reading's file. Without a ramp, or unreadable: no numbers.
CREATE TABLE figures (
    entry         INTEGER PRIMARY KEY REFERENCES readings (entry),
    version       TEXT NOT NULL,
    through       INTEGER,
    mean_delta_Ch REAL,
    max_delta_Ch  REAL,
    mean_delta_a  REAL,
    mean_delta_b  REAL,
    mean_delta_L  REAL,
    rms_delta_L   REAL,
    paper_L       REAL,
    paper_a       REAL,
    paper_b       REAL,
    black_L       REAL,
    dmax          REAL
);
-- What the courses of such numbers say over time; `of` is a digest of all of them.
CREATE TABLE courses (
    of       TEXT PRIMARY KEY,
    verdict  TEXT NOT NULL,
    since    TEXT,
    delta_Ch REAL NOT NULL,
    delta_L  REAL NOT NULL,
    weeks    INTEGER NOT NULL,
    known    INTEGER NOT NULL
);
CREATE INDEX entries_by_print ON entries (printer, paper, settings, kind, moment);
CREATE INDEX verifications_by_correction ON verifications (correction);

-- What a correction promised when it was made; the bands of its tones are in its own file.
ALTER TABLE corrections ADD COLUMN promised_mean_delta_Ch REAL;
ALTER TABLE corrections ADD COLUMN promised_max_delta_Ch REAL;

-- How a print was scored against it: the share of its tones' L*, a* and b* within the stated 95 %,
-- whether that is what chance leaves of them; how far they lie from the promise in the standard
-- deviations that the readings alone tell (root mean square), and how many times as large these
-- ought to have been. Empty where nobody scored it.
ALTER TABLE verifications ADD COLUMN within_stated REAL;
ALTER TABLE verifications ADD COLUMN kept INTEGER CHECK (kept IN (0, 1));
ALTER TABLE verifications ADD COLUMN spread REAL;
ALTER TABLE verifications ADD COLUMN needed REAL;
UPDATE verifications SET
    within_stated = CASE WHEN json_type(result, '$.prediction_error.within_stated') IN
        ('real', 'integer') THEN json_extract(result, '$.prediction_error.within_stated') END,
    kept = CASE json_type(result, '$.prediction_error.as_stated')
        WHEN 'true' THEN 1 WHEN 'false' THEN 0 END
WHERE json_valid(result);
