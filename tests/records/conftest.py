"""What the tests of the print log share."""

from __future__ import annotations

import os
import pickle
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from support.logged import correction_folder, reading_file

NOBODY = 65534


@pytest.fixture
def db(tmp_path) -> Path:
    return tmp_path / "new" / "print-log.sqlite3"


@pytest.fixture
def make_reading(tmp_path):
    """Writes a reading's file; takes the number of its noise, and changes."""
    return lambda number=0, **changes: reading_file(tmp_path, number, **changes)


@pytest.fixture(scope="session")
def correction(tmp_path_factory) -> Path:
    """The folder of a first correction."""
    return correction_folder(tmp_path_factory.mktemp("corrections") / "harbour-light")


@pytest.fixture
def open_folder():
    """A folder that every user may reach, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


@pytest.fixture
def as_other_user():
    """Calls a function in a process of a user who is not the superuser.

    To the superuser permissions mean nothing. The process is a fork, since another user may not
    reach the interpreter; what the function imports must have been imported before.

    Returns
    -------
    Type and text of what the function gives, or of the error that ended it.
    """

    def call(function: Callable[[], object]) -> tuple[str, str]:
        receiver, sender = os.pipe()
        child = os.fork()
        if child == 0:
            result: object = None
            try:
                if os.geteuid() == 0:
                    os.setgroups([])
                    os.setgid(NOBODY)
                    os.setuid(NOBODY)
                result = function()
            except BaseException as error:
                result = error
            finally:
                os.write(sender, pickle.dumps((type(result).__name__, str(result))))
                os._exit(0)
        os.close(sender)
        with os.fdopen(receiver, "rb") as stream:
            answer = pickle.load(stream)
        os.waitpid(child, 0)
        return answer

    return call
