-- Two more kinds of entries. SQLite changes no CHECK: the table is made anew, its rows as they are.
CREATE TABLE entries_anew (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    uid         TEXT NOT NULL UNIQUE,
    kind        TEXT NOT NULL CHECK (
        kind IN ('reading', 'correction', 'verification', 'note', 'print', 'drying')
    ),
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
INSERT INTO entries_anew SELECT id, uid, kind, name, moment, moment_from, added, version, printer,
    paper, inks, settings FROM entries;
DROP TABLE entries;
ALTER TABLE entries_anew RENAME TO entries;
CREATE INDEX entries_by_moment ON entries (moment);
CREATE INDEX entries_by_print ON entries (printer, paper, settings, kind, moment);

-- What was printed: a picture, or a chart to be measured. Its file is named, and known by its
-- content; it is not kept. `copy` of `edition` is its number; `strip` the reading of its margin.
CREATE TABLE prints (
    entry      INTEGER PRIMARY KEY REFERENCES entries (id),
    file       TEXT NOT NULL,
    sha256     TEXT NOT NULL,
    title      TEXT NOT NULL,
    copy       INTEGER,
    edition    INTEGER,
    correction INTEGER REFERENCES corrections (entry),
    batch      TEXT,
    strip      INTEGER REFERENCES readings (entry),
    note       TEXT,
    chart      INTEGER NOT NULL CHECK (chart IN (0, 1))
);

-- After how many hours a paper was found to be dry to measure: percentiles 5, 50 and 95.
CREATE TABLE dryings (
    entry  INTEGER PRIMARY KEY REFERENCES entries (id),
    low    REAL NOT NULL,
    middle REAL NOT NULL,
    high   REAL NOT NULL
);
