"""The pictures of a trend, with what a reader must know of each."""

from __future__ import annotations

from collections.abc import Sequence

from greyscale.analysis.control_chart import BEYOND
from greyscale.analysis.trend import Movement
from greyscale.reporting.figures.control_charts import ControlCharts, control_charts
from greyscale.reporting.figures.movement import movement_by_tone
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.page import Picture
from greyscale.reporting.trend_subject import NAMES, ShownTrend
from greyscale.reporting.trend_table import standing

NEUTRALITY = ("mean_delta_Ch", "mean_delta_a", "mean_delta_b")
TONE = ("mean_delta_L", "rms_delta_L")
ENDS = ("paper_L", "paper_a", "paper_b", "black_L")

_HOW_TO_READ = (
    "One dot for each reading, below it its distance from the one before. The thick line is the "
    "mean, the grey band lies between the control limits; a ring marks what is beyond."
)


def charts_picture(shown: ShownTrend, keys: Sequence[str], name: str) -> Picture:
    """Show some of the numbers over time."""
    trend = shown.trend
    drawn = ControlCharts(
        charts=[(NAMES[key], trend.charts[key]) for key in keys],
        days=[f"{one.moment:%Y-%m-%d}" for one in trend.readings],
        since=trend.since,
        notes=_places(shown),
    )
    caption = [_HOW_TO_READ]
    if trend.since is not None:
        caption.append("The dotted line is where the change shows.")
    if drawn.notes:
        caption.append("Numbered lines are notes, listed below.")
    return Picture(
        lambda look: control_charts(drawn, look),
        name,
        alt=f"Control charts of {len(trend.readings)} readings. " + _in_words(shown, keys),
        caption=" ".join(caption),
    )


def movement_picture(moved: Movement) -> Picture:
    """Show which tones have moved."""
    return Picture(
        lambda look: movement_by_tone(moved, look),
        "movement",
        alt=f"Change of a*, b* and L* from black to paper: largest ΔCh {fixed(moved.max_delta_Ch)} "
        f"at level {fixed(moved.max_at_level)}, mean ΔL* {signed(moved.mean_delta_L)}.",
        caption="The latest print against those before, both as differences from the aim: what a "
        "correction made before is off by now.",
    )


def _in_words(shown: ShownTrend, keys: Sequence[str]) -> str:
    charts = shown.trend.charts
    return " ".join(
        f"{NAMES[key]}: latest {fixed(float(charts[key].values[-1]))}, limits "
        f"{fixed(charts[key].lower)} to {fixed(charts[key].upper)}, {standing(charts[key])}; "
        f"{sum(s.last - s.first + 1 for s in charts[key].signals if s.rule == BEYOND)} beyond."
        for key in keys
    )


def _places(shown: ShownTrend) -> list[tuple[float, str]]:
    """Give where each note belongs between the readings, and its number."""
    moments = [one.moment for one in shown.trend.readings]
    return [
        (sum(moment <= note.moment for moment in moments) - 0.5, str(note.number))
        for note in shown.notes
    ]
