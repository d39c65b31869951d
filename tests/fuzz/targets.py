"""The readers of files that come from elsewhere, each with files to begin from."""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from unittest.mock import patch
from zlib import crc32

import colour  # noqa: F401  imported before anything is watched: it opens files of its own
import numpy as np
import typer
from fuzz import mutations, page, seeds
from fuzz.mutations import Mutation

from greyscale.base.errors import BadInput

MEGABYTE = 1 << 20


@dataclass(frozen=True)
class Target:
    """One reader.

    Attributes
    ----------
    name
        What is read.
    ending
        Of the file's name.
    seeds
        Gives sound files.
    read
        Reads a file as a command would.
    mutations
        How files are made worse.
    share
        How many of its kind's inputs it gets, relative to the others of that kind.
    memory
        Bytes that it may take.
    writes
        Whether it writes: to a database of its own.
    """

    name: str
    ending: str
    seeds: Callable[[], Sequence[bytes]]
    read: Callable[[Path], object]
    mutations: tuple[Mutation, ...]
    share: float = 1.0
    memory: int = 400 * MEGABYTE
    writes: bool = False

    @property
    def kind(self) -> str:
        """What is read, in a word or two."""
        return self.name.partition(",")[0]


def _reading(path: Path) -> None:
    from greyscale.readings.formats import read_all

    for reading in read_all(path):
        assert np.isfinite(reading.lab).all()
        assert np.isfinite(reading.device).all()
        assert reading.device.min() >= 0
        assert reading.device.max() <= 1


def _analysis(path: Path) -> None:
    from greyscale.analysis.analyse import analyse
    from greyscale.readings.formats import read

    found = analyse(read(path))
    assert np.isfinite(found.neutrality.mean_delta_Ch)


def _checks(path: Path) -> None:
    from greyscale.checks.checking import check
    from greyscale.readings.formats import read

    check(read(path))


def _layout(path: Path) -> None:
    from greyscale.readings.layout import read_layout

    read_layout(path)


def _lamp(path: Path) -> None:
    from greyscale.readings.lamps import find_light

    light = find_light(str(path))
    assert np.isfinite(light.power).all()


def _glazing(path: Path) -> None:
    from greyscale.readings.lamps import find_light

    find_light("D65", str(path))


def _tone_aim(path: Path) -> None:
    from greyscale.aims.tone import read_tone_table

    read_tone_table(path)


def _toning(path: Path) -> None:
    from greyscale.aims.neutral import read_toning_table

    read_toning_table(path)


def _correction(path: Path) -> None:
    from greyscale.correction.as_json import to_json
    from greyscale.correction.folder import read_correction

    to_json(read_correction(path))


def _correction_used(path: Path) -> None:
    """Ask a correction what verifying and applying ask it, the printer's model apart."""
    from greyscale.analysis.analyse import analyse
    from greyscale.correction.folder import curve_csv, describe, gives, read_correction, takes
    from greyscale.correction.targets import kept_toning, neutral_aim_of, tone_aim_of
    from greyscale.correction.verify import uncorrected_reading

    correction = read_correction(path)
    curve_csv(correction)
    describe(correction), takes(correction), gives(correction), kept_toning(correction)
    correction.curve.apply(np.full((2, 3), 0.5))
    analyse(
        uncorrected_reading(correction),
        aim=tone_aim_of(correction),
        scaling=correction.scaling,
        neutral=neutral_aim_of(correction),
        lights=(),
    )


def _correction_fitted(path: Path) -> None:
    from greyscale.correction.folder import read_correction
    from greyscale.printer.model import fit

    fit(read_correction(path).evidence).lab(np.full((2, 3), 0.5))


def _cube(path: Path) -> None:
    import PyOpenColorIO
    from support.corrections import curve_against

    from greyscale.applying.bands import processor

    # A file that was read once under a name is kept in memory.
    PyOpenColorIO.ClearAllCaches()
    found = processor(curve_against(points=9), None, np.dtype(np.float32), path)
    found(np.full((4, 4, 3), 0.5, dtype=np.float32))


