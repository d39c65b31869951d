"""The demo's picture: how it prints as it is, and through the correction."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, neutral_aim
from greyscale.applying.apply import ApplyOptions, apply_correction
from greyscale.base.files import whole_file
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.correction.folder import read_correction
from greyscale.demo.printer import SimulatedPrinter
from greyscale.demo.steps.correcting import FIRST
from greyscale.demo.steps.photograph import PICTURE
from greyscale.demo.workshop import Step, Told, Workshop
from greyscale.reporting.apply_words import apply_words

CORRECTED = "lighthouse-corrected.tif"
BEFORE_AFTER = "lighthouse-before-after.png"

_GAP = 12
_ENLARGED = 3.0


def printed(path: Path, printer: SimulatedPrinter) -> Array:
    """Give the CIELAB of a picture's print, every other pixel, shape (height, width, 3)."""
    import tifffile

    values = np.asarray(tifffile.imread(path), dtype=np.float64)[::2, ::2] / 65535.0
    if values.ndim == 2:
        values = np.repeat(values[..., np.newaxis], 3, axis=-1)
    return np.asarray(printer.lab(values.reshape(-1, 3)).reshape(values.shape))


def _write_pair(left: Array, right: Array, path: Path) -> None:
    """Write two prints side by side as they look on a calibrated screen; below, casts enlarged."""
    from PIL import Image

    rows = []
    for enlarged in (1.0, _ENLARGED):
        pair = [lab_to_srgb(cast_enlarged(lab, enlarged))[0] for lab in (left, right)]
        gap = np.ones((left.shape[0], _GAP, 3))
        rows.append(np.concatenate([pair[0], gap, pair[1]], axis=1))
    between = np.ones((_GAP, rows[0].shape[1], 3))
    sheet = np.concatenate([rows[0], between, rows[1]], axis=0)
    with whole_file(path) as temporary:
        Image.fromarray(np.round(sheet * 255).astype(np.uint8)).save(temporary, format="PNG")


def cast_enlarged(lab: Array, gain: float) -> Array:
    """Enlarge the distance of a print's a*, b* from the neutral aim; L* stays.

    Parameters
    ----------
    lab
        Shape (..., 3); its lightest tone is taken for the paper, its darkest for black.
    """
    tones = lab.reshape(-1, 3)
    paper, black = tones[np.argmax(tones[:, 0])], tones[np.argmin(tones[:, 0])]
    aim = neutral_aim(DEFAULT_NEUTRAL_AIM, lab[..., 0], paper, black)
    return np.concatenate([lab[..., :1], aim + gain * (lab[..., 1:] - aim)], axis=-1)


def _send_picture(workshop: Workshop) -> Told:
    picture, corrected = workshop.path(PICTURE), workshop.path(CORRECTED)
    folder = workshop.path(FIRST)
    applied = apply_correction(
        read_correction(folder), folder, picture, corrected, ApplyOptions(encoding="lstar")
    )
    before, after = (printed(path, workshop.printer) for path in (picture, corrected))
    _write_pair(before, after, workshop.path(BEFORE_AFTER))
    return Told(
        "One photograph of the exhibition goes through the correction. "
        f"{BEFORE_AFTER} shows it as it printed at first and as it prints now; below, every cast "
        f"is made {_ENLARGED:g} times as strong, so that a screen shows it.",
        details=tuple(line.strip() for line in apply_words(applied))[1:],
        commands=(f"greyscale apply {FIRST} {PICTURE} --encoding lstar -o {CORRECTED}",),
        files=(CORRECTED, BEFORE_AFTER),
    )


SEND_PICTURE = Step("Send a photograph through it", _send_picture)
