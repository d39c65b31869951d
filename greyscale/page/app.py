"""The application: its views, its jobs, what guards them, and how it is served.

A further view is a module in `views/` with its `ROUTES`, and its name in `VIEWS`.
"""

from __future__ import annotations

import errno
import hmac
import os
import secrets
import socket
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractContextManager, asynccontextmanager, suppress
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from urllib.parse import parse_qs

from starlette.applications import Starlette
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from greyscale.base.errors import BadInput
from greyscale.base.files import resolved
from greyscale.base.libraries import numpy_on_one_thread
from greyscale.base.outputs import default_log, guarded
from greyscale.page import findings
from greyscale.page.commands import Jobs
from greyscale.page.views import hall, paper, picture, render, studio, typed, work

VIEWS = (studio, hall, typed, paper, picture, work)


def create_app(root: Path, token: str, port: int) -> OwnTabsOnly:
    """Make the application that serves a folder."""
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
        exception_handlers=dict.fromkeys((BadInput, OSError, HTTPException, Exception), _problem),
        lifespan=lifespan,
    )
    app.router.redirect_slashes = False
    app.state.root = root.resolve()
    app.state.jobs = jobs
    # Outermost: whatever goes wrong within, no answer is without its policy.
    return OwnTabsOnly(app, token, port)


async def _problem(request: Request, error: Exception) -> Response:
    status, said = 500, f"A fault of the program itself: {type(error).__name__}: {error}."
    match error:
        case BadInput():
            status, said = 422, findings.problem_words(error, request.app.state.root)
        case HTTPException():
            status, said = error.status_code, error.detail
        case OSError():
            # A name that no file can have is a mistake of whoever asked, not of this machine.
            status = 422 if error.errno == errno.ENAMETOOLONG else 500
            said = f"It could not be done: {error.strerror or error}."
        case _:
            said += " Nothing was half written."
    return render(request, "problem.html.j2", status, problem=said)


# Who may speak to the page: this run's own browser tabs, and nobody else.
#
# Any site that is open in the same browser can send requests to 127.0.0.1, and a name of its own
# can be made to lead there. So every request must be for this very host and port, carry the random
# token of this run (in a cookie that no other site's request brings along), and, where it changes
# anything, come from this origin.

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    # Without a referrer at all, a form would come from no origin.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}
"""Sent with every answer, unless it has its own."""

STRANGER = (
    "This address is not the one that 'greyscale page' opened. Use the address that it printed "
    "when it started, with its token; it is another at each start."
)


class OwnTabsOnly:
    """Let through what comes from this run's own tabs.

    Parameters
    ----------
    port
        The port it is served on; part of the cookie's name, for cookies are shared by all ports.
    """

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self.app = app
        self.token = token
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.cookie = f"greyscale-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        refusal = self._refusal(scope)
        answer = refusal or self.app

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await answer(scope, receive, with_headers)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if host not in self.hosts:
            return PlainTextResponse("This host is not served here.", 421)
        origin = headers.get("origin")
        asks = scope["method"] in ("GET", "HEAD")
        if (origin is None and not asks) or (origin is not None and origin != f"http://{host}"):
            return PlainTextResponse("Only the page itself may ask for this.", 403)
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        if asks and scope["path"] == "/" and given and self._is_token(given):
            response = RedirectResponse("/", 303)
            # A lax one would come along when another site links here.
            response.set_cookie(self.cookie, self.token, httponly=True, samesite="strict")
            return response
        if not self._is_token(_cookies(headers.get("cookie", "")).get(self.cookie, "")):
            return PlainTextResponse(STRANGER, 403)
        return None

    def _is_token(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self.token.encode())


def _cookies(header: str) -> dict[str, str]:
    try:
        return {name: one.value for name, one in SimpleCookie(header).items()}
    except CookieError:
        return {}


# Serving the page on this machine alone, until it is ended.

HOST = "127.0.0.1"


def kept() -> AbstractContextManager[None]:
    """While it is served, nothing is written over but a reading that is being typed in.

    Its folder is no input, for it writes there; each command that it begins guards its own.
    """
    return guarded([default_log()], replace=False, goes_on=True)


def serve(folder: Path, port: int, ready: Callable[[str], None]) -> None:
    """Serve a folder on 127.0.0.1 until Ctrl+C.

    Parameters
    ----------
    folder
        Made if it is missing.
    port
        0 takes a free one.
    ready
        Called with the address to open, once requests would be answered.

    Raises
    ------
    BadInput
        If the folder is none or cannot be made, or the port is taken.
    """
    import uvicorn

    folder = resolved(folder)
    if folder.exists() and not folder.is_dir():
        raise BadInput("is a file; give the folder of your papers", folder)
    folder.mkdir(parents=True, exist_ok=True)
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HOST, port))
    except OSError as error:
        reason = error.strerror or str(error)
        raise BadInput(f"port {port} cannot be used ({reason}); give another", "--port") from error
    listener.listen(128)
    port = listener.getsockname()[1]
    token = secrets.token_urlsafe(32)
    app = create_app(folder, token, port)
    config = uvicorn.Config(
        app,
        # What goes wrong is said on the page.
        log_level="error" if os.environ.get("GREYSCALE_TRACEBACK") else "critical",
        access_log=False,
        server_header=False,
        ws="none",
        lifespan="on",
        timeout_graceful_shutdown=2,
    )
    # Whoever connects from now on waits until it is answered.
    ready(f"http://{HOST}:{port}/?token={token}")
    # The work is done in threads, from which a library cannot be held: it is here, for all of them.
    # SciPy's own comes later, and looks there.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with suppress(KeyboardInterrupt), kept():
        numpy_on_one_thread(uvicorn.Server(config).run)(sockets=[listener])
