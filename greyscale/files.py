"""How files are written: whole or not at all, and never over an input."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from greyscale.errors import BadInput


@contextmanager
def whole_file(path: Path | str) -> Iterator[Path]:
    """Give a temporary path beside `path`; it takes the file's place when all went well.

    The folder is made if it is missing. After an error, or a kill, the target is what it was.

    Raises
    ------
    BadInput
        If the folder or the file cannot be written.
    """
    target = Path(path)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(
            prefix=f".{target.stem[:40]}-", suffix=target.suffix, dir=target.parent
        )
        os.close(handle)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror})", target) from error
    temporary = Path(name)
    try:
        yield temporary
        temporary.chmod(0o666 & ~_umask())
        os.replace(temporary, target)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror or error})", target) from error
    finally:
        temporary.unlink(missing_ok=True)


def write_whole(path: Path | str, content: str | bytes) -> None:
    """Write text (UTF-8, line ends as given) or bytes, whole or not at all."""
    data = content.encode("utf-8") if isinstance(content, str) else content
    with whole_file(path) as temporary:
        temporary.write_bytes(data)


def keep_inputs(inputs: Iterable[Path | str], outputs: Iterable[Path | str]) -> None:
    """Refuse outputs that would overwrite an input.

    Raises
    ------
    BadInput
        Naming the output.
    """
    read = {Path(path).resolve() for path in inputs}
    for output in outputs:
        if Path(output).resolve() in read:
            raise BadInput("this is an input; give another name to write to", output)


def sha256_of(path: Path | str) -> str | None:
    """Give the SHA-256 of a file in hexadecimal digits, or None where there is no such file."""
    try:
        with Path(path).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current
