"""A trend in words, tables, JSON and pictures: the verdict first, true to the numbers."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import combinations

import numpy as np
import pytest
from matplotlib.text import Text
from rich.console import Console
from support.logged import reading

from greyscale.analysis.analyse import analyse
from greyscale.analysis.control_chart import control_chart
from greyscale.analysis.trend import DatedAnalysis, trend
from greyscale.reporting.figures.over_time import ControlCharts, control_charts, movement_by_tone
from greyscale.reporting.html import html
from greyscale.reporting.page import pictures
from greyscale.reporting.style import LIGHT, applied, narrow
from greyscale.reporting.terminal import show_report
from greyscale.reporting.trend_report import (
    NAMES,
    Remark,
    ShownTrend,
    trend_data,
    trend_report,
    trend_sentences,
)

FIRST = datetime(2026, 3, 4, 10, 30)
CALM = [0.0, 0.4, -0.4, 0.3, -0.5, 0.2, -0.1]
HOSTILE = "<script>document.title='owned'</script> $\\frac{x}$ {{ 7 * 7 }} \"quoted\" & " + "x" * 60


def shown(count, *, changes=None, baseline=None, **about):
    """A trend of so many weeks; `changes` gives what `reading` moves, by week."""
    dated = [
        DatedAnalysis(
            week + 1,
            FIRST + timedelta(weeks=week),
            analyse(reading(week, **(changes or {}).get(week, {})), lights=()),
        )
        for week in range(count)
    ]
    known = {
        "printer": "six-ink, studio", "paper": "cotton rag", "inks": None, "settings": None,
        "condition": "M1", "backing": "white", "observer": "2", "correction": None,
    }  # fmt: skip
    return ShownTrend(trend=trend(dated, baseline), **{**known, **about})


def from_week(first, count, **moved):
    return dict.fromkeys(range(first, count), moved)


@pytest.fixture(scope="module")
def changed():
    note = Remark(9, FIRST + timedelta(weeks=6, days=-1), "New yellow ink")
    return shown(9, changes=from_week(6, 9, b=1.8), notes=(note,))


def test_nothing_changed():
    text = " ".join(trend_sentences(shown(8)))
    assert text.startswith("No new correction is needed: the latest reading differs by less than")
    assert "Nothing has changed: all 8 readings since 4 March 2026 vary as sheets" in text
    assert "The limits come from 8 readings; from about 20 they are firm." in text


def test_a_change_its_size_its_cause_and_what_to_do(changed):
    decision, first, *rest = trend_sentences(changed)
    assert decision.startswith("A new correction is worth it: the print has changed by more than")
    assert first.startswith("The print has changed since the reading of 15 April 2026 (entry 7): ")
    assert re.search(r"mean Δb\* is [\d.]+, above its limit of", first)
    text = " ".join(rest)
    assert "towards yellowish" in text
    assert "Noted at that time: 'New yellow ink' (14 April 2026)." in text


def test_a_note_of_another_time_is_no_cause():
    note = Remark(9, FIRST + timedelta(weeks=2), "New black ink")
    found = trend_sentences(shown(9, changes=from_week(6, 9, b=1.8), notes=(note,)))
    assert "New black ink" not in " ".join(found)


def test_a_change_in_the_latest_reading_alone_is_to_be_confirmed():
    text = " ".join(trend_sentences(shown(10, changes={9: {"a": 3.0}})))
    assert text.startswith("Print and measure the chart once more before you correct: so far only")
    assert "since the reading of 6 May 2026 (entry 10)" in text


def test_a_change_of_the_paper_is_called_that():
    found = shown(12, changes=from_week(8, 12, paper_b=2.0))
    text = " ".join(trend_sentences(found))
    assert re.search(r"moved by L\* [−+\d.]+, a\* [−+\d.]+, b\* \+(1\.[89]|2\.[012])", text)
    assert "another batch" in text


@pytest.mark.parametrize(
    ("signalled", "subject"),
    [
        (("paper_a", "paper_b"), "The paper white"),
        (("black_L",), "The black"),
        (("paper_b", "mean_delta_b"), "The print"),
    ],
)
def test_what_changed_is_named(signalled, subject):
    found = shown(8)
    charts = dict.fromkeys(signalled, control_chart([*CALM, 3.0], baseline=len(CALM)))
    made = replace(found.trend, verdict="changed", signalled=signalled, since=7, charts=charts)
    assert trend_sentences(replace(found, trend=made))[1].startswith(f"{subject} has changed since")


def test_one_that_stands_out_among_others():
    text = " ".join(trend_sentences(shown(12, changes={4: {"b": 4.0}})))
    assert text.startswith("No new correction is needed")
    assert "It is now as it was since 4 March 2026, but the reading of 1 April" in text
    assert "misread, or another sheet?" in text


def test_a_slow_drift():
    rising = {week: {"b": 0.35 * week} for week in range(10)}
    assert "has changed since" in trend_sentences(shown(10, changes=rising))[1]


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ([*CALM, 3.0], "mean Δb* is 3.00, above its limit of 1.6"),
        ([*CALM, -3.0], "mean Δb* is −3.00, below its limit of −1.6"),
        ([*CALM, 3.0, 1.2], "mean Δb* went above its limit of 1.6"),
        ([*CALM, *[0.2, 0.3] * 4], "mean Δb* has been above its centre of −0.01 for 8 readings"),
        ([*CALM, *np.linspace(-0.4, 1.2, 8)], "mean Δb* has risen for 8 readings, to 1.20"),
        ([*CALM, *np.linspace(0.4, -1.2, 8)], "mean Δb* has fallen for 8 readings, to −1.20"),
    ],
)
def test_every_kind_of_change_is_called_what_it_is(values, says):
    found = shown(len(values))
    charts = {"mean_delta_b": control_chart(values, baseline=len(CALM))}
    made = replace(
        found.trend, verdict="changed", signalled=("mean_delta_b",), since=len(CALM), charts=charts
    )
    assert says in trend_sentences(replace(found, trend=made))[1]


def test_few_readings_promise_nothing():
    (one,) = trend_sentences(shown(1))
    assert one == "There is one reading, of 4 March 2026: nothing to compare it with yet."
    few = trend_sentences(shown(3))
    assert few[0].startswith("No new correction is needed: the latest reading differs by less")
    assert few[1] == "With 3 readings a change cannot be told from chance; from 5 on it can."
    assert not any("limits" in sentence for sentence in few)


def test_prints_through_a_correction_say_whether_they_keep_their_grade():
    text = " ".join(trend_sentences(shown(6, correction="Harbour light")))
    assert "Printed through 'Harbour light', the latest is within the exhibition tolerance" in text


@pytest.mark.parametrize("count", [1, 2, 4, 9, 25])
def test_any_number_of_readings_can_be_shown(count, tmp_path):
    found = shown(count)
    console = Console(record=True, width=100, file=(tmp_path / "out").open("w", encoding="utf-8"))
    show_report(trend_report(found), console, every=True)
    text = console.export_text()
    assert trend_sentences(found)[0].split(":")[0] in " ".join(text.split())
    assert "Every reading" in text
    data = json.loads(json.dumps(trend_data(found), default=np.ndarray.tolist))
    assert len(data["readings"]) == count
    page = trend_report(found)
    assert page.lead[0] == trend_sentences(found)[0]
    assert len(list(pictures(page.sections))) == (0 if count == 1 else 4)


@pytest.mark.parametrize("look", [LIGHT, narrow(LIGHT)], ids=["wide", "phone"])
def test_no_word_runs_out_of_the_frame_or_over_another(changed, look):
    charts = changed.trend.charts
    drawn = ControlCharts(
        charts=[(NAMES[key], charts[key]) for key in ("mean_delta_Ch", "mean_delta_b", "paper_b")],
        days=[f"{one.moment:%Y-%m-%d}" for one in changed.trend.readings],
        since=changed.trend.since,
        notes=[(5.5, "10")],
    )
    for draw in (
        lambda: control_charts(drawn, look),
        lambda: movement_by_tone(changed.trend.moved, look),
    ):
        with applied(look):
            figure = draw()
            figure.draw_without_rendering()
        boxes = [
            (text.get_text(), text.get_window_extent())
            for text in figure.findobj(Text)
            if text.get_visible() and re.search(r"[^\W\d_]|\d{4}-", text.get_text())
        ]
        width, height = figure.bbox.width, figure.bbox.height
        for name, box in boxes:
            assert -1 <= box.x0 <= box.x1 <= width + 1, name
            assert -1 <= box.y0 <= box.y1 <= height + 1, name
        for (one, first), (other, second) in combinations(boxes, 2):
            assert not first.overlaps(second), (one, other)


def test_rings_mark_what_lies_beyond_and_nothing_else(changed):
    chart = changed.trend.charts["mean_delta_b"]
    drawn = ControlCharts([("mean Δb*", chart)], [""] * 9, changed.trend.since)
    values = control_charts(drawn).axes[0]
    (rings,) = (one for one in values.lines if one.get_markerfacecolor() == "none")
    beyond = np.flatnonzero((chart.values > chart.upper) | (chart.values < chart.lower))
    assert rings.get_xdata().tolist() == beyond.tolist()
    np.testing.assert_array_equal(rings.get_ydata(), chart.values[beyond])


@pytest.mark.usefixtures("undrawn")
def test_hostile_names_are_shown_as_they_stand():
    note = Remark(9, FIRST + timedelta(weeks=6, days=-1), HOSTILE)
    changes = {week: {"name": HOSTILE, "instrument": HOSTILE} for week in range(9)}
    about = dict.fromkeys(
        ("printer", "paper", "inks", "settings", "condition", "backing", "correction"), HOSTILE
    )
    found = shown(9, changes=changes, notes=(note,), remarks=(HOSTILE,), **about)
    page = html(replace(trend_report(found), command=HOSTILE))
    assert "<script>document" not in page
    assert "&lt;script&gt;document" in page
    assert "{{ 7 * 7 }}" in page


def test_every_picture_says_in_words_what_it_shows(changed):
    drawn = {one.name: one for one in pictures(trend_report(changed).sections)}
    assert set(drawn) == {"movement", "neutrality", "tone", "paper-black"}
    assert "Control charts of 9 readings." in drawn["neutrality"].alt
    assert re.search(
        r"mean Δb\*: latest [\d.]+, limits [−\d.]+ to [−\d.]+, beyond a limit",
        drawn["neutrality"].alt,
    )
