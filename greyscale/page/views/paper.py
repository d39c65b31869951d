"""One printer and paper: verdict, tone scale, what to do next, and the diary of its sheets."""

from __future__ import annotations

import urllib.parse
from collections.abc import Collection, Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.base.plain_text import as_typed
from greyscale.page import commands, findings
from greyscale.page.choices import Choices, choices_in, light_name
from greyscale.page.commands import Run
from greyscale.page.findings import (
    Lights,
    Verdict,
    misread,
    of_analysis,
    of_verification,
    sheet_map,
)
from greyscale.page.papers import PICTURES, Measured, Paper, Sheet, look, pictures, printed_mark
from greyscale.page.state import Shown, evidence, first_readings, shown_of, state_of, without_uv
from greyscale.page.tone_scale import histogram, tone_scale
from greyscale.page.uploads import LARGEST, as_file, file_away, form, posted
from greyscale.page.views import address, begin, busy, paper_asked, render
from greyscale.readings.formats import read
from greyscale.reporting.correction_report import correction_sentences
from greyscale.reporting.page import plain_and_strong

WAIT = 20.0
"""Seconds that an answer waits for a verdict before it says how far that is."""

PAGES = ("a4", "letter", "a3", "a5")


def _context(
    request: Request, paper: Paper, name: str | None, choices: Choices, problem: str
) -> dict[str, Any]:
    shown = shown_of(paper, name)
    context: dict[str, Any] = {
        "paper": paper,
        "state": state_of(paper),
        "shown": shown,
        "choices": choices,
        "problem": problem,
        "check": None,
        "scale": None,
        "sheet_map": None,
        "verdict": Verdict("Nothing has been measured yet.", ()),
        "says_the_same": "",
        "pictures": pictures(paper.folder),
        "jobs": request.app.state.jobs.of(paper.folder)[:5],
        "checked": findings.checked,
        "pages": PAGES,
        "offered": _offered(request, paper, choices),
        "foretell": "",
        "histogram": "",
        "unseen": "",
        "judging": "",
    }
    if shown is not None:
        context |= _measured(paper, shown, choices)
    return context


def _measured(paper: Paper, shown: Shown, choices: Choices) -> dict[str, Any]:
    """What the shown reading says."""
    measured, sheet, made = shown.measured, shown.sheet, shown.made
    check = findings.checked(measured, sheet)
    if isinstance(check, BadInput):
        return {"verdict": Verdict("This reading cannot be used.", (str(check.message),))}
    drawn = None if check.clean else sheet_map(measured.reading, sheet, check)
    context: dict[str, Any] = {"check": check, "sheet_map": drawn}
    if check.certain:
        said = commands.check(measured, sheet)
        return context | {"verdict": misread(check), "says_the_same": as_typed(*said)}
    try:
        light_name(choices.light or "D50")
    except BadInput as error:
        return context | {"verdict": Verdict("This light is not known.", (error.message,))}
    lights: Lights = choices.lights
    if made is not None:
        # A proof is judged in the lights of its correction, by name or not.
        lights += tuple(one.light for one in made.correction.lights if one.name not in lights)
    lights = lights if measured.reading.spectral else ()
    beside = without_uv(paper, measured) if made is None else ()
    whole = findings.glowing(measured, beside)
    found = findings.analysed(whole, lights, choices.aim, choices.neutral, made)
    if isinstance(found, BadInput):
        return context | {"verdict": Verdict("This cannot be shown.", (str(found),))}
    context["scale"] = tone_scale(found)
    if made is None:
        extra = [choices.light] if choices.light else []
        said = commands.analyse((measured, *beside), extra, choices.aim, choices.neutral, sheet)
        foretell = f"predicted?{choices.query}" if measured in first_readings(paper) else ""
        return {
            **context,
            **_picture(paper, choices),
            "verdict": of_analysis(found),
            "says_the_same": as_typed(*said),
            "foretell": foretell,
        }
    proved = findings.verified(measured, made)
    context["says_the_same"] = as_typed(*commands.verify(measured, made, sheet))
    if proved is None:
        query = urllib.parse.urlencode({"show": measured.name})
        return context | {"verdict": of_analysis(found), "judging": f"judged?{query}"}
    if isinstance(proved, BadInput):
        return context | {"verdict": Verdict("This proves nothing yet.", (proved.message,))}
    return context | {"verdict": of_verification(proved)}


