"""How results show themselves in Python and in notebooks; see `greyscale.base.presented`."""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatch
from html import escape
from typing import Any

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.comparison import Comparison
from greyscale.analysis.drying import Drying
from greyscale.correction.as_json import to_json
from greyscale.correction.record import Correction
from greyscale.correction.settings import Settings
from greyscale.correction.verify import Verification
from greyscale.readings.reading import Reading
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.analysis_words import verdict
from greyscale.reporting.comparison_report import comparison_data, comparison_report
from greyscale.reporting.comparison_words import comparison_sentences
from greyscale.reporting.correction_report import correction_report
from greyscale.reporting.correction_words import correction_sentences
from greyscale.reporting.drying_report import drying_data, drying_report
from greyscale.reporting.drying_words import drying_sentences
from greyscale.reporting.html import html as page_of
from greyscale.reporting.json_output import analysis_data
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.page import Report, Section, Table
from greyscale.reporting.settings_report import settings_data, settings_report, settings_sentences
from greyscale.reporting.verification_report import verification_data, verification_report
from greyscale.reporting.verification_words import verification_sentences

_LINES = 3
_HEIGHT = 640
_LEVELS = 101


def text(result: Any) -> str:
    """Return the name of a result and the sentences that matter, a few lines."""
    lead = _sentences(result)[:_LINES]
    return "\n".join((f"{type(result).__name__}: {_title(result)}", *(f"  {one}" for one in lead)))


def html(result: Any) -> str:
    """Return a result's report in a frame, so that no style of the page around it interferes."""
    page = escape(page_of(report(result)), quote=True)
    return (
        f'<iframe title="{escape(_title(result), quote=True)}" srcdoc="{page}" '
        f'style="width: 100%; height: {_HEIGHT}px; border: 0"></iframe>'
    )


@singledispatch
def _sentences(result: Any) -> tuple[str, ...]:
    raise TypeError(f"{type(result).__name__} is not shown")


@singledispatch
def _title(result: Any) -> str:
    return str(result.name)


@singledispatch
def report(result: Any) -> Report:
    """Return a result's report, of several analyses too; TypeError where there is none."""
    raise TypeError(f"there is no report of {type(result).__name__}")


@singledispatch
def data(result: Any) -> dict[str, Any]:
    """Return plain data: the same as the result's JSON."""
    raise TypeError(f"{type(result).__name__} has no plain data")


@singledispatch
def rows(result: Any) -> list[dict[str, Any]]:
    """Return the result's table, an object a line."""
    raise TypeError(f"{type(result).__name__} has no table")


@_sentences.register
def _(result: Analysis) -> tuple[str, ...]:
    return verdict([result])


@_title.register
def _(result: Analysis) -> str:
    return result.reading.name


@report.register
def _(result: Analysis) -> Report:
    return analysis_report([result])


@report.register(list)
@report.register(tuple)
def _(result: Sequence[Analysis]) -> Report:
    if not all(isinstance(one, Analysis) for one in result) or not result:
        raise TypeError(f"there is no report of {type(result).__name__}")
    return analysis_report(result)


@data.register
def _(result: Analysis) -> dict[str, Any]:
    return analysis_data(result)


@rows.register
def _(result: Analysis) -> list[dict[str, Any]]:
    return list(analysis_data(result)["patches"])


@_sentences.register
def _(result: Comparison) -> tuple[str, ...]:
    return comparison_sentences(result)


@_title.register
def _(result: Comparison) -> str:
    return f"{len(result.papers)} papers under {', '.join(result.lights)}"


@report.register
def _(result: Comparison) -> Report:
    return comparison_report(result)


@data.register
def _(result: Comparison) -> dict[str, Any]:
    return comparison_data(result)


@rows.register
def _(result: Comparison) -> list[dict[str, Any]]:
    """Return a line for each paper and light."""
    return [
        {**{key: value for key, value in paper.items() if key != "by_light"}, "light": light, **of}
        for paper in comparison_data(result)["papers"]
        for light, of in paper["by_light"].items()
    ]


@_sentences.register
def _(result: Settings) -> tuple[str, ...]:
    return settings_sentences(result)


@_title.register
def _(result: Settings) -> str:
    return f"{len(result.settings)} settings"


@report.register
def _(result: Settings) -> Report:
    return settings_report(result)


@data.register
def _(result: Settings) -> dict[str, Any]:
    return settings_data(result)


@rows.register
def _(result: Settings) -> list[dict[str, Any]]:
    return list(settings_data(result)["settings"])


@_sentences.register
def _(result: Correction) -> tuple[str, ...]:
    return correction_sentences(result)


@report.register
def _(result: Correction) -> Report:
    return correction_report(result, None)


@data.register
def _(result: Correction) -> dict[str, Any]:
    return to_json(result)


@rows.register
def _(result: Correction) -> list[dict[str, Any]]:
    """Return what is sent and predicted, for levels in steps of 0.01."""
    level = np.linspace(0.0, 1.0, _LEVELS)
    sent = result.curve.apply(np.repeat(level[:, np.newaxis], 3, axis=1))
    names = ("level", "R", "G", "B", "L", "a", "b")
    table = np.column_stack([level, sent, result.curve.predict(level)])
    return [dict(zip(names, line, strict=True)) for line in table.tolist()]


@_sentences.register
def _(result: Verification) -> tuple[str, ...]:
    return verification_sentences(result)


@_title.register
def _(result: Verification) -> str:
    return result.correction


@report.register
def _(result: Verification) -> Report:
    return verification_report(result)


@data.register
def _(result: Verification) -> dict[str, Any]:
    return verification_data(result)


@rows.register
def _(result: Verification) -> list[dict[str, Any]]:
    return list(verification_data(result)["patches"])


@_sentences.register
def _(result: Drying) -> tuple[str, ...]:
    return tuple(drying_sentences(result))


@_title.register
def _(result: Drying) -> str:
    return result.series.names[-1]


@report.register
def _(result: Drying) -> Report:
    return drying_report(result)


@data.register
def _(result: Drying) -> dict[str, Any]:
    return drying_data(result)


@rows.register
def _(result: Drying) -> list[dict[str, Any]]:
    return list(drying_data(result)["tones"])


@_sentences.register
def _(result: Reading) -> tuple[str, ...]:
    held = "spectra" if result.spectral else "CIELAB only"
    known = (f"{len(result)} patches", held, result.condition, result.printer, result.paper)
    return (f"{', '.join(str(one) for one in known if one)}.", *result.remarks)


@report.register
def _(result: Reading) -> Report:
    cells = tuple(
        (line["id"], *(fixed(line[name], 3) for name in "RGB"), fixed(line["L"]),
         signed(line["a"]), signed(line["b"]))
        for line in data(result)["patches"]
    )  # fmt: skip
    table = Table(("patch", "R", "G", "B", "L*", "a*", "b*"), cells, words=frozenset({0}))
    return Report("Reading", result.name, _sentences(result), (Section("Patches", (table,)),))


@data.register
def _(result: Reading) -> dict[str, Any]:
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


@rows.register
def _(result: Reading) -> list[dict[str, Any]]:
    """Return a line for each patch; the spectra in columns named by their nanometres."""
    found = data(result)
    spectra = found["spectra"] or [[]] * len(result)
    nm = [f"{one:g} nm" for one in found["wavelengths"] or ()]
    return [
        {**line, **dict(zip(nm, spectrum, strict=True))}
        for line, spectrum in zip(found["patches"], spectra, strict=True)
    ]
