"""Commands run in processes of their own, quickly: copies of one that has imported all it takes.

A copy can be held to a size of files, as on a full disk, or killed at the n-th change that it makes
to the file system.
"""

from __future__ import annotations

import io
import json
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

_TESTS = Path(__file__).resolve().parents[1]

_CHANGES = frozenset({
    "os.rename", "os.link", "os.symlink", "os.mkdir", "os.rmdir", "os.remove", "os.truncate",
    "os.chmod", "shutil.rmtree", "shutil.copyfile", "sqlite3.connect",
})  # fmt: skip
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT


COUNT = 1 << 30
"""More changes than any command makes."""


@dataclass(frozen=True)
class Done:
    """How a command ended: its exit code (minus the signal, if killed), what it said.

    And how many changes to the file system it made, where it could be killed, and was not.
    """

    code: int
    out: str
    err: str
    changes: int = 0


class Runner:
    """A process that waits for commands and runs each in a copy of itself."""

    def __init__(self) -> None:
        environment = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join([str(_TESTS), str(_TESTS.parent)]),
            "OPENBLAS_NUM_THREADS": "1",
            "MPLBACKEND": "Agg",
        }
        self.process = subprocess.Popen(
            [sys.executable, "-m", "support.runner"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment, text=True,
        )  # fmt: skip

    def __enter__(self) -> Runner:
        return self

    def __exit__(self, *_: object) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait(timeout=60)

    def start(
        self,
        *arguments: object,
        cwd: Path,
        most: int | None = None,
        kill: int = 0,
        by: int = signal.SIGKILL,
    ) -> None:
        """Begin a command.

        Parameters
        ----------
        arguments
            Of `greyscale`.
        cwd
            Where it runs.
        most
            Bytes that a file may grow to.
        kill
            The change to the file system at which it is killed, from 1; 0 lets it live, and
            `COUNT` counts them.
        by
            The signal that it is killed by.
        """
        told = {
            "arguments": list(map(str, arguments)),
            "cwd": str(cwd),
            "most": most,
            "kill": kill,
            "by": int(by),
        }
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(told) + "\n")
        self.process.stdin.flush()

    def wait(self) -> Done:
        """Wait for the command to end."""
        assert self.process.stdout is not None
        return Done(**json.loads(self.process.stdout.readline()))

    def run(self, *arguments: object, cwd: Path, **held: Any) -> Done:
        """Run a command to its end; see `start`."""
        self.start(*arguments, cwd=cwd, **held)
        return self.wait()


def snapshot(folder: Path, hidden: bool = True) -> dict[str, bytes]:
    """Give the contents of all files below a folder, by their paths in it."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and (hidden or not any(part.startswith(".") for part in path.relative_to(folder).parts))
    }


_made = 0


def kill_at(count: int, by: int = signal.SIGKILL) -> None:
    """Send this process a signal at its n-th change to the file system, before it is made."""

    def note(event: str, arguments: tuple[object, ...]) -> None:
        global _made
        opens = event == "open" and isinstance(arguments[2], int) and arguments[2] & _WRITING
        if event in _CHANGES or (opens and "__pycache__" not in str(arguments[0])):
            _made += 1
            if _made == count:
                os.kill(os.getpid(), by)

    sys.addaudithook(note)


def _command(arguments: Sequence[str], most: int | None, kill: int, by: int) -> None:
    from greyscale.cli.app import main

    sys.argv = ["greyscale", *arguments]
    if most is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    if kill:
        kill_at(kill, by)
    main()


def _in_a_copy(told: dict) -> Done:
    """Run a command in a copy; what it says goes through pipes, which no limit holds."""
    out_read, out_write = os.pipe()
    err_read, err_write = os.pipe()
    made_read, made_write = os.pipe()
    child = os.fork()
    if child == 0:
        code = 70
        try:
            os.dup2(out_write, 1)
            os.dup2(err_write, 2)
            os.chdir(told["cwd"])
            sys.stdout = io.TextIOWrapper(io.FileIO(1, "w", closefd=False), encoding="utf-8")
            sys.stderr = io.TextIOWrapper(io.FileIO(2, "w", closefd=False), encoding="utf-8")
            _command(told["arguments"], told["most"], told["kill"], told["by"])
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
        except BaseException:
            import traceback

            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os.write(made_write, str(_made).encode())
            os._exit(code)
    for handle in (out_write, err_write, made_write):
        os.close(handle)
    # What a command says is far less than a pipe holds.
    _, status = os.waitpid(child, 0)
    texts = []
    for handle in (out_read, err_read, made_read):
        with os.fdopen(handle, encoding="utf-8", errors="replace") as file:
            texts.append(file.read())
    return Done(os.waitstatus_to_exitcode(status), *texts[:2], int(texts[2] or 0))


def _serve() -> None:
    # Imported once, here, so that no copy has to.
    import colour  # noqa: F401
    import matplotlib.pyplot  # noqa: F401
    import PyOpenColorIO  # noqa: F401
    import pytest
    import scipy.interpolate  # noqa: F401
    import tifffile  # noqa: F401
    from support.empty_figures import have_empty_figures

    import greyscale.api
    import greyscale.cli.app
    import greyscale.correction.correct
    import greyscale.reporting.analysis_report
    import greyscale.reporting.correction_report  # noqa: F401

    have_empty_figures(pytest.MonkeyPatch())
    for line in sys.stdin:
        done = _in_a_copy(json.loads(line))
        print(json.dumps(asdict(done)), flush=True)


if __name__ == "__main__":
    _serve()