def _picture(paper: Paper, choices: Choices) -> dict[str, Any]:
    """Of the chosen picture its tones, which share the axis, or why it is not shown."""
    if not choices.picture:
        return {}
    first, picture = first_readings(paper)[0], paper.folder / choices.picture
    found = findings.seen(first, None, picture, "D50", choices.encoding)
    if isinstance(found, BadInput):
        return {"unseen": findings.why_not_seen(found, paper.folder)}
    return {"histogram": histogram(found.picture.shares)}


def _choices(paper: Paper, given: Mapping[str, Any]) -> Choices:
    return choices_in(given, [one.name for one in pictures(paper.folder)])


def _run(paper: Paper, step: str, asked: Mapping[str, str], taken: Collection[Path]) -> Run | None:
    """The command of a step; None where the files as they are leave nothing to do for it."""
    state, first = state_of(paper), first_readings(paper)
    page = asked["page"] if asked.get("page") in PAGES else PAGES[0]
    if step == "chart":
        return commands.chart(paper, page, taken)
    if step == "follow-up" and first:
        return commands.follow_up(paper, first[0], page, taken)
    if step == "proof" and paper.corrections:
        return commands.proof(paper, paper.corrections[-1], page, taken)
    if step == "correct" and first:
        return commands.correct(paper, _choices(paper, asked).options, taken, asked.get("name", ""))
    if step == state.step == "round" and state.measured is not None and state.made is not None:
        return commands.next_round(paper, state.measured, state.made, taken)
    if step == "repair" and (shown := shown_of(paper, asked.get("show"))) is not None:
        return commands.repair(shown.measured, shown.sheet, taken)
    return None


def _offered(request: Request, paper: Paper, choices: Choices) -> dict[str, str]:
    """The command behind each button that is offered now."""
    taken, now = busy(request, paper.folder), state_of(paper).step
    steps = ["chart", "proof", "round", *(["repair"] if now == "repair" else [])]
    if now == "correct" or paper.corrections:
        steps += ["correct"]
        if any(paper.sheet_of(one) for one in first_readings(paper)):
            steps += ["follow-up"]
    offered = {}
    for step in steps:
        with suppress(BadInput):  # The row that foretells a correction says what is wrong.
            if (run := _run(paper, step, vars(choices), taken)) is not None:
                offered[step] = as_typed(*run.arguments)
    return offered


def _told(request: Request, error: BadInput) -> str:
    return findings.problem_words(error, request.app.state.root)


def view(request: Request, problem: str = "", status: int = 200) -> Response:
    """Show a paper."""
    paper = paper_asked(request)
    choices = _choices(paper, request.query_params)
    context = _context(request, paper, request.query_params.get("show"), choices, problem)
    return render(request, "paper.html.j2", status, **context)


def _begin(request: Request, paper: Paper, step: str, asked: Mapping[str, str]) -> None:
    """Begin the command of a step; as the next step it is begun once."""
    run = _run(paper, step, asked, busy(request, paper.folder))
    if run is None:
        raise BadInput("the files have changed meanwhile, and this cannot be done now; look again")
    if asked.get("next"):
        # A second tab, or a page that was gone back to, may still offer what is done or under way.
        at_work = [job for job in request.app.state.jobs.of(paper.folder) if not job.done.is_set()]
        if any(job.what == run.what for job in at_work):
            return
        if step != state_of(paper).step:
            raise BadInput(
                "this was done meanwhile, in another tab or by a command; see what is next now"
            )
    begin(request, run, paper.folder)


@posted
def make(request: Request, asked: Mapping[str, str]) -> Response:
    """Begin what a button stands for."""
    paper = paper_asked(request)
    try:
        _begin(request, paper, request.path_params["step"], asked)
    except BadInput as error:
        return view(request, _told(request, error), 422)
    query = _choices(paper, asked).query
    return RedirectResponse(f"{address('paper', paper.key)}{'?' if query else ''}{query}", 303)


