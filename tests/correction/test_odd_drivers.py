"""A correction acts upon how a driver answers, and never makes a print worse."""

from __future__ import annotations

import numpy as np
import pytest
from support.families import family
from support.odd_printers import judged, odd_printer, sheet

from greyscale.base.errors import BadInput
from greyscale.correction.charts import choose_patches
from greyscale.correction.correct import correct
from greyscale.correction.record import Options
from greyscale.reporting.correction_report import correction_sentences

KINDS = ("grey mode", "steps", "coarse", "blocked", "over-inked", "neutral already")
MEMBERS = [(kind, number) for number in (1, 3, 5, 7, 9) for kind in KINDS]


@pytest.mark.parametrize(
    "member", family(MEMBERS, (("grey mode", 9), ("over-inked", 5), ("coarse", 1)))
)
def test_a_correction_that_is_written_makes_no_print_worse(member: tuple[str, int]) -> None:
    """Judged on what the simulated printer makes of it, without noise; 0.15 is the reading's."""
    who = odd_printer(*member)
    made = correct([sheet(who, seed=3)])
    before, after = judged(who), judged(who, made)
    if made.evidence.response.tone_step:
        # Where a curve leads from one step to another is foretold: within 0.1 of a step.
        expected, near = made.expectation, 0.1 * made.evidence.response.tone_step
        assert expected.before_mean_delta_L == pytest.approx(before.mean_L, abs=near)
        assert expected.after_mean_delta_L == pytest.approx(after.mean_L, abs=near)
    if not made.helps:
        return
    assert after.error < before.error + 0.15
    if member[0] == "grey mode":
        assert made.tone_only
        assert after.mean_L < 0.2
        assert correction_sentences(made)[0].startswith("This mode answers to lightness only")
    if member[0] == "over-inked":
        darkest = who.lab(np.repeat(np.linspace(0, 1, 501)[:, np.newaxis], 3, axis=1))[:, 0].min()
        assert who.lab(made.curve.rgb[:1])[0, 0] < darkest + 0.3
        assert after.mean_L < 0.5


@pytest.mark.parametrize(("kind", "answer"), [("grey mode", "lightness only"), ("ordinary", None)])
def test_a_further_chart_is_made_only_where_it_can_help_the_tint(
    kind: str, answer: str | None
) -> None:
    first = sheet(odd_printer(kind, 1), seed=3)
    if answer is None:
        assert len(choose_patches(12, first).patches.device) == 12
        return
    with pytest.raises(BadInput, match=f"answers in {answer}, so that a further chart cannot"):
        choose_patches(12, first)


def test_no_noise_is_corrected() -> None:
    """A print that is on its aims but for less than can be known is left as it is."""
    made = correct([sheet(odd_printer("neutral already", 0), seed=0)], Options())
    assert not made.helps
