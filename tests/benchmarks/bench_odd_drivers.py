"""Whether a correction makes a print worse, on ordinary drivers and on odd ones.

    python tests/benchmarks/bench_odd_drivers.py [--seeds N] [--noise SD] [--all] [-o TABLE] [KIND]

One chart of 147 patches is read of each simulated driver, corrected from, and the print through the
correction is judged without noise, against the aims between the driver's own paper and its darkest
grey. Error: mean ΔCh and mean |ΔL*| together, as the root of their squares' sum. A correction that
is not written leaves the print as it is. Only drivers that were kept out of tuning are tried (odd
numbers); `--all` tries those as well that were looked at.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1])]

from support.odd_printers import KINDS, JudgedPrint, judged, odd_printer, sheet  # noqa: E402

from greyscale.base.errors import BadInput  # noqa: E402
from greyscale.correction.correct import correct  # noqa: E402

HEAD = (
    "| drivers | tried | answer | written | mean ΔCh | largest ΔCh | mean ΔL* | worse than none, "
    "beyond 0.15 | the worst |\n|---|--:|---|--:|--:|--:|--:|--:|--:|"
)


@dataclass(frozen=True)
class Tried:
    """One driver, one reading."""

    answer: str
    written: bool
    before: JudgedPrint
    after: JudgedPrint

    @property
    def worse_by(self) -> float:
        return self.after.error - self.before.error


def tried(kind: str, number: int, seed: int, noise: float) -> Tried:
    """Read a driver's chart, correct, and judge."""
    who = odd_printer(kind, number)
    before = judged(who)
    try:
        made = correct([sheet(who, seed, noise)])
    except BadInput as error:
        return Tried(f"refused: {error.message[:60]}", False, before, before)
    tone = ", tone alone" if made.tone_only else ""
    after = judged(who, made) if made.helps else before
    return Tried(made.evidence.response.kind + tone, made.helps, before, after)


def line(kind: str, all_of: list[Tried]) -> str:
    """Give one kind's results as a row of a table."""

    def pair(figure: str) -> str:
        before, after = (
            np.mean([getattr(getattr(one, side), figure) for one in all_of])
            for side in ("before", "after")
        )
        return f"{before:.2f} → {after:.2f}"

    answers = Counter(one.answer for one in all_of)
    told = "; ".join(f"{answer} {count}" for answer, count in answers.most_common())
    worse = sum(one.worse_by > 0.15 for one in all_of)
    return (
        f"| {kind} | {len(all_of)} | {told} | {sum(one.written for one in all_of)} "
        f"| {pair('mean_Ch')} | {pair('max_Ch')} | {pair('mean_L')} | {worse} "
        f"| {max(one.worse_by for one in all_of):+.2f} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=list(KINDS))
    parser.add_argument("--seeds", type=int, default=8)
    parser.add_argument("--noise", type=float, default=0.15)
    parser.add_argument("--all", action="store_true")
    parser.add_argument("-o", type=Path, metavar="TABLE")
    asked = parser.parse_args()
    text = [HEAD]
    print(HEAD)
    for kind in asked.kinds:
        numbers = range(20) if asked.all else range(1, 20, 2)
        # Each driver is read as often, with other noise each time.
        found = [
            tried(kind, numbers[seed % len(numbers)], seed, asked.noise)
            for seed in range(asked.seeds)
        ]
        text.append(line(kind, found))
        print(text[-1], flush=True)
    if asked.o is not None:
        about = " ".join((__doc__ or "").split("\n\n")[2].split())
        head = (
            f"# Odd drivers\n\n{about} Noise {asked.noise}; {asked.seeds} readings of each kind.\n"
        )
        asked.o.write_text("\n".join([head, *text, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
