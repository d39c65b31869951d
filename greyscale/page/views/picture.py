"""A picture on its paper: before and after a correction, under a light; the corrected file."""

from __future__ import annotations

import io
import urllib.parse
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from greyscale.aims.tone import NAMED
from greyscale.analysis.analyse import Analysis
from greyscale.applying.preview import Preview
from greyscale.base.errors import BadInput
from greyscale.base.plain_text import as_typed
from greyscale.correction.record import Correction
from greyscale.page import commands, findings
from greyscale.page.choices import FORETOLD, Choices, choices_in, light_name
from greyscale.page.papers import Made, Measured, Paper, made_of, pictures
from greyscale.page.state import evidence, first_readings
from greyscale.page.tone_scale import histogram, tone_scale
from greyscale.page.uploads import posted
from greyscale.page.views import address, begin, busy, paper_asked, render
from greyscale.reporting.analysis_words import side_words
from greyscale.reporting.preview_sheet import NOT_THE_PRINT

STRENGTHS = (1, 2, 3, 4)
SIDES, LEVELS = ("before", "after"), "levels"


@dataclass(frozen=True)
class Looked:
    """How a picture is looked at."""

    correction: str = ""
    light: str = "D50"
    encoding: str = ""
    cast: int = 1

    @property
    def query(self) -> str:
        usual = vars(Looked())
        return urllib.parse.urlencode({k: v for k, v in vars(self).items() if v != usual[k]})


def looked_at(given: Mapping[str, Any], paper: Paper) -> Looked:
    """Take from an address or a form how a picture is looked at."""
    names = [FORETOLD, *(one.path.name for one in paper.corrections)]
    asked = {name: str(given.get(name) or "")[:200].strip() for name in vars(Looked())}
    return Looked(
        correction=asked["correction"] if asked["correction"] in names else names[-1],
        light=asked["light"] or "D50",
        encoding=asked["encoding"] if asked["encoding"] in NAMED else "",
        cast=int(asked["cast"]) if asked["cast"] in map(str, STRENGTHS) else 1,
    )


def _found(request: Request) -> tuple[Paper, Path]:
    """The paper and the picture that an address names; neither ever becomes a path."""
    paper, name = paper_asked(request), request.path_params["name"]
    picture = next((one for one in pictures(paper.folder) if one.name == name), None)
    if picture is None:
        raise HTTPException(404, "There is no such picture here.")
    return paper, picture


def _made(paper: Paper, looked: Looked) -> Made | None:
    return next((one for one in paper.corrections if one.path.name == looked.correction), None)


def _correction(paper: Paper, looked: Looked, choices: Choices) -> Correction | None:
    """The correction that is looked through.

    Raises
    ------
    BadInput
        Where none could be made by the choices.
    """
    made = _made(paper, looked)
    if made is not None:
        return made.correction
    readings = tuple(one.reading for one in evidence(paper))
    found = findings.foretold(readings, choices, paper.folder)
    if isinstance(found, BadInput):
        raise found
    return found


def _reading(paper: Paper) -> Measured | None:
    """The reading that tells how the paper prints without a correction."""
    readings = first_readings(paper)
    return readings[0] if readings else None


def _preview(paper: Paper, picture: Path, looked: Looked, choices: Choices) -> Preview | BadInput:
    measured = _reading(paper)
    if measured is None:
        return BadInput("a chart of this paper has to be measured first")
    try:
        light = light_name(looked.light)
        correction = _correction(paper, looked, choices)
    except BadInput as error:
        return error
    return findings.seen(measured, correction, picture, light, looked.encoding)


def _context(paper: Paper, picture: Path, request: Request, problem: str) -> dict[str, Any]:
    looked = looked_at(request.query_params, paper)
    choices = choices_in(request.query_params, (picture.name,))
    made, measured = _made(paper, looked), _reading(paper)
    shown = _preview(paper, picture, looked, choices)
    jobs = [job for job in request.app.state.jobs.of(paper.folder) if picture.name in job.arguments]
    said = {}
    if measured is not None:
        words = commands.preview(
            measured, made, picture, looked.light, looked.encoding, looked.cast
        )  # fmt: skip
        said["preview"] = as_typed(*words)
    if made is not None:
        run = commands.apply(made, picture, looked.encoding, busy(request, paper.folder))
        said["apply"] = as_typed(*run.arguments)
    right = shown if isinstance(shown, Preview) else None
    analysis = None if measured is None else findings.analysed(
        measured, (), made.correction.aim if made else choices.aim, "fading", None
    )  # fmt: skip
    # The light is the one that is looked under.
    others = replace(choices, light="", encoding="")
    scale = tone_scale(analysis) if right and isinstance(analysis, Analysis) else None
    return {
        "scale": scale,
        "histogram": histogram(right.picture.shares) if right else "",
        "paper": paper,
        "picture": picture,
        "looked": looked,
        "query": "&".join(filter(None, (looked.query, others.query))),
        "choices": choices,
        "made": made,
        "shown": right,
        "problem": problem
        or ("" if isinstance(shown, Preview) else findings.why_not_seen(shown, paper.folder)),
        "sides": [(one, side_words(one)) for one in right.sides] if right else [],
        "words": (*right.expected, *right.remarks, NOT_THE_PRINT) if right else (),
        "said": said,
        "jobs": jobs,
        "corrected": made_of(picture),
        "strengths": STRENGTHS,
    }


def view(request: Request, problem: str = "", status: int = 200) -> Response:
    """Show a picture before and after."""
    context = _context(*_found(request), request, problem)
    return render(request, "picture.html.j2", status, **context)


def drawn(request: Request) -> Response:
    """Send one of the two prints as a PNG, or the levels that make them."""
    from greyscale.reporting.preview_sheet import levels_as_greys, print_as_seen, write_png

    paper, picture = _found(request)
    looked = looked_at(request.query_params, paper)
    choices = choices_in(request.query_params, (picture.name,))
    side = request.path_params["side"]
    if side not in (*SIDES, LEVELS):
        raise HTTPException(404, "There is no such side.")
    shown = _preview(paper, picture, looked, choices)
    if isinstance(shown, BadInput):
        raise shown
    file = io.BytesIO()
    if side == LEVELS:
        write_png(levels_as_greys(shown), file)
    else:
        chosen = shown.sides[SIDES.index(side)]
        write_png(print_as_seen(shown, chosen, float(looked.cast)), file)
    return Response(file.getvalue(), media_type="image/png")


@posted
def correct(request: Request, asked: Mapping[str, str]) -> Response:
    """Begin to correct the picture."""
    paper, picture = _found(request)
    looked = looked_at(asked, paper)
    made = _made(paper, looked)
    if made is None:
        return view(request, "there is no correction of this paper yet", 422)
    run = commands.apply(made, picture, looked.encoding, busy(request, paper.folder))
    begin(request, run, paper.folder)
    back = address("paper", paper.key, "picture", picture.name)
    return RedirectResponse(f"{back}{'?' if looked.query else ''}{looked.query}", 303)


ROUTES = (
    Route("/paper/{key}/picture/{name}", view),
    Route("/paper/{key}/picture/{name}/{side}.png", drawn),
    Route("/paper/{key}/picture/{name}/apply", correct, methods=["POST"]),
)
