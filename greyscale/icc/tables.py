"""The tables of a profile: lut8, lut16, lutAToB and lutBToA tags, read and written back."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.icc.lut16 import MOST_ENTRIES, decode_lab, encode_lab, words
from greyscale.icc.stages import (
    Curves,
    Grid,
    Matrix,
    Stage,
    parametric,
    sampled,
    through,
)

LUT8_STEP = 65535 / 65280
"""CIELAB as a lut8 encodes it is this many times what a lut16 makes of it."""

LARGEST_GRID = 20_000_000
"""Values in a grid; 255 points for three inputs would be fifty million."""


@dataclass(frozen=True, eq=False)
class Table:
    """One table tag.

    Attributes
    ----------
    kind
        "mft2" (lut16; a lut8 becomes one), "mAB " (lutAToB) or "mBA " (lutBToA).
    stages
        In the order they are gone through.
    """

    kind: str
    stages: tuple[Stage, ...]

    @property
    def grid(self) -> Grid:
        """The table's grid."""
        return next(stage for stage in self.stages if isinstance(stage, Grid))

    def __call__(self, values: Array) -> Array:
        """Send encoded values, shape (..., inputs), through the whole table."""
        return through(self.stages, values)

    def grid_inputs(self, values: Array) -> Array:
        """Send encoded values through what lies before the grid."""
        return through(self.stages[: self._position()], values)

    def grid_outputs_inverse(self, values: Array) -> Array:
        """Find what the grid must give for encoded outputs, shape (..., outputs).

        Found by interpolation of the sampled curves; they must rise.
        """
        samples = np.linspace(0.0, 1.0, 4097)
        after = through(
            self.stages[self._position() + 1 :],
            np.repeat(samples[:, np.newaxis], values.shape[-1], axis=1),
        )
        rising = np.maximum.accumulate(after, axis=0)
        columns = [
            np.interp(values[..., i], rising[:, i], samples) for i in range(values.shape[-1])
        ]
        return np.stack(columns, axis=-1)

    def with_grid(self, grid: Grid) -> Table:
        """Give the same table with another grid."""
        return replace(self, stages=tuple(grid if isinstance(s, Grid) else s for s in self.stages))

    def encode(self, lab: ArrayLike) -> Array:
        """Encode CIELAB of the connection space for this table."""
        values = np.asarray(lab, dtype=np.float64)
        if self.kind == "mft2":
            return encode_lab(values)
        scaled = [values[..., 0] / 100, (values[..., 1] + 128) / 255, (values[..., 2] + 128) / 255]
        return np.clip(np.stack(scaled, axis=-1), 0.0, 1.0)

    def decode(self, encoded: ArrayLike) -> Array:
        """Decode to CIELAB of the connection space: the inverse of `encode`."""
        values = np.asarray(encoded, dtype=np.float64)
        if self.kind == "mft2":
            return decode_lab(values)
        parts = [values[..., 0] * 100, values[..., 1] * 255 - 128, values[..., 2] * 255 - 128]
        return np.stack(parts, axis=-1)

    def _position(self) -> int:
        return next(i for i, stage in enumerate(self.stages) if isinstance(stage, Grid))


def read_table(tag: bytes, name: str, source: object) -> Table:
    """Read a table tag of three inputs and three outputs.

    Parameters
    ----------
    tag
        The tag's bytes.
    name
        Its signature, as "B2A1".

    Raises
    ------
    BadInput
        If it is damaged, has other channels, or no grid.
    """
    kind = tag[:4].decode("latin-1")
    readers = {"mft1": _read_lut, "mft2": _read_lut, "mAB ": _read_ab, "mBA ": _read_ab}
    if kind not in readers:
        raise BadInput(
            f"its table {name} is of the kind '{kind.strip()}', which is not read", source
        )
    try:
        if (tag[8], tag[9]) != (3, 3):
            raise BadInput(
                f"its table {name} has {tag[8]} inputs and {tag[9]} outputs; "
                "three and three are needed",
                source,
            )
        stages = readers[kind](tag, kind)
    except (struct.error, ValueError, IndexError, OverflowError) as error:
        raise BadInput(f"its table {name} is damaged ({error})", source) from error
    if not any(isinstance(stage, Grid) for stage in stages):
        raise BadInput(f"its table {name} has no grid to amend", source)
    if kind == "mft1":
        return _as_lut16(stages, is_input=name.startswith("B2A"))
    return Table(kind, tuple(stages))


