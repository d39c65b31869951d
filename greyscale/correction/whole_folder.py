"""How a correction folder is written: whole or not at all, and over nothing that is not ours."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from greyscale.base import folders
from greyscale.base.errors import BadInput
from greyscale.base.files import resolved
from greyscale.base.outputs import may_replace
from greyscale.correction.as_json import SCHEMA
from greyscale.correction.folder import JSON, OWN
from greyscale.correction.json_fields import read_fields


@contextmanager
def whole_folder(target: Path | str, inputs: Iterable[Path | str] = ()) -> Iterator[Path]:
    """Give an empty folder beside `target`; it takes the target's place when all went well.

    A correction that is there already is replaced; what others have put beside it is kept.

    Parameters
    ----------
    inputs
        Files and folders that are read; none may be the target or lie in it.

    Raises
    ------
    BadInput
        If an input is in the way, if the target holds other files but no correction, or if it
        cannot be written.
    """

    def refuse() -> None:
        refuse_other_folder(target, inputs)

    refuse()
    with folders.whole_folder(target, OWN, refuse) as fresh:
        yield fresh


def refuse_other_folder(target: Path | str, inputs: Iterable[Path | str] = ()) -> None:
    """Refuse a target that is an input, or that holds something else than a correction.

    To be asked before the work as well, so that nobody waits for a refusal.

    Raises
    ------
    BadInput
        Saying what is in the way.
    """
    folder = resolved(target)
    for path in inputs:
        read = resolved(path)
        if folder == read or folder in read.parents:
            raise BadInput(f"holds the input {path}; give another folder to write to", target)
    if folder.exists() and not folder.is_dir():
        raise BadInput("is a file; give a folder to write to", target)
    if not folder.is_dir() or not any(folder.iterdir()):
        return
    if not (folder / JSON).is_file():
        raise BadInput("holds other files and no correction; give a new folder", target)
    read_fields(folder / JSON, SCHEMA)
    if not may_replace():
        raise BadInput(
            "holds a correction already; give a new folder, or --replace to replace it", target
        )
