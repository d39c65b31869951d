"""The tables of a profile: lut8, lut16, lutAToB and lutBToA tags, read and written back."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, ArrayLike

# The lut16 tag: curves, a grid, curves, all of 16 bits (ISO 15076-1, 10.10).

MOST_ENTRIES = 4096
"""Entries of a curve, at most."""


def straight(channels: int) -> Array:
    """Return curves that change nothing, shape (channels, 2)."""
    return np.tile([0.0, 1.0], (channels, 1))


def lut16_tag(input_curves: Array, grid: Array, output_curves: Array) -> bytes:
    """Make the tag; all values from 0 to 1.

    Parameters
    ----------
    input_curves, output_curves
        Shapes (inputs, entries) and (outputs, entries).
    grid
        Shape (n, ..., n, outputs), an axis for each input; the first input varies slowest.

    Raises
    ------
    ValueError
        If the shapes do not fit together, or a curve has too many entries.
    """
    *inputs, outputs = grid.shape
    if len(input_curves) != len(inputs) or len(output_curves) != outputs:
        raise ValueError("a lut16 needs a curve for each channel")
    if set(inputs) != {inputs[0]} or not 2 <= inputs[0] <= 255:
        raise ValueError("the grid of a lut16 has the same 2 to 255 points along each input")
    if not all(2 <= curves.shape[1] <= MOST_ENTRIES for curves in (input_curves, output_curves)):
        raise ValueError(f"a lut16's curves have 2 to {MOST_ENTRIES} entries")
    return _lut16(_IDENTITY, words(input_curves), grid, words(output_curves))


_IDENTITY = struct.pack(">9i", *(65536 * (place % 4 == 0) for place in range(9)))


def _lut16(matrix: bytes, first: bytes, grid: Array, last: bytes) -> bytes:
    inputs, outputs = grid.ndim - 1, grid.shape[-1]
    entries = len(first) // (2 * inputs), len(last) // (2 * outputs)
    head = b"mft2\0\0\0\0" + bytes([inputs, outputs, grid.shape[0], 0])
    return head + matrix + struct.pack(">2H", *entries) + first + words(grid) + last


def words(values: ArrayLike) -> bytes:
    """Return values from 0 to 1 as big-endian 16-bit words."""
    scaled = np.round(np.clip(np.asarray(values, dtype=np.float64), 0.0, 1.0) * 65535)
    return scaled.astype(">u2").tobytes()


# What CIELAB is shifted and multiplied by, and what is then the largest code: of a lut16, in v4
# profiles too, as ICC.1:2001-04 has it (ISO 15076-1, 6.3.4.2, table 12); of the others' tables.
_SHIFT = np.array([0.0, 128.0, 128.0])
_TIMES = {"mft2": np.array([652.80, 256.0, 256.0])}
_MOST = {"mft2": np.full(3, 65535.0)}
_MOST_ELSE = np.array([100.0, 255.0, 255.0])


def encode_lab(lab: ArrayLike, kind: str = "mft2") -> Array:
    """Encode CIELAB of the connection space for a lut16, or a table of another kind; see `Table`.

    Of a lut16 L* 100 is 0xFF00, a* and b* 0 are 0x8000.

    Examples
    --------
    >>> (encode_lab([100.0, 0.0, 0.0]) * 65535).round(6).tolist()
    [65280.0, 32768.0, 32768.0]
    """
    scaled = (np.asarray(lab, dtype=np.float64) + _SHIFT) * _TIMES.get(kind, 1.0)
    return np.asarray(np.clip(scaled / _MOST.get(kind, _MOST_ELSE), 0.0, 1.0))


def decode_lab(encoded: ArrayLike, kind: str = "mft2") -> Array:
    """Decode CIELAB: the inverse of `encode_lab`."""
    values = np.asarray(encoded, dtype=np.float64) * _MOST.get(kind, _MOST_ELSE)
    return np.asarray(values / _TIMES.get(kind, 1.0) - _SHIFT)


# What a table of a profile does, stage by stage: curves, matrix, grid; values from 0 to 1.


@dataclass(frozen=True, eq=False)
class Curves:
    """A curve for each channel.

    Attributes
    ----------
    curves
        Functions of values from 0 to 1, arrays in and out.
    raw
        The bytes they were read from, as they are written back.
    """

    curves: tuple[Callable[[Array], Array], ...]
    raw: bytes

    def __call__(self, values: Array) -> Array:
        """Send values, shape (..., channels), through."""
        parts = [curve(np.clip(values[..., i], 0, 1)) for i, curve in enumerate(self.curves)]
        return np.stack(parts, axis=-1)


@dataclass(frozen=True, eq=False)
class Matrix:
    """A 3 by 3 matrix and an offset."""

    matrix: Array
    offset: Array
    raw: bytes

    def __call__(self, values: Array) -> Array:
        """Send values, shape (..., 3), through."""
        return np.asarray(np.clip(values @ self.matrix.T + self.offset, 0.0, 1.0))


@dataclass(frozen=True, eq=False)
class Grid:
    """A grid of colours, linear between its points along each input.

    Attributes
    ----------
    values
        Shape (points of each input..., outputs), 0 to 1.
    """

    values: Array

    def __call__(self, values: Array) -> Array:
        """Interpolate values, shape (..., inputs), over all corners of their cell."""
        from scipy.interpolate import RegularGridInterpolator

        # By places among the points, which are whole: no other is exactly met everywhere.
        points = np.array(self.values.shape[:-1])
        axes = tuple(np.arange(float(count)) for count in points)
        at = np.clip(values, 0.0, 1.0) * (points - 1)
        return np.asarray(RegularGridInterpolator(axes, self.values)(at))

    def refined(self, factor: int) -> Grid:
        """Return the same function on a grid with `factor` cells for each of this one's."""
        points = [factor * (n - 1) + 1 for n in self.values.shape[:-1]]
        axes = np.meshgrid(*(np.linspace(0, 1, n) for n in points), indexing="ij")
        return Grid(self(np.stack(axes, axis=-1)))


