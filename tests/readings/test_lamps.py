"""Lamps from files, mixtures and glazings; what cannot be used is refused with a reason."""

from __future__ import annotations

import re
import shutil
from importlib import resources
from pathlib import Path

import colour
import numpy as np
import pytest

from greyscale.base.errors import BadInput
from greyscale.colorimetry.light_quality import (
    light_quality,
    ultraviolet_noise,
    ultraviolet_per_lumen,
)
from greyscale.colorimetry.tristimulus import white_point
from greyscale.readings.lamps import find_light, find_lights, glazing_names, lamp
from greyscale.reporting.lights_report import ultraviolet_words

LED = colour.SDS_ILLUMINANTS["LED-B3"]
HEAD = '<?xml version="1.0"?>\n<IESTM2714 xmlns="iestm2714" version="1.0">'


def tm27(rows: list[tuple[float, float]]) -> str:
    data = "".join(f'<SpectralData wavelength="{w}">{v}</SpectralData>' for w, v in rows)
    return (
        f"{HEAD}<Header><Description>hall lamp</Description></Header>"
        "<SpectralDistribution><SpectralQuantity>relative</SpectralQuantity>"
        f"{data}</SpectralDistribution></IESTM2714>"
    )


def led_rows(factor: float = 1.0) -> list[tuple[float, float]]:
    return [(float(w), factor * float(v)) for w, v in zip(LED.wavelengths, LED.values, strict=True)]


def write(path: Path, content: str, encoding: str = "utf-8") -> Path:
    path.write_text(content, encoding=encoding)
    return path


def two_columns(path: Path, separator: str = ",", factor: float = 1.0, unit: float = 1.0) -> Path:
    rows = "\n".join(f"{w * unit:.10g}{separator}{v:.10g}" for w, v in led_rows(factor))
    return write(path, f"wavelength{separator}power\n{rows}\n")


def spectral_text() -> str:
    fields = " ".join(f"SPECTRAL_NM{w:.0f}" for w, _ in led_rows())
    values = " ".join(f"{v:.10g}" for _, v in led_rows())
    return (
        f"CGATS.17\nNUMBER_OF_SETS 1\nBEGIN_DATA_FORMAT\nSAMPLE_ID {fields}\nEND_DATA_FORMAT\n"
        f"BEGIN_DATA\n1 {values}\nEND_DATA\n"
    )


def rows_of_text() -> str:
    rows = "\n".join(f"{w:.0f}\t{v:.10g}" for w, v in led_rows())
    return (
        "ISO28178\nBEGIN_DATA_FORMAT\nSPECTRAL_NM SPECTRAL_POWER\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(LED.wavelengths)}\nBEGIN_DATA\n{rows}\nEND_DATA\n"
    )


def row_of_text(separator: str, first: str, times: int = 1) -> str:
    names = separator.join(f"{w:.0f} nm" for w, _ in led_rows())
    values = first + separator.join(f"{v:.10g}" for _, v in led_rows())
    return "\n".join([("Lamp" + separator if first else "") + names, *[values] * times])


def with_more(path: Path, text: str) -> Path:
    return write(path, path.read_text(encoding="utf-8") + text)


def with_units(path: Path) -> Path:
    head, *rows = path.read_text(encoding="utf-8").split()
    return write(path, "\n".join([head, *(row.replace(",", " nm,") + "%" for row in rows)]))


