"""An output profile whose greys print neutral: its tables re-solved near the neutral axis.

The new tables go by one forward model of the printer: what the profile says, plus the difference
that was measured near the grey axis, fading away from it. Its B2A tables are that model's inverse
where it differs from the profile, and stay as they were where it does not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.base.errors import BadInput, not_known
from greyscale.colorimetry.arrays import Array, Mask, equal_channels, smooth_step
from greyscale.colorimetry.cielab import lab_to_xyz, xyz_to_lab
from greyscale.icc.profile import (
    NOT_STATED,
    PCS_ILLUMINANT,
    Profile,
    copyright_text,
    read_text,
    text_description,
)
from greyscale.icc.tables import Grid, Matrix, Table, read_table, table_bytes, through
from greyscale.printer.solver import descend

INTENTS = {"perceptual": 0, "relative": 1, "saturation": 2}
"""Rendering intents, and the number in the names of their tables."""

LEAST_POINTS = 33
"""Grids with fewer points along an input are refined until they have as many."""

LEAST_POINTS_COLORIMETRIC = 65
"""The same of A2B1 and B2A1, which must undo each other: between points 8 units of a*, or 8
code values, apart a printer's answer bends by more than 0.3."""

FADED = 0.6
"""Where channels lie so far apart, 0 to 1, nothing is left of the difference that was measured."""

LEAST_REACH = 0.05
"""Reach of the measured model, in device values, where only a ramp was measured."""

CLOSE = 0.01
"""Distance in CIELAB at which a solution is taken."""

WHITE = np.array(PCS_ILLUMINANT)

Forward = Callable[[Array], Array]
"""CIELAB of device values, both of shape (n, 3)."""


@dataclass(frozen=True, eq=False)
class Printer:
    """What was measured of the printer that a profile is for.

    Attributes
    ----------
    lab
        Gives CIELAB (D50, absolute) of device values, shape (n, 3).
    paper
        Shape (3,): CIELAB of bare paper.
    reach
        How far channels of measured patches lie apart, 0 to 1: as far the model is to be trusted.
    """

    lab: Forward
    paper: Array
    reach: float

    def relative(self, device: Array) -> Array:
        """Return media-relative CIELAB: the paper is white (ISO 15076-1, 6.3.2)."""
        paper = lab_to_xyz(self.paper, WHITE)
        return xyz_to_lab(lab_to_xyz(self.lab(device), WHITE) / paper * WHITE, WHITE)


@dataclass(frozen=True)
class Amendment:
    """What was changed in one table: its name, points in all, points changed."""

    table: str
    points: int
    changed: int


def amend(
    profile: Profile,
    printer: Printer,
    source: object,
    *,
    intents: Sequence[str] = tuple(INTENTS),
    note: str,
    rights: str | None = None,
) -> tuple[Profile, tuple[Amendment, ...]]:
    """Make a new profile that prints neutral, and say what became of each table.

    Parameters
    ----------
    profile
        An RGB output profile with tables to and from CIELAB.
    printer
        The printer, measured with the profile's driver settings and colour management off.
    source
        The profile's path, for messages.
    intents
        Names of `INTENTS`: whose tables to amend.
    note
        What to append to description and copyright.
    rights
        The new profile's copyright; by default what the old one says.

    Raises
    ------
    BadInput
        If the profile is of another kind, has no tables, or they cannot be amended.
    """
    _check_kind(profile, source)
    numbers = _numbers_of(intents)
    if "A2B1" not in profile.tags:
        raise BadInput(
            "holds no table A2B1; a profile of tables is needed, not one of curves alone", source
        )
    forward_table = read_table(profile.tags["A2B1"], "A2B1", source)
    forward = _blended(forward_table, printer)
    changed: dict[str, bytes] = {}
    amendments = []
    made: dict[tuple[bytes, str], tuple[bytes, int, int]] = {}
    for name, tag in profile.tags.items():
        if name[:3] not in ("A2B", "B2A") or name[3:] not in numbers:
            continue
        # Profiles give several intents the same table; it is made once.
        key = tag, name if name.endswith("1") else name[:3]
        if key not in made:
            points = LEAST_POINTS_COLORIMETRIC if name.endswith("1") else LEAST_POINTS
            table = _refined(read_table(tag, name, source), points)
            if name.startswith("A2B"):
                grid, differs = _new_forward(table, name, printer, source)
            else:
                grid, differs = _new_inverse(table, name, forward, forward_table, printer, source)
            content = table_bytes(table.with_grid(Grid(grid)))
            made[key] = content, differs.size, int(differs.sum())
        changed[name] = made[key][0]
        amendments.append(Amendment(name, *made[key][1:]))
    tags = {**profile.tags, **changed, **_texts(profile, note, rights)}
    return replace(profile, tags=tags), tuple(amendments)


def _check_kind(profile: Profile, source: object) -> None:
    if profile.device_class != "prtr":
        raise BadInput(
            f"is a profile of the class '{profile.device_class}', not of an output device; "
            "give the profile that you print with",
            source,
        )
    if profile.colour_space != "RGB ":
        raise BadInput(
            f"is a profile for {profile.colour_space.strip()}, and only profiles of RGB printers "
            "can be amended",
            source,
        )
    if profile.connection_space != "Lab ":
        raise BadInput(
            f"connects to {profile.connection_space.strip()}; only tables to CIELAB are read",
            source,
        )


def _numbers_of(intents: Sequence[str]) -> set[str]:
    for name in intents:
        if name not in INTENTS:
            raise not_known("rendering intent", name, INTENTS)
    return {str(INTENTS[name]) for name in intents}