Stage = Curves | Matrix | Grid


def through(stages: Sequence[Stage], values: Array) -> Array:
    """Send values through stages in order."""
    for stage in stages:
        values = stage(values)
    return values


def sampled(table: Array) -> Callable[[Array], Array]:
    """Make a curve of evenly spaced samples, straight between them."""
    places = np.linspace(0.0, 1.0, table.size)

    def curve(values: Array) -> Array:
        return np.asarray(np.interp(values, places, table))

    return curve


def parametric(kind: int, p: Sequence[float]) -> Callable[[Array], Array]:
    """Make a parametric curve (ISO 15076-1, 10.18, table 68).

    Raises
    ------
    ValueError
        For a kind that the standard does not know.
    """
    if kind not in range(5):
        raise ValueError(f"the parametric curve of kind {kind} is not known")
    g, a, b, c, d, e, f = [*p, *[0.0] * (7 - len(p))]
    if kind == 0:
        a, b, d, e, f = 1.0, 0.0, -np.inf, 0.0, 0.0
    elif kind in (1, 2):
        # Below -b/a the curve is constant: 0, or c.
        e = f = c if kind == 2 else 0.0
        c, d = 0.0, -b / a if a else -np.inf

    def curve(values: Array) -> Array:
        power = np.maximum(a * values + b, 0.0) ** g + e
        return np.clip(np.where(values >= d, power, c * values + f), 0.0, 1.0)

    return curve


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

    def grid_outputs_inverse(self, values: Array) -> Array:
        """Find what the grid must give for encoded outputs, shape (..., outputs).

        Found by interpolation of the sampled curves; they must rise.
        """
        samples = np.linspace(0.0, 1.0, 4097)
        after = through(
            self.stages[self.stages.index(self.grid) + 1 :],
            np.repeat(samples[:, np.newaxis], values.shape[-1], axis=1),
        )
        rising = np.maximum.accumulate(after, axis=0)
        columns = [
            np.interp(values[..., i], rising[:, i], samples) for i in range(values.shape[-1])
        ]
        return np.stack(columns, axis=-1)

    def with_grid(self, grid: Grid) -> Table:
        """Return the same table with another grid."""
        return replace(self, stages=tuple(grid if isinstance(s, Grid) else s for s in self.stages))

    def encode(self, lab: ArrayLike) -> Array:
        """Encode CIELAB of the connection space for this table."""
        return encode_lab(lab, self.kind)

    def decode(self, encoded: ArrayLike) -> Array:
        """Decode to CIELAB of the connection space: the inverse of `encode`."""
        return decode_lab(encoded, self.kind)


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
    """Return whole numbers of 1 or 2 bytes as values from 0 to 1."""
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
    if table.kind != "mft2":
        return _ab_bytes(table)
    matrix, first, grid, last = table.stages
    assert isinstance(matrix, Matrix)
    assert isinstance(first, Curves)
    assert isinstance(grid, Grid)
    assert isinstance(last, Curves)
    return _lut16(matrix.raw, first.raw, grid.values, last.raw)


def _ab_bytes(table: Table) -> bytes:
    # In the order of the standard's offsets: B, matrix, M, grid, A, seen from the B side.
    ordered = list(table.stages if table.kind == "mBA " else table.stages[::-1])
    body, position = bytearray(), 32
    offsets = dict.fromkeys(("b", "matrix", "m", "grid", "a"), 0)
    after_grid = False
    for index, stage in enumerate(ordered):
        if isinstance(stage, Grid):
            points = bytes(stage.values.shape[:-1]).ljust(16, b"\0")
            name, raw = "grid", points + b"\2\0\0\0" + words(stage.values)
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
