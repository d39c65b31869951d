"""What to do next, case by case, as a careful print-maker would: common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from greyscale.analysis.what_next import (
    CORRECT,
    MEASURE,
    NOTHING,
    PRINT_CHART,
    PRINT_PROOF,
    PROVE,
    RECHECK,
    ROUND,
    SAY_HOW,
    WAIT,
    Drift,
    Figures,
    InForce,
    Measured,
    Next,
    Printed,
    Proof,
    Recheck,
    Standing,
    what_next,
)

NOW = datetime(2026, 5, 4, 9, 0)
WEEK = timedelta(weeks=1)
TINTED = Measured(1, "start", NOW - 3 * WEEK, "start.txt", figures=Figures(1.6, 2.7, 0.7, 1.63))
NEUTRAL = replace(TINTED, figures=Figures(0.4, 0.9, 0.6, 1.63))
TONE_OFF = replace(TINTED, figures=Figures(0.4, 0.9, 4.0, 1.63))
PRINTED = Measured(4, "proof", NOW - WEEK, "proof.txt", through=3)
MADE = InForce(3, "Harbour light", 1, NOW - 2 * WEEK)
PROVED = replace(MADE, proof=Proof(PRINTED, True, False, True))
CHANGED = Drift("changed", NOW - WEEK, delta_Ch=0.8)
"""A change that is noticed, after the correction was made."""


def standing(*uncorrected: Measured, latest: Measured | None = None, **known) -> Standing:
    last = latest or (uncorrected[-1] if uncorrected else None)
    return Standing(
        latest=last, uncorrected=uncorrected, printer="six-ink", paper="cotton rag", **known
    )


def doubted(*about: str) -> InForce:
    return replace(MADE, proof=Proof(PRINTED, False, False, None, about))


CASES = {
    "nothing measured yet": (standing(), Next(PRINT_CHART)),
    "tinted": (standing(TINTED), Next(CORRECT, (TINTED,))),
    "its tone off, neutral": (standing(TONE_OFF), Next(CORRECT, (TONE_OFF,))),
    "without a ramp": (standing(replace(TINTED, figures=None)), Next(PRINT_CHART)),
    "good as it is": (standing(NEUTRAL), Next(NOTHING, not_before=NOW + WEEK)),
    "good, and long ago": (
        standing(replace(NEUTRAL, moment=NOW - 5 * WEEK)),
        Next(RECHECK, not_before=NOW - WEEK),
    ),
    "nobody said how it was printed": (
        standing(latest=replace(TINTED, stated=False)),
        Next(SAY_HOW, (replace(TINTED, stated=False),)),
    ),
    "changed before it was ever corrected": (
        standing(
            replace(TINTED, moment=NOW - 2 * WEEK), replace(TINTED, moment=NOW), drift=CHANGED
        ),
        Next(CORRECT, (replace(TINTED, moment=NOW),)),
    ),
    "corrected, no print through it": (standing(TINTED, correction=MADE), Next(PRINT_PROOF)),
    "corrected, printed, not judged": (
        standing(TINTED, latest=PRINTED, correction=replace(MADE, unproved=PRINTED)),
        Next(PROVE, (PRINTED,)),
    ),
    "proved": (
        standing(TINTED, latest=PRINTED, correction=PROVED),
        Next(NOTHING, not_before=NOW + 3 * WEEK),
    ),
    "proved, by its own drift due sooner": (
        standing(TINTED, latest=PRINTED, correction=PROVED, recheck=Recheck(1, True)),
        Next(RECHECK, not_before=NOW),
    ),
    "misses its tolerance, more to gain": (
        standing(TINTED, correction=replace(MADE, proof=Proof(PRINTED, False, True, True))),
        Next(ROUND, (PRINTED,)),
    ),
    "in doubt what was printed": (
        standing(TINTED, correction=doubted("proof", "reading")),
        Next(PRINT_PROOF),
    ),
    "in doubt whether the printer is as it was": (
        standing(TINTED, correction=doubted("printer")),
        Next(PRINT_PROOF),
    ),
    "in doubt how it was measured": (
        standing(TINTED, correction=doubted("reading")),
        Next(MEASURE, (PRINTED,)),
    ),
    "misses its tolerance, no more to gain": (
        standing(TINTED, correction=replace(MADE, proof=Proof(PRINTED, False, False, True))),
        Next(NOTHING, not_before=NOW + 3 * WEEK),
    ),
    "drifted since the correction": (
        standing(TINTED, latest=PRINTED, correction=PROVED, drift=CHANGED),
        Next(PRINT_CHART, because_of_drift=True),
    ),
    "drifted, and measured since without it": (
        standing(replace(TINTED, moment=NOW), correction=PROVED, drift=CHANGED),
        Next(CORRECT, (replace(TINTED, moment=NOW),), because_of_drift=True),
    ),
    "changed by less than is noticed": (
        standing(latest=PRINTED, correction=PROVED, drift=replace(CHANGED, delta_Ch=0.4)),
        Next(NOTHING, not_before=NOW + 3 * WEEK),
    ),
    "its tone drifted": (
        standing(latest=PRINTED, correction=PROVED, drift=replace(CHANGED, delta_Ch=0, delta_L=-1)),
        Next(PRINT_CHART, because_of_drift=True),
    ),
    "drifted before the correction, which knows": (
        standing(
            TINTED, latest=PRINTED, correction=PROVED, drift=replace(CHANGED, since=NOW - 4 * WEEK)
        ),
        Next(NOTHING, not_before=NOW + 3 * WEEK),
    ),
    "a chart that dries": (
        standing(TINTED, printed=Printed(5, "chart", NOW - timedelta(hours=1))),
        Next(WAIT, not_before=NOW + timedelta(hours=23)),
    ),
    "a chart on paper that dries sooner": (
        standing(
            TINTED,
            printed=Printed(5, "chart", NOW - timedelta(hours=1), None, timedelta(hours=2.5)),
        ),
        Next(WAIT, not_before=NOW + timedelta(hours=1.5)),
    ),
    "a chart that is dry": (
        standing(TINTED, printed=Printed(5, "chart", NOW - timedelta(days=2))),
        Next(MEASURE, not_before=NOW - timedelta(days=1)),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_what_is_next(case):
    known, wanted = CASES[case]
    assert what_next(known, NOW) == wanted


def test_the_states():
    states = [
        Drift("too few"),
        Drift("steady"),
        Drift("once"),
        CHANGED,
        replace(CHANGED, delta_Ch=0),
    ]
    assert [one.state for one in states] == [
        "too few readings", "steady", "steady", "drifting", "changed a little",
    ]  # fmt: skip