def _as_lut16(stages: Sequence[Stage], is_input: bool) -> Table:
    """Make a lut16 of a lut8, whose CIELAB is encoded otherwise: L* 100 is 255, not 0xFF00."""
    matrix, first, grid, last = stages
    assert isinstance(matrix, Matrix)
    assert isinstance(first, Curves)
    assert isinstance(last, Curves)
    samples = np.linspace(0.0, 1.0, MOST_ENTRIES)
    if is_input:
        first = _resampled([curve(np.minimum(samples * LUT8_STEP, 1)) for curve in first.curves])
    else:
        last = _resampled([curve(samples) / LUT8_STEP for curve in last.curves])
    return Table("mft2", (matrix, first, grid, last))


def _resampled(rows: Sequence[Array]) -> Curves:
    table = np.stack(rows)
    return Curves(tuple(sampled(row) for row in table), words(table))


def _numbers(tag: bytes, offset: int, count: int, width: int) -> Array:
    """Give whole numbers of 1 or 2 bytes as values from 0 to 1."""
    if offset < 0 or count <= 0 or offset + count * width > len(tag):
        raise ValueError("it reaches beyond its end")
    kind = ">u2" if width == 2 else ">u1"
    raw = np.frombuffer(tag, dtype=kind, count=count, offset=offset)
    return raw.astype(np.float64) / (65535 if width == 2 else 255)


def _grid(tag: bytes, offset: int, points: Sequence[int], width: int) -> Grid:
    if any(not 2 <= n <= 255 for n in points):
        raise ValueError("its grid has no points")
    count = int(np.prod([int(n) for n in points], dtype=np.int64)) * 3
    if count > LARGEST_GRID:
        raise ValueError("its grid is larger than any printer needs")
    return Grid(_numbers(tag, offset, count, width).reshape(*points, 3))


def _read_lut(tag: bytes, kind: str) -> list[Stage]:
    """Read lut8 or lut16 (ISO 15076-1, 10.10 and 10.11); the matrix serves X, Y, Z only."""
    points = tag[10]
    width, start = (1, 48) if kind == "mft1" else (2, 52)
    entries = (256, 256) if width == 1 else struct.unpack_from(">2H", tag, 48)
    if not all(2 <= number <= MOST_ENTRIES for number in entries):
        raise ValueError("its curves have no entries")
    matrix = np.array(struct.unpack_from(">9i", tag, 12)).reshape(3, 3) / 65536
    first = _numbers(tag, start, 3 * entries[0], width).reshape(3, -1)
    start += 3 * entries[0] * width
    grid = _grid(tag, start, (points,) * 3, width)
    start += grid.values.size * width
    last = _numbers(tag, start, 3 * entries[1], width).reshape(3, -1)
    raw = tag[12:48]
    return [
        Matrix(matrix, np.zeros(3), raw),
        Curves(tuple(sampled(row) for row in first), words(first)),
        grid,
        Curves(tuple(sampled(row) for row in last), words(last)),
    ]


