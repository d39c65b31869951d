"""What to do after a result, in words and with the command: for the terminal and for reports."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import as_typed
from greyscale.reporting.page import NextStep

if TYPE_CHECKING:
    # Every command ends with its next step, and waits for no other's results to be imported.
    from greyscale.analysis.analyse import Analysis
    from greyscale.analysis.comparison import ComparedPaper, Comparison
    from greyscale.analysis.drying import Drying
    from greyscale.analysis.trend import Trend
    from greyscale.checks.finding import CheckResult
    from greyscale.correction.settings import Settings
    from greyscale.correction.verify import Verification


def _step(what: str, *commands: Sequence[Path | str]) -> NextStep:
    return NextStep(what, tuple(as_typed(*map(_shown, words)) for words in commands))


def _shown(word: Path | str) -> str:
    """What can be shown of a command's word: a name in an older encoding than UTF-8 cannot."""
    return re.sub(r".*[\ud800-\udfff].*", "READING", str(word), flags=re.DOTALL)


def _with(layout: Path | None) -> tuple[str, ...]:
    return () if layout is None else ("--layout", str(layout))


def after_analysis(analyses: Sequence[Analysis], layout: Path | None = None) -> NextStep | None:
    """Return what to do after one or more analyses: correct, read again, or keep the record."""
    sources = dict.fromkeys(file for one in analyses for file in one.reading.files)
    if len(analyses) > 1:
        from greyscale.analysis.brighteners import plain_name

        facts = [one.reading for one in analyses]
        prints = {(one.printer, one.paper, one.settings, plain_name(one.name)) for one in facts}
        if len(prints) == 1:
            # Of its conditions M1 tells most, with M2 where that was given.
            best = max(analyses, key=lambda one: one.reading.condition == "M1")
            return after_analysis([best], layout)
        proofs = any(_proof_how(one.sent_through, one.sent_otherwise) for one in facts)
        papers = {one.paper for one in facts}
        if proofs or not all(one.spectral for one in facts) or papers == {facts[0].paper or ""}:
            return None
        return _step(
            "Rank the papers for the light they will hang in", ("compare", *sources, *_with(layout))
        )
    from greyscale.analysis.followed import NOTICED_DELTA_L
    from greyscale.analysis.neutrality import CANNOT_BE_TOLD, SHOWN

    (only,) = analyses
    how = _proof_how(only.reading.sent_through, only.reading.sent_otherwise)
    if how is not None:
        return _prove(how, only.reading.source, layout)
    aims = (
        ("--aim", only.tone.aim, "lstar"),
        ("--scaling", only.tone.scaling, "linear"),
        ("--neutral", only.neutrality.aim, "fading"),
    )
    unusual = [word for option, value, usual in aims if value != usual for word in (option, value)]
    asked = [*unusual, *_with(layout), "-o", "my-correction"]
    if only.verdict == "fail" or only.tone.rms_delta_L >= NOTICED_DELTA_L:
        return _step("Make a correction", ("correct", *sources, *asked))
    if only.verdict != "pass":
        return _step(
            "Measure the chart a second time, and correct from both readings",
            ("correct", *sources, "SECOND-READING", *asked),
        )
    need = "Nothing needs to be corrected."
    if only.neutrality.no_cast_verdict != SHOWN:
        need = "It is within the tolerance, and need not be corrected to keep it."
    if only.neutrality.no_cast_verdict == CANNOT_BE_TOLD:
        need += " Whether there is a cast, a second reading of the chart would tell."
    return _step(
        f"{need} Keep it in the print log, to see when it changes",
        ("log", "add", *sources, *_with(layout)),
    )


def _proof_how(through: str | None, otherwise: bool) -> str | None:
    """Say how it is known that a reading is of a proof; None where nothing says that it is."""
    if through is not None:
        return f"It was printed through '{through}'"
    said = "Its sheet says that it was printed through a correction, unless patches are missing"
    return f"{said}, which its layout settles (--layout)" if otherwise else None


def _prove(how: str, source: Path | str, layout: Path | None = None) -> NextStep:
    return _step(
        f"{how}: prove that correction with it",
        ("verify", source, *_with(layout), "--correction", "CORRECTION"),
    )


