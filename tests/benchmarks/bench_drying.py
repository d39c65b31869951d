"""Verdicts on drying, over simulated courses whose end is known: how often right, how wide.

    python tests/benchmarks/bench_drying.py [--seeds N] [--from SEED] [-o FILE]

Each kind of course (none of its constants is known to the code under test, nor were these seeds
looked at while it was made) is read by several plans, with noise of 0.1 to 0.3 in every value and
up to 0.05 that all tones of a reading share; tone by tone, with a quarter of the noise, and every
tone changing in a way of its own. Wrong "yes": the print was called dry, and a tone was
still more than ΔE00 0.3 from its final state. Inside: how often what was truly still to come lay in
the stated 90 % range, for the tone with most to go and for all tones. Found: how often "dry" was
said of a print that was.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.analysis.drying import WITHIN, Drying, DryingSeries, follow
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import delta_E_2000, density_from_lightness

PLANS = (
    (0.1, 0.5, 1.5, 3.0),
    (0.2, 1.0, 2.0, 4.0, 6.0),
    (0.1, 0.4, 1.0, 2.5, 8.0, 24.0),
    (0.2, 1.0, 6.0, 24.0, 48.0),
    (0.1, 0.5, 2.0, 8.0, 24.0, 48.0, 96.0, 168.0),
)

Left = Callable[[Array], Array]
"""What is left of a change at some hours, from 1 at printing."""


def between(random: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(random.uniform(np.log(low), np.log(high))))


def exponential(tau: float) -> Left:
    return lambda hours: np.exp(-hours / tau)


def one(random: np.random.Generator) -> list[tuple[float, Left]]:
    return [(1.0, exponential(between(random, 0.3, 5.0)))]


def two(random: np.random.Generator) -> list[tuple[float, Left]]:
    share = random.uniform(0.12, 0.5)
    slow = exponential(between(random, 8.0, 50.0))
    return [(1 - share, exponential(between(random, 0.3, 1.5))), (share, slow)]


def stretched(random: np.random.Generator) -> list[tuple[float, Left]]:
    tau, power = between(random, 0.5, 6.0), random.uniform(0.35, 0.75)
    return [(1.0, lambda hours: np.exp(-((hours / tau) ** power)))]


def diffusion(random: np.random.Generator) -> list[tuple[float, Left]]:
    start = between(random, 0.05, 0.5)
    return [(1.0, lambda hours: (1 + hours / start) ** -0.5)]


def power(random: np.random.Generator) -> list[tuple[float, Left]]:
    start, exponent = between(random, 0.1, 1.0), random.uniform(0.6, 1.4)
    return [(1.0, lambda hours: (1 + hours / start) ** -exponent)]


def many(random: np.random.Generator) -> list[tuple[float, Left]]:
    """Very many exponentials at once, their time constants spread: none of the laws tried."""
    taus = between(random, 0.5, 3.0) * np.exp(random.normal(0, random.uniform(0.5, 1.5), 400))
    return [(1.0, lambda hours: np.exp(-hours[..., np.newaxis] / taus).mean(axis=-1))]


def none(random: np.random.Generator) -> list[tuple[float, Left]]:
    del random
    return [(0.0, np.ones_like)]


KINDS = {
    "one exponential": one,
    "two exponentials": two,
    "stretched exponential": stretched,
    "diffusion, t^-1/2": diffusion,
    "power of time": power,
    "nothing to dry": none,
    "many exponentials": many,
    "two, tone by tone": two,
    "stretched, tone by tone": stretched,
    "many, tone by tone": many,
}
TONE_BY_TONE = "tone by tone"
"""So ends the name of a kind whose tones change each in a direction and by an amount of its own,
read four times over: of no smooth curve over tone, and hardly any noise."""


@dataclass(frozen=True)
class Trial:
    """What was said of a course, and whether it was so."""

    said: str
    dry: bool
    inside: bool
    tones_inside: float


def series_of(
    kind: str, hours: Sequence[float], random: np.random.Generator
) -> tuple[DryingSeries, Array]:
    """Simulate readings of a print that dries; with the ΔE00 (n,) still to come after the last."""
    times = np.asarray(hours)
    level = np.linspace(1.0, 0.0, int(random.choice([9, 13, 21])))
    own_way = kind.endswith(TONE_BY_TONE)
    final = np.stack([22 + 73 * level, np.sin(3 * level), np.cos(2 * level)], axis=1)
    course = np.zeros((times.size, level.size, 3))
    for share, left in KINDS[kind](random):
        size = share * random.uniform(1.5, 5.0)
        way = np.array([-1.0, random.normal(0, 0.3), random.normal(0, 0.3)])
        over_tone = (1 - level) ** random.uniform(0.5, 1.5)
        change = over_tone[:, None] * way
        if own_way:
            change *= np.exp(random.normal(0, 0.25, (level.size, 1)))
            change += random.normal(0, 0.2, change.shape)
        course += size * left(times)[:, None, None] * change
    noise, shared = between(random, 0.1, 0.3), random.uniform(0, 0.05)
    if own_way:
        noise /= 4.0
    lab = final + course + random.normal(0, noise, course.shape)
    lab += random.normal(0, shared, (times.size, 1, 3))
    # As repeats of a few patches would tell it.
    told = noise * np.sqrt(random.chisquare(12) / 12)
    series = DryingSeries(
        names=("simulated",) * times.size, sources=("",) * times.size, hours=times,
        clock="after printing", ids=tuple(map(str, range(level.size))), level=level, lab=lab,
        density=density_from_lightness(lab[..., 0]), repeatability=float(told), remarks=(),
        condition=None, backing=None, observer="2", instrument=None,
    )  # fmt: skip
    return series, delta_E_2000(final + course[-1], final)


def judged(found: Drying, left: Array) -> Trial:
    worst = int(np.argmax(left))
    inside = (found.to_come[:, 0] <= left + 0.005) & (left <= found.to_come[:, 2] + 0.005)
    return Trial(
        found.trusted, float(left.max()) <= WITHIN, bool(inside[worst]), float(inside.mean())
    )


def trials(kind: str, seeds: Sequence[int]) -> list[Trial]:
    """Judge one kind of course, by every plan and seed."""
    found = []
    for plan, hours in enumerate(PLANS):
        for seed in seeds:
            random = np.random.default_rng([list(KINDS).index(kind), plan, seed])
            series, left = series_of(kind, hours, random)
            found.append(judged(follow(series), left))
    return found


def row(kind: str, found: Sequence[Trial]) -> str:
    said = [one for one in found if one.said == "yes"]
    dry = [one for one in found if one.dry]
    wrong = sum(not one.dry for one in said)
    wrong_no = sum(one.said == "no" and one.dry for one in found)
    right = sum(one.said == "yes" for one in dry)
    return (
        f"| {kind} | {len(found)} | {len(said)} | {wrong} | {wrong / len(found):.1%} | "
        f"{wrong_no} | {f'{right} of {len(dry)}' if dry else '-'} | "
        f"{np.mean([one.inside for one in found]):.0%} | "
        f"{np.mean([one.tones_inside for one in found]):.0%} |"
    )


HEAD = (
    '| course | trials | "yes" | of these wrong | wrong "yes" | wrong "no" | found dry | '
    "inside, most to go | inside, all tones |\n" + "|---" + "|---:" * 8 + "|"
)


def main() -> None:
    """Print the table, or write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--from", dest="first", type=int, default=0)
    parser.add_argument("-o", dest="file", type=Path)
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.seeds)
    lines, everything = [HEAD], []
    for kind in KINDS:
        found = trials(kind, seeds)
        everything += found
        lines.append(row(kind, found))
    text = "\n".join([*lines, row("all", everything)])
    print(text)
    if asked.file:
        about = (__doc__ or "").split("\n\n", 2)
        asked.file.write_text(f"# Drying\n\n{about[0]}\n\n{about[2].strip()}\n\n{text}\n")


if __name__ == "__main__":
    main()