@pytest.mark.parametrize(
    "make",
    [
        lambda folder: two_columns(folder / "lamp.csv"),
        lambda folder: two_columns(folder / "lamp.csv", ";", factor=1e-4),
        lambda folder: two_columns(folder / "lamp.txt", "\t", factor=350.0),
        lambda folder: two_columns(folder / "lamp.csv", unit=1e-3),
        lambda folder: two_columns(folder / "lamp.csv", unit=10.0),
        lambda folder: write(folder / "lamp.xml", tm27(led_rows())),
        lambda folder: write(folder / "lamp.txt", spectral_text()),
        lambda folder: write(folder / "lamp.txt", spectral_text(), "utf-16"),
        lambda folder: write(folder / "lamp.txt", rows_of_text()),
        lambda folder: write(folder / "lamp.csv", row_of_text(",", "hall,")),
        lambda folder: write(folder / "lamp.csv", row_of_text("\t", "")),
        lambda folder: write(folder / "lamp.csv", row_of_text(";", "1;").replace(".", ",")),
        lambda folder: with_more(two_columns(folder / "lamp.csv"), ",\n\nCCT,3000\nRa,80\n"),
        lambda folder: with_units(two_columns(folder / "lamp.csv")),
    ],
    ids=["comma", "semicolon", "tab", "micrometres", "angstrom", "TM-27-14", "ISO 28178",
         "UTF-16", "row per wavelength", "named row", "row", "row with commas", "words below",
         "units in cells"],
)  # fmt: skip
def test_a_lamps_file_is_the_light_it_was_written_from(make: object, tmp_path: Path) -> None:
    path = make(tmp_path)  # type: ignore[operator]
    np.testing.assert_allclose(white_point(find_light(str(path))), white_point("LED-B3"), atol=1e-6)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_decimal_commas(tmp_path: Path, encoding: str) -> None:
    rows = "\n".join(f"{w:.0f};{v:.6f}".replace(".", ",") for w, v in led_rows())
    path = tmp_path / "lampe.csv"
    path.write_text(f"Wellenlänge;Leistung\n{rows}\n", encoding=encoding)
    np.testing.assert_allclose(white_point(find_light(str(path))), white_point("LED-B3"), atol=1e-4)


def test_a_tm27_file_has_the_temperature_that_colour_gives_it(tmp_path: Path) -> None:
    """`colour` reads the same IES TM-27-14 file; its own chain to CCT, within 1 K."""
    path = write(tmp_path / "lamp.spdx", tm27(led_rows()))
    table = colour.SpectralDistribution_IESTM2714(str(path)).read()
    XYZ = colour.sd_to_XYZ(table, method="Integration")
    theirs = colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(XYZ)))[0]
    ours = light_quality(find_light(str(path))).correlated_colour_temperature
    assert ours == pytest.approx(theirs, abs=1)


