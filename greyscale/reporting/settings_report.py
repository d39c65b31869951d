"""Settings of a driver in words, as JSON, and as a report."""

from __future__ import annotations

from functools import partial

from greyscale.base.plain_text import fixed, joined, rank_word
from greyscale.base.rests_on import support_data
from greyscale.base.results import json_text
from greyscale.correction.settings import (
    PER_BLACK,
    PER_BUMP,
    PER_LEFT,
    PER_REVERSAL,
    PER_SHADOW,
    Setting,
    Settings,
)
from greyscale.reporting.analysis_report import named_strip
from greyscale.reporting.analysis_words import response_sentences
from greyscale.reporting.figures.papers import settings_tones
from greyscale.reporting.json_output import Data, picked
from greyscale.reporting.next_step import after_settings
from greyscale.reporting.page import CAUTIONS, Picture, Prose, Report, Section, Table
from greyscale.reporting.style import SIMULATED

_WORTH_SAYING = 0.4  # A difference in cost that is named as a reason.
_SCORE = (
    f"The score adds up what each fault costs, lower being better: {PER_BLACK:g} for each unit "
    f"of L* that black is lighter than the darkest setting's, {PER_SHADOW:g} times the level "
    f"up to which shadows are not distinct from black, {PER_REVERSAL:g} for each reversal, "
    f"{PER_LEFT:g} for each unit that a correction leaves of mean ΔCh and ΔL* (the root of their "
    "squares' sum), "
    f"{PER_BUMP:g} for each unit of roughness (common practice, no source)."
)
_HEAD = (
    "setting", "rank", "score", "Dmax", "shadows distinct from", "reversals", "answer",
    "mean ΔCh left", "mean ΔL* left", "roughness",
)  # fmt: skip


def settings_sentences(settings: Settings) -> tuple[str, ...]:
    """Say which is best and why, then what is wrong with each."""
    first, second = settings.settings[:2]
    if first.tied:
        alike = joined([one.name for one in settings.settings if one.rank == 1])
        lead = f"{alike} are equally good"
        others = [one for one in settings.settings if one.rank > 1]
        lead += f"; better than {others[0].name}: {_why(first, others[0])}." if others else "."
    else:
        lead = f"Take {first.name} rather than {second.name}: {_why(first, second)}."
    return (lead, *(text for one in settings.settings for text in _faults(one)))


def _why(better: Setting, other: Setting) -> str:
    """Name the figures that speak for a setting against another, the weightiest first."""
    each = {
        "black": f"Dmax {fixed(better.dmax)} against {fixed(other.dmax)}",
        "shadow": f"shadows are distinct from black from level {fixed(better.shadow)} against "
        f"{fixed(other.shadow)}",
        "reversals": f"{_reversals(better)} against {other.reversals or 'none'}",
        "left": f"a correction would leave a mean ΔCh of {fixed(better.left_Ch)} and ΔL* of "
        f"{fixed(better.left_L)} against {fixed(other.left_Ch)} and {fixed(other.left_L)}",
        "roughness": "a smoother tone scale",
    }
    gains = {name: other.costs[name] - cost for name, cost in better.costs.items()}
    named = [name for name in sorted(gains, key=lambda n: -gains[n]) if gains[name] > _WORTH_SAYING]
    said = joined([each[name] for name in named[:3]]) or "by a little in each figure"
    against = [name for name in gains if gains[name] < -_WORTH_SAYING]
    if against:
        said += f"; but {joined([_against(name, better, other) for name in against])}"
    return said


def _against(name: str, better: Setting, other: Setting) -> str:
    return {
        "black": f"Dmax {fixed(better.dmax)} where {other.name} has {fixed(other.dmax)}",
        "shadow": f"shadows are distinct from black only from level {fixed(better.shadow)}",
        "reversals": _reversals(better),
        "left": f"a correction would leave a mean ΔCh of {fixed(better.left_Ch)} and ΔL* of "
        f"{fixed(better.left_L)}, not {fixed(other.left_Ch)} and {fixed(other.left_L)}",
        "roughness": "a rougher tone scale",
    }[name]


def _reversals(one: Setting) -> str:
    return {0: "no reversal", 1: "1 reversal"}.get(one.reversals, f"{one.reversals} reversals")


def _faults(one: Setting) -> tuple[str, ...]:
    found = [f"{one.name}: {text}" for text in response_sentences(one.analysis.response)]
    if one.hindrance is not None:
        found.append(f"{one.name} cannot be corrected from this strip: {one.hindrance}.")
    elif not one.written:
        found.append(f"{one.name}: a correction would be no better than the print as it is.")
    return tuple(found)


def settings_data(settings: Settings) -> Data:
    """Return settings as plain data, the best first."""
    return {
        "schema": "greyscale/settings/1",
        "settings": [_setting_data(one) for one in settings.settings],
        "summary": " ".join(settings_sentences(settings)),
        "remarks": list(settings.remarks),
        "rests_on": support_data(settings.rests_on),
    }


def _setting_data(one: Setting) -> Data:
    analysis, left = one.analysis, one.left
    return {
        **picked(
            one, "name", "source", "rank", "tied", "score", "costs", "dmax", "black_L",
            "reversals", "reaches_neutral", "hindrance",
        ),
        "distinct_shadow_level": one.shadow,
        "darkest_level": analysis.response.darkest_level,
        "response": analysis.response.kind,
        "smoothness": analysis.tone.smoothness,
        "mean_delta_Ch": analysis.neutrality.mean_delta_Ch,
        "rms_delta_L": analysis.tone.rms_delta_L,
        "left_mean_delta_Ch": one.left_Ch,
        "left_mean_delta_L": one.left_L,
        "unreachable_mean_delta_Ch": None if left is None else left.unreachable_mean_delta_Ch,
    }  # fmt: skip


def settings_report(settings: Settings, command: str = "") -> Report:
    """Make the report of settings."""
    best = settings.settings[0]
    tones = Picture(
        partial(settings_tones, settings),
        "settings-tones",
        alt=(
            f"L* over level of {len(settings.settings)} settings; the best, {best.name}, reaches "
            f"L* {fixed(best.black_L, 1)} and its shadows are distinct from level "
            f"{fixed(best.shadow)}."
        ),
        caption="Above, the whole scale; below, how soon tones are distinct from the darkest one: "
        "from an L* 1 above it on.",
    )
    rows = tuple(
        (
            one.name,
            rank_word(one.rank, one.tied),
            fixed(one.score, 1),
            fixed(one.dmax),
            fixed(one.shadow),
            str(one.reversals),
            one.analysis.response.kind,
            fixed(one.left_Ch),
            fixed(one.left_L),
            fixed(one.analysis.tone.smoothness),
        )
        for one in settings.settings
    )
    table = Table(
        _HEAD, rows,
        "Settings, best first; what is left is what a correction from this strip would leave",
        frozenset({0, 1, 6}), at_once=True,
    )  # fmt: skip
    strips = (named_strip(one.analysis, one.name) for one in settings.settings)
    sections = (
        Section("What each prints", (*strips, tones)),
        Section("The case for each", (table, Prose(_SCORE))),
    )
    return Report(
        "Settings of a driver", joined([one.name for one in settings.settings]),
        settings_sentences(settings), sections,
        tuple((one.name, one.source) for one in settings.settings),
        (SIMULATED, *CAUTIONS), command, settings.rests_on,
        after_settings(settings), tuple(one.source for one in settings.settings),
        lambda: {"settings.json": json_text(settings_data(settings))}, remarks=settings.remarks,
    )  # fmt: skip
