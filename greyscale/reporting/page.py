"""What every report is made of, whether it becomes a web page, a PDF, or lines in a terminal.

A report is a title, the sentences that matter, sections of blocks, the facts of what was measured
and how, cautions, and the command that made it:

    from greyscale.reporting.page import CAUTIONS, Number, Picture, Report, Section, Table

    report = Report(
        kind="Proof of a correction",
        title="Cotton rag after correction",
        sentences=("Neutral within 0.4 everywhere; the correction kept its promise.",),
        sections=(
            Section("Before and after", (
                Picture(lambda look: before_after(result, look), "before-after",
                        alt="ΔCh over L*, before and after", caption="..."),
                Table(("level", "ΔCh"), (("0.50", "0.21"),)),
            )),
        ),
        facts=(("Condition", "M1"),),
        cautions=CAUTIONS,
        command="greyscale verify after.txt",
    )

`html.write_report` writes it; `html.html` and `pdf.pdf` give the files' content,
`terminal.show_report` prints it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any, ClassVar, overload

import numpy as np

from greyscale.base.rests_on import KINDS, Support
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.reporting.style import (
    EXAGGERATION,
    Drawing,
    DrawnFigure,
    Swatch,
    boundaries,
    swatches,
)

# What a result rests on, in words: for the end of reports, and as a note in the terminal.

HEADINGS = {
    "standard": "Standards",
    "published": "Publications",
    "measured": "Measured",
    "practice": "Common practice, no source",
    "memory": "From memory of the source",
    "invented": "Invented",
}

CONSERVATION = (
    "is not conservation advice. It says nothing about whether a light is safe for a work: a "
    "conservator or the rules of the house decide."
)
"""What a report, or a list with ultraviolet in it, says of itself."""

_IN_SHORT = {
    "practice": "common practice without a source",
    "memory": "from memory of the source",
    "invented": "invented",
}
"""Kinds that the terminal tells as well: what rests on them is less than fact."""


def grounds(supports: Iterable[Support]) -> tuple[tuple[str, str], ...]:
    """Return a row for each kind: its heading, and all of that kind in one text.

    Examples
    --------
    >>> from greyscale.base.rests_on import supports
    >>> grounds(supports("visible-cast"))  # doctest: +ELLIPSIS
    (('Common practice, no source', 'a tone more than ΔCh 1 from ... from 3 on anyone'),)
    """
    found = tuple(dict.fromkeys(supports))
    rows = []
    for kind in KINDS:
        texts = [
            one.what if kind == "practice" else f"{one.what} ({one.source})"
            for one in found
            if one.kind == kind
        ]
        if texts:
            rows.append((HEADINGS[kind], "; ".join(texts)))
    return tuple(rows)


def grounds_note(supports: Iterable[Support], every: bool = True) -> str:
    """Return what is not a standard, a publication or a measurement, or "" if nothing.

    `every` one by name; else how many there are, and where to find them.

    Examples
    --------
    >>> from greyscale.base.rests_on import supports
    >>> grounds_note(supports("visible-cast", "cielab"), every=False)  # doctest: +ELLIPSIS
    'Of what this rests on, 1 is common practice without a source; --verbose and ...'
    """
    unsure = [one for one in dict.fromkeys(supports) if one.kind in _IN_SHORT]
    if every or not unsure:
        return " ".join(f"{heading}: {text}." for heading, text in grounds(unsure))
    counts = [(sum(one.kind == kind for one in unsure), words) for kind, words in _IN_SHORT.items()]
    parts = [f"{n} {'is' if n == 1 else 'are'} {words}" for n, words in counts if n]
    return f"Of what this rests on, {' and '.join(parts)}; --verbose and the report say which."


CAUTIONS = (f"This report {CONSERVATION}",)
"""The lines that every report ends with; reports add their own."""


@dataclass(frozen=True)
class Prose:
    """One paragraph.

    Attributes
    ----------
    at_once
        A terminal shows it without being asked for everything.
    of_pictures
        It speaks of the pictures and strips beside it, and is left out where there are none.
    """

    kind: ClassVar[str] = "prose"
    text: str
    at_once: bool = False
    of_pictures: bool = False


@dataclass(frozen=True)
class Subheading:
    """A heading within a section."""

    kind: ClassVar[str] = "subheading"
    text: str
    at_once: bool = False


@dataclass(frozen=True)
class NextStep:
    """What to do next.

    Attributes
    ----------
    words
        In the imperative, without a full stop where a command follows.
    commands
        To be copied as they stand, in this order; none where nothing of this program is to be done.
    """

    words: str
    commands: tuple[str, ...] = ()


@dataclass(frozen=True)
class Points:
    """Sentences that stand each by itself, or numbered steps."""

    kind: ClassVar[str] = "points"
    items: tuple[str | NextStep, ...]
    at_once: bool = False


@dataclass(frozen=True)
class Number:
    """A figure to be seen at a glance.

    Attributes
    ----------
    value
        As it is to be printed.
    note
        What it is to be held against, or where it occurs.
    passed
        Whether it keeps its limit, shown by word and sign; None where there is no limit.
    """

    value: str
    name: str
    note: str = ""
    passed: bool | None = None


@dataclass(frozen=True)
class Numbers:
    """Two to five numbers in a row."""

    kind: ClassVar[str] = "numbers"
    numbers: tuple[Number, ...]


@dataclass(frozen=True)
class Facts:
    """Names and values, as a list of definitions."""

    kind: ClassVar[str] = "facts"
    rows: tuple[tuple[str, str], ...]


Row = tuple[str | Swatch, ...]


@dataclass(frozen=True)
class Rows(Sequence[Row]):
    """Rows of a table, each made when it is shown."""

    of: Sequence[Any]
    making: Callable[[Any], Row]

    @overload
    def __getitem__(self, place: int) -> Row: ...
    @overload
    def __getitem__(self, place: slice) -> Rows: ...
    def __getitem__(self, place: int | slice) -> Row | Rows:
        """One row, or some of them, which are not made yet."""
        if isinstance(place, slice):
            return Rows(self.of[place], self.making)
        return self.making(self.of[place])

    def __len__(self) -> int:
        """How many there are."""
        return len(self.of)


@dataclass(frozen=True)
class Table:
    """A table; on a narrow screen it scrolls within itself.

    Attributes
    ----------
    head
        A heading for each column.
    rows
        As many cells each: text, or a swatch.
    words
        Indices of the columns that hold words; all others hold numbers, set to the right.
    sorts
        Whether it makes sense to put the rows in another order.
    at_once
        Whether a terminal shows it, or its first rows, without being asked for everything.
    """

    kind: ClassVar[str] = "table"
    head: tuple[str, ...]
    rows: Sequence[Row]
    caption: str = ""
    words: frozenset[int] = frozenset()
    sorts: bool = True
    at_once: bool = False


@dataclass(frozen=True)
class Picture:
    """A figure, drawn for a wide page and for a phone.

    Attributes
    ----------
    drawing
        Draws it in the look it is given.
    name
        File name of its PNG and SVG, without ending.
    alt
        What a reader who cannot see it must know.
    caption
        How to read it.
    """

    kind: ClassVar[str] = "picture"
    drawing: Drawing
    name: str
    alt: str
    caption: str = ""

    @cached_property
    def drawn(self) -> DrawnFigure:
        """The figure in the forms that reports need; each is drawn at most once."""
        return DrawnFigure(self.drawing)


@dataclass(frozen=True)
class Strip:
    """A ramp's tones side by side, from black to paper.

    Attributes
    ----------
    tones
        n of them.
    ends
        Where each begins and the last one ends, n + 1 numbers rising from 0 to 1.
    alt
        What a reader who cannot see it must know.
    name
        Stands above it; empty where the words around say what it is.
    """

    kind: ClassVar[str] = "strip"
    tones: tuple[Swatch, ...]
    ends: tuple[float, ...]
    alt: str
    name: str = ""


def strip(level: ArrayLike, lab: ArrayLike, alt: str, name: str = "") -> Strip:
    """Return a strip of tones from black to paper, each reaching half way to its neighbours.

    Parameters
    ----------
    level
        Shape (n,), n ≥ 2, in any order.
    lab
        Shape (n, 3): CIELAB, drawn as `swatches` draws it.
    """
    places = np.asarray(level, dtype=np.float64)
    order = np.argsort(places)
    ends = boundaries(places[order])
    share = (ends - ends[0]) / (ends[-1] - ends[0])
    return Strip(swatches(np.asarray(lab)[order]), tuple(share.tolist()), alt, name)


def plain_and_strong(level: Array, lab: Array, delta_ab: Array, name: str) -> tuple[Strip, Strip]:
    """Return a ramp as it is, and with its cast made plain; L* is kept.

    Parameters
    ----------
    level, lab, delta_ab
        Shapes (n,), (n, 3), (n, 2): the tones, and their a*, b* minus the aim.
    name
        What ramp it is, for the words that stand for the picture.
    """
    stronger = lab.copy()
    stronger[:, 1:] += (EXAGGERATION - 1) * delta_ab
    return (
        strip(level, lab, f"Strip of tones from black to paper, {name}."),
        strip(level, stronger, f"The same with the cast {EXAGGERATION} times as strong."),
    )


Inner = Prose | Numbers | Facts | Table | Picture | Strip
"""What may stand within a switch."""


@dataclass(frozen=True)
class Switch:
    """The same blocks for several cases, of which one is shown: lights, before and after.

    It works without script. Printed, all cases stand one after the other.

    Attributes
    ----------
    making
        Makes the cases where they are shown, which a terminal does on request only.
    """

    kind: ClassVar[str] = "switch"
    name: str
    making: Callable[[], Iterable[tuple[str, tuple[Inner, ...]]]]

    @cached_property
    def cases(self) -> tuple[tuple[str, tuple[Inner, ...]], ...]:
        """Each case's label and its blocks; the first is shown at first."""
        return tuple(self.making())


