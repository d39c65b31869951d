"""Work in progress: waited for, and cancelled."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from greyscale.page.commands import Job
from greyscale.page.render import way_back
from greyscale.page.uploads import form

PATIENCE = 20.0
"""Seconds that an answer waits for the end of a job before it says how far that is."""


def _job(request: Request) -> Job:
    job: Job | None = request.app.state.jobs.numbered(request.path_params["number"])
    if job is None:
        raise HTTPException(404, "There is no such job.")
    return job


async def wait(request: Request) -> Response:
    """Answer when a job is done, or after a while."""
    job = _job(request)
    done = await run_in_threadpool(job.done.wait, PATIENCE)
    return JSONResponse({"done": done})


async def cancel(request: Request) -> Response:
    """Cancel a job."""
    job = _job(request)
    async with form(request) as given:
        back = str(given.get("back") or "/")
    request.app.state.jobs.cancel(job)
    await run_in_threadpool(job.done.wait, PATIENCE)
    return RedirectResponse(way_back(back), 303)


ROUTES = (
    Route("/work/{number:int}", wait),
    Route("/work/{number:int}/cancel", cancel, methods=["POST"]),
)
