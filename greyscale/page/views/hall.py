"""Papers for a hall: which keeps its greys the most neutral under the lights that hang there."""

from __future__ import annotations

import re

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from greyscale.analysis.comparison import Comparison
from greyscale.base.errors import BadInput
from greyscale.base.plain_text import as_typed, rank_word
from greyscale.page import findings
from greyscale.page.choices import LIGHTS, light_name, weighted_lights
from greyscale.page.papers import Measured, Paper, papers
from greyscale.page.state import evidence
from greyscale.page.views import render
from greyscale.reporting.comparison_report import comparison_sentences, ranking, score_in_words


def of_hall(paper: Paper) -> tuple[Measured, ...]:
    """The readings that a paper is compared by: of the first sheet that was read both in M1 and
    M2, else of the first.
    """
    of_sheets: dict[int, list[Measured]] = {}
    for one in evidence(paper):
        of_sheets.setdefault(id(paper.sheet_of(one)), []).append(one)
    most: list[Measured] = max(of_sheets.values(), key=len, default=[])
    return tuple(most)


def hall(request: Request) -> Response:
    """Compare the papers that are ticked under the lights that are."""
    root, query = request.app.state.root, request.query_params
    measured = [(paper, of_hall(paper)) for paper in papers(root)]
    there = [(paper, readings) for paper, readings in measured if readings]
    asked = query.getlist("paper") or [paper.key for paper, _ in there]
    chosen = [(paper, readings) for paper, readings in there if paper.key in asked]
    as_printed = "printed" in query
    asked_weights = query.get("weights", "").strip()
    weights: tuple[tuple[str, float], ...] = ()
    problem, lights = "", list(dict.fromkeys(query.getlist("light") or LIGHTS[:3]))
    result: Comparison | None = None
    try:
        lights = [light_name(one) for one in lights]
        if more := query.get("more", "").strip():
            lights = list(dict.fromkeys((*lights, light_name(more))))
        weights = weighted_lights(asked_weights)
        if len(chosen) < 2:
            raise BadInput("measure two papers or more, and tick them")
        readings = [(paper.name, one.reading) for paper, some in chosen for one in some]
        found = findings.compared(tuple(readings), tuple(lights), as_printed, weights)
        if isinstance(found, BadInput):
            raise found
        result = found
    except BadInput as error:
        problem = findings.problem_words(error, root)
    files = [one.path.relative_to(root).as_posix() for _, some in chosen for one in some]
    said = ("compare", *files, *(part for one in lights for part in ("--light", one)))
    said += tuple(part for name, one in weights for part in ("--weight", f"{name}={one:g}"))
    said += ("--as-printed",) if as_printed else ()
    sentences = () if result is None else comparison_sentences(result)
    return render(
        request,
        "hall.html.j2",
        there=[paper for paper, _ in there],
        chosen=[paper.key for paper, _ in chosen],
        lights=tuple(dict.fromkeys((*LIGHTS, *lights))),
        lit=lights,
        weights=asked_weights,
        as_printed=as_printed,
        result=result,
        sentences=sentences,
        # The figures in brackets are left to the sentences below.
        first=re.sub(r" \([^)]*\)", "", sentences[0]) if sentences else "",
        ranking=None if result is None else ranking(result),
        score="" if result is None else score_in_words(result),
        rank_word=rank_word,
        problem=problem,
        said=as_typed(*said) if len(files) > 1 else "",
    )


ROUTES = (Route("/hall", hall),)
