"""The pages: a module and a template each, with the routes that belong to it.

What they share stands here: the paper that is asked for, its jobs, templates to answers.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse

from greyscale.aims.neutral import NEUTRAL_AIMS, presets
from greyscale.aims.tone import NAMED, TONE_AIMS
from greyscale.base.plain_text import day_and_time
from greyscale.page.choices import FORETOLD, LIGHTS
from greyscale.page.commands import Job, Run
from greyscale.page.papers import Paper, paper_of
from greyscale.reporting.style import EXAGGERATION

if TYPE_CHECKING:
    from jinja2 import Environment

SURROUND = "greyscale-surround"
"""The cookie that holds which surround a person wants: light, dark, or as the system has it."""


def paper_asked(request: Request) -> Paper:
    """Return the paper that an address names; HTTPException 404 where there is none."""
    found = paper_of(request.app.state.root, request.path_params["key"])
    if found is None:
        raise HTTPException(404, "There is no such paper here.")
    return found


def busy(request: Request, folder: Path) -> list[Path]:
    """Return what commands that are at work in a folder will write."""
    return [job.writes for job in request.app.state.jobs.of(folder) if not job.done.is_set()]


def begin(request: Request, run: Run, folder: Path) -> Job:
    """Begin a command in a folder."""
    job: Job = request.app.state.jobs.begin(run.what, run.arguments, folder, run.writes)
    return job


def way_back(given: str) -> str:
    """Return an address to go back to: one of this page, whatever is asked for."""
    own = given.startswith("/") and not given.startswith(("//", "/\\"))
    return given if own else "/"


def render(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """Answer with a template."""
    surround = request.cookies.get(SURROUND, "")
    text = _environment().get_template(template).render(
        surround=surround if surround in ("light", "dark") else "",
        here=request.url.path,
        relative=lambda path: path.relative_to(request.app.state.root).as_posix(),
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
    environment.globals |= {
        "address": address,
        "aims": tuple(TONE_AIMS),
        "day_and_time": day_and_time,
        "exaggeration": EXAGGERATION,
        "encodings": NAMED,
        "foretold": FORETOLD,
        "known_lights": LIGHTS,
        "neutral_aims": tuple(NEUTRAL_AIMS),
        "tonings": tuple(presets()),
    }
    return environment
