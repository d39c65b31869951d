"""What a correction would make of the ramp, by the choices: a row of the tone scale."""

from __future__ import annotations

from typing import Any

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from greyscale.base.errors import BadInput
from greyscale.page import findings
from greyscale.page.choices import choices_in
from greyscale.page.papers import pictures
from greyscale.page.render import paper_asked, render
from greyscale.page.state import evidence
from greyscale.reporting.correction_report import correction_sentences
from greyscale.reporting.page import plain_and_strong


def _context(request: Request) -> dict[str, Any]:
    paper = paper_asked(request)
    readings = tuple(one.reading for one in evidence(paper))
    if not readings:
        raise HTTPException(404, "Nothing of this paper is measured yet.")
    choices = choices_in(request.query_params, [one.name for one in pictures(paper.folder)])
    found = findings.foretold(readings, choices, paper.folder)
    if isinstance(found, BadInput):
        return {"strips": None, "sentences": (found.message,)}
    levels = np.linspace(0.0, 1.0, 33)
    lab, curve = found.curve.predict(levels), found.curve.levels
    aimed = [np.interp(levels, curve, found.aim_lab[:, axis]) for axis in (1, 2)]
    strips = plain_and_strong(levels, lab, lab[:, 1:] - np.column_stack(aimed), "as corrected")
    return {"strips": strips, "sentences": correction_sentences(found)}


async def predicted(request: Request) -> Response:
    """Answer with the row."""
    return render(request, "predicted.html.j2", **await run_in_threadpool(_context, request))


ROUTES = (Route("/paper/{key}/predicted", predicted),)
