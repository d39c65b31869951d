"""RGB output profiles as a profiling tool would make them, whose grey is off by a known cast."""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np

from greyscale.colorimetry.cielab import lab_to_xyz, xyz_to_lab
from greyscale.icc.profile import PCS_ILLUMINANT, Profile, copyright_text, text_description, xyz_tag
from greyscale.icc.tables import encode_lab, lut16_tag, straight, words

WHITE = np.array(PCS_ILLUMINANT)
Printer = Callable[[np.ndarray], np.ndarray]


def relative(printer: Printer) -> Printer:
    paper = lab_to_xyz(printer(np.ones((1, 3))), WHITE)

    def lab(device: np.ndarray) -> np.ndarray:
        return xyz_to_lab(lab_to_xyz(printer(device), WHITE) / paper * WHITE, WHITE)

    return lab


def believed(printer: Printer, cast: float) -> Printer:
    """What a profile believes that was made when the printer's grey was off: its own mistake."""
    own = relative(printer)

    def lab(device: np.ndarray) -> np.ndarray:
        found = own(device)
        L = found[:, 0]
        bump = np.clip((L - L.min()) * (100 - L) / 2000, 0, 1)
        return found + bump[:, None] * cast * np.array([0, np.cos(2.2), np.sin(2.2)])

    return lab


def inverted(forward: Printer, lab: np.ndarray) -> np.ndarray:
    """Device values for CIELAB, the nearest where there are none."""
    axis = np.linspace(0, 1, 13)
    seeds = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), -1).reshape(-1, 3)
    seed_lab = forward(seeds)
    device = np.empty_like(lab)
    for start in range(0, len(lab), 2000):
        part = lab[start : start + 2000]
        distance = np.sum((part[:, None] - seed_lab[None]) ** 2, axis=-1)
        device[start : start + 2000] = seeds[np.argmin(distance, axis=1)]
    error = lab - forward(device)
    damping = np.full((len(lab), 1, 1), 3.0)
    for _ in range(12):
        jacobian = np.empty((len(lab), 3, 3))
        for channel in range(3):
            up, down = device.copy(), device.copy()
            up[:, channel] = np.minimum(up[:, channel] + 2e-3, 1)
            down[:, channel] = np.maximum(down[:, channel] - 2e-3, 0)
            width = (up - down)[:, channel : channel + 1]
            jacobian[..., channel] = (forward(up) - forward(down)) / width
        turned = np.swapaxes(jacobian, -1, -2)
        step = np.linalg.solve(turned @ jacobian + damping * np.eye(3), turned @ error[..., None])
        trial = np.clip(device + step[..., 0], 0, 1)
        trial_error = lab - forward(trial)
        better = np.linalg.norm(trial_error, axis=1) < np.linalg.norm(error, axis=1)
        device[better], error[better] = trial[better], trial_error[better]
        damping = np.where(better[:, None, None], damping / 3, damping * 5)
    return device


def output_profile(
    printer: Printer, cast: float = 3.0, version: tuple[int, int] = (2, 4), kind: str = "lut16",
    points: int = 33,
) -> Profile:  # fmt: skip
    """Make a profile with all three intents; `kind` is lut8, lut16 or ab (v4 only)."""
    forward = believed(printer, cast)
    axis = np.linspace(0, 1, points)
    device = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), -1)
    lab = forward(device.reshape(-1, 3)).reshape(device.shape)
    # The last point of L* is white in all encodings, so that white stays bare paper.
    L = np.linspace(0, 100, points)
    ab = (np.arange(points) - (points - 1) // 2) * (256 / (points - 1))
    if kind == "lut8":
        # Curves of 8 bits can only be straight ones.
        ab = np.linspace(-128, 127, points)
    nodes = np.stack(np.meshgrid(L, ab, ab, indexing="ij"), -1)
    black = forward(np.zeros((1, 3)))[0, 0]
    flat = nodes.reshape(-1, 3)
    exact = inverted(forward, flat)
    scaled = flat.copy()
    scaled[:, 0] = black + (100 - black) * flat[:, 0] / 100
    perceptual = inverted(forward, scaled)
    tags = {
        "desc": text_description("workshop printer, cotton rag", version),
        "cprt": copyright_text("Copyright of this test", version),
        "wtpt": xyz_tag(lab_to_xyz(printer(np.ones((1, 3)))[0], WHITE)),
    }
    for number, table in (("0", perceptual), ("1", exact), ("2", perceptual)):
        grid = table.reshape(nodes.shape)
        tags[f"A2B{number}"] = _forward_tag(lab, kind)
        tags[f"B2A{number}"] = _inverse_tag(grid, L, ab, kind)
    return Profile(version, "prtr", "RGB ", "Lab ", 0, None, tags)


def _forward_tag(lab: np.ndarray, kind: str) -> bytes:
    if kind == "lut16":
        return lut16_tag(straight(3), encode_lab(lab), straight(3))
    plain = np.clip((lab + np.array([0, 128, 128])) / [100, 255, 255], 0, 1)
    if kind == "lut8":
        return _lut8(straight(3), plain)
    return _ab("mAB ", straight(3), plain)


def _inverse_tag(grid: np.ndarray, L: np.ndarray, ab: np.ndarray, kind: str) -> bytes:
    """Input curves carry each encoding's L* and a*, b* to the grid's even places."""
    samples = np.linspace(0, 1, 256 if kind == "lut8" else 4096)
    places = np.linspace(0, 1, len(L))
    if kind == "lut16":
        L_of, ab_of = samples * 65535 / 652.80, samples * 65535 / 256 - 128
    else:
        L_of, ab_of = samples * 100, samples * 255 - 128
    curves = np.stack([np.interp(L_of, L, places), *[np.interp(ab_of, ab, places)] * 2])
    if kind == "lut16":
        return lut16_tag(curves, grid, straight(3))
    return _lut8(curves, grid) if kind == "lut8" else _ab("mBA ", curves, grid)


def _lut8(curves: np.ndarray, grid: np.ndarray) -> bytes:
    def bytes_of(values: np.ndarray) -> bytes:
        return np.round(np.clip(values, 0, 1) * 255).astype("u1").tobytes()

    places = np.linspace(0, 1, 256)
    rows = np.stack([np.interp(places, np.linspace(0, 1, row.size), row) for row in curves])
    identity = [65536, 0, 0, 0, 65536, 0, 0, 0, 65536]
    return (
        b"mft1\0\0\0\0" + struct.pack(">4B9i", 3, 3, grid.shape[0], 0, *identity)
        + bytes_of(rows) + bytes_of(grid) + bytes_of(np.tile(places, (3, 1)))
    )  # fmt: skip


def _ab(kind: str, curves: np.ndarray, grid: np.ndarray) -> bytes:
    def curve_set(rows: np.ndarray) -> bytes:
        out = b""
        for row in rows:
            one = b"curv\0\0\0\0" + struct.pack(">I", row.size) + words(row)
            out += one + b"\0" * (-len(one) % 4)
        return out

    near, far = (curve_set(curves), curve_set(straight(3)))
    if kind == "mAB ":
        near, far = far, near
    clut = bytes(grid.shape[:-1]) + bytes(13) + b"\2\0\0\0" + words(grid)
    clut += b"\0" * (-len(clut) % 4)
    b_at, clut_at = 32, 32 + len(near)
    return (
        kind.encode() + bytes(4) + bytes([3, 3, 0, 0])
        + struct.pack(">5I", b_at, 0, 0, clut_at, clut_at + len(clut)) + near + clut + far
    )  # fmt: skip
