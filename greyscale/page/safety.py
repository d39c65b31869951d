"""Who may speak to the page: this run's own browser tabs, and nobody else.

Any site that is open in the same browser can send requests to 127.0.0.1, and a name of its own can
be made to lead there. So every request must be for this very host and port, carry the random
token of this run (in a cookie that no other site's request brings along), and, where it changes
anything, come from this origin.
"""

from __future__ import annotations

import hmac
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

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
    app
        What answers.
    token
        The random token of this run.
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