def test_the_published_sample_lamp_of_another_library(tmp_path: Path) -> None:
    """The fluorescent lamp in IES TM-27-14 that comes with `colour`: lines at uneven steps.

    Joined by straight lines, as its lines are drawn in that standard's sample; `colour`'s own
    spline overshoots between them, so its linear interpolator is asked for.
    """
    sample = resources.files("colour.io") / "tests" / "resources" / "Fluorescent.spdx"
    with resources.as_file(sample) as source:
        path = shutil.copy(source, tmp_path / "Fluorescent.spdx")
    table = colour.SpectralDistribution_IESTM2714(str(path)).read()
    straight = colour.SpectralDistribution(table, interpolator=colour.LinearInterpolator)
    straight.align(colour.SpectralShape(400, 700, 1), interpolator=colour.LinearInterpolator)
    XYZ = colour.sd_to_XYZ(straight, method="Integration")
    theirs = colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(XYZ)))[0]
    ours = light_quality(find_light(str(path))).correlated_colour_temperature
    assert ours == pytest.approx(theirs, rel=0.002)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda rows: [r for r in rows if r[0] >= 450], "cut off: it holds 450 to 780 nm"),
        (lambda rows: [r for r in rows if not 500 < r[0] < 560], "gap between 500 and 560 nm"),
        (lambda rows: rows[::6], "too coarse: one value every 30 nm"),
        (lambda rows: [r for r in rows if not 380 < r[0] < 720], "one value every 340 nm"),
        (lambda rows: [*rows, (500.0, 1.0)], "500 nm twice|wavelength of its own"),
        (lambda rows: [(w, -v) for w, v in rows], "no power at all"),
        (lambda rows: [(w, v - 0.2 * (w == 600)) for w, v in rows[:-30]], "cut off"),
        (lambda rows: [(w, -9.0 if w == 600 else v) for w, v in rows], "negative power at 600"),
        (lambda rows: rows[:3], "holds 3 wavelengths"),
    ],
)
@pytest.mark.parametrize("kind", ["csv", "xml"])
def test_lamp_data_that_cannot_be_used_say_why(
    change: object, message: str, kind: str, tmp_path: Path
) -> None:
    rows = change(led_rows())  # type: ignore[operator]
    text = tm27(rows) if kind == "xml" else "\n".join(f"{w},{v}" for w, v in rows)
    path = write(tmp_path / f"lamp.{kind}", text)
    with pytest.raises(BadInput, match=message):
        find_light(str(path))


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (tm27(led_rows()).replace("</Header>", ""), "not well-formed XML"),
        (tm27(led_rows()).replace("0.", "x.", 3), "not a usable IES TM-27-14"),
        (HEAD.replace("?>", '?><!DOCTYPE a [<!ENTITY b "c">]>'), "entities"),
        (HEAD + "</IESTM2714>", "holds 0 wavelengths|not a usable"),
        ("a lamp\nwith words only\n", "not hold two columns"),
        ('""\n""', "not hold two columns"),
        ("400,1\n410,2\na part was lost\n420,3\n", "line 3: 'a part was lost' is not"),
        ("400,1\n410,2\n420,n/a\n", "line 3"),
        ("400,1\n410,2\nthe rest was lost\n", "holds 2 wavelengths"),
        (row_of_text(",", "a,", 2), "line 3: holds 2 rows of 81 numbers.*keep one"),
        ("nm;Hall;Foyer\n400;1;2\n410;2;3\n", "holds 3 numbers in a row; keep two columns"),
        ("380;0,91;0,92\n390;0,91;0,92\n", "holds 3 numbers in a row"),
        ("380 0,91 0,92 1e-3\n", "holds 4 numbers in a row"),
        ("# measured 12 3 2026\nin the hall\n", "not hold two columns"),
        ("measured 12 3 2026\n", "not hold two columns"),
        ("0.001,1\n0.002,1\n0.003,1\n0.004,1\n", "not wavelengths in nm"),
        ("", "empty"),
    ],
)
def test_files_that_are_no_lamp(content: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=message):
        find_light(str(write(tmp_path / "lamp.xml", content)))


def test_ultraviolet_is_what_it_was_before_noise_was_added() -> None:
    """The lamp is two Gaussian curves, so its ultraviolet is known; 95 % of ranges hold it."""
    nm = np.arange(350.0, 801.0)
    true = np.exp(-0.5 * ((nm - 452) / 14) ** 2) + np.exp(-0.5 * ((nm - 570) / 50) ** 2)
    expected = light_quality(lamp("true", nm, true, "")).ultraviolet
    random = np.random.default_rng(5)
    held = []
    for _ in range(100):
        noisy = lamp("noisy", nm, true + 0.001 * random.standard_normal(nm.size), "")
        found = ultraviolet_per_lumen(noisy)[0]
        held.append(abs(found - expected) <= ultraviolet_noise(noisy))
    assert sum(held) >= 90
    assert ultraviolet_noise(noisy) < 0.5
    assert re.fullmatch(r"at least [01]\.\d ± 0\.\d", ultraviolet_words(light_quality(noisy)))