async def add(request: Request) -> Response:
    """File readings and pictures that were dropped or chosen."""
    paper = await run_in_threadpool(paper_asked, request)
    async with form(request, LARGEST) as given:
        uploads = [one for one in given.getlist("file") if isinstance(one, UploadFile)]
        return await run_in_threadpool(_add, request, paper, given.get("sheet"), uploads)


def _add(request: Request, paper: Paper, stem: object, uploads: list[UploadFile]) -> Response:
    target: Path | None = None
    sheet = next((one for one in paper.sheets if one.stem == stem), None)
    try:
        if not any(one.filename for one in uploads):
            raise BadInput("choose a file first")
        for upload in uploads:
            with as_file(upload) as file:
                target = _complete(request, paper, *file_away(paper, file, sheet))
    except BadInput as error:
        return view(request, _told(request, error), 422)
    if target is not None and target.suffix.lower() in PICTURES:
        return RedirectResponse(address("paper", paper.key, "picture", target.name), 303)
    query = urllib.parse.urlencode({"show": target.name} if target else {})
    return RedirectResponse(f"{address('paper', paper.key)}?{query}", 303)


def _complete(request: Request, paper: Paper, path: Path, sheet: Sheet | None) -> Path:
    """Let a reading that states no device values be written out with those of its layout.

    Returns
    -------
    Where the reading will be that is to be looked at.
    """
    if sheet is None or look(path) is not None:
        return path
    measured = Measured(path, read(path, layout=sheet.layout))
    run = commands.complete(measured, sheet, busy(request, paper.folder))
    begin(request, run, paper.folder)
    return run.writes


def judged(request: Request) -> Response:
    """Answer when a proof is judged, or after a while."""
    shown = shown_of(paper_asked(request), request.query_params.get("show"))
    if shown is None or shown.made is None:
        return JSONResponse({"done": True})
    found = findings.verified(shown.measured, shown.made, WAIT)
    return JSONResponse({"done": found is not None})


@posted
def printed(request: Request, asked: Mapping[str, str]) -> Response:
    """Mark a sheet as printed now, or take that mark away."""
    paper, off = paper_asked(request), "off" in asked
    sheet = next((one for one in paper.sheets if one.stem == asked.get("sheet")), None)
    if sheet is None:
        return view(request, "there is no such sheet here any more", 422)
    mark = printed_mark(sheet.path)
    if off and sheet.printed is not None:
        mark.unlink(missing_ok=True)
    elif not off and not mark.exists():
        write_whole(mark, f"{datetime.now().isoformat(timespec='minutes')}\n")
    return RedirectResponse(address("paper", paper.key), 303)


# What a correction would make of the ramp, by the choices: a row of the tone scale.


def predicted(request: Request) -> Response:
    """Answer with the row."""
    paper = paper_asked(request)
    readings = tuple(one.reading for one in evidence(paper))
    if not readings:
        raise HTTPException(404, "Nothing of this paper is measured yet.")
    choices = _choices(paper, request.query_params)
    found = findings.foretold(readings, choices, paper.folder)
    if isinstance(found, BadInput):
        return render(request, "predicted.html.j2", strips=None, sentences=(found.message,))
    levels = np.linspace(0.0, 1.0, 33)
    lab, curve = found.curve.predict(levels), found.curve.levels
    aimed = [np.interp(levels, curve, found.aim_lab[:, axis]) for axis in (1, 2)]
    strips = plain_and_strong(levels, lab, lab[:, 1:] - np.column_stack(aimed), "as corrected")
    said = correction_sentences(found)
    return render(request, "predicted.html.j2", strips=strips, sentences=said)


ROUTES = (
    Route("/paper/{key}", view),
    Route("/paper/{key}/predicted", predicted),
    Route("/paper/{key}/printed", printed, methods=["POST"]),
    Route("/paper/{key}/judged", judged),
    Route("/paper/{key}/add", add, methods=["POST"]),
    Route("/paper/{key}/{step}", make, methods=["POST"]),
)