def _profile(path: Path) -> None:
    from greyscale.icc.profile import profile_bytes, read_profile
    from greyscale.icc.tables import read_table, table_bytes

    profile = read_profile(path)
    profile_bytes(profile)
    for name, tag in profile.tags.items():
        if name.startswith(("A2B", "B2A")):
            table = read_table(tag, name, path)
            table(np.full((2, 3), 0.5))
            table_bytes(table)


def _working_space(path: Path) -> None:
    from greyscale.pictures.colour_profiles import colour_profile, to_xyz

    profile = colour_profile(path.read_bytes(), path)
    values = np.linspace(0.0, 1.0, 5)
    to_xyz(values if profile.colours == 1 else np.repeat(values[:, None], 3, axis=1), profile)


def _picture(path: Path) -> None:
    """Read a picture whole, and what it says of itself as `greyscale apply` does."""
    from greyscale.pictures.formats import read_picture
    from greyscale.pictures.metadata import (
        orientation,
        own_properties,
        with_properties,
        without_colour_space,
    )

    picture = read_picture(path)
    metadata = picture.form.metadata
    orientation(metadata.exif)
    if metadata.exif is not None:
        without_colour_space(metadata.exif)
    own_properties(with_properties(metadata.xmp, {"Correction": "x"}))
    rows = sum(len(band) for band in picture.bands())
    assert rows == picture.form.height


def _picture_tones(path: Path) -> None:
    from greyscale.charts.picture_tones import picture_tones

    picture_tones(path)


def _exported_log(path: Path) -> None:
    from greyscale.records.exchange import import_log
    from greyscale.records.print_log import open_log

    db = path.with_name("log.sqlite3")
    try:
        with open_log(db, write=True) as log:
            import_log(log, path)
    finally:
        for name in (db.name, f"{db.name}-wal", f"{db.name}-shm"):
            path.with_name(name).unlink(missing_ok=True)


_SAID = io.StringIO()
"""One for all inputs: what Typer once wrote to, it keeps."""


@contextmanager
def _unheard() -> Iterator[None]:
    """Let a command speak to nobody."""
    try:
        with redirect_stdout(_SAID), redirect_stderr(_SAID):
            yield
    finally:
        _SAID.seek(0)
        _SAID.truncate()


def _database(path: Path) -> None:
    """Let a command that reads a log, one or the other, read one that may be damaged."""
    from greyscale.cli.log import check, export, list_, rescue, show, status
    from greyscale.records.find import find
    from greyscale.records.print_log import open_log

    out = path.with_name("out")
    with open_log(path, damaged=True) as log:
        numbers = [entry.id for entry in find(log)[:20]]
    commands: list[Callable[[], object]] = [
        lambda: check(path),
        lambda: export(out.with_suffix(".json"), path),
        lambda: list_(text="a", db=path),
        lambda: rescue(out.with_suffix(".sqlite3"), path),
        lambda: status(db=path),
        *[partial(show, number, db=path) for number in numbers[:3]],
    ]
    command = commands[crc32(path.read_bytes()) % len(commands)]
    try:
        with _unheard(), suppress(typer.Exit):
            command()
    finally:
        for left in path.parent.glob("out.*"):
            left.unlink()


def _cells(path: Path) -> None:
    """Do the same with a sound log in which some values have been changed."""
    db = path.with_name("log.sqlite3")
    db.write_bytes(seeds.databases()[0])
    try:
        changes = json.loads(path.read_bytes())
        with closing(sqlite3.connect(db)) as log, log:
            log.execute("PRAGMA ignore_check_constraints = ON")
            for table, column, row, value in changes:
                assert str(table).isidentifier()
                assert str(column).isidentifier()
                kept = json.dumps(value) if isinstance(value, list | dict) else value
                log.execute(f"UPDATE {table} SET {column} = ? WHERE rowid = ?", (kept, row))
    except (ValueError, TypeError, AssertionError, RecursionError, OverflowError, sqlite3.Error):
        db.unlink()
        raise BadInput("is no change of a log") from None
    try:
        _database(db)
    finally:
        for used in path.parent.glob("log.sqlite3*"):
            used.unlink()