def after_check(
    result: CheckResult, layout: Path | None = None, repaired: Path | None = None
) -> NextStep | None:
    """Return what to do with a reading that can be used, or repaired; findings say it of others."""
    from greyscale.checks.identity import sent_otherwise
    from greyscale.readings.assemble import FROM_LAYOUT, LACKING

    source, remarks = result.reading.source, " ".join(result.reading.remarks)
    how = _proof_how(result.reading.sent_through, sent_otherwise(result.reading))
    if result.clean and repaired is not None:
        # It was completed from its layout, which it needs no more.
        source, layout = str(repaired), None
    if result.clean:
        needed = layout if FROM_LAYOUT in remarks else None
        if how is not None:
            return _prove(how, source, needed)
        if result.reading.tone_alone:
            return _step(
                "Correct its tone scale", ("correct", source, *_with(needed), "-o", "my-correction")
            )
        return _step("See whether it is neutral", ("analyse", source, *_with(needed)))
    lacking = layout if LACKING in remarks else None
    if repaired is not None and how is not None:
        return _prove(how, repaired, lacking)
    if repaired is not None:
        return _step("Go on with the repaired reading", ("analyse", repaired, *_with(lacking)))
    if result.repaired is not None:
        return _step(
            "Have it put right", ("check", source, *_with(layout), "--repaired", "my-reading.txt")
        )
    return None


def after_correction(folder: Path | str, tone_alone: bool = False) -> NextStep:
    """Return how to prove a correction that is in this folder; of tone alone, how to look again."""
    if tone_alone:
        return _step(
            "Print a chart through it as you printed the first and measure it; the next round "
            "says how far off its tones still are",
            ("chart", "-o", "my-proof", "--through", folder),
            ("correct", "PROOF-READING", "--previous", folder, "-o", "my-next-round"),
        )
    return _step(
        "Prove it: print a chart through it as you printed the first, and measure it",
        ("chart", "-o", "my-proof", "--near-neutral", "--through", folder),
        ("verify", "PROOF-READING", "--correction", folder),
    )


def after_verification(
    verification: Verification, folder: Path | str, layout: Path | None = None
) -> NextStep:
    """Return what to do after a proof: settle a doubt, another round, or print pictures."""
    from greyscale.analysis.what_next import PRINTER, is_to_be_measured_again

    source = verification.after.reading.source
    prove_again = ("verify", "PROOF-READING", "--correction", folder)
    if is_to_be_measured_again(verification.doubted):
        way = as_its_readings(verification.before.reading.condition)
        return _step(f"Settle that first: measure the print again {way}", prove_again)
    if PRINTER in verification.doubted:
        return _step(
            "Settle that first. If the print was another, or was not dry, print the chart that "
            "was made through the correction again, and measure that (the first of these "
            "commands). If the printer has changed for good, make another round from this "
            "reading (the second), or start anew from an uncorrected chart (the third)",
            prove_again,
            ("correct", source, *_with(layout), "--previous", folder, "-o", "my-next-round"),
            ("chart", "-o", "my-chart", "--near-neutral"),
        )
    if verification.accidents:
        return _step(
            "Settle that first. If this was another print, print the chart that was made through "
            "the correction, and measure that",
            prove_again,
        )
    if verification.next_round.worth_it:
        return _step(
            "Make another round from this reading",
            ("correct", source, *_with(layout), "--previous", folder, "-o", "my-next-round"),
        )
    if verification.within_tolerance:
        return _step(
            "Print your pictures through it", ("apply", folder, "PICTURE.tif", "-o", "PRINT.tif")
        )
    return _step(
        "See which tones are still off its aims",
        ("verify", source, *_with(layout), "--correction", folder, "-o", "my-proof-report"),
    )


def as_its_readings(condition: str | None) -> str:
    """Say how a correction's proof is to be measured: in the condition of its own readings.

    Examples
    --------
    >>> as_its_readings("M1")
    "in M1, as the correction's own readings"
    """
    return f"in {condition}, as the correction's own readings" if condition else "as before"


@dataclass(frozen=True)
class TypedComparison:
    """A comparison as a person typed it: files have no other name.

    Attributes
    ----------
    options
        Those that name lights, weights, a glazing and the tone aim; without them, what the
        comparison calls them.
    readings
        What was compared; without it, the files that the papers were read from.
    """

    options: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    layout: Path | None = None