def _read_ab(tag: bytes, kind: str) -> list[Stage]:
    """Read lutAToB or lutBToA (ISO 15076-1, 10.12 and 10.13)."""
    b, matrix, m, grid, a = struct.unpack_from(">5I", tag, 12)
    stages: list[Stage] = []
    if a:
        stages.append(_read_curves(tag, a))
    if grid:
        points = tag[grid : grid + 3]
        width = tag[grid + 16]
        if width not in (1, 2):
            raise ValueError("its grid is of an unknown precision")
        stages.append(_grid(tag, grid + 20, tuple(points), width))
    if m:
        stages.append(_read_curves(tag, m))
    if matrix:
        values = np.array(struct.unpack_from(">12i", tag, matrix)) / 65536
        raw = tag[matrix : matrix + 48]
        stages.append(Matrix(values[:9].reshape(3, 3), values[9:], raw))
    stages.append(_read_curves(tag, b))
    return stages if kind == "mAB " else stages[::-1]


def _read_curves(tag: bytes, offset: int) -> Curves:
    start = offset
    curves = []
    for _ in range(3):
        if offset < 32 or offset + 12 > len(tag):
            raise ValueError("a curve lies outside it")
        kind = tag[offset : offset + 4]
        if kind == b"curv":
            count = struct.unpack_from(">I", tag, offset + 8)[0]
            size = 12 + 2 * count
            if offset + size > len(tag):
                raise ValueError("a curve reaches beyond its end")
            if count == 0:
                curves.append(parametric(0, [1.0]))
            elif count == 1:
                gamma = struct.unpack_from(">H", tag, offset + 12)[0] / 256
                curves.append(parametric(0, [gamma]))
            else:
                curves.append(sampled(_numbers(tag, offset + 12, count, 2)))
        elif kind == b"para":
            form = struct.unpack_from(">H", tag, offset + 8)[0]
            count = (1, 3, 4, 5, 7)[form]
            size = 12 + 4 * count
            values = np.array(struct.unpack_from(f">{count}i", tag, offset + 12)) / 65536
            curves.append(parametric(form, values.tolist()))
        else:
            raise ValueError("a curve is of an unknown kind")
        offset += size + (-size % 4)
    return Curves(tuple(curves), tag[start:offset])


def table_bytes(table: Table) -> bytes:
    """Write a table back, its curves and matrix as they were read; the grid has 16 bits."""
    if table.kind == "mft2":
        return _lut_bytes(table)
    return _ab_bytes(table)


def _lut_bytes(table: Table) -> bytes:
    matrix, first, grid, last = table.stages
    assert isinstance(matrix, Matrix)
    assert isinstance(first, Curves)
    assert isinstance(grid, Grid)
    assert isinstance(last, Curves)
    entries = len(first.raw) // 6, len(last.raw) // 6
    return (
        b"mft2\0\0\0\0"
        + bytes([3, 3, grid.values.shape[0], 0])
        + matrix.raw
        + struct.pack(">2H", *entries)
        + first.raw
        + words(grid.values)
        + last.raw
    )


def _ab_bytes(table: Table) -> bytes:
    # In the order of the standard's offsets: B, matrix, M, grid, A, seen from the B side.
    ordered = list(table.stages if table.kind == "mBA " else table.stages[::-1])
    body, position = bytearray(), 32
    offsets = dict.fromkeys(("b", "matrix", "m", "grid", "a"), 0)
    after_grid = False
    for index, stage in enumerate(ordered):
        if isinstance(stage, Grid):
            name, raw = "grid", _grid_bytes(stage)
            after_grid = True
        elif isinstance(stage, Matrix):
            name, raw = "matrix", stage.raw
        else:
            name, raw = ("b" if index == 0 else "a" if after_grid else "m"), stage.raw
        offsets[name] = position + len(body)
        body += raw + b"\0" * (-len(raw) % 4)
    return (
        table.kind.encode() + bytes(4) + bytes([3, 3, 0, 0])
        + struct.pack(">5I", *offsets.values()) + bytes(body)
    )  # fmt: skip


def _grid_bytes(grid: Grid) -> bytes:
    points = bytes(grid.values.shape[:-1])
    return points + bytes(16 - len(points)) + b"\2\0\0\0" + words(grid.values)
