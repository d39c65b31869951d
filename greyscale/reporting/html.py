"""A report as a web page: one self-contained HTML file that asks for nothing from elsewhere.

All text is escaped: names and fields of files are shown as they stand and can do nothing. The one
script sorts tables and saves figures; the policy of the page lets no other run.
"""

from __future__ import annotations

from base64 import b64encode
from functools import lru_cache
from hashlib import sha256
from importlib.resources import files
from typing import TYPE_CHECKING

from greyscale.reporting.figures.canvas import Definitions, InlineSvg
from greyscale.reporting.page import Picture, Report, pictures
from greyscale.reporting.style import DARK, LIGHT, inks
from greyscale.reporting.swatches import Swatch

if TYPE_CHECKING:
    from jinja2 import Environment


def html(report: Report) -> str:
    """Make a report's web page.

    Returns
    -------
    The page's text. The same report gives the same page.
    """
    from greyscale import __version__

    definitions = Definitions()
    drawn = {picture: _forms(picture, definitions) for picture in pictures(report.sections)}
    script = _script()
    return _environment().get_template("base.html.j2").render(
        report=report, drawn=drawn, definitions=definitions.markup(), version=__version__,
        inks={"light": inks(LIGHT), "dark": inks(DARK)}, script=script,
        script_hash=b64encode(sha256(script.encode("utf-8")).digest()).decode("ascii"),
    )  # fmt: skip


def _forms(picture: Picture, definitions: Definitions) -> dict[str, InlineSvg]:
    """Return a picture for a wide page and for a phone, by the style sheet's names."""
    return {
        "wide": picture.drawn.inline(definitions),
        "narrow": picture.drawn.inline_narrow(definitions),
    }


@lru_cache
def _script() -> str:
    return (files("greyscale.reporting") / "pages" / "page.js").read_text(encoding="utf-8")


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
