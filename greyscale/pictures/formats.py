"""The formats of pictures: recognised by how a file begins, written by how its name ends."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from io import BufferedReader
from pathlib import Path
from typing import Any, BinaryIO
from weakref import finalize

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.pictures import jpeg, png, tiff
from greyscale.pictures.picture import ADVICE, MOST_BYTES, Codes, Form, Picture, unreadable


@dataclass(frozen=True)
class Format:
    """One format.

    Attributes
    ----------
    endings
        Of its files' names.
    kinds
        What its channels can be.
    most_extra
        How many channels it holds beside the colours.
    recognise, read, write
        How its files begin; how they are read and written.
    whole
        Whether all pixels are in memory at one time.
    """

    name: str
    endings: tuple[str, ...]
    kinds: frozenset[str]
    most_extra: int
    recognise: Callable[[bytes], bool]
    read: Callable[[BufferedReader, Path], Picture]
    write: Callable[[BinaryIO, Form, Iterator[Codes]], None]
    whole: bool = True


FORMATS = (
    Format(
        "TIFF",
        (".tif", ".tiff"),
        frozenset({"uint8", "uint16", "float32"}),
        1 << 16,
        tiff.recognise,
        tiff.read,
        tiff.write,
        whole=False,
    ),
    Format("PNG", (".png",), frozenset({"uint8", "uint16"}), 1, png.recognise, png.read, png.write),
    Format(
        "JPEG",
        (".jpg", ".jpeg"),
        frozenset({"uint8"}),
        0,
        jpeg.recognise,
        jpeg.read,
        jpeg.write,
    ),
)


def read_picture(path: Path | str) -> Picture:
    """Open a picture, whatever its name ends in; its file is open until nothing holds the picture.

    Raises
    ------
    BadInput
        If it is no picture that is read, is damaged, or is of a kind that cannot be used.
    """
    path = Path(path)
    try:
        # Opening a FIFO waits for a writer that may never come, and a device may never end.
        if path.exists() and not (path.is_file() or path.is_dir()):
            raise BadInput(f"this is not a file but a pipe or a device; {ADVICE}", path)
        file = path.open("rb")
    except OSError as error:
        raise unreadable(path, error) from error
    try:
        picture = _opened(file, path)
    except BaseException:
        file.close()
        raise
    finalize(picture, file.close)
    return picture


def _opened(file: BufferedReader, path: Path) -> Picture:
    try:
        head = file.read(16)
        file.seek(0)
    except OSError as error:
        raise unreadable(path, error) from error
    if not head:
        raise BadInput(f"the file is empty; {ADVICE}", path)
    for one in FORMATS:
        if one.recognise(head):
            return one.read(file, path)
    raise BadInput(f"this is not a picture that can be read; {ADVICE}", path)


def format_of(path: Path) -> Format:
    """Return the format that a name to be written asks for.

    Raises
    ------
    BadInput
        If its ending is that of none.
    """
    for one in FORMATS:
        if path.suffix.lower() in one.endings:
            return one
    endings = ", ".join(one.endings[0] for one in FORMATS)
    raise BadInput(f"its ending does not name a format; take one of {endings}", path)


def fitted(form: Form, target: Format, path: Path) -> Form:
    """Return the form that a picture can have in a format: JPEG takes 16 bits as 8.

    Raises
    ------
    BadInput
        If something would be lost that a person may want to keep, or memory would not do.
    """
    if form.extra > target.most_extra:
        what = "transparency" if form.extra == 1 else f"{form.extra} further channels"
        raise BadInput(f"a {target.name} cannot hold the picture's {what}; write a TIFF", path)
    if form.kind.name not in target.kinds:
        if form.kind.kind == "f":
            raise BadInput(f"a {target.name} cannot hold floating-point values; write a TIFF", path)
        changed: Any = np.dtype(np.uint8)
        form = replace(form, kind=changed)
    if target.whole:
        size = form.width * form.height * form.channels * form.kind.itemsize
        if size > MOST_BYTES:
            raise BadInput(
                f"a {target.name} is written as a whole, which would take too much memory for "
                f"these {size / 1e6:.0f} MB of pixels; write a TIFF",
                path,
            )
    return form