Block = Inner | Points | Subheading | Switch


@dataclass(frozen=True)
class Section:
    """A heading and what stands below it.

    Attributes
    ----------
    is_next
        Whether its points are what to do next: a terminal ends with them.
    """

    heading: str
    blocks: tuple[Block, ...]
    is_next: bool = False


@dataclass(frozen=True)
class Report:
    """All that a report says, whatever it is written as.

    Attributes
    ----------
    kind
        What sort of report this is, above the title.
    title
        What the report is about, as a name of a print or a paper.
    sentences
        What was found; the first is the one that matters.
    sections
        In reading order: pictures before numbers.
    facts
        What was measured and how.
    cautions
        What the reader must not take from it.
    command
        The command that made it, as it was given; empty if there was none.
    rests_on
        The standards, constants and data behind its figures.
    next_step
        What to do after it, if that is known.
    inputs
        The files that it was made from, which writing it never overwrites.
    texts
        Makes further files that go with it, by name.
    about
        How it was printed and measured, in one line below its title in a terminal.
    paragraph
        The same as the sentences, at more length.
    remarks
        What must be known of the readings or of the result.
    named
        Whether a terminal shows the title; else its sentences name what they are of.
    made
        Which files were made, and what they are: lines that no terminal breaks, to be copied.
    """

    kind: str
    title: str
    sentences: tuple[str, ...]
    sections: tuple[Section, ...]
    facts: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    command: str = ""
    rests_on: tuple[Support, ...] = ()
    next_step: NextStep | None = None
    inputs: tuple[Path | str, ...] = ()
    texts: Callable[[], Mapping[str, str]] = dict
    about: str = ""
    paragraph: str = ""
    remarks: tuple[str, ...] = ()
    named: bool = True
    made: tuple[str, ...] = ()

    @property
    def lead(self) -> tuple[str, ...]:
        """Its paragraphs: first what matters."""
        first, others = self.sentences[:1], " ".join(self.sentences[1:])
        if self.paragraph:
            first, others = (" ".join(self.sentences),), self.paragraph
        # Facts, where there are any, say the same at more length.
        about = "" if self.facts else self.about
        return (*first, *filter(None, (others, about)), *self.made)

    @property
    def untold(self) -> tuple[str, ...]:
        """The remarks that nothing else in it says."""
        texts = [value for _, value in self.facts]
        for section in self.sections:
            for block in section.blocks:
                if isinstance(block, Prose):
                    texts.append(block.text)
                elif isinstance(block, Facts):
                    texts += (value for _, value in block.rows)
        told = " ".join(texts)
        return tuple(remark for remark in self.remarks if remark not in told)

    @property
    def drawn(self) -> tuple[Section, ...]:
        """Its sections as they are drawn: the remarks that are not told otherwise come last."""
        remarks = tuple(one for one in self.untold if one not in self.cautions)
        return (*self.sections, *([Section("Remarks", (Points(remarks),))] if remarks else ()))

    @property
    def grounds(self) -> tuple[tuple[str, str], ...]:
        """What it rests on: a heading and a text for each kind."""
        return grounds(self.rests_on)

    def with_fact(self, name: str, text: str) -> Report:
        """Return the report with one more fact of how it came about, if there is any text."""
        return replace(self, facts=(*self.facts, (name, text))) if text else self


def known_facts(
    rows: Iterable[tuple[str, str | None]], remarks: Sequence[str] = ()
) -> tuple[tuple[str, str], ...]:
    """Return the facts that are known, and then the remarks."""
    named = [("" if number else "Remark", text) for number, text in enumerate(remarks)]
    return tuple((name, text) for name, text in (*rows, *named) if text)


def pictures(sections: Sequence[Section]) -> Iterator[Picture]:
    """Yield every picture of a report, in order, as for saving them."""
    for section in sections:
        for block in section.blocks:
            inner = (
                [one for _, blocks in block.cases for one in blocks]
                if isinstance(block, Switch)
                else [block]
            )
            yield from (one for one in inner if isinstance(one, Picture))
