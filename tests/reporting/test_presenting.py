"""Results as Python and notebooks show them: a few lines, a report in a frame, data, a table."""

from __future__ import annotations

import builtins
import html
import json

import pytest
from support.corrections import correction_with, curve_against
from support.empty_figures import have_empty_figures

from greyscale.base.results import json_text
from greyscale.checks.finding import CheckResult, Finding
from greyscale.reporting import presenting
from greyscale.reporting.check_report import check_data
from greyscale.reporting.comparison_report import comparison_data
from greyscale.reporting.drying_report import drying_data
from greyscale.reporting.json_output import analysis_data
from greyscale.reporting.verification_report import verification_data


@pytest.fixture(scope="module")
def results(analysis, make_reading, comparison, verification, dried):
    found = [
        Finding(
            "strip read backwards",
            f"strip {name}",
            "<b>mine</b>",
            "Read it again.",
            probability=0.99,
        )
        for name in "BC"
    ]
    return {
        "reading": (make_reading(), None),
        "checkresult": (CheckResult(make_reading(), tuple(found), None), check_data),
        "analysis": (analysis, analysis_data),
        "comparison": (comparison, comparison_data),
        "correction": (correction_with(curve_against(), name="<b>mine</b>"), None),
        "verification": (verification, verification_data),
        "drying": (dried, drying_data),
    }


KINDS = ("reading", "checkresult", "analysis", "comparison", "correction", "verification", "drying")


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_a_few_lines_of_text_that_begin_with_its_kind(results, kind):
    lines = repr(results[kind][0]).splitlines()
    assert 2 <= len(lines) <= 5
    assert lines[0].lower().startswith(f"{kind}: ")
    assert "array(" not in "".join(lines)


@pytest.mark.parametrize("kind", KINDS)
def test_a_notebook_gets_the_whole_report_in_a_frame(results, kind, monkeypatch):
    have_empty_figures(monkeypatch)
    shown = results[kind][0]._repr_html_()
    start, rest = shown.split('srcdoc="')
    inside = html.unescape(rest.split('"')[0])
    assert start.startswith("<iframe ")
    assert inside.lstrip().startswith("<!doctype html>")
    assert "</html>" in inside
    assert "<b>mine</b>" not in inside


@pytest.mark.parametrize("kind", KINDS)
def test_its_data_are_those_of_its_json(results, kind):
    result, data = results[kind]
    found = result.to_dict()
    assert json.loads(json_text(found))
    if data is not None:
        assert json_text(found) == json_text(data(result))


@pytest.mark.parametrize("kind", KINDS)
def test_its_table_has_the_same_columns_in_each_line(results, kind):
    lines = presenting.rows(results[kind][0])
    assert len(lines) >= 2
    assert len({tuple(line) for line in lines}) == 1


def test_a_table_without_pandas_says_what_to_install(analysis, monkeypatch):
    usual = builtins.__import__

    def without(name, *rest):
        if name == "pandas":
            raise ModuleNotFoundError(name)
        return usual(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(ModuleNotFoundError, match="pip install pandas"):
        analysis.to_pandas()


def test_a_table_with_pandas(analysis):
    pandas = pytest.importorskip("pandas")
    table = analysis.to_pandas()
    assert isinstance(table, pandas.DataFrame)
    assert list(table["level"]) == list(analysis.patches.level)
