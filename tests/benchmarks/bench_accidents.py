"""How often an accident with a proof is named, and how often an honest proof is doubted.

    python tests/benchmarks/bench_accidents.py [--seeds N] [--honest N] [-o TABLE]

Corrections are made from one chart of 147 patches on simulated printers that were kept out while
the patterns were described, though one limit was set when misses on three of them had been seen;
the proofs are ramps of 21 tones, read with a noise of 0.15. First stand the accidents that the
tests hold, of one size; then others, of sizes, inks, encodings and directions that are drawn anew
for each proof, on sheets whose channels print 0.5 % more or less (a standard deviation), as no two
sheets are alike. Named: the first sentence names what happened,
alone or among up to three causes, and as the likeliest. Wrongly: it names other causes, and does
not leave open another correction or a printer that has changed. Doubted: anything is said against
the print. An instrument that is off by less than a paper's white may differ is taken as honest.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[1])]

from support import accidents  # noqa: E402
from support.accidents import (  # noqa: E402
    ACCIDENTS,
    PROOF,
    corrected,
    inks_of,
    printer,
    proof,
    with_inks,
)
from support.array_printers import noisy_sheet  # noqa: E402

import greyscale.correction.verify as verifying  # noqa: E402
from greyscale.aims.tone import NAMED, named_encoding  # noqa: E402
from greyscale.correction.verify import NextRound  # noqa: E402
from greyscale.readings.reading import Reading  # noqa: E402
from greyscale.reporting.verification_report import verification_sentences  # noqa: E402

Array = NDArray[np.float64]
Print = Callable[[Array], Array]
Random = np.random.Generator

PRINTERS = (
    *accidents.KEPT_OUT, "spectral, unbleached cotton", "random 13", "random 16", "random 21",
)  # fmt: skip
NONE = NextRound(False, None, None, None, None, None, None, 0.1, "Not asked.")


ENCODINGS = [named_encoding(one) for one in (*NAMED, "gamma-1.0")]
OPEN = "a printer that has changed"


def converted(values: Array, random: Random, black: float = 0.0) -> Array:
    """Values taken from one encoding to another; black may come out lighter, as of a profile's."""
    of, to = random.permutation(len(ENCODINGS))[:2]
    if black:  # Out of linear light, no conversion that is usual in print lifts black so.
        of, to = random.permutation(len(NAMED))[:2]
    return ENCODINGS[to].values(black + (1.0 - black) * ENCODINGS[of].luminance(values))


def clogged(name: str, inks: Sequence[int], left: Array | float) -> Print:
    """Of one of these inks only a share is left, of each patch alike or of each its own."""
    laid = np.ones((len(PROOF), inks_of(name)))
    laid[:, inks[0]] = left
    return with_inks(name, laid)