def _refined(table: Table, least: int) -> Table:
    points = min(table.grid.values.shape[:-1])
    factor = max(1, -(-(least - 1) // (points - 1)))
    return table.with_grid(table.grid.refined(factor)) if factor > 1 else table


def _weight(device: Array, reach: float) -> Array:
    """Return how far the measured difference counts: 1 within reach, 0 from `FADED` on."""
    return 1.0 - smooth_step((np.ptp(device, axis=-1) - reach) / (FADED - reach))


def _difference(device: Array, table: Table, printer: Printer) -> Array:
    """Return how the print differs from what a table says, shape (n, 3).

    Beyond the reach of what was measured it is held as it is there, on the way to the axis.
    """
    axis = device.mean(axis=1, keepdims=True)
    spread = np.ptp(device, axis=1, keepdims=True)
    share = np.minimum(1.0, printer.reach / np.maximum(spread, printer.reach))
    held = axis + share * (device - axis)
    return np.asarray(printer.relative(held) - table.decode(table(held)))


def _blended(table: Table, printer: Printer) -> Forward:
    """Make the one forward model: what the profile says, and the difference where it counts."""

    def forward(device: Array) -> Array:
        result = table.decode(table(device))
        weight = _weight(device, printer.reach)
        near = weight > 0
        if near.any():
            difference = _difference(device[near], table, printer)
            result[near] += weight[near, np.newaxis] * difference
        return result

    return forward


def _inputs(table: Table, name: str, source: object) -> Array:
    """Return the encoded inputs that fall on each point of a table's grid, shape (points, 3)."""
    position = table.stages.index(table.grid)
    shape = table.grid.values.shape[:-1]
    before = table.stages[:position]
    if any(
        isinstance(stage, Matrix) and not np.allclose(stage.matrix, np.eye(3)) for stage in before
    ):
        raise BadInput(f"its table {name} cannot be amended: a matrix lies before its grid", source)
    samples = np.linspace(0.0, 1.0, 4097)
    after = through(before, equal_channels(samples))
    axes = []
    for channel, points in enumerate(shape):
        rising = np.maximum.accumulate(after[:, channel])
        axes.append(np.interp(np.linspace(0, 1, points), rising, samples))
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def _new_forward(table: Table, name: str, printer: Printer, source: object) -> tuple[Array, Mask]:
    """Return the new grid of an A2B table, and which of its points change."""
    device = _inputs(table, name, source)
    weight = _weight(device, printer.reach)
    near = weight > 0
    values = table.grid.values.reshape(-1, 3).copy()
    lab = _blended(table, printer)(device[near])
    values[near] = table.grid_outputs_inverse(table.encode(lab))
    return values.reshape(table.grid.values.shape), near


def _new_inverse(
    table: Table, name: str, forward: Forward, old: Table, printer: Printer, source: object
) -> tuple[Array, Mask]:
    """Return the new grid of a B2A table, and which of its points change."""
    lab = table.decode(_inputs(table, name, source))
    device = table(table.encode(lab))
    weight = _weight(device, printer.reach)
    near = weight > 0
    told = old.decode(old(device[near]))
    wanted = told + weight[near, np.newaxis] * (
        _wanted(table, old, lab[near], told, colorimetric=name == "B2A1") - told
    )
    solved = descend(
        lambda x, rows: forward(x) - wanted[rows],
        lambda x, rows: _jacobian(forward, x),
        np.clip(device[near], 0.0, 1.0),
        CLOSE**2,
    )
    solved[lab[near, 0] >= 100] = device[near][lab[near, 0] >= 100]
    values = table.grid.values.reshape(-1, 3).copy()
    values[near] = table.grid_outputs_inverse(solved)
    return values.reshape(table.grid.values.shape), near


def _wanted(table: Table, old: Table, lab: Array, told: Array, *, colorimetric: bool) -> Array:
    """Return what should be printed for CIELAB that lies near the neutral axis.

    The profile's own rendering stays, but for the cast of its axis; the colorimetric table gives
    back the CIELAB itself, wherever the profile held it to be within the printer's reach.
    """
    axis = lab * [1.0, 0.0, 0.0]
    axis_told = old.decode(old(table(table.encode(axis))))
    kept = told - axis_told * [0.0, 1.0, 1.0]
    if not colorimetric:
        return kept
    away = np.clip((np.linalg.norm(kept - lab, axis=1) - 2.0) / 4.0, 0.0, 1.0)[:, np.newaxis]
    return np.asarray(lab + away * (kept - lab))


def _jacobian(forward: Forward, device: Array) -> Array:
    """Return the change of CIELAB with each channel, shape (n, 3, 3), by differences inwards."""
    printed, columns = forward(device), []
    for channel in range(3):
        step = np.where(device[:, channel] < 0.5, 2e-3, -2e-3)
        moved = device.copy()
        moved[:, channel] += step
        columns.append((forward(moved) - printed) / step[:, np.newaxis])
    return np.stack(columns, axis=-1)


def _texts(profile: Profile, note: str, rights: str | None) -> dict[str, bytes]:
    name = read_text(profile.tags.get("desc", b"")) or "Output profile"
    rights = rights or read_text(profile.tags.get("cprt", b"")) or NOT_STATED
    return {
        "desc": text_description(f"{name}, {note}", profile.version),
        "cprt": copyright_text(f"{rights} (tables amended: {note})".strip(), profile.version),
    }
