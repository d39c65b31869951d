"""The correction folder: what is in it, how it is written, and how it is read back."""

from __future__ import annotations

import io
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from greyscale.base import folders
from greyscale.base.errors import BadInput, near_path
from greyscale.base.files import resolved
from greyscale.base.libraries import on_one_thread
from greyscale.base.outputs import may_replace
from greyscale.correction.as_json import (
    SCHEMA,
    correction_id,
    correction_text,
    from_json,
    read_fields,
    to_json,
)
from greyscale.correction.luts import (
    GreyAxis,
    LabOf,
    backwards,
    choose_size,
    even_knots,
    lut_3d,
    lut_3d_by_luminance,
    write_clf,
    write_cube,
)
from greyscale.correction.record import Correction
from greyscale.readings import fields

# What a correction's files say of where it comes from and where it belongs.

ENCODINGS = {
    "lstar": "L* by level (L* = 100 × level)",
    "srgb": "sRGB (IEC 61966-2-1)",
    "gamma-1.8": "a gamma of 1.8",
    "gamma-2.2": "a gamma of 2.2",
    "density": "density by level",
}


def describe(correction: Correction) -> tuple[str, ...]:
    """Return lines about printer, paper, settings, aim and use, as for a file's comments."""
    known = (
        ("Printer", correction.printer),
        ("Paper", correction.paper),
        ("Settings", correction.settings),
        ("Made", correction.created.isoformat(sep=" ", timespec="minutes")),
        ("Follows", correction.follows),
        ("Tone aim", correction.aim),
        ("Toning", correction.toning),
        ("Neutral aim", None if correction.toning else correction.neutral),
    )
    lines = [f"{name}: {value}" for name, value in known if value]
    return (*lines, f"Takes: {takes(correction)}", f"Gives: {gives(correction)}")


def takes(correction: Correction) -> str:
    """Say what values the correction must be given."""
    encoding = ENCODINGS.get(correction.aim, f"the table {correction.aim}")
    return f"picture values encoded as {encoding}"


def gives(correction: Correction) -> str:
    """Say where the values that come out must go, and how."""
    if correction.space == "device":
        return "values for the printer as it was set for the chart, without colour management"
    return f"values of {correction.space}, through the same profile and settings as the chart"


JSON = "correction.json"
CURVE = "curve.csv"
LUT_1D = "correction-1d.cube"
LUT_3D = "correction-3d.cube"
CLF = "correction.clf"
REPORT = "report.html"
REPORT_PDF = "report.pdf"
FIGURES = "figures"

PROFILES = ("link-v4.icc", "link-v2.icc", "grey-v4.icc", "grey-v2.icc", "amended.icc")

OWN = frozenset({JSON, CURVE, LUT_1D, LUT_3D, CLF, REPORT, REPORT_PDF, FIGURES, *PROFILES})
"""Names in a correction folder that are this program's; all others are someone else's."""


@dataclass(frozen=True)
class Luts:
    """How closely the LUTs of a correction keep to its curve.

    Attributes
    ----------
    points_1d
        Points of the 1D LUT; it is the curve itself.
    size_3d
        Nodes along each edge of the 3D LUT.
    by_luminance
        Whether the 3D LUT prints every colour as the grey of its luminance.
    unchanged_from
        Saturation (largest channel less smallest) from which the 3D LUT changes nothing; None
        where all goes by luminance.
    backwards
        For red, green, blue: between which levels the curve's channel falls as the level rises.
    axis_delta_E00
        The largest CIEDE2000 difference of the 3D LUT from the curve on the grey axis.
    """

    points_1d: int
    size_3d: int
    by_luminance: bool
    unchanged_from: float | None
    axis_delta_E00: float
    backwards: tuple[tuple[float, float] | None, ...] = (None, None, None)


