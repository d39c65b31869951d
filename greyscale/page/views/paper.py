"""One printer and paper: verdict, tone scale, what to do next, and the diary of its sheets."""

from __future__ import annotations

import urllib.parse
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from greyscale.aims.neutral import NEUTRAL_AIMS
from greyscale.aims.tone import TONE_AIMS
from greyscale.aims.toning import presets
from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.base.plain_text import as_typed
from greyscale.page import commands, findings
from greyscale.page.choices import LIGHTS, Choices, choices_in, light_name
from greyscale.page.findings import Verdict, misread, of_analysis, of_verification, sheet_map
from greyscale.page.jobs import Job, Jobs
from greyscale.page.papers import (
    PICTURES,
    Measured,
    Paper,
    Sheet,
    look,
    paper_of,
    pictures,
    printed_mark,
)
from greyscale.page.render import address, render
from greyscale.page.state import Shown, first_readings, shown_of, state_of, without_uv
from greyscale.page.tone_scale import tone_scale
from greyscale.page.uploads import LARGEST, as_file, file_away, form
from greyscale.readings.formats import read
from greyscale.reporting.numbers import day_and_time

WAIT = 20.0
"""Seconds that an answer waits for a verdict before it says how far that is."""

PAGES = ("a4", "letter", "a3", "a5")


def _paper(request: Request) -> Paper:
    found = paper_of(request.app.state.root, request.path_params["key"])
    if found is None:
        raise HTTPException(404, "There is no such paper here.")
    return found


def _busy(request: Request, paper: Paper) -> list[Any]:
    return [job.writes for job in request.app.state.jobs.of(paper.folder) if not job.done.is_set()]


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
        "day_and_time": day_and_time,
        "relative": lambda path: path.relative_to(request.app.state.root).as_posix(),
        "checked": findings.checked,
        "aims": tuple(TONE_AIMS),
        "neutral_aims": tuple(NEUTRAL_AIMS),
        "tonings": tuple(presets()),
        "pages": PAGES,
        "known_lights": LIGHTS,
        "offered": _offered(request, paper, choices),
        "foretell": "",
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
    light = _light(choices.light)
    if isinstance(light, BadInput):
        return context | {"verdict": Verdict("This light is not known.", (light.message,))}
    lights = choices.lights if measured.reading.spectral else ()
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
        verdict = of_analysis(found)
        return context | {
            "verdict": verdict, "says_the_same": as_typed(*said), "foretell": foretell
        }  # fmt: skip
    proved = findings.verified(measured, made)
    context["says_the_same"] = as_typed(*commands.verify(measured, made, sheet))
    if proved is None:
        query = urllib.parse.urlencode({"show": measured.name})
        return context | {"verdict": of_analysis(found), "judging": f"judged?{query}"}
    if isinstance(proved, BadInput):
        return context | {"verdict": Verdict("This proves nothing yet.", (proved.message,))}
    return context | {"verdict": of_verification(proved)}


def _light(name: str) -> str | BadInput:
    try:
        return light_name(name) if name else ""
    except BadInput as error:
        return error


def _offered(request: Request, paper: Paper, choices: Choices) -> dict[str, str]:
    """The command behind each button that is offered now."""
    busy, state = _busy(request, paper), state_of(paper)
    offered = {"chart": commands.chart(paper, PAGES[0], busy)}
    if state.step == "correct" or paper.corrections:
        with suppress(BadInput):  # The row that foretells it says what is wrong.
            offered["correct"] = commands.correct(paper, choices.wishes, busy)
        first = first_readings(paper)
        if first and any(paper.sheet_of(one) for one in first):
            offered["follow-up"] = commands.follow_up(paper, first[0], PAGES[0], busy)
    if paper.corrections:
        offered["proof"] = commands.proof(paper, paper.corrections[-1], PAGES[0], busy)
    if state.step == "repair" and state.measured is not None:
        offered["repair"] = commands.repair(state.measured, state.sheet, busy)
    if state.measured is not None and state.made is not None:
        offered["round"] = commands.next_round(paper, state.measured, state.made, busy)
    return {step: as_typed(*run.arguments) for step, run in offered.items()}


def _told(request: Request, error: BadInput) -> str:
    return findings.problem_words(error, request.app.state.root)


async def view(request: Request, problem: str = "", status: int = 200) -> Response:
    """Show a paper."""
    paper = await run_in_threadpool(_paper, request)
    choices = choices_in(request.query_params)
    name = request.query_params.get("show")
    context = await run_in_threadpool(_context, request, paper, name, choices, problem)
    return render(request, "paper.html.j2", status, **context)


