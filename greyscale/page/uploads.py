"""Files that are dropped: streamed to the disk, limited, recognised, and filed."""

from __future__ import annotations

import re
import shutil
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Mapping
from contextlib import asynccontextmanager, contextmanager
from functools import wraps
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Message

from greyscale.base.errors import BadInput
from greyscale.base.files import locked, whole_stream
from greyscale.base.folders import temporary
from greyscale.page.commands import free_stem
from greyscale.page.papers import Measured, Paper, Sheet, sheet_for
from greyscale.pictures.formats import FORMATS, read_picture
from greyscale.readings.formats import ENDINGS, read
from greyscale.readings.reading import Reading

ROOM = 1_000_000
"""Bytes of a form beside its file."""

LARGEST = 2_000_000_000
"""Bytes of what may be dropped: pictures of some 300 megapixels, in 16 bits."""


@asynccontextmanager
async def form(request: Request, most: int = 0) -> AsyncIterator[FormData]:
    """Read a form as it streams in; what is larger than `most` bytes is refused on the way.

    Raises
    ------
    HTTPException
        413 for too much, 400 for what is no form.
    """
    limit = most + ROOM
    refusal = HTTPException(413, f"More than {limit // 1_000_000} MB is not taken here.")
    if int(request.headers.get("content-length") or 0) > limit:
        raise refusal
    receive, taken = request.receive, 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            raise refusal
        return message

    bounded = Request(request.scope, counted)
    async with bounded.form(max_files=20, max_fields=50, max_part_size=100_000) as given:
        yield given


def posted(
    act: Callable[[Request, Mapping[str, str]], Response],
) -> Callable[[Request], Awaitable[Response]]:
    """Let a function answer a form, by its fields; it works in a thread, and may wait."""

    @wraps(act)
    async def answer(request: Request) -> Response:
        async with form(request) as given:
            fields = {name: value for name, value in given.items() if isinstance(value, str)}
        return await run_in_threadpool(act, request, fields)

    return answer


@contextmanager
def as_file(upload: UploadFile) -> Iterator[Path]:
    """Yield an upload as a file under its own name, in a folder of its own that goes afterwards."""
    with temporary("greyscale-upload-") as folder:
        path = folder / plain_name(upload.filename or "reading.txt")
        with path.open("wb") as file:
            shutil.copyfileobj(upload.file, file, 1 << 20)
        yield path


def file_away(paper: Paper, given: Path, asked: Sheet | None = None) -> tuple[Path, Sheet | None]:
    """Put a picture or a reading where it belongs, by what it is and says of itself.

    Parameters
    ----------
    given
        The file, under the name that it came with.
    asked
        The sheet that a person says it is of.

    Returns
    -------
    Where it lies now, and the sheet that it is a reading of; None where it is of none.

    Raises
    ------
    BadInput
        If it is neither, or is of another sheet than was said.
    """
    picture = _picture_ending(given)
    if picture:
        try:
            read_picture(given)
        except BadInput as error:
            # Kept, a damaged one would be offered for ever.
            raise BadInput(error.message, given.name, error.line) from error
        return _put(paper.folder, given, given.stem, picture), None
    _, sheet = _recognised(paper, given, asked)
    ending = given.suffix.lower() if given.suffix.lower() in ENDINGS else ".txt"
    stem = given.stem if sheet is None else f"{sheet.stem}-reading"
    return _put(paper.folder, given, stem, ending), sheet


def _put(folder: Path, given: Path, stem: str, ending: str) -> Path:
    """Copy a file into a folder, under a name that nothing has yet."""
    with locked(folder):
        target = folder / f"{free_stem(folder, stem, ending)}{ending}"
        with given.open("rb") as source, whole_stream(target) as file:
            shutil.copyfileobj(source, file, 1 << 20)
    return target


def _picture_ending(given: Path) -> str:
    """The ending of a picture's name, by how the file begins; empty for what is none."""
    with given.open("rb") as file:
        head = file.read(64)
    known = next((one for one in FORMATS if one.recognise(head)), None)
    if known is None:
        return ""
    return given.suffix if given.suffix.lower() in known.endings else known.endings[0]


def _recognised(paper: Paper, given: Path, asked: Sheet | None) -> tuple[Reading, Sheet | None]:

    sheets = list(paper.sheets) if asked is None else [asked]
    try:
        reading = read(given)
    except BadInput as error:
        # Without device values of its own, it is of the sheet that has them for all its patches.
        for known in reversed(sheets):
            try:
                return read(given, layout=known.layout), known
            except BadInput:
                continue
        raise BadInput(error.message, given.name, error.line) from error
    sheet = sheet_for(Measured(given, reading), sheets)
    if asked is not None and sheet is None:
        raise BadInput(f"is not a reading of “{asked.stem}”: its device values differ", given.name)
    return reading, sheet


def plain_name(name: str) -> str:
    """Return the last part of a name, with nothing in it that leads elsewhere or cannot be seen.

    Examples
    --------
    >>> plain_name("../../etc/.passwd"), plain_name("C:\\\\scans\\\\1.TXT"), plain_name("..")
    ('passwd', '1.TXT', 'unnamed')
    """
    last = re.split(r"[\\/]", name)[-1]
    plain = "".join(one for one in last if one.isprintable() and one not in '<>:"|?*')
    return plain.lstrip(". -")[-100:].strip() or "unnamed"
