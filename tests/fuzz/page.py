"""What comes to the page over the wire: requests, and what is answered."""

from __future__ import annotations

import asyncio
import atexit
import tempfile
import urllib.parse
from functools import cache
from pathlib import Path
from typing import Any

import h11
from fuzz import seeds
from fuzz.watch import work_folder, written

from greyscale.base.errors import BadInput

PORT, TOKEN = 8765, "the-token-of-this-run"
_HEAD = (
    f"Host: 127.0.0.1:{PORT}\r\nCookie: greyscale-{PORT}={TOKEN}\r\n"
    f"Origin: http://127.0.0.1:{PORT}\r\n"
)
"""What a tab of this run sends with each."""


def _get(path: str) -> bytes:
    return f"GET {path}\n\n".encode()


def post(path: str, kind: str = "application/x-www-form-urlencoded", body: bytes = b"") -> bytes:
    return f"POST {path}\n{kind}\n".encode() + body


def upload(name: str, content: bytes, sheet: str = "chart-1") -> bytes:
    head = (
        '--line\r\nContent-Disposition: form-data; name="sheet"\r\n\r\n'
        f"{sheet}\r\n--line\r\n"
        f'Content-Disposition: form-data; name="file"; filename="{name}"\r\n'
        "Content-Type: text/plain\r\n\r\n"
    )
    body = head.encode() + content + b"\r\n--line--\r\n"
    return post("/paper/kozo/add", "multipart/form-data; boundary=line", body)


@cache
def requests() -> tuple[bytes, ...]:
    """One for every route: a line of what is asked for, one of what kind the rest is of."""
    return (
        _get("/"),
        _get(f"/?token={TOKEN}"),
        _get("/hall?paper=kozo&light=D50&light=A&weights=D50%3D2&more=LED-B3&printed=1"),
        _get("/paper/kozo?show=ramp.txt&aim=srgb&neutral=paper&light=F11&made_for=A%2C+D50%3D2"),
        _get("/paper/kozo/predicted?aim=lstar&neutral=fading&toning=warm&made_for=D50"),
        _get("/paper/kozo/judged?show=ramp.txt"),
        _get("/paper/kozo/picture/fog.png?correction=foretold&light=A&encoding=srgb&cast=2"),
        _get("/paper/kozo/picture/fog.png/before.png?light=D50&encoding=lstar"),
        _get("/paper/kozo/picture/fog.png/levels.png?encoding=gamma-2.2"),
        _get("/paper/kozo/type/chart-1?patch=2&values=lightness"),
        _get("/file/kozo/ramp.txt?download=1"),
        _get("/file/kozo/fog.png"),
        _get("/static/page.js"),
        post("/log"),
        post("/papers", body=b"name=baryta"),
        post("/surround", body=b"surround=dark&back=/paper/kozo"),
        post("/paper/kozo/printed", body=b"sheet=chart-1&off=1"),
        post("/paper/kozo/chart", body=b"page=a4"),
        post("/paper/kozo/correct", body=b"name=first&aim=lstar&made_for=A%3D2%2CD50"),
        post("/paper/kozo/follow-up", body=b"page=letter"),
        post("/paper/kozo/repair", body=b"show=ramp.txt"),
        post("/paper/kozo/type/chart-1", body=b"patch=1&text=16,1+0,3+-0,2&values=lab&doubted="),
        post("/paper/kozo/picture/fog.png/apply", body=b"correction=&encoding=lstar"),
        post("/work/1/cancel", body=b"back=/"),
        upload("new.txt", seeds.begun()[0]),
        upload("new.png", seeds.pictures()[9]),
        upload("new.csv", seeds.delimited()[2]),
    )


