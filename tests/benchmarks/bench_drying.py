"""Verdicts on drying, over simulated courses whose end is known: how often right, how wide.

    python tests/benchmarks/bench_drying.py [--seeds N] [--from SEED] [--further N] [-o FILE]

Each kind of course (none of its constants is known to the code under test, nor were seeds from 9000
on looked at while it was made, but that "dry" from a probability of 90 % on was tried on seven of
them, and given up: 4 of 36 were wrong) is read 3 to 8 times over 3 to 72 hours, the hours evenly or
ever further apart, on 7 to 33 tones, with noise of 0.05 to 0.5 in every value and up to 0.05 that
all tones of a reading share; in three of ten the noise is not told by repeats. Changes go by tone
in curves of their own; tone by tone, each in a direction and by an amount of its own besides; by
shares, the slow stages have another share in each tone. A slow one against goes back some or all of
the way that a quick one went. The last five kinds were added for this table; of them, courses like
the third were tuned on too: diffusion out of a coat whose face holds it back, a print carried to a
cool room while it dries, two stages that go one way, paper that swells and shrinks by the hour of
the day (which is no drying), and a last reading made of another sheet of the pack. Wrong "yes": the
print was called dry, and a tone was still more than ΔE00 0.3 from its final state. Inside: how
often what was truly still to come lay in the stated 90 % range, for the tone with most to go and
for all tones. Found: how often "dry" was said of a print that was.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from greyscale.analysis.drying import WITHIN, DryingSeries, follow
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import delta_E_2000, density_from_lightness
from greyscale.readings.reading import ASSUMED_SD

ENDS = (3.0, 6.0, 12.0, 24.0, 48.0, 72.0)
"""Hours to which courses are read."""

A_DAY = "to a day"
"""So ends the name of a kind that is read to 24 h alone."""

BY_SHARES = "by shares"

Left = Callable[[Array], Array]
"""What is left of a change at some hours, from 1 at printing."""


def between(random: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(random.uniform(np.log(low), np.log(high))))


def exponential(tau: float) -> Left:
    return lambda hours: np.exp(-hours / tau)


def one(random: np.random.Generator) -> list[tuple[float, Left]]:
    return [(1.0, exponential(between(random, 0.3, 5.0)))]


def slow(random: np.random.Generator) -> list[tuple[float, Left]]:
    return [(1.0, exponential(between(random, 5.0, 60.0)))]


def two(random: np.random.Generator) -> list[tuple[float, Left]]:
    share = between(random, 0.05, 0.5)
    late = exponential(between(random, 10.0, 100.0))
    return [(1 - share, exponential(between(random, 0.1, 3.0))), (share, late)]


def a_quarter(random: np.random.Generator) -> list[tuple[float, Left]]:
    late = exponential(between(random, 30.0, 60.0))
    return [(0.75, exponential(between(random, 0.3, 1.5))), (0.25, late)]


def against(random: np.random.Generator) -> list[tuple[float, Left]]:
    """The slow change goes back, in L*, some or all of the way that the quick one went."""
    late = exponential(between(random, 15.0, 60.0))
    return [(1.0, exponential(between(random, 0.3, 1.0))), (-random.uniform(0.2, 1.0), late)]


def three(random: np.random.Generator) -> list[tuple[float, Left]]:
    shares = random.dirichlet([2, 2, 2])
    taus = [between(random, low, 10.0 * low) for low in (0.1, 1.0, 10.0)]
    return [(share, exponential(tau)) for share, tau in zip(shares, taus, strict=True)]


def stretched(random: np.random.Generator) -> list[tuple[float, Left]]:
    tau, power = between(random, 0.5, 6.0), random.uniform(0.35, 0.8)
    return [(1.0, lambda hours: np.exp(-((hours / tau) ** power)))]


def diffusion(random: np.random.Generator) -> list[tuple[float, Left]]:
    start = between(random, 0.05, 0.5)
    return [(1.0, lambda hours: (1 + hours / start) ** -0.5)]


def power(random: np.random.Generator) -> list[tuple[float, Left]]:
    start, exponent = between(random, 0.1, 1.0), random.uniform(0.6, 1.5)
    return [(1.0, lambda hours: (1 + hours / start) ** -exponent)]


def quick_and_diffusion(random: np.random.Generator) -> list[tuple[float, Left]]:
    share = random.uniform(0.3, 0.8)
    return [(share, exponential(between(random, 0.2, 1.5))), (1 - share, diffusion(random)[0][1])]


def many(random: np.random.Generator) -> list[tuple[float, Left]]:
    """Very many exponentials at once, their time constants spread: none of the laws tried."""
    taus = between(random, 0.5, 3.0) * np.exp(random.normal(0, random.uniform(0.5, 1.5), 400))
    return [(1.0, lambda hours: np.exp(-hours[..., np.newaxis] / taus).mean(axis=-1))]


def porous(random: np.random.Generator) -> list[tuple[float, Left]]:
    """Diffusion out of a coat whose face holds it back: Crank 1975, 4.3.6; from memory."""
    held, hours_across = between(random, 0.3, 10.0), between(random, 2.0, 40.0)
    # The roots of β tan β = held, one in each stretch from kπ to (k + 1/2)π, by halving it.
    low = np.arange(60) * np.pi
    high = low + np.pi / 2
    for _ in range(50):
        middle = (low + high) / 2
        below = middle * np.tan(middle) < held
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    share = 2 * held**2 / (low**2 * (low**2 + held**2 + held))
    share /= share.sum()
    return [(1.0, lambda hours: np.exp(-np.multiply.outer(hours, low**2) / hours_across) @ share)]


def to_a_cool_room(random: np.random.Generator) -> list[tuple[float, Left]]:
    """Two stages, both slower by one factor from the hour on at which the print is carried away."""
    carried, slower = between(random, 0.5, 12.0), random.uniform(1.5, 4.0)

    def warm(hours: Array) -> Array:
        return np.asarray(np.minimum(hours, carried) + np.maximum(hours - carried, 0) / slower)

    def cooled(left: Left) -> Left:
        return lambda hours: left(warm(hours))

    return [(share, cooled(left)) for share, left in two(random)]


def one_way(random: np.random.Generator) -> list[tuple[float, Left]]:
    """A slow stage that goes on where the quick one went."""
    late = exponential(between(random, 20.0, 60.0))
    return [(1.0, exponential(between(random, 0.3, 1.5))), (random.uniform(0.1, 0.5), late)]


def none(random: np.random.Generator) -> list[tuple[float, Left]]:
    del random
    return [(0.0, np.ones_like)]


KINDS = {
    "one exponential": one,
    "one slow exponential": slow,
    "two exponentials": two,
    f"a quarter slow, {A_DAY}": a_quarter,
    "three exponentials": three,
    "stretched exponential": stretched,
    "diffusion, t^-1/2": diffusion,
    "an exponential and diffusion": quick_and_diffusion,
    "power of time": power,
    "many exponentials": many,
    "nothing to dry": none,
    "two, tone by tone": two,
    f"a quarter slow, tone by tone, {A_DAY}": a_quarter,
    "three, tone by tone": three,
    "stretched, tone by tone": stretched,
    "many, tone by tone": many,
    "two, by shares": two,
    f"a quarter slow, by shares, {A_DAY}": a_quarter,
    "a slow one against": against,
    f"a slow one against, {A_DAY}": against,
    f"a slow one against, tone by tone, {A_DAY}": against,
    "diffusion out of a porous coat": porous,
    "carried to a cool room": to_a_cool_room,
    "both stages one way": one_way,
    "two, in the day's humidity": two,
    "two, the last reading of another sheet": two,
}
TONE_BY_TONE, HUMIDITY, OTHER_SHEET = "tone by tone", "humidity", "another sheet"
UNKNOWN = "not yet known"


@dataclass(frozen=True)
class Trial:
    """What was said of a course, and whether it was so.

    `said` and `dry` are of the readings at first and after each one that was asked for.
    """

    said: list[str]
    dry: list[bool]
    inside: bool
    tones_inside: float
    hours: float


@dataclass(frozen=True)
class Sheet:
    """A print that dries: its final state, what is still to come at some hours, and how it reads;
    with its first readings."""

    final: Array
    to_come: Callable[[Array], Array]
    noise: float
    shared: float
    series: DryingSeries

    def left(self) -> Array:
        """Return the ΔE00 (n,) still to come after the last reading."""
        return delta_E_2000(self.final + self.to_come(self.series.hours[-1:])[0], self.final)

    def read(self, hour: float, random: np.random.Generator) -> Sheet:
        """Return it with one more reading."""
        lab = self.final + self.to_come(np.array([hour]))
        lab += random.normal(0, self.noise, lab.shape) + random.normal(0, self.shared, (1, 1, 3))
        lab = np.concatenate([self.series.lab, lab])
        series = replace(
            self.series, names=("simulated",) * len(lab), sources=("",) * len(lab), lab=lab,
            hours=np.append(self.series.hours, hour), density=density_from_lightness(lab[..., 0]),
        )  # fmt: skip
        return replace(self, series=series)


def plan(kind: str, random: np.random.Generator) -> Array:
    """Hours at which a course is read."""
    end = 24.0 if kind.endswith(A_DAY) else float(random.choice(ENDS))
    count, first = int(random.integers(3, 9)), between(random, 0.1, 0.6)
    spaced = np.geomspace if random.random() < 0.5 else np.linspace
    hours = spaced(first, end, count)
    hours[1:-1] *= np.exp(random.normal(0, 0.08, count - 2))
    return np.unique(np.minimum(hours, end).round(2))


def sheet_of(kind: str, random: np.random.Generator) -> Sheet:
    """Simulate readings of a print that dries."""
    times = plan(kind, random)
    level = np.linspace(1.0, 0.0, int(random.choice([7, 11, 17, 21, 33])))
    final = np.stack([22 + 73 * level, np.sin(3 * level), np.cos(2 * level)], axis=1)
    total, stages = between(random, 1.5, 6.0), []
    for share, left in KINDS[kind](random):
        way = np.array([-1.0, random.normal(0, 0.3), random.normal(0, 0.3)])
        change = ((1 - level) ** random.uniform(0.5, 1.5))[:, None] * way
        if TONE_BY_TONE in kind:
            change *= np.exp(random.normal(0, 0.25, (level.size, 1)))
            change += random.normal(0, 0.2, change.shape)
        if BY_SHARES in kind:
            change *= np.exp(random.normal(0, 0.5, (level.size, 1)))
        stages.append((share * total * change, left))

    def to_come(hours: Array) -> Array:
        return np.asarray(sum(np.multiply.outer(left(hours), change) for change, left in stages))

    lab = final + to_come(times)
    if HUMIDITY in kind:
        # Paper swells and shrinks by the hour of the day; that never ends, and is no drying.
        phase, size = random.uniform(0, 2 * np.pi), random.uniform(0.05, 0.2)
        lab[..., 0] += np.multiply.outer(size * np.sin(np.pi * times / 12 + phase), 1 - level)
    if OTHER_SHEET in kind:
        # Sheets of a pack differ smoothly from tone to tone.
        waves = np.stack([np.ones_like(level), 2 * level - 1, np.sin(np.pi * level)], axis=1)
        lab[-1] += waves @ random.normal(0, 0.1, (3, 3))
    noise, shared = between(random, 0.05, 0.5), random.uniform(0, 0.05)
    lab += random.normal(0, noise, lab.shape)
    lab += random.normal(0, shared, (times.size, 1, 3))
    # As repeats of a few patches would tell it, if there are any.
    known = random.random() < 0.7
    told = noise * np.sqrt(random.chisquare(12) / 12) if known else ASSUMED_SD
    series = DryingSeries(
        names=("simulated",) * times.size, sources=("",) * times.size, hours=times,
        clock="after printing", ids=tuple(map(str, range(level.size))), level=level, lab=lab,
        density=density_from_lightness(lab[..., 0]), repeatability=float(told), remarks=(),
        condition=None, backing=None, observer="2", instrument=None,
    )  # fmt: skip
    return Sheet(final, to_come, noise, shared, series)


def judged(sheet: Sheet, further: int, random: np.random.Generator) -> Trial:
    """Follow a print; and read it again as often as is asked for, so often at most."""
    found, left, end = follow(sheet.series), sheet.left(), float(sheet.series.hours[-1])
    worst = int(np.argmax(left))
    inside = (found.to_come[:, 0] <= left + 0.005) & (left <= found.to_come[:, 2] + 0.005)
    said, dry = [found.trusted], [float(left.max()) <= WITHIN]
    while len(said) <= further and said[-1] == UNKNOWN and found.read_again is not None:
        sheet = sheet.read(found.read_again, random)
        found = follow(sheet.series)
        said.append(found.trusted)
        dry.append(float(sheet.left().max()) <= WITHIN)
    return Trial(said, dry, bool(inside[worst]), float(inside.mean()), end)


def trials(kind: str, seeds: Sequence[int], further: int) -> list[Trial]:
    """Judge one kind of course, seed by seed."""
    place = list(KINDS).index(kind)
    return [
        judged(
            sheet_of(kind, np.random.default_rng([place, seed])),
            further,
            np.random.default_rng([place, seed, 1]),
        )
        for seed in seeds
    ]


def row(kind: str, found: Sequence[Trial]) -> str:
    said = [one for one in found if one.said[0] == "yes"]
    dry = [one for one in found if one.dry[0]]
    wrong = sum(not one.dry[0] for one in said)
    wrong_no = sum(one.said[0] == "no" and one.dry[0] for one in found)
    right = sum(one.said[0] == "yes" for one in dry)
    return (
        f"| {kind} | {len(found)} | {len(said)} | {wrong} | {wrong / len(found):.1%} | "
        f"{wrong_no} | {f'{right} of {len(dry)}' if dry else '-'} | "
        f"{np.mean([one.inside for one in found]):.0%} | "
        f"{np.mean([one.tones_inside for one in found]):.0%} |"
    )


def after(found: Sequence[Trial], further: int) -> str:
    """Say what readings that were asked for brought, one after the other."""
    unknown = [one for one in found if one.said[0] == UNKNOWN]
    lines = []
    for count in range(1, further + 1):
        now = [(one.said[: count + 1][-1], one.dry[: count + 1][-1]) for one in unknown]
        yes = [dry for said, dry in now if said == "yes"]
        no = [dry for said, dry in now if said == "no"]
        lines.append(
            f"After {count} more where it was asked for, of {len(unknown)} not yet known: "
            f"{len(yes)} dry ({len(yes) - sum(yes)} of these wrong), {len(no)} not dry "
            f"({sum(no)} wrong)."
        )
    return "\n".join(lines)


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
    parser.add_argument("--further", type=int, default=0, help="readings made as asked for")
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.seeds)
    lines, everything = [HEAD], []
    for kind in KINDS:
        found = trials(kind, seeds, asked.further)
        everything += found
        lines.append(row(kind, found))
    lines.append(row("all", everything))
    for end in ENDS:
        to_it = [one for one in everything if one.hours == end]
        lines += [row(f"read to {end:g} h", to_it)] if to_it else []
    text = "\n".join([*lines, "", after(everything, asked.further)]).rstrip()
    print(text)
    if asked.file:
        about = (__doc__ or "").split("\n\n", 2)
        drawn = f"Seeds {seeds[0]} to {seeds[-1]} of each kind."
        asked.file.write_text(f"# Drying\n\n{about[0]}\n\n{about[2]}\n{drawn}\n\n{text}\n")


if __name__ == "__main__":
    main()
