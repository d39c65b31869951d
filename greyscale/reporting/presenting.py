"""How results show themselves in Python and in notebooks; see `greyscale.base.results`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.comparison import Comparison
from greyscale.analysis.drying import Drying
from greyscale.base.plain_text import fixed, signed
from greyscale.base.results import plain
from greyscale.checks.finding import CheckResult
from greyscale.correction.as_json import to_json
from greyscale.correction.record import Correction
from greyscale.correction.settings import Settings
from greyscale.correction.verify import Verification
from greyscale.readings.reading import Reading
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.check_report import check_data, check_report
from greyscale.reporting.comparison_report import comparison_data, comparison_report
from greyscale.reporting.correction_report import correction_report
from greyscale.reporting.drying_report import drying_data, drying_report
from greyscale.reporting.html import html as page_of
from greyscale.reporting.json_output import Data, analysis_data
from greyscale.reporting.page import Report, Section, Table
from greyscale.reporting.settings_report import settings_data, settings_report
from greyscale.reporting.verification_report import verification_data, verification_report

_LINES = 3
_HEIGHT = 640
_LEVELS = 101


@dataclass(frozen=True)
class Kind:
    """How one kind of result is shown; a further kind is one more of these in `KINDS`.

    Attributes
    ----------
    rows
        Its table, an object a line, or the key that this has in the data.
    """

    report: Callable[[Any], Report]
    data: Callable[[Any], Data]
    rows: Callable[[Any], list[Data]] | str


def text(result: Any) -> str:
    """Return the name of a result and the sentences that matter, a few lines."""
    made = report(result)
    lead = (f"  {one}" for one in made.sentences[:_LINES])
    return "\n".join((f"{type(result).__name__}: {made.title}", *lead))


def html(result: Any) -> str:
    """Return a result's report in a frame, so that no style of the page around it interferes."""
    made = report(result)
    return (
        f'<iframe title="{escape(made.title)}" srcdoc="{escape(page_of(made))}" '
        f'style="width: 100%; height: {_HEIGHT}px; border: 0"></iframe>'
    )


def report(result: Any) -> Report:
    """Return a result's report, or that of several analyses; TypeError where there is none."""
    if type(result) in KINDS:
        return KINDS[type(result)].report(result)
    if isinstance(result, Sequence) and {type(one) for one in result} == {Analysis}:
        return analysis_report(result)
    raise TypeError(f"there is no report of {type(result).__name__}")


def data(result: Any) -> Data:
    """Return plain data: the same as the result's JSON."""
    found: Data = plain(KINDS[type(result)].data(result))
    return found


def rows(result: Any) -> list[Data]:
    """Return the result's table, an object a line."""
    kind = KINDS[type(result)]
    return list(kind.data(result)[kind.rows]) if isinstance(kind.rows, str) else kind.rows(result)


def _by_paper_and_light(result: Comparison) -> list[Data]:
    return [
        {**{key: value for key, value in paper.items() if key != "by_light"}, "light": light, **of}
        for paper in comparison_data(result)["papers"]
        for light, of in paper["by_light"].items()
    ]


def _sent(result: Correction) -> list[Data]:
    """Return what is sent and predicted, for levels in steps of 0.01."""
    level = np.linspace(0.0, 1.0, _LEVELS)
    sent = result.curve.apply(np.repeat(level[:, np.newaxis], 3, axis=1))
    names = ("level", "R", "G", "B", "L", "a", "b")
    table = np.column_stack([level, sent, result.curve.predict(level)])
    return [dict(zip(names, line, strict=True)) for line in table.tolist()]


def _reading_report(result: Reading) -> Report:
    held = "spectra" if result.spectral else "CIELAB only"
    known = (f"{len(result)} patches", held, result.condition, result.printer, result.paper)
    sentences = (f"{', '.join(str(one) for one in known if one)}.", *result.remarks)
    cells = tuple(
        (line["id"], *(fixed(line[name], 3) for name in "RGB"), fixed(line["L"]),
         signed(line["a"]), signed(line["b"]))
        for line in _reading_data(result)["patches"]
    )  # fmt: skip
    table = Table(("patch", "R", "G", "B", "L*", "a*", "b*"), cells, words=frozenset({0}))
    return Report("Reading", result.name, sentences, (Section("Patches", (table,)),))


def _reading_data(result: Reading) -> Data:
    names = ("id", "R", "G", "B", "L", "a", "b")
    table = np.column_stack([result.device, result.lab]).tolist()
    facts = ("name", "source", "printer", "paper", "settings", "condition", "backing", "observer")
    return {
        **{name: getattr(result, name) for name in facts},
        "patches": [
            dict(zip(names, (one, *line), strict=True))
            for one, line in zip(result.ids, table, strict=True)
        ],
        "wavelengths": None if result.wavelengths is None else result.wavelengths.tolist(),
        "spectra": None if result.spectra is None else result.spectra.tolist(),
        "remarks": list(result.remarks),
    }


def _reading_rows(result: Reading) -> list[Data]:
    """Return a line for each patch; the spectra in columns named by their nanometres."""
    found = _reading_data(result)
    spectra = found["spectra"] or [[]] * len(result)
    nm = [f"{one:g} nm" for one in found["wavelengths"] or ()]
    return [
        {**line, **dict(zip(nm, spectrum, strict=True))}
        for line, spectrum in zip(found["patches"], spectra, strict=True)
    ]


KINDS: Mapping[type, Kind] = {
    Reading: Kind(_reading_report, _reading_data, _reading_rows),
    CheckResult: Kind(check_report, check_data, "findings"),
    Analysis: Kind(lambda one: analysis_report([one]), analysis_data, "patches"),
    Comparison: Kind(comparison_report, comparison_data, _by_paper_and_light),
    Settings: Kind(settings_report, settings_data, "settings"),
    Correction: Kind(lambda one: correction_report(one, None), to_json, _sent),
    Verification: Kind(verification_report, verification_data, "patches"),
    Drying: Kind(drying_report, drying_data, "tones"),
}
"""Every kind of result, and how it is shown."""
