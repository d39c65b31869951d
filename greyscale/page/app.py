"""The application: its views, its jobs, and what guards them.

A further view is a module in `views/` with its `ROUTES`, and its name in `VIEWS`.
"""

from __future__ import annotations

import errno
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from greyscale.base.errors import BadInput
from greyscale.page.jobs import Jobs
from greyscale.page.render import render
from greyscale.page.safety import OwnTabsOnly
from greyscale.page.views import files, hall, paper, picture, predicted, studio, typed, work

VIEWS = (studio, hall, typed, paper, predicted, picture, work, files)


def create_app(root: Path, token: str, port: int) -> OwnTabsOnly:
    """Make the application that serves a folder.

    Parameters
    ----------
    root
        The folder.
    token
        The random token of this run.
    port
        Where it will be served.
    """
    jobs = Jobs()

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        jobs.end()

    app = Starlette(
        routes=[
            *(route for view in VIEWS for route in view.ROUTES),
            Mount("/static", StaticFiles(packages=[("greyscale.page", "static")])),
        ],
        exception_handlers={
            BadInput: _refused,
            OSError: _failed,
            HTTPException: _absent,
            Exception: _unforeseen,
        },
        lifespan=lifespan,
    )
    app.router.redirect_slashes = False
    app.state.root = root.resolve()
    app.state.jobs = jobs
    # Outermost: whatever goes wrong within, no answer is without its policy.
    return OwnTabsOnly(app, token, port)


async def _refused(request: Request, error: Exception) -> Response:
    return render(request, "problem.html.j2", 422, problem=str(error))


async def _failed(request: Request, error: Exception) -> Response:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    # A name that no file can have is a mistake of whoever asked, not of this machine.
    status = 422 if isinstance(error, OSError) and error.errno == errno.ENAMETOOLONG else 500
    return render(request, "problem.html.j2", status, problem=f"It could not be done: {reason}.")


async def _absent(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    detail = error.detail if isinstance(error, HTTPException) else str(error)
    return render(request, "problem.html.j2", status, problem=detail)


async def _unforeseen(request: Request, error: Exception) -> Response:
    fault = f"A fault of the program itself: {type(error).__name__}: {error}."
    return render(request, "problem.html.j2", 500, problem=f"{fault} Nothing was half written.")
