"""The page that every report is made of: one self-contained HTML file, one look.

A report is a title, a lead (the sentence that matters), sections of blocks, the facts of what was
measured and how, cautions, and the command that made it:

    from greyscale.reporting.page import Number, Picture, Section, Table, render

    html = render(
        title="Cotton rag after correction",
        lead=("Neutral within 0.4 everywhere; the correction kept its promise.",),
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

All text is escaped: names and fields of files are shown as they stand and can do nothing.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, ClassVar

from greyscale.reporting.style import DARK, LIGHT, Drawing, Look, narrow
from greyscale.reporting.swatches import Swatch

if TYPE_CHECKING:
    from jinja2 import Environment

CAUTIONS = (
    "This report is no conservation advice. It says nothing about whether a light is safe for a "
    "work: a conservator or the rules of the house decide.",
)
"""The lines that every report ends with; reports add their own."""


@dataclass(frozen=True)
class Prose:
    """One paragraph."""

    kind: ClassVar[str] = "prose"
    text: str


@dataclass(frozen=True)
class Subheading:
    """A heading within a section."""

    kind: ClassVar[str] = "subheading"
    text: str


@dataclass(frozen=True)
class Number:
    """A figure to be seen at a glance.

    Attributes
    ----------
    value
        As it is to be printed.
    name
        What it is.
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


@dataclass(frozen=True)
class Table:
    """A table; on a narrow screen it scrolls within itself.

    Attributes
    ----------
    head
        A heading for each column.
    rows
        As many cells each: text, or a swatch.
    caption
        What it shows, in a few words.
    words
        Indices of the columns that hold words; all others hold numbers, set to the right.
    """

    kind: ClassVar[str] = "table"
    head: tuple[str, ...]
    rows: tuple[tuple[str | Swatch, ...], ...]
    caption: str = ""
    words: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Picture:
    """A figure, drawn for light and dark, for a wide page and for a phone.

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


@dataclass(frozen=True)
class Switch:
    """The same blocks for several cases, of which one is shown: lights, before and after.

    It works without script. Printed, all cases stand one after the other.

    Attributes
    ----------
    name
        What is switched; a word that no other switch of the page has.
    cases
        Each case's label and its blocks; the first is shown at first.
    """

    kind: ClassVar[str] = "switch"
    name: str
    cases: tuple[tuple[str, tuple[Prose | Numbers | Facts | Table | Picture, ...]], ...]


Block = Prose | Subheading | Numbers | Facts | Table | Picture | Switch


@dataclass(frozen=True)
class Section:
    """A heading and what stands below it."""

    heading: str
    blocks: tuple[Block, ...]


def render(
    title: str,
    lead: Sequence[str],
    sections: Sequence[Section],
    facts: Sequence[tuple[str, str]] = (),
    cautions: Sequence[str] = CAUTIONS,
    command: str = "",
    kind: str = "Report",
) -> str:
    """Make a report: one HTML file that needs no script and asks for nothing from elsewhere.

    Parameters
    ----------
    title
        What the report is about, as a name of a print or a paper.
    lead
        Paragraphs; the first is the sentence that matters.
    sections
        In reading order: pictures before numbers.
    facts
        What was measured and how.
    cautions
        What the reader must not take from it.
    command
        The command that made it, as it was given; empty if there was none.
    kind
        What sort of report this is, above the title.

    Returns
    -------
    The page's text. The same arguments give the same page.
    """
    from greyscale import __version__

    return _environment().get_template("base.html.j2").render(
        title=title, lead=lead, sections=sections, facts=facts, cautions=cautions,
        command=command, kind=kind, version=__version__,
    )  # fmt: skip


def pictures(sections: Sequence[Section]) -> Iterator[Picture]:
    """Give every picture of a report, in order, as for saving them."""
    for section in sections:
        for block in section.blocks:
            inner = (
                [one for _, blocks in block.cases for one in blocks]
                if isinstance(block, Switch)
                else [block]
            )
            yield from (one for one in inner if isinstance(one, Picture))


# By the style sheet's names; it shows one of them.
_LOOKS = {
    "light": LIGHT,
    "dark": DARK,
    "light-narrow": narrow(LIGHT),
    "dark-narrow": narrow(DARK),
}


@lru_cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("greyscale.reporting", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.tests["swatch"] = lambda cell: isinstance(cell, Swatch)
    environment.globals["image"] = _image
    environment.globals["looks"] = _LOOKS
    return environment


def _image(picture: Picture, look: Look) -> str:
    """Give a picture as a data URI."""
    from greyscale.reporting.figures.save import svg

    return "data:image/svg+xml;base64," + b64encode(svg(picture.drawing, look)).decode("ascii")