def after_comparison(
    comparison: Comparison, typed: TypedComparison = TypedComparison()
) -> NextStep:
    """Return how to go on with the best paper, as the papers were compared."""
    asked = [*(typed.options or _named(comparison)), *_with(typed.layout)]
    asked += [
        word
        for option, value, usual in (
            ("--observer", comparison.observer, "2"),
            ("--worst-share", f"{comparison.worst_share:g}", "0.5"),
        )
        if value != usual
        for word in (option, value)
    ]
    if comparison.corrected:
        best = comparison.papers[0]
        reading = best.own.ramp.reading
        once = "" if reading.glow_source or reading.condition == "M2" else (
            " (with its reading in M2 as well, if there is one)"
        )  # fmt: skip
        # As eyes adapted to the paper see it, the paper's own tint is neutral.
        own = "paper" if comparison.viewer == "paper" else comparison.neutral
        aim = ("--neutral", own) if own != "fading" else ()
        return _step(
            f"Make the correction of {best.name} for these lights{once}",
            ("correct", *_files_of(best, typed), *asked, *aim, "-o", "my-correction"),
        )
    if comparison.correctable:
        sources = typed.readings or dict.fromkeys(
            file for paper in comparison.papers for file in _files_of(paper, typed)
        )
        neutral = ("--neutral", comparison.neutral) if comparison.neutral != "fading" else ()
        viewer = ("--viewer", comparison.viewer) if comparison.viewer != "light" else ()
        return _step(
            "Compare what will remain after each paper's best correction for these lights",
            ("compare", *sources, *asked, *neutral, *viewer),
        )
    return _step(
        "To compare papers as they will be corrected, print a chart with near-neutral patches on "
        "each paper that has had none",
        ("chart", "-o", "my-chart", "--near-neutral"),
    )


def _files_of(paper: ComparedPaper, typed: TypedComparison) -> list[str]:
    """Return the files that a paper was read from, M1 and M2."""
    files = [file for file in (paper.source, paper.own.ramp.reading.glow_source) if file]
    # Of a correction's folder it is the reading of old, which may have been moved since.
    there = [file in typed.readings or Path(file).exists() for file in files]
    named = [file if known else "READING" for file, known in zip(files, there, strict=True)]
    return list(dict.fromkeys(named))


def _named(comparison: Comparison) -> list[str]:
    # A measured lamp is told by its file, which only the person knows.
    named = [name.partition(" behind ") for name in comparison.lights]
    words = [
        word
        for bare, _, _ in named
        for word in ("--light", bare if _is_named(bare) else "LAMP-FILE")
    ]
    weighted = zip(comparison.lights, comparison.weights, strict=True)
    for light, weight in weighted:
        words += [] if weight == 1.0 else ["--weight", f"{light}={weight:g}"]
    glasses = dict.fromkeys(glass for _, _, glass in named if glass)
    words += [word for glass in glasses for word in ("--glazing", glass)]
    return words + (["--aim", comparison.tone] if comparison.tone != "lstar" else [])


def after_settings(settings: Settings) -> NextStep:
    """Return how to go on with the best setting."""
    return _step(
        f"To correct from {settings.settings[0].name}, print a whole chart with it",
        ("chart", "-o", "my-chart", "--near-neutral"),
    )


def _is_named(light: str) -> bool:
    from greyscale.readings.lamps import find_light

    try:
        find_light(light)
    except BadInput:
        return False
    return True


def after_drying(drying: Drying) -> NextStep:
    """Return whether to go on with the last reading, or to read the print again."""
    last = drying.series.sources[-1]
    if drying.trusted == "yes":
        return _step("Go on with a reading made as late as this one", ("analyse", last))
    return _step("Let it dry longer, read it again, and give all the readings together")


def after_trend(trend: Trend, db: Path | None = None) -> NextStep | None:
    """Return what to do if the print has moved; None where it has not.

    `db` is the print log's file, where it isn't the usual one.
    """
    from greyscale.analysis.followed import CHANGED, TOO_FEW
    from greyscale.analysis.trend import is_noticed

    moved = trend.moved is not None and is_noticed(trend.moved)
    if trend.verdict == CHANGED and trend.worth_correcting:
        return _step(
            "Print a chart with near-neutral patches, and make a new correction from it",
            ("chart", "-o", "my-chart", "--near-neutral"),
        )
    if trend.verdict == TOO_FEW or moved:
        return _step(
            "Print and measure the chart again, and add it",
            ("log", "add", "READING", *(() if db is None else ("--db", db))),
        )
    return None
