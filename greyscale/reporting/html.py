"""A report as a web page, which asks for nothing from elsewhere, and as the files of a folder.

All text is escaped: names and fields of files are shown as they stand and can do nothing. The one
script sorts tables and saves figures; the policy of the page lets no other run.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from hashlib import sha256
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.base.errors import BadInput
from greyscale.base.files import keep_inputs, write_whole
from greyscale.base.folders import whole_folder
from greyscale.reporting.page import Report, pictures
from greyscale.reporting.style import AS_MEASURED, DARK, LIGHT, Swatch, inks

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from jinja2 import Environment

# Figures within a page: small, sharing their letters, in inks that the page can change.
#
# Matplotlib's SVG is a file for itself: each brings its own outlines of every letter, its own
# marks and clipping, and colours that are fixed. Here the definitions of all figures of a page
# are put together, and each ink of the look becomes a variable of the style sheet. What was
# marked by `style.as_measured` keeps its fill.

_SVG = "{http://www.w3.org/2000/svg}"
_LINK = "{http://www.w3.org/1999/xlink}href"
_PIXELS = "data:image/png;base64,"
_NUMBER = re.compile(r"-?(?:\d+\.?\d*|\.\d+)(?:e-?\d+)?")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
# How the letters of a line are placed.
_SIDEWAYS = re.compile(r"translate\(([\d.]+) 0\)")
_VARIABLES = {colour: f"var(--{name})" for name, colour in inks(LIGHT).items()}
# Numbers of a path or a place: a hundredth of a point cannot be seen; scales need more.
_PLACES, _SCALE_PLACES = 2, 5


@dataclass
class Definitions:
    """What the figures of one page share: outlines of letters, marks, clipping shapes."""

    _ids: dict[str, str] = field(default_factory=dict)

    def id_of(self, markup: str) -> str:
        """Return the id of a definition, the same for the same markup."""
        return self._ids.setdefault(markup, f"d{len(self._ids)}")

    def markup(self) -> str:
        """Return all of them, to stand once in the page."""
        return "".join(
            markup.replace(" id=''", f' id="{name}"', 1) for markup, name in self._ids.items()
        )


@dataclass(frozen=True)
class InlineSvg:
    """One figure within a page.

    Attributes
    ----------
    view_box
        Of the `svg` element.
    content
        What stands in it; it refers to the page's definitions.
    """

    view_box: str
    content: str

    @property
    def ratio(self) -> float:
        """Its height by its width."""
        *_, width, height = map(float, self.view_box.split())
        return round(height / width, 3)


def inline_svg(svg: bytes, definitions: Definitions) -> InlineSvg:
    """Make Matplotlib's SVG, drawn in `LIGHT` or its narrow form, fit to stand within a page.

    Parameters
    ----------
    svg
        A file by `style.rendered`.
    definitions
        The page's; the figure's are added to them.
    """
    from xml.etree import ElementTree

    root = ElementTree.fromstring(svg)
    names: dict[str, str] = {}
    for one in root.iter():
        name = one.get("id", "")
        if one.tag == f"{_SVG}clipPath":
            inner = "".join(_element(child, names, False) for child in one)
            names[name] = definitions.id_of(f"<clipPath id=''>{inner}</clipPath>")
        elif one.tag == f"{_SVG}defs":
            for path in one.findall(f"{_SVG}path"):
                names[path.get("id", "")] = definitions.id_of(_element(path, {}, False, " id=''"))
    content = "".join(_element(child, names, False) for child in root)
    return InlineSvg(root.get("viewBox", ""), content)


def _element(one: Element, names: dict[str, str], measured: bool, own_id: str = "") -> str:
    """Write an element anew, and all within it; comments, ids and metadata are left out."""
    tag = one.tag.removeprefix(_SVG)
    if tag in ("defs", "clipPath", "metadata"):
        return ""
    measured = measured or one.get("id", "").startswith(AS_MEASURED)
    inner = "".join(_element(child, names, measured) for child in one)
    attributes = own_id + "".join(_attributes(one, names, measured))
    if tag == "g" and not (attributes and inner):
        return inner
    return f"<{tag}{attributes}>{inner}</{tag}>" if inner else f"<{tag}{attributes}/>"


def _attributes(one: Element, names: dict[str, str], measured: bool) -> list[str]:
    kept = []
    for name, value in one.attrib.items():
        if name == _LINK and value.startswith(_PIXELS):
            # A picture within the figure: its pixels stay as they are.
            kept.append(f' href="{escape("".join(value.split()))}"')
        elif name == _LINK:
            kept.append(f' href="#{names[value.removeprefix("#")]}"')
        elif name == "id":
            continue
        elif name == "style":
            kept.append(f' style="{_style(value, measured)}"')
        elif name == "clip-path":
            shape = _REFERENCE.sub(lambda found: f"url(#{names[found[1]]})", value)
            kept.append(f' clip-path="{shape}"')
        elif one.tag == f"{_SVG}use" and (moved := _SIDEWAYS.fullmatch(value)):
            kept.append(f' x="{_rounded(moved[1], _PLACES)}"')
        elif name == "transform":
            kept.append(f' transform="{_rounded(value, _SCALE_PLACES)}"')
        elif name == "d":
            kept.append(f' d="{_path(value)}"')
        else:
            kept.append(f' {name}="{escape(_rounded(value, _PLACES))}"')
    return kept


@lru_cache(maxsize=4096)
def _style(text: str, measured: bool) -> str:
    """Put variables for the inks of the look; the fill of what is as measured stays."""
    parts = []
    for part in text.split(";"):
        name, _, value = (word.strip() for word in part.partition(":"))
        if not (measured and name == "fill"):
            value = _VARIABLES.get(value, value)
        parts.append(f"{name}:{value}")
    return escape(";".join(parts))


def _path(text: str) -> str:
    """Round a path's numbers, and leave out all the space that it can do without."""
    tight = re.sub(r"\s+", " ", _rounded(text, _PLACES)).strip()
    return re.sub(r" ?([A-Za-z]) ?", r"\1", tight).replace(" -", "-")


