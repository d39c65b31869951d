-- Names that many entries share. `plain` is the name without regard to case and spaces.
CREATE TABLE printers (id INTEGER PRIMARY KEY, name TEXT NOT NULL, plain TEXT NOT NULL UNIQUE);
CREATE TABLE papers   (id INTEGER PRIMARY KEY, name TEXT NOT NULL, plain TEXT NOT NULL UNIQUE);
CREATE TABLE inks     (id INTEGER PRIMARY KEY, name TEXT NOT NULL, plain TEXT NOT NULL UNIQUE);
CREATE TABLE settings (id INTEGER PRIMARY KEY, name TEXT NOT NULL, plain TEXT NOT NULL UNIQUE);

-- Files as they were given, each content once; `packed` is zlib's format.
CREATE TABLE files (
    sha256 TEXT PRIMARY KEY,
    size   INTEGER NOT NULL,
    packed BLOB NOT NULL
);

-- `uid` names an entry in every log it is ever copied to; `id` only in this one.
-- `moment` is when it was measured, made, judged or noted, by the clock of that place;
-- `added` is UTC.
CREATE TABLE entries (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    uid         TEXT NOT NULL UNIQUE,
    kind        TEXT NOT NULL CHECK (kind IN ('reading', 'correction', 'verification', 'note')),
    name        TEXT NOT NULL,
    moment      TEXT NOT NULL,
    moment_from TEXT NOT NULL CHECK (moment_from IN ('stated', 'told', 'file', 'clock')),
    added       TEXT NOT NULL,
    version     TEXT NOT NULL,
    printer     INTEGER REFERENCES printers (id),
    paper       INTEGER REFERENCES papers (id),
    inks        INTEGER REFERENCES inks (id),
    settings    INTEGER REFERENCES settings (id)
);
CREATE INDEX entries_by_moment ON entries (moment);

CREATE TABLE entry_files (
    entry  INTEGER NOT NULL REFERENCES entries (id),
    role   TEXT NOT NULL CHECK (role IN ('reading', 'layout', 'correction')),
    name   TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES files (sha256),
    PRIMARY KEY (entry, role, name)
);
CREATE INDEX entry_files_by_content ON entry_files (sha256);

CREATE TABLE corrections (
    entry        INTEGER PRIMARY KEY REFERENCES entries (id),
    identifier   TEXT NOT NULL,
    round        INTEGER NOT NULL,
    follows_name TEXT,
    follows      INTEGER REFERENCES corrections (entry),
    condition    TEXT,
    backing      TEXT,
    observer     TEXT NOT NULL,
    aim          TEXT NOT NULL,
    neutral      TEXT NOT NULL,
    toning       TEXT
);

-- The readings that a correction was made from; they need not be in the log.
CREATE TABLE correction_sources (
    correction INTEGER NOT NULL REFERENCES corrections (entry),
    position   INTEGER NOT NULL,
    name       TEXT NOT NULL,
    round      INTEGER NOT NULL,
    sha256     TEXT,
    PRIMARY KEY (correction, position)
);

-- `part` counts the readings of one file from 0; `through` is the correction that the chart was
-- printed through.
CREATE TABLE readings (
    entry      INTEGER PRIMARY KEY REFERENCES entries (id),
    part       INTEGER NOT NULL,
    ramp       TEXT,
    condition  TEXT,
    backing    TEXT,
    observer   TEXT NOT NULL,
    instrument TEXT,
    patches    INTEGER NOT NULL,
    spectral   INTEGER NOT NULL,
    through    INTEGER REFERENCES corrections (entry)
);

CREATE TABLE verifications (
    entry            INTEGER PRIMARY KEY REFERENCES entries (id),
    reading          INTEGER NOT NULL REFERENCES readings (entry),
    correction       INTEGER NOT NULL REFERENCES corrections (entry),
    tolerance        TEXT NOT NULL,
    within_tolerance INTEGER NOT NULL,
    mean_delta_Ch    REAL NOT NULL,
    max_delta_Ch     REAL NOT NULL,
    result           TEXT NOT NULL
);

CREATE TABLE notes (
    entry INTEGER PRIMARY KEY REFERENCES entries (id),
    text  TEXT NOT NULL,
    about INTEGER REFERENCES entries (id)
);
