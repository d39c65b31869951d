"""Work in progress, waited for and cancelled; the files that it leaves, shown and downloaded."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from greyscale.page.commands import Job
from greyscale.page.uploads import posted
from greyscale.page.views import way_back

PATIENCE = 20.0
"""Seconds that an answer waits for the end of a job before it says how far that is."""


def _job(request: Request) -> Job:
    job: Job | None = request.app.state.jobs.numbered(request.path_params["number"])
    if job is None:
        raise HTTPException(404, "There is no such job.")
    return job


def wait(request: Request) -> Response:
    """Answer when a job is done, or after a while."""
    return JSONResponse({"done": _job(request).done.wait(PATIENCE)})


@posted
def cancel(request: Request, asked: Mapping[str, str]) -> Response:
    """Cancel a job."""
    job = _job(request)
    request.app.state.jobs.cancel(job)
    job.done.wait(PATIENCE)
    return RedirectResponse(way_back(asked.get("back", "/")), 303)


# Files of the folder, to be downloaded or looked at: nothing outside it, and no links.

SHOWN = {".png": "image/png", ".jpg": "image/jpeg", ".html": "text/html; charset=utf-8"}
"""What a browser may show in place of saving it."""

FOREIGN = "sandbox; default-src 'none'; img-src data:; style-src 'unsafe-inline'"
"""The policy of a report: nothing in it runs, and it has no part in this origin."""


def inside(root: Path, given: str) -> Path:
    """Find a file by its path within a folder, that no link and no step upwards leads out of.

    Raises
    ------
    HTTPException
        404 for everything else.
    """
    missing = HTTPException(404, "There is no such file here.")
    path = root
    for part in given.split("/"):
        if not part or part.startswith(".") or "\\" in part or "\0" in part or ":" in part:
            raise missing
        path = path / part
        if path.is_symlink():
            raise missing
    if not path.is_file() or not path.resolve().is_relative_to(root):
        raise missing
    return path


def file(request: Request) -> Response:
    """Send a file."""
    path = inside(request.app.state.root, request.path_params["path"])
    kind = SHOWN.get(path.suffix.lower())
    if kind is None or "download" in request.query_params:
        return FileResponse(path, media_type="application/octet-stream", filename=path.name)
    headers = {"Content-Security-Policy": FOREIGN}
    return FileResponse(path, media_type=kind, headers=headers)


ROUTES = (
    Route("/work/{number:int}", wait),
    Route("/work/{number:int}/cancel", cancel, methods=["POST"]),
    Route("/file/{path:path}", file),
)
