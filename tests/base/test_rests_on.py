"""Every constant and curve that is remembered, or common practice, is in the register."""

from __future__ import annotations

import ast
import importlib
import re
from pathlib import Path

import pytest

import greyscale
from greyscale.base.rests_on import KINDS, REGISTER, support_data, supports
from greyscale.colorimetry.light_quality import mix
from greyscale.readings.lamps import find_light
from greyscale.reporting.page import grounds, grounds_note

PACKAGE = Path(greyscale.__file__).parent
# Rooms that figures come out of; what the demo prints with is invented as a whole.
ROOMS = (
    "colorimetry",
    "aims",
    "analysis",
    "correction",
    "printer",
    "readings/by_sheets.py",
    "readings/lamps.py",
    "readings/reading.py",
)
# Numbers that no figure would be another by: sizes of grids and samples, what is too little to work
# on or too much, names of things, and what is worth a sentence.
NO_GROUND = {
    "aims.tone:TONE_AIMS", "analysis.brighteners:GLOW_ORDER", "analysis.neutrality:SECTOR",
    "analysis.certainty:LARGEST_LENGTH", "analysis.certainty:MEAN_LENGTH",
    "analysis.drying:LONGEST_HOURS", "analysis.kinetics:FEWEST_TIMES",
    "analysis.kinetics:LEAST_SD", "analysis.picture:MIDTONES",
    "analysis.picture:LEAST_NEAR", "analysis.picture:NEAR",
    "analysis.picture:STEPS", "analysis.ramp:LEAST_PATCHES",
    "analysis.under_lights:WORTH_SAYING", "analysis.under_lights:REFINEMENTS",
    "analysis.under_lights:SHARES", "analysis.under_lights:VISIBLE_RANGE",
    "colorimetry.cielab:LEAST_REFLECTANCE", "colorimetry.display:LUMINANCE_WEIGHTS",
    "colorimetry.fluorescence:NEGLIGIBLE", "colorimetry.lights:FROM",
    "colorimetry.observers:NANOMETRES", "correction.charts:MOST_PATCHES",
    "correction.charts:USUAL_PATCHES", "correction.correct:MOST",
    "correction.evidence:FEWEST_TONES", "correction.evidence:MOST_OF_A_READING",
    "correction.evidence:MOST_TOGETHER", "correction.as_json:LARGEST_FILE",
    "correction.luts:DECIMALS", "correction.luts:FEWEST_NODES", "correction.luts:MOST_NODES",
    "correction.luts:USUAL_SIZES", "correction.sureness:SURE_ENOUGH",
    "correction.record:CURVE_POINTS", "correction.sureness:TWO_SIDED_95",
    "correction.sureness:FEWEST_PROOFS", "printer.answers:OPPONENT",
    "printer.design:FEWEST_PATCHES", "printer.model:MOST_ONSETS", "printer.answers:TONES",
    "readings.by_sheets:BEGINS", "readings.by_sheets:WHITE",
    "readings.reading:AXIS_TOLERANCE", "readings.reading:NEAR_NEUTRAL",
    # Which tables of a lamp are taken, and how they are read.
    "readings.lamps:COARSEST", "readings.lamps:DARK", "readings.lamps:FEWEST_DARK",
    "readings.lamps:FEWEST_IN_A_ROW", "readings.lamps:FINE", "readings.lamps:LOOKED_AT",
    "readings.lamps:NEEDED", "readings.lamps:NOISE_FLOOR", "readings.lamps:WANTED",
    "readings.lamps:WAVELENGTH_UNITS", "readings.lamps:WIDEST_GAP",
}  # fmt: skip
# What no result shows: a question while a reading is typed in, and a strip's patches on paper.
NO_RESULT = {"typed", "control-strip"}
REMEMBERED = re.compile(r"memory|common\s+practice|no\s+source", re.I)


def registered() -> set[str]:
    return {place for one in REGISTER.values() for place in one.where}