def others(name: str, seed: int) -> dict[str, tuple[Array, str]]:
    """What further accidents print, CIELAB of the proof; and the words that name each."""
    random = np.random.default_rng([seed, *name.encode()])
    lab: Print = printer(name).lab  # type: ignore[attr-defined]
    curve = corrected(name).curve
    sheet = 1.0 - random.normal(0.0, accidents.SHEETS, 3)
    sent = np.clip(1.0 - (1.0 - curve.apply(PROOF)) * sheet, 0.0, 1.0)
    good, dark = lab(sent), 1.0 - PROOF[:, :1]
    through = good[:, :1] / good[:, 0].max()
    inks, draw, either = inks_of(name), random.uniform, random.choice([-1.0, 1.0])
    colour, further = random.permutation(3), random.permutation(np.arange(3, inks))
    tint = random.normal(0.0, 1.0, 3) * [0.8, 0.6, 3.0]
    drifted = np.clip(1.0 - (1.0 - sent) * (1.0 + random.normal(0.0, 0.05, 3)), 0.0, 1.0)
    found = {
        "converted after the correction": (lab(converted(sent, random)), "a conversion"),
        "converted before the correction": (
            lab(curve.apply(converted(PROOF, random))), "a conversion"),
        "converted, black lifted": (
            lab(converted(sent, random, draw(0.002, 0.012))), "a conversion"),
        "any gamma from 0.7 to 1.4": (
            lab(sent ** np.exp(either * draw(0.1, 0.35))), "a conversion"),
        "a colour clogged, 0 to 90 % left": (
            clogged(name, colour, draw(0.0, 0.9))(sent), "clogged nozzles"),
        "banded nozzles": (
            clogged(name, colour, 1.0 - draw(0.1, 0.6) * draw(size=len(PROOF)))(sent),
            "clogged nozzles"),
        "half-dried, 2 to 8 % more or less ink": (
            accidents._more_ink(lab, either * draw(0.02, 0.08))(sent), "not dry"),
        "half-dried, up to 3 L* off": (
            good + [either * draw(1.0, 3.0), 0.0, 0.0] * dark ** draw(0.3, 1.2), "not dry"),
        "another setting, 5 to 20 % more or less ink": (
            accidents._more_ink(lab, either * draw(0.05, 0.2))(sent), "media setting"),
        "another setting, bent either way": (
            accidents._another_setting(lab, draw(0.8, 1.0), draw(0.75, 1.3))(sent),
            "media setting"),
        "correction of an older state": (lab(drifted), OPEN),
        "half of the correction": (lab((sent + PROOF) / 2.0), OPEN),
        "another paper of any tint": (
            good + tint / np.linalg.norm(tint) * draw(1.5, 6.0) * through, "another paper"),
        "another backing": (
            good + [-draw(1.5, 3.0), 0.0, random.normal(0.0, 0.3)] * through**3,
            "another backing"),
        "another condition": (
            good + either * np.array([0.2, 0.5, -draw(2.0, 5.0)]) * through**2,
            "measuring condition"),
        "another instrument": (good + random.normal(0.0, 0.35, 3), "instrument"),
    }  # fmt: skip
    if further.size:
        black = clogged(name, further, draw(0.0, 0.9))(sent)
        found["black or a grey clogged, 0 to 90 % left"] = (black, "clogged nozzles")
    return found


def said_of(reading: Reading, words: str, name: str) -> tuple[bool, ...]:
    """Whether a verification names the accident, as the likeliest, only others, doubts at all,
    and says that the correction worked."""
    found = verifying.verify(reading, corrected(name))
    first, *rest = verification_sentences(found)
    named, doubted = bool(words) and words in first, bool(found.accidents)
    wrongly = doubted and not named and OPEN not in first
    likeliest = named and "): perhaps" not in first and words in first.split("; or else")[0]
    worked = any(one.startswith("The correction worked") for one in (first, *rest))
    return named, likeliest, wrongly, doubted, worked


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--honest", type=int, default=12)
    parser.add_argument("-o", type=Path, metavar="TABLE")
    asked = parser.parse_args()
    setattr(verifying, "next_round", lambda *given: NONE)  # noqa: B010
    found: dict[str, list[tuple[bool, ...]]] = {}
    for name in PRINTERS:
        for accident, words in ACCIDENTS.items():
            for seed in range(10, 10 + (asked.seeds if words else asked.honest)):
                told = said_of(proof(name, accident, seed), words or "", name)
                found.setdefault(accident, []).append(told)
        for seed in range(10, 10 + asked.seeds):
            for accident, (lab, words) in others(name, seed).items():
                told = said_of(noisy_sheet(PROOF, lab, seed), words, name)
                found.setdefault(accident, []).append(told)
        print(name, flush=True)
    rows = ["| accident | proofs | named | likeliest | wrongly | doubted | said to have worked |"]
    rows.append("|---|--:|--:|--:|--:|--:|--:|")
    for accident, each in found.items():
        counts = " | ".join(str(int(count)) for count in np.sum(each, axis=0))
        rows.append(f"| {accident} | {len(each)} | {counts} |")
    print("\n".join(rows))
    if asked.o is not None:
        about = " ".join((__doc__ or "").split("\n\n")[2].split())
        text = "\n".join([f"# Accidents with a proof\n\n{about}\n", *rows, ""])
        asked.o.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
