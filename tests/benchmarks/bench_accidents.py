"""How often an accident with a proof is named, and how often an honest proof is doubted.

    python tests/benchmarks/bench_accidents.py [--seeds N] [--honest N] [-o TABLE]

Corrections are made from one chart of 147 patches on simulated printers that were kept out while
the patterns were described; the proofs are ramps of 21 tones, read with a noise of 0.15. Beside the
usual accidents stand those at about half their strength, and others that no pattern was described
for. Another sheet: its channels print 0.5 % more or less (a standard deviation), as no two sheets
are alike. Named: the first sentence says what happened or, where there is no pattern of its own,
that the print is not what was predicted. Doubted: anything is said against the print.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[1])]

from support import accidents  # noqa: E402
from support.accidents import ACCIDENTS, PROOF, corrected, printer, proof  # noqa: E402

import greyscale.correction.verify as verifying  # noqa: E402
from greyscale.correction.verify import NextRound  # noqa: E402
from greyscale.readings.reading import Reading  # noqa: E402
from greyscale.reporting.verification_report import verification_sentences  # noqa: E402

Array = NDArray[np.float64]
Print = Callable[[Array], Array]

PRINTERS = (
    *accidents.KEPT_OUT, "spectral, unbleached cotton", "random 13", "random 16", "random 21",
)  # fmt: skip
NONE = NextRound(False, None, None, None, None, None, None, 0.1, "Not asked.")


def another_paper(lab: Print, shift: Array) -> Print:
    """The same inks on a paper of another white."""
    return lambda device: lab(device) + shift * (lab(device)[:, :1] / 96.0)


def weaker_channel(lab: Print, channel: int, share: float) -> Print:
    """One ink prints less, as with clogged nozzles."""

    def printed(device: Array) -> Array:
        laid = device.copy()
        laid[:, channel] = 1.0 - (1.0 - share) * (1.0 - laid[:, channel])
        return lab(laid)

    return printed


def others(name: str) -> dict[str, tuple[Print, Array, tuple[str, ...]]]:
    """Further accidents: the printer, what is sent to it, and any of the words that name it."""
    lab: Print = printer(name).lab  # type: ignore[attr-defined]
    curve = corrected(name).curve
    sent = curve.apply(PROOF)
    unlike = ("not what was predicted", "media setting", "another correction", "not dry")
    return {
        "half-dried, half as much": (
            accidents._more_ink(lab, 0.018), sent, ("not dry",)),
        "another setting, lighter, half": (
            accidents._another_setting(lab, 0.925, 1.0), sent, ("media setting",)),
        "another setting, bent, half": (
            accidents._another_setting(lab, 0.965, 1.12), sent, ("media setting",)),
        "another paper, half as far": (
            another_paper(lab, np.array([-0.75, 0.2, 2.5])), sent, ("another paper",)),
        "another paper, bluish": (
            another_paper(lab, np.array([0.5, 0.6, -4.0])), sent, ("another paper",)),
        "half of the correction": (lab, (sent + PROOF) / 2, unlike),
        "green channel 8 % weaker": (weaker_channel(lab, 1, 0.08), sent, unlike),
        "red channel 5 % weaker": (weaker_channel(lab, 0, 0.05), sent, unlike),
    }  # fmt: skip


def said_of(reading: Reading, words: tuple[str, ...], name: str) -> tuple[bool, bool, bool]:
    """Whether a verification names the accident first, doubts at all, and says that it worked."""
    found = verifying.verify(reading, corrected(name))
    said = verification_sentences(found)
    worked = any(one.startswith("The correction worked") for one in said)
    return any(one in said[0] for one in words), bool(found.accidents), worked


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--honest", type=int, default=12)
    parser.add_argument("-o", type=Path, metavar="TABLE")
    asked = parser.parse_args()
    setattr(verifying, "next_round", lambda *given: NONE)  # noqa: B010
    found: dict[str, list[tuple[bool, bool, bool]]] = {}
    for name in PRINTERS:
        for accident, named in ACCIDENTS.items():
            words: tuple[str, ...] = () if named is None else (named,)
            for seed in range(10, 10 + (asked.seeds if words else asked.honest)):
                told = said_of(proof(name, accident, seed), words, name)
                found.setdefault(accident, []).append(told)
        for accident, (lab, sent, words) in others(name).items():
            for seed in range(10, 10 + asked.seeds):
                told = said_of(accidents._read(lab(sent), PROOF, seed), words, name)
                found.setdefault(accident, []).append(told)
        print(name, flush=True)
    rows = ["| accident | proofs | named | doubted | said to have worked |"]
    rows.append("|---|--:|--:|--:|--:|")
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