def remembered_constants(path: Path) -> set[str]:
    """Constants with a comment above or a docstring below that says so."""
    text = path.read_text(encoding="utf-8")
    lines, found = text.splitlines(), set()
    body = ast.parse(text).body
    for index, node in enumerate(body):
        if not isinstance(node, ast.Assign | ast.AnnAssign):
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        below = body[index + 1] if index + 1 < len(body) else None
        said = lines[node.lineno - 2] if lines[node.lineno - 2].startswith("#") else ""
        if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant):
            said += str(below.value.value)
        if isinstance(target, ast.Name) and REMEMBERED.search(said):
            module = ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
            found.add(f"{module}:{target.id}")
    return found


def test_what_is_registered_is_there() -> None:
    for place in registered():
        module, _, name = place.partition(":")
        if name:
            assert hasattr(importlib.import_module(f"greyscale.{module}"), name), place
        else:
            assert (PACKAGE / place).is_file(), place
    assert {one.kind for one in REGISTER.values()} <= set(KINDS)


def files_of_figures() -> list[Path]:
    return [
        path
        for room in ROOMS
        for path in ([PACKAGE / room] if room.endswith(".py") else (PACKAGE / room).rglob("*.py"))
    ]


def public_numbers(path: Path) -> set[str]:
    """Constants that others may use and whose value holds a number."""
    found = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        values = [one.value for one in ast.walk(node.value) if isinstance(one, ast.Constant)]
        module = ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
        if any(isinstance(one, int | float) and not isinstance(one, bool) for one in values):
            names = [one.id for one in ast.walk(target) if isinstance(one, ast.Name)]
            found |= {f"{module}:{name}" for name in names if name[0].isupper()}
    return found


def test_every_number_that_figures_rest_on_is_registered() -> None:
    found = {name for path in files_of_figures() for name in public_numbers(path)}
    assert len(found) > 60
    assert found - registered() - NO_GROUND == set()


def test_every_ground_is_named_by_some_result() -> None:
    """A key that no room passes on would be registered and lost on the way."""
    others = [path for path in PACKAGE.rglob("*.py") if path.name != "rests_on.py"]
    text = "\n".join(path.read_text(encoding="utf-8") for path in others)
    named = {key for key in REGISTER if re.search(f"[\"']{key}[\"']", text)}
    # Neutral aims, tolerances and glazings are looked up by the name that was asked for.
    assert set(REGISTER) - named == NO_RESULT


def test_constants_that_say_they_are_remembered_are_registered() -> None:
    found = {name for path in files_of_figures() for name in remembered_constants(path)}
    assert len(found) > 5
    assert found - registered() == set()


def test_every_data_file_is_registered() -> None:
    files = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("data/**/*.csv")
        if "demo" not in path.parts
    }
    assert files
    assert files <= registered()


def test_a_glazing_drawn_from_memory_goes_with_the_light_that_is_behind_it() -> None:
    behind = find_light("D50", "window-glass")
    mixed = mix([(0.5, behind), (0.5, find_light("daylight-4000K"))])
    assert mixed.rests_on == ("cie-tables", "glazing-curve", "series")
    (note,) = [one for one in supports(*mixed.rests_on) if one.kind == "memory"]
    assert "ultraviolet" in note.what
    assert "memory" in grounds_note([note])


def test_a_measured_glass_is_called_measured(tmp_path: Path) -> None:
    glass = tmp_path / "pane.csv"
    glass.write_text("nm,transmittance\n300,0.1\n380,0.8\n700,0.9\n")
    found = grounds(supports(*find_light("A", str(glass)).rests_on))
    assert ("Measured", "the transmittance of the glazing (the file given)") in found


@pytest.mark.parametrize("key", REGISTER)
def test_json_has_what_kind_and_source_of_each(key: str) -> None:
    (data,) = support_data(supports(key))
    assert set(data) == {"what", "kind", "source"}
    assert all(data.values())