def _begin(request: Request, paper: Paper, step: str, asked: Mapping[str, str]) -> Job:
    """Begin the command of a step; as the next step it is begun once."""
    busy, state, choices = _busy(request, paper), state_of(paper), choices_in(asked)
    page = asked["page"] if asked.get("page") in PAGES else PAGES[0]
    first = first_readings(paper)
    if step == "chart":
        run = commands.chart(paper, page, busy)
    elif step == "follow-up" and first:
        run = commands.follow_up(paper, first[0], page, busy)
    elif step == "proof" and paper.corrections:
        run = commands.proof(paper, paper.corrections[-1], page, busy)
    elif step == "correct" and first:
        run = commands.correct(paper, choices.wishes, busy, asked.get("name", ""))
    elif step == "round" and state.measured is not None and state.made is not None:
        run = commands.next_round(paper, state.measured, state.made, busy)
    elif step == "repair":
        shown = shown_of(paper, asked.get("show"))
        if shown is None:
            raise BadInput("there is no such reading here any more")
        run = commands.repair(shown.measured, shown.sheet, busy)
    else:
        raise BadInput("the files have changed meanwhile, and this cannot be done now; look again")
    jobs: Jobs = request.app.state.jobs
    if asked.get("next"):
        # A second tab, or a page that was gone back to, may still offer what is done or under way.
        at_work = [one for one in jobs.of(paper.folder) if not one.done.is_set()]
        if same := [one for one in at_work if one.what == run.what]:
            return same[0]
        if step != state.step:
            raise BadInput(
                "this was done meanwhile, in another tab or by a command; see what is next now"
            )
    return jobs.begin(run.what, run.arguments, paper.folder, run.writes)


async def make(request: Request) -> Response:
    """Begin what a button stands for."""
    async with form(request) as given:
        asked = {name: value for name, value in given.items() if isinstance(value, str)}
    paper = await run_in_threadpool(_paper, request)
    try:
        await run_in_threadpool(_begin, request, paper, request.path_params["step"], asked)
    except BadInput as error:
        return await view(request, _told(request, error), 422)
    query = choices_in(asked).query
    return RedirectResponse(f"{address('paper', paper.key)}{'?' if query else ''}{query}", 303)


async def add(request: Request) -> Response:
    """File readings and pictures that were dropped or chosen."""
    paper = await run_in_threadpool(_paper, request)
    target: Path | None = None
    async with form(request, LARGEST) as given:
        wanted = str(given.get("sheet") or "")
        sheet = next((one for one in paper.sheets if one.stem == wanted), None)
        uploads = [one for one in given.getlist("file") if isinstance(one, UploadFile)]
        try:
            if not any(one.filename for one in uploads):
                raise BadInput("choose a file first")
            for upload in uploads:
                async with as_file(upload) as file:
                    filed, owner = await run_in_threadpool(file_away, paper, file, sheet)
                    target = await run_in_threadpool(_complete, request, paper, filed, owner)
        except BadInput as error:
            return await view(request, _told(request, error), 422)
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
    run = commands.complete(measured, sheet, _busy(request, paper))
    request.app.state.jobs.begin(run.what, run.arguments, paper.folder, run.writes)
    return run.writes


async def judged(request: Request) -> Response:
    """Answer when a proof is judged, or after a while."""

    def wait() -> bool:
        paper = _paper(request)
        shown = shown_of(paper, request.query_params.get("show"))
        if shown is None or shown.made is None:
            return True
        return findings.verified(shown.measured, shown.made, WAIT) is not None

    return JSONResponse({"done": await run_in_threadpool(wait)})


async def printed(request: Request) -> Response:
    """Mark a sheet as printed now, or take that mark away."""
    async with form(request) as given:
        stem, off = str(given.get("sheet") or ""), "off" in given
    paper = await run_in_threadpool(_paper, request)
    sheet = next((one for one in paper.sheets if one.stem == stem), None)
    if sheet is None:
        return await view(request, "there is no such sheet here any more", 422)
    mark = printed_mark(sheet.path)
    if off and sheet.printed is not None:
        mark.unlink(missing_ok=True)
    elif not off and not mark.exists():
        write_whole(mark, f"{datetime.now().isoformat(timespec='minutes')}\n")
    return RedirectResponse(address("paper", paper.key), 303)


ROUTES = (
    Route("/paper/{key}", view),
    Route("/paper/{key}/printed", printed, methods=["POST"]),
    Route("/paper/{key}/judged", judged),
    Route("/paper/{key}/add", add, methods=["POST"]),
    Route("/paper/{key}/{step}", make, methods=["POST"]),
)
