"""A lamp by two sheets, against the simulated brightener under a lamp of known ultraviolet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke, refused

from greyscale.base.errors import BadInput
from greyscale.colorimetry.fluorescence import excitation, unknown_excitation
from greyscale.colorimetry.lights import light
from greyscale.demo import materials
from greyscale.readings.by_sheets import SEEN_ALIKE, lamp_by_sheets
from greyscale.readings.lamps import find_light

NM = np.arange(380.0, 731.0, 5.0)
PLAIN = 0.80 + 0.1 * (NM - 380) / 350
FIBRES = 0.82 + 0.08 * (NM - 380) / 350


def file(path: Path, values: np.ndarray) -> Path:
    rows = "\n".join(f"{nm:g};{value:.6f}" for nm, value in zip(NM, values, strict=True))
    path.write_text("nm;value\n" + rows, encoding="utf-8")
    return path


def sheets(folder: Path, condition: str, strength: float, lit: float = 1.0) -> tuple[Path, ...]:
    """What an instrument far off sees under the condition's lamp, and the readings of both."""
    name = materials.CONDITION_LIGHTS[condition]
    power = np.interp(NM, light(name or "D50").wavelengths, light(name or "D50").measured)
    glow = strength * materials.glow(NM, condition)
    files = {
        "bright": (FIBRES + glow) * power * lit, "plain": PLAIN * power,
        "m1": FIBRES + strength * materials.glow(NM, "M1"), "m2": FIBRES, "plain-m2": PLAIN,
    }  # fmt: skip
    return tuple(file(folder / f"{name}.csv", values) for name, values in files.items())


@pytest.mark.parametrize("condition", ["M0", "M1", "M2"])
def test_it_finds_what_the_lamp_excites(condition: str, tmp_path: Path) -> None:
    """A, D50, and D50 without its ultraviolet: what the simulated brightener was excited with."""
    found = lamp_by_sheets(*sheets(tmp_path, condition, 0.3))
    expected = {"M0": excitation("A"), "M1": 1.0, "M2": 0.0}[condition]
    assert found.excites == pytest.approx(expected, abs=0.02)


def test_its_uncertainty_is_that_of_the_sheets_light(tmp_path: Path) -> None:
    exact = lamp_by_sheets(*sheets(tmp_path, "M0", 0.3))
    brighter = lamp_by_sheets(*sheets(tmp_path, "M0", 0.3, lit=1 + SEEN_ALIKE))
    assert brighter.excites - exact.excites == pytest.approx(exact.sd, rel=0.03)
    weak = lamp_by_sheets(*sheets(tmp_path, "M0", 0.1))
    # A third of the glow on the same sheet.
    assert 2.5 * exact.sd < weak.sd < 3 * exact.sd
    with pytest.raises(BadInput, match="hardly glows"):
        lamp_by_sheets(*sheets(tmp_path, "M0", 0.02))


def test_the_file_is_a_lamp_that_excites_as_much(tmp_path: Path) -> None:
    target = tmp_path / "hall.csv"
    given = sheets(tmp_path, "M0", 0.3)
    done = invoke("lights", "--sheets", *given, "-o", target, code=0)
    assert "times as much as D50" in done.stdout
    hall = find_light(str(target))
    assert excitation(hall) == pytest.approx(excitation("A"), abs=0.02)
    assert unknown_excitation(hall) == 0.0
    refused("lights", "D50", "--sheets", *given)


@pytest.mark.parametrize(
    ("order", "lit", "message"),
    [
        # They reflect alike beyond the glow.
        ((1, 0, 2, 3, 4), 1.0, "darker in the blue"),
        ((0, 1, 2, 3, 4), 1.1, "10 % lighter in the hall"),
        ((0, 1, 2, 3, 4), 0.94, "6 % darker in the hall"),
        ((0, 1, 2, 3, 4), 1.05, "5 % lighter in the hall"),
    ],
)
def test_sheets_mixed_up_or_not_lit_alike_are_refused(
    order: tuple[int, ...], lit: float, message: str, tmp_path: Path
) -> None:
    made = sheets(tmp_path, "M0", 0.3, lit)
    with pytest.raises(BadInput, match=f"bright.csv.*{message}|plain.csv.*{message}"):
        lamp_by_sheets(*(made[i] for i in order))
    assert lamp_by_sheets(*sheets(tmp_path, "M0", 0.3, 1.035)).excites > 0


def test_sheets_that_reflect_unlike_cannot_change_places(tmp_path: Path) -> None:
    """Neither as seen in the hall nor as read in M2."""
    bright, plain, M1, M2, plain_M2 = sheets(tmp_path, "M1", 0.3)
    file(plain, 0.9 * PLAIN * np.interp(NM, light("D50").wavelengths, light("D50").measured))
    file(plain_M2, 0.9 * PLAIN)
    assert lamp_by_sheets(bright, plain, M1, M2, plain_M2).excites == pytest.approx(1, abs=0.02)
    with pytest.raises(BadInput, match=r"plain.csv: is 2\d % darker in the hall, against .*bright"):
        lamp_by_sheets(plain, bright, M1, M2, plain_M2)
    with pytest.raises(BadInput, match=r"bright.csv: is 2\d % lighter .*mixed up"):
        lamp_by_sheets(bright, plain, M1, plain_M2, M2)