def answer(path: Path) -> None:
    """Answer one request as the page does, but for the commands that it begins.

    Raises
    ------
    BadInput
        For what the server or the page refuses.
    """
    studio = _studio()
    before = set(studio.rglob("*"))
    try:
        status, said = answered(studio, path.read_bytes())
    finally:
        for new in sorted(set(studio.rglob("*")) - before, reverse=True):
            new.rmdir() if new.is_dir() else new.unlink()
        if not (studio / "kozo").is_dir():
            raise AssertionError("the paper's folder has gone")
    homes = (str(studio), tempfile.gettempdir())
    outside = [one for one in written() if not one.startswith(homes)]
    assert not outside, outside
    if status == 500:
        raise AssertionError(said.decode("utf-8", "replace")[-800:])
    # What cannot be done now, the page itself says in its own words: by 422.
    if status >= 400 and status != 422:
        raise BadInput(f"answered by {status}")


@cache
def _studio() -> Path:
    kept = work_folder()
    atexit.register(kept.cleanup)
    return made_in(Path(kept.name))


def made_in(studio: Path) -> Path:
    """Make a folder of the page: one paper that was measured, a sheet and a picture."""
    folder = studio / "kozo"
    folder.mkdir(parents=True)
    (folder / "ramp.txt").write_bytes(seeds.ramps()[0])
    (folder / "chart-1.txt").write_bytes(seeds.small_layout())
    (folder / "fog.png").write_bytes(seeds.pictures()[9])
    return studio


@cache
def _app(studio: Path) -> tuple[Any, asyncio.AbstractEventLoop]:
    from greyscale.page.app import create_app
    from greyscale.page.commands import Job, Jobs

    class Idle(Jobs):
        """No command runs: what it would be given has its own tests."""

        def _run(self, job: Job) -> None:
            job.done.set()

    app = create_app(studio, TOKEN, PORT)
    app.app.state.jobs = Idle()  # type: ignore[attr-defined]
    return app, asyncio.new_event_loop()


def answered(studio: Path, given: bytes) -> tuple[int, bytes]:
    """Return the status and the body of what the page of a folder, served, answers.

    Raises
    ------
    BadInput
        For what the server refuses before the page sees it.
    """
    from greyscale.page.app import kept

    app, loop = _app(studio)
    with kept():
        return loop.run_until_complete(_answered(app, *_parsed(given)))


def _parsed(given: bytes) -> tuple[dict[str, Any], bytes]:
    """What the server makes of a request, by the same library; a browser escapes what it sends."""
    asked, _, rest = given.partition(b"\n")
    method, _, target = asked.partition(b" ")
    kind, _, body = rest.partition(b"\n")
    target = urllib.parse.quote(target[:8000], safe="/?&=%+#;:@!$,*~'()[]").encode("ascii")
    head = f"{_HEAD}Content-Length: {len(body)}\r\nContent-Type: ".encode()
    connection = h11.Connection(h11.SERVER)
    try:
        connection.receive_data(
            method + b" " + target + b" HTTP/1.1\r\n" + head + kind[:2000] + b"\r\n\r\n"
        )
        request = connection.next_event()
    except h11.RemoteProtocolError as error:
        raise BadInput(f"is no request: {error}") from error
    if not isinstance(request, h11.Request):
        raise BadInput("is no whole request")
    target, _, query = request.target.partition(b"?")
    scope = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "server": ("127.0.0.1", PORT),
        "client": ("127.0.0.1", 50000),
        "scheme": "http",
        "method": request.method.decode("ascii"),
        "root_path": "",
        "path": urllib.parse.unquote(target.decode("ascii")),
        "raw_path": target,
        "query_string": query,
        "headers": [(name.lower(), value) for name, value in request.headers],
    }
    return scope, body


async def _answered(app: Any, scope: dict[str, Any], body: bytes) -> tuple[int, bytes]:
    coming = [{"type": "http.request", "body": body, "more_body": False}]
    told = {"status": 0}
    sent = bytearray()

    async def receive() -> dict[str, Any]:
        return coming.pop() if coming else {"type": "http.disconnect"}

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            told["status"] = message["status"]
        sent.extend(message.get("body", b""))

    await app(scope, receive, send)
    return told["status"], bytes(sent)
