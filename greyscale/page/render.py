"""Templates to answers, all text escaped."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse

from greyscale.reporting.swatches import EXAGGERATION

if TYPE_CHECKING:
    from jinja2 import Environment

SURROUND = "greyscale-surround"
"""The cookie that holds which surround a person wants: light, dark, or as the system has it."""


def render(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """Answer with a template."""
    surround = request.cookies.get(SURROUND, "")
    text = _environment().get_template(template).render(
        surround=surround if surround in ("light", "dark") else "",
        here=request.url.path,
        folder_name=request.app.state.root.name or str(request.app.state.root),
        **context,
    )  # fmt: skip
    return HTMLResponse(text, status)


def address(*parts: str) -> str:
    """Return the path of an address from its parts.

    Examples
    --------
    >>> address("paper", "cotton rag/2")
    '/paper/cotton%20rag%2F2'
    """
    return "".join(f"/{quote(part, safe='')}" for part in parts)


@lru_cache
def _environment() -> Environment:
    from greyscale.reporting.html import templates

    environment = templates("greyscale.page", "templates")
    environment.globals |= {"address": address, "exaggeration": EXAGGERATION}
    return environment
