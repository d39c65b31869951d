"""The studio: one line for each printer and paper, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from greyscale.analysis.analyse import Analysis
from greyscale.base.errors import BadInput
from greyscale.base.plain_text import as_typed
from greyscale.page import commands, findings
from greyscale.page.papers import LOG, Paper, papers
from greyscale.page.state import State, shown_of, state_of
from greyscale.page.uploads import plain_name, posted
from greyscale.page.views import SURROUND, address, begin, render, way_back
from greyscale.reporting.page import Strip, plain_and_strong


@dataclass(frozen=True)
class Entry:
    """A paper's line: where it stands, and its ramp with the cast below, if it was measured."""

    paper: Paper
    state: State
    strips: tuple[Strip, Strip] | None
    numbers: str


def _entry(paper: Paper) -> Entry:
    shown = shown_of(paper, None)
    if shown is None or not findings.usable(shown.measured, shown.sheet):
        return Entry(paper, state_of(paper), None, "")
    found = findings.analysed(shown.measured, (), "lstar", "fading", shown.made)
    if not isinstance(found, Analysis):
        return Entry(paper, state_of(paper), None, "")
    patches, neutrality = found.patches, found.neutrality
    strips = plain_and_strong(patches.level, patches.lab, patches.delta_ab, paper.name)
    numbers = (
        f"mean ΔCh {neutrality.mean_delta_Ch:.2f}, largest {neutrality.max_delta_Ch:.2f}, "
        f"Dmax {patches.density.max():.2f}"
    )
    return Entry(paper, state_of(paper), strips, numbers)


def studio(request: Request) -> Response:
    root = request.app.state.root
    jobs = request.app.state.jobs.of(root)
    return render(
        request,
        "studio.html.j2",
        entries=[_entry(one) for one in papers(root)],
        job=jobs[0] if jobs else None,
        log=LOG if (root / LOG).is_file() else "",
        says_the_same=as_typed(*commands.gather(root).arguments),
        overview=as_typed("log", "status", "--db", LOG),
    )


def gather(request: Request) -> Response:
    """Begin to make the folder's print log of its files."""
    root = request.app.state.root
    begin(request, commands.gather(root), root)
    return RedirectResponse("/", 303)


@posted
def new_paper(request: Request, asked: Mapping[str, str]) -> Response:
    """Make a folder for a printer and paper."""
    wanted = asked.get("name", "").strip()
    if not wanted:
        raise BadInput("give the paper a name, as you call it")
    name = plain_name(wanted)
    (request.app.state.root / name).mkdir(exist_ok=True)
    return RedirectResponse(address("paper", name), 303)


@posted
def surround(request: Request, asked: Mapping[str, str]) -> Response:
    """Keep which surround is wanted."""
    response = RedirectResponse(way_back(asked.get("back", "/")), 303)
    wanted = asked.get("surround", "")[:5]
    response.set_cookie(SURROUND, wanted, samesite="strict", max_age=365 * 86400)
    return response


ROUTES = (
    Route("/", studio),
    Route("/log", gather, methods=["POST"]),
    Route("/papers", new_paper, methods=["POST"]),
    Route("/surround", surround, methods=["POST"]),
)