@lru_cache(maxsize=4096)
def _rounded(text: str, places: int) -> str:
    return _NUMBER.sub(lambda found: _short(float(found[0]), places), text)


def _short(number: float, places: int) -> str:
    digits = f"{number:.{places}f}".rstrip("0").rstrip(".")
    return "0" if digits in ("-0", "") else digits


def html(report: Report) -> str:
    """Make a report's web page.

    Returns
    -------
    The page's text. The same report gives the same page.
    """
    from greyscale import __version__

    definitions = Definitions()
    # By the style sheet's names: for a wide page, and for a phone.
    drawn = {
        picture: {
            "wide": inline_svg(picture.drawn.svg, definitions),
            "narrow": inline_svg(picture.drawn.narrow_svg, definitions),
        }
        for picture in pictures(report.sections)
    }
    script = (files("greyscale.reporting") / "pages" / "page.js").read_text(encoding="utf-8")
    return _environment().get_template("base.html.j2").render(
        report=report, drawn=drawn, definitions=definitions.markup(), version=__version__,
        inks={"light": inks(LIGHT), "dark": inks(DARK)}, script=script,
        script_hash=b64encode(sha256(script.encode("utf-8")).digest()).decode("ascii"),
    )  # fmt: skip


def templates(package: str, folder: str) -> Environment:
    """Return an environment of templates in a package's folder: all text is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader(package, folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@lru_cache
def _environment() -> Environment:
    environment = templates("greyscale.reporting", "pages")
    environment.tests["swatch"] = lambda cell: isinstance(cell, Swatch)
    return environment


# How a report becomes files in a folder: page, PDF, tables, each picture as PNG and SVG.

PAGE = "report.html"
"""The report's name in its folder."""

PDF = "report.pdf"
"""The same as a PDF, if it is asked for."""

FIGURES = "figures"
"""The folder within that holds the pictures."""


def write_report(
    folder: Path | str, report: Report, *, inputs: Sequence[Path | str] = (), pdf: bool = False
) -> Path:
    """Write a report's files: all of them or, where that cannot be, none.

    Parameters
    ----------
    folder
        Made if it is missing; other files in it are left alone.
    report
        Becomes `PAGE`; its pictures are saved under `FIGURES`, its texts beside it.
    inputs
        Files that must not be overwritten, beside the report's own inputs.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite an input, or what writes PDF is not
        installed.
    """
    target = Path(folder)
    contents: dict[str, str | bytes] = {}
    if pdf:
        need_writer()
        from greyscale.reporting.pdf import pdf as pdf_of

        contents[PDF] = pdf_of(report)
    for picture in pictures(report.sections):
        contents[f"{FIGURES}/{picture.name}.png"] = picture.drawn.png
        contents[f"{FIGURES}/{picture.name}.svg"] = picture.drawn.svg
    contents |= report.texts()
    contents[PAGE] = html(report)
    keep_inputs((*report.inputs, *inputs), [target / name for name in contents])
    with whole_folder(target) as fresh:
        for name, content in contents.items():
            write_whole(fresh / name, content)
    return target / PAGE


def need_writer() -> None:
    """Refuse to go on if what writes PDF is not installed.

    Raises
    ------
    BadInput
        Saying what to install.
    """
    try:
        import fpdf  # noqa: F401
    except ModuleNotFoundError as error:
        reason = "writing PDF needs the package fpdf2; install it by: pip install fpdf2"
        raise BadInput(reason, "--pdf") from error