def _typing(path: Path) -> None:
    """Type in what the file's lines say, as `greyscale read` asks for it."""
    _typed(path, seeds.small_layout(), path.with_name("typed.txt"), path.read_bytes())


def _going_on(path: Path) -> None:
    """Go on with a reading that was begun and has changed since."""
    _typed(path, seeds.small_layout(), path, b"9 0 0\n\nq\n", "lab")


def _typed(path: Path, layout: bytes, target: Path, answers: bytes, kind: str = "") -> None:
    from greyscale.cli.read import read

    chart = path.with_name("layout.txt")
    chart.write_bytes(layout)
    lines = iter(answers.decode("utf-8", "surrogateescape").split("\n"))

    def typed() -> str:
        try:
            return next(lines)
        except StopIteration:
            raise EOFError from None

    kind = kind or ("lab", "lightness", "density")[len(answers) % 3]
    try:
        with patch("builtins.input", typed), _unheard():
            read(chart, target, values=kind)  # type: ignore[arg-type]
    finally:
        for used in {chart, target} - {path}:
            used.unlink(missing_ok=True)


TARGETS = (
    Target("readings, ISO 28178", ".txt", seeds.iso28178, _reading, mutations.TEXT, 5),
    Target("readings, CSV", ".csv", seeds.delimited, _reading, mutations.TEXT, 5),
    Target("readings, CxF3", ".cxf", seeds.cxf3, _reading, mutations.TEXT, 0.5),
    Target("readings, analysed", ".txt", seeds.ramps, _analysis, mutations.TEXT, 0.1),
    Target("readings, checked", ".txt", seeds.ramps, _checks, mutations.TEXT, 0.05),
    Target("layouts", ".txt", seeds.layouts, _layout, mutations.TEXT),
    Target("typed readings, typing", ".txt", seeds.typed, _typing, mutations.TEXT, 1, writes=True),
    Target("typed readings, begun", ".txt", seeds.begun, _going_on, mutations.TEXT, 1,
           writes=True),
    Target("lamps", ".spdx", seeds.lamps, _lamp, mutations.TEXT),
    Target("glazings", ".csv", seeds.glazings, _glazing, mutations.TEXT),
    Target("aims, tone", ".csv", seeds.tone_aims, _tone_aim, mutations.TEXT),
    Target("aims, toning", ".csv", seeds.tonings, _toning, mutations.TEXT),
    Target("corrections, JSON", ".json", seeds.corrections, _correction, mutations.JSON, 3),
    Target("corrections, used", ".json", seeds.corrections, _correction_used, mutations.JSON, 1),
    Target("corrections, fitted", ".json", seeds.corrections, _correction_fitted, mutations.JSON,
           0.005),
    Target("corrections, .cube", ".cube", seeds.cubes, _cube, mutations.TEXT, 0.4),
    Target("ICC profiles, amended", ".icc", seeds.profiles, _profile, mutations.BINARY, 1),
    Target("ICC profiles, working spaces", ".icc", seeds.working_spaces, _working_space,
           mutations.BINARY, 1),
    Target("pictures, read", ".tif", seeds.pictures, _picture, mutations.BINARY, 4,
           1400 * MEGABYTE),
    Target("pictures, their tones", ".tif", seeds.pictures, _picture_tones, mutations.BINARY, 1,
           1400 * MEGABYTE),
    Target("print logs, exported", ".json", seeds.exported_logs, _exported_log, mutations.JSON, 1,
           writes=True),
    Target("print logs, databases", ".sqlite3", seeds.databases, _database, mutations.BINARY, 1,
           writes=True),
    Target("print logs, cells", ".json", seeds.cells, _cells, mutations.JSON, 0.5, writes=True),
    Target("page, routes", ".http", page.requests, page.answer, mutations.REQUESTS, 1,
           writes=True),
)  # fmt: skip
"""Those whose names begin alike, up to the comma, are of one kind."""