@on_one_thread
def write_files(
    correction: Correction,
    folder: Path,
    lab_of: LabOf | None = None,
    *,
    lut_size: int | None = None,
    by_luminance: bool = False,
) -> Luts:
    """Write the files of a correction, figures and report apart, into a folder that is there.

    Parameters
    ----------
    lab_of
        What the printer makes of device values (n, 3): CIELAB (n, 3); None takes the model.
    lut_size
        Nodes along each edge of the 3D LUT; None takes 33, or more where even steps need them.
    by_luminance
        Make a 3D LUT for toned monochrome pictures, see `lut_3d_by_luminance`.
    """
    from greyscale.correction.for_lights import own_model

    table = correction.curve.rgb
    axis = GreyAxis.of(correction.curve, lab_of or own_model(correction).lab, correction.priority)
    size = choose_size(axis, lut_size)
    if by_luminance:
        nodes = lut_3d_by_luminance(axis, size, correction.picture_encoding.luminance)
    else:
        nodes = lut_3d(axis, size)
    luts = Luts(
        points_1d=len(table),
        size_3d=nodes.size,
        by_luminance=by_luminance,
        unchanged_from=nodes.far,
        axis_delta_E00=axis.difference(even_knots(nodes.size)),
        backwards=backwards(axis.levels, axis.sent),
    )
    identifier = correction_id(correction)
    comments = describe(correction)
    write_cube(table, folder / LUT_1D, correction.name, comments)
    write_cube(nodes.table, folder / LUT_3D, correction.name, comments)
    write_clf(
        table,
        folder / CLF,
        identifier=identifier,
        name=correction.name,
        description=comments,
        takes=takes(correction),
        gives=gives(correction),
    )
    (folder / CURVE).write_text(curve_csv(correction), encoding="utf-8")
    data = {**to_json(correction), "id": identifier, "luts": asdict(luts)}
    (folder / JSON).write_text(correction_text(data), encoding="utf-8")
    return luts


def read_correction(folder: Path | str) -> Correction:
    """Read a correction from its folder, or from the `correction.json` in it.

    Raises
    ------
    BadInput
        If there is none, or it is damaged: naming the file and the field.
    """
    path = Path(folder)
    if os.path.isdir(path):
        path = path / JSON
    if not os.path.isfile(path) or path.suffix.lower() != Path(JSON).suffix:
        near = None if os.path.exists(path) else near_path(Path(folder))
        question = "" if near is None else f" (did you mean {near}?)"
        raise BadInput(
            f"there is no correction here{question}; give the folder that 'greyscale correct' "
            f"wrote, with its {JSON}",
            folder,
        )
    return from_json(path)


def correction_files(folder: Path | str) -> tuple[Path, ...]:
    """Name the files that stand in a correction's folder, as inputs that must be kept."""
    path = Path(folder)
    return tuple((path if path.is_dir() else path.parent).glob("*"))


def curve_csv(correction: Correction) -> str:
    """Return the curve as CSV: level; R, G, B from 0 to 1; predicted CIELAB and its sd."""
    curve, text = correction.curve, io.StringIO()
    rows = np.column_stack([curve.levels, curve.rgb, curve.lab, curve.sd]) + 0.0
    digits = ["%.6f", *["%.7f"] * 3, *["%.4f"] * 6]
    np.savetxt(text, rows, digits, delimiter=",", header=",".join(fields.CURVE), comments="")
    return text.getvalue()


# How a correction folder is written: whole or not at all, and over nothing that is not ours.


@contextmanager
def whole_folder(target: Path | str, inputs: Iterable[Path | str] = ()) -> Iterator[Path]:
    """Yield an empty folder beside `target`; it takes the target's place when all went well.

    A correction that is there already is replaced; what others have put beside it is kept.

    Parameters
    ----------
    inputs
        Files and folders that are read; none may be the target or lie in it.

    Raises
    ------
    BadInput
        If an input is in the way, if the target holds other files but no correction, or if it
        cannot be written.
    """

    def refuse() -> None:
        refuse_other_folder(target, inputs)

    refuse()
    with folders.whole_folder(target, OWN, refuse) as fresh:
        yield fresh


def refuse_other_folder(target: Path | str, inputs: Iterable[Path | str] = ()) -> None:
    """Refuse a target that is an input, or that holds something else than a correction.

    To be asked before the work as well, so that nobody waits for a refusal.

    Raises
    ------
    BadInput
        Saying what is in the way.
    """
    folder = resolved(target)
    for path in inputs:
        read = resolved(path)
        if folder == read or folder in read.parents:
            raise BadInput(f"holds the input {path}; give another folder to write to", target)
    if folder.exists() and not folder.is_dir():
        raise BadInput("is a file; give a folder to write to", target)
    if not folder.is_dir() or not any(folder.iterdir()):
        return
    if not (folder / JSON).is_file():
        raise BadInput("holds other files and no correction; give a new folder", target)
    read_fields(folder / JSON, SCHEMA)
    if not may_replace():
        raise BadInput(
            "holds a correction already; give a new folder, or --replace to replace it", target
        )
