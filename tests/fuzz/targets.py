"""The readers of files that come from elsewhere, each with files to begin from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import colour  # noqa: F401  imported before anything is watched: it opens files of its own
import numpy as np
from fuzz import mutations, seeds
from fuzz.mutations import Mutation

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
        How many of all inputs it gets, relative to the others.
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
    from greyscale.readings.lights import find_light

    light = find_light.__wrapped__(str(path))
    assert np.isfinite(light.power).all()


def _glazing(path: Path) -> None:
    from greyscale.readings.lights import find_light

    find_light.__wrapped__("D65", str(path))


def _tone_aim(path: Path) -> None:
    from greyscale.aims.tone import read_tone_table

    read_tone_table(path)


def _toning(path: Path) -> None:
    from greyscale.aims.toning import read_toning_table

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
    from greyscale.pictures.exif import orientation, without_colour_space
    from greyscale.pictures.formats import read_picture
    from greyscale.pictures.xmp import own_properties, with_properties

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
    from greyscale.records.imports import import_log
    from greyscale.records.print_log import open_log

    db = path.with_name("log.sqlite3")
    try:
        with open_log(db, write=True) as log:
            import_log(log, path)
    finally:
        for name in (db.name, f"{db.name}-wal", f"{db.name}-shm"):
            path.with_name(name).unlink(missing_ok=True)


def _database(path: Path) -> None:
    """Open a log that may be damaged, and take out all that is in it."""
    from greyscale.records.find import find
    from greyscale.records.kept_files import content_of, correction_of, reading_of
    from greyscale.records.print_log import open_log

    with open_log(path) as log:
        for entry in find(log)[:20]:
            for kept in entry.files:
                content_of(log, kept.sha256)
            {"reading": reading_of, "correction": correction_of}.get(
                entry.kind, lambda log, entry: None
            )(log, entry)


TARGETS = (
    Target("readings, ISO 28178", ".txt", seeds.iso28178, _reading, mutations.TEXT, 5),
    Target("readings, CSV", ".csv", seeds.delimited, _reading, mutations.TEXT, 4),
    Target("readings, CxF3", ".cxf", seeds.cxf3, _reading, mutations.TEXT, 2),
    Target("readings, analysed", ".txt", seeds.ramps, _analysis, mutations.TEXT, 0.5),
    Target("readings, checked", ".txt", seeds.ramps, _checks, mutations.TEXT, 0.3),
    Target("layouts", ".txt", seeds.layouts, _layout, mutations.TEXT, 3),
    Target("lamps", ".spdx", seeds.lamps, _lamp, mutations.TEXT, 3),
    Target("glazings", ".csv", seeds.glazings, _glazing, mutations.TEXT, 1),
    Target("tone aims", ".csv", seeds.tone_aims, _tone_aim, mutations.TEXT, 1),
    Target("tonings", ".csv", seeds.tonings, _toning, mutations.TEXT, 1),
    Target("corrections, JSON", ".json", seeds.corrections, _correction, mutations.JSON, 3),
    Target("corrections, used", ".json", seeds.corrections, _correction_used, mutations.JSON, 1),
    Target("corrections, fitted", ".json", seeds.corrections, _correction_fitted, mutations.JSON,
           0.01),
    Target("LUTs, .cube", ".cube", seeds.cubes, _cube, mutations.TEXT, 1),
    Target("ICC profiles, amended", ".icc", seeds.profiles, _profile, mutations.BINARY, 3),
    Target("ICC profiles, working spaces", ".icc", seeds.working_spaces, _working_space,
           mutations.BINARY, 1),
    Target("pictures", ".tif", seeds.pictures, _picture, mutations.BINARY, 4, 1400 * MEGABYTE),
    Target("pictures, their tones", ".tif", seeds.pictures, _picture_tones, mutations.BINARY, 1,
           1400 * MEGABYTE),
    Target("exported print logs", ".json", seeds.exported_logs, _exported_log, mutations.JSON, 0.7,
           writes=True),
    Target("print logs", ".sqlite3", seeds.databases, _database, mutations.BINARY, 0.5,
           writes=True),
)  # fmt: skip