@pytest.mark.parametrize("step", [1, 5, 10])
def test_the_shape_of_a_spectrum_is_not_called_noise(step: int) -> None:
    """CIE's tables hold none, nor do mercury's lines (at 334, 365, 405, 436 nm) by themselves."""
    nm = np.arange(310.0, 781.0, step)
    lines = [(334, 0.02), (365, 0.1), (405, 0.4), (436, 0.8), (546, 1.0)]
    mercury = sum(h * np.exp(-0.5 * ((nm - at) / (1 + step / 2)) ** 2) for at, h in lines)
    for power in (mercury, *(find_light(name).power[::step] for name in ("D65", "A"))):
        assert ultraviolet_noise(lamp("exact", nm, power, "")) == 0
    noisy = mercury + 0.001 * np.random.default_rng(8).standard_normal(nm.size)
    assert 0 < lamp("noisy", nm, noisy, "").noise < 4 * 0.001 * step**0.5


def test_remarks_on_short_and_coarse_lamps(tmp_path: Path) -> None:
    rows = [row for row in led_rows()[::3] if 395 <= row[0] <= 710]
    path = write(tmp_path / "lamp.csv", "\n".join(f"{w},{v}" for w, v in rows))
    remarks = find_light(str(path)).remarks
    assert any("395 to 710 nm" in remark for remark in remarks)
    assert any("every 15 nm" in remark for remark in remarks)


def test_mixtures_and_glazings(tmp_path: Path) -> None:
    lamp = two_columns(tmp_path / "lamp.csv")
    mixture = find_light(f"25%D65+75%{lamp}")
    expected = 0.25 * white_point("D65") + 0.75 * white_point("LED-B3")
    np.testing.assert_allclose(white_point(mixture), expected, atol=1e-6)
    for glazing in glazing_names():
        behind = find_light("D65", glazing)
        assert light_quality(behind).ultraviolet < light_quality(find_light("D65")).ultraviolet
        # Glass barely changes the colour of what is seen through it.
        np.testing.assert_allclose(white_point(behind), white_point("D65"), atol=1.5)
    own = write(tmp_path / "film.csv", "nm;percent\n380;0\n400;50\n420;90\n780;90\n")
    assert find_light("D65", str(own)).name == "D65 behind film"


@pytest.mark.parametrize(
    ("spec", "glazing", "message"),
    [
        ("D51", None, "names like it: D50, D55"),
        ("hall.csv", None, "no such file"),
        ("daylight-900K", None, "outside the series"),
        ("70%D65+A", None, "write a mixture"),
        ("0%D65+10%A", None, "positive"),
        ("D50", "window-glas", "did you mean window-glass"),
    ],
)
def test_lights_that_are_not_known(spec: str, glazing: str | None, message: str) -> None:
    with pytest.raises(BadInput, match=message):
        find_light(spec, glazing)


def test_a_lamps_file_that_has_changed_is_read_anew(tmp_path: Path) -> None:
    path = tmp_path / "hall.csv"
    nm = np.arange(380, 781, 5)
    before = []
    for power in (nm, 1200 - nm):
        np.savetxt(path, np.column_stack([nm, power]), "%g", ",")
        found = [white_point(find_light(one))[0] for one in (str(path), f"50%{path}+50%A")]
        assert all(one != other for one, other in zip(found, before, strict=False))
        before = found


def test_a_light_counts_once_and_two_of_one_name_are_refused(tmp_path: Path) -> None:
    assert [one.name for one in find_lights(["A", "D50", "a"], "window-glass")] == [
        "A behind window-glass",
        "D50 behind window-glass",
    ]
    rising, falling = tmp_path / "one" / "hall.csv", tmp_path / "two" / "hall.csv"
    for path, step in ((rising, 1), (falling, -1)):
        path.parent.mkdir()
        powers = list(range(380, 731, 10))[::step]
        rows = [f"{nm},{power}" for nm, power in zip(range(380, 731, 10), powers, strict=True)]
        path.write_text("\n".join(rows), encoding="utf-8")
    assert len(find_lights([str(rising), str(rising)])) == 1
    with pytest.raises(BadInput, match="two lights are called 'hall'"):
        find_lights([str(rising), str(falling)])
