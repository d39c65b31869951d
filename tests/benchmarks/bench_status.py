"""The overview of a large print log, against reading that log's index by plain SQL."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from greyscale import __version__
from greyscale.readings.iso28178 import write
from greyscale.records.add_reading import WITHOUT, add_readings
from greyscale.records.adding import Stated
from greyscale.records.print_log import open_log
from greyscale.records.standings import COLUMNS, standings
from tests.benchmarks.growth import hold_growth
from tests.benchmarks.inputs import ramp
from tests.benchmarks.ratios import hold_ratio, process

PLAIN = """
import sqlite3, sys, typer
sqlite3.connect(sys.argv[1]).execute(
    "SELECT id, kind, name, moment, printer, paper, settings FROM entries"
).fetchall()
"""

# One reading is added as ever; all others are its rows again, of other papers and days.
NUMBERS = "WITH RECURSIVE n (i) AS (VALUES (2) UNION ALL SELECT i + 1 FROM n WHERE i < :readings) "
COPIES = (
    "INSERT INTO papers (id, name, plain) SELECT i, 'paper ' || i, 'paper ' || i FROM n "
    "WHERE i <= :prints",
    "INSERT INTO entries (id, uid, kind, name, moment, moment_from, added, version, printer, "
    "paper) SELECT i, printf('%032x', i), kind, name, strftime('%Y-%m-%dT%H:%M:%S', moment, "
    "'+' || (i / :prints) || ' hours'), moment_from, added, version, printer, i % :prints + 1 "
    "FROM entries, n WHERE id = 1",
    "INSERT INTO readings SELECT i, part, ramp, condition, backing, observer, instrument, "
    "patches, spectral, through, stated FROM readings, n WHERE entry = 1",
    "INSERT INTO entry_files SELECT i, role, name, sha256 FROM entry_files, n WHERE entry = 1",
    f"INSERT INTO figures SELECT i, '{__version__}', NULL"
    f"{', 1.0 + (random() % 1000) / 1e4' * (len(COLUMNS) - 1)}, NULL FROM n",
)


def log_of(folder: Path, readings: int, prints: int) -> Path:
    """A log of so many readings of so many papers, with their figures."""
    place = folder / f"{readings}-{prints}.sqlite3"
    write(ramp(21), folder / "ramp.txt")
    with open_log(place, write=True) as log:
        told = Stated(printer="six-ink", paper="paper 1")
        add_readings(log, folder / "ramp.txt", told, through=WITHOUT)
        with log.writing():
            for copy in COPIES:
                # The numbers stand between what is filled and what it is filled from.
                target, _, source = copy.partition(" SELECT ")
                log.connection.execute(
                    f"{target} {NUMBERS} SELECT {source}",
                    {"readings": readings, "prints": prints},
                )
    return place


def test_status_of_100_000_readings(tmp_path: Path) -> None:
    place = log_of(tmp_path, 100_000, 12)
    work = process(["-m", "greyscale", "log", "status", "--db", str(place)])
    work()  # The one reading that has no figures yet is analysed once for all.
    plain = process(["-c", PLAIN, str(place)])
    what = "log status, 100 000 readings of 12 prints"
    hold_ratio(what, work, "`import typer` and plain SQL", plain, 2)


def test_status_of_10_000_readings(tmp_path: Path) -> None:
    place = log_of(tmp_path, 10_000, 12)
    work = process(["-m", "greyscale", "log", "status", "--db", str(place)])
    work()
    colour = process(["-c", "import colour"])
    hold_ratio("log status, 10 000 readings of 12 prints", work, "`import colour`", colour, 0.6)


def test_status_by_prints(tmp_path: Path) -> None:
    def work(prints: int) -> Callable[[], object]:
        place = log_of(tmp_path, 40 * prints, prints)

        def run() -> object:
            with open_log(place) as log:
                return standings(log)

        run()
        return run

    hold_growth("log status", "printer and paper pairs", work, (16, 64, 256), 1.1)
