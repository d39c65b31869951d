"""The one short sentence that stands first, and the sentences with the numbers after it."""

from __future__ import annotations

from dataclasses import dataclass

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.casts import SHOWN, to_be_named
from greyscale.checks.finding import CheckResult
from greyscale.correction.verify import Verification
from greyscale.reporting.analysis_words import sentences, without_casts
from greyscale.reporting.cast_words import hues_of
from greyscale.reporting.verification_words import verification_sentences

_SIDES = {"pass": "within", "fail": "outside"}
_PERHAPS = "perhaps within"


@dataclass(frozen=True)
class Verdict:
    """What matters, and what is behind it."""

    first: str
    after: tuple[str, ...]


def of_analysis(analysis: Analysis) -> Verdict:
    """Whether a print is neutral, and would do."""
    neutrality = analysis.neutrality
    named = to_be_named(neutrality.casts)
    if named:
        sure = [cast for cast in named if cast.verdict == SHOWN]
        casts = sure or named
        what = f"{hues_of(casts)} cast{'s' if len(casts) > 1 else ''}"
        what = what if sure else f"perhaps {what}"
    else:
        what = without_casts(analysis)
    side = _SIDES.get(analysis.verdict, _PERHAPS)
    which = ""
    if neutrality.verdict == "pass" and analysis.tone.verdict == "fail":
        which = " in tone"
    first = f"{what[:1].upper()}{what[1:]}: {side} the {neutrality.tolerance} tolerance{which}."
    return Verdict(first, (*sentences(analysis), *analysis.remarks))


def of_verification(verification: Verification) -> Verdict:
    """Whether a correction worked; a doubt about what was printed comes before all."""
    said = verification_sentences(verification)
    if verification.oddities:
        return Verdict(said[0], said[1:])
    first, _, numbers = said[0].partition(": ")
    after = verification.after
    graded = f"{first}: {_SIDES.get(after.verdict, _PERHAPS)} the {after.neutrality.tolerance}"
    return Verdict(f"{graded} tolerance.", (f"{numbers[:1].upper()}{numbers[1:]}", *said[1:]))


def misread(check: CheckResult) -> Verdict:
    """What is certainly wrong with a reading."""
    first = check.findings[0]
    more = f", and {len(check.findings) - 1} more" if len(check.findings) > 1 else ""
    return Verdict(f"Certainly misread: {first.kind}, {first.where}{more}.", check.remarks)
