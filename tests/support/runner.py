"""Commands run in processes of their own, quickly: copies of one that has imported all it takes.

A copy can be held to a size of files, or killed at the n-th change that it makes to the file
system or after some time, or find the disk full from then on: `faults.c` sees what is asked of the
system. Or all of that at each change, by `twins`.
"""

from __future__ import annotations

import ctypes
import gc
import io
import json
import os
import pickle
import pkgutil
import resource
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from support.twins import ASK, FULL, Look, Twins

_TESTS = Path(__file__).resolve().parents[1]

_CHANGES = frozenset({
    "os.rename", "os.link", "os.symlink", "os.mkdir", "os.rmdir", "os.remove", "os.truncate",
    "os.chmod", "shutil.rmtree", "shutil.copyfile", "sqlite3.connect",
})  # fmt: skip
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT

LIBRARIES = (
    "PyOpenColorIO", "colour", "fpdf", "h11", "imagecodecs", "jinja2",
    "matplotlib.backends.backend_agg", "matplotlib.backends.backend_svg", "matplotlib.pyplot",
    "rich.console", "rich.markdown", "rich.progress", "rich.table", "scipy.interpolate",
    "scipy.linalg", "scipy.optimize", "scipy.spatial", "scipy.special", "scipy.stats", "sqlite3",
    "tifffile", "uvicorn",
)  # fmt: skip
"""What commands import as they work."""

COUNT = 1 << 30
"""More changes than any command makes."""


_FAULTS = "GREYSCALE_TEST_FAULTS"  # Set where `faults.c` is loaded.


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

    def __init__(self, faults: Path | None = None) -> None:
        self.faults = faults
        environment = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join([str(_TESTS), str(_TESTS.parent)]),
            "OPENBLAS_NUM_THREADS": "1",
            "MPLBACKEND": "Agg",
            "COLUMNS": "120",
            "NO_COLOR": "1",
        }
        environment.pop("FORCE_COLOR", None)
        if faults is not None:
            environment["LD_PRELOAD"] = environment[_FAULTS] = str(faults)
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
        after: float | None = None,
        ways: Sequence[int] = (),
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
            The signal that it is killed by; or `FULL`.
        after
            Seconds after which it is killed.
        ways
            In which it is ended before each change, by twins; see `looks`.
        """
        if ways:
            cwd.with_name("copies").mkdir()
        told = {
            "arguments": list(map(str, arguments)),
            "cwd": str(cwd),
            "most": most,
            "kill": kill,
            "by": int(by),
            "after": after,
            "ways": list(map(int, ways)),
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

    def looks(self, cwd: Path) -> list[Look]:
        """What the last run would have left, had it ended earlier in the ways that were asked."""
        looks: list[Look] = pickle.loads(cwd.with_name("looks").read_bytes())
        return looks


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


def faults_library(folder: Path) -> Path | None:
    """Compile `faults.c` into a folder; None where there is no compiler."""
    library = folder / "faults.so"
    source = Path(__file__).with_name("faults.c")
    words = ["cc", "-shared", "-fPIC", "-O1", "-o", library, source, "-ldl", "-lpthread"]
    try:
        subprocess.run(words, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        return None
    return library


_twins: Twins | None = None


def _command(told: dict[str, Any], faults: ctypes.CDLL | None) -> None:
    global _twins
    from greyscale.cli.app import main

    words = told["arguments"]
    if "<" in words:
        os.dup2(os.open(words.pop(), os.O_RDONLY), 0)
        sys.stdin = io.TextIOWrapper(io.FileIO(0, closefd=False), encoding="utf-8")
        words.pop()
    sys.argv = ["greyscale", *words]
    temporary = Path("tmp")
    if temporary.is_dir():
        tempfile.tempdir = str(temporary.resolve())
        os.environ["HOME"] = str(Path.cwd())
    if told["most"] is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (told["most"], told["most"]))
    answer = None
    if words[0] == "request":
        from fuzz.page import answered

        answer = partial(answered, Path("studio"), Path(words[1]).read_bytes())
    if faults is None:
        if told["kill"]:
            kill_at(told["kill"], told["by"])
    elif told["ways"]:
        _twins = Twins(Path.cwd(), told["ways"])
        faults.faults_begin(ctypes.c_long(0), 2, 0, _asked)
    elif told["kill"]:
        faults.faults_begin(ctypes.c_long(told["kill"]), told["by"] == FULL, told["by"], _asked)
    if answer is None:
        main()
    else:
        status, said = answer()
        print(f"greyscale: {status} {said.decode()}" if status >= 400 else "", file=sys.stderr)
        sys.exit(2 if status >= 400 else 0)


@ASK
def _asked(change: int, needs_space: int) -> int:
    return 0 if _twins is None else _twins.ask(change, needs_space)


def _in_a_copy(told: dict[str, Any], faults: ctypes.CDLL | None) -> Done:
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
            # Whoever began the tests may have them ignored.
            signal.signal(signal.SIGINT, signal.default_int_handler)
            signal.signal(signal.SIGHUP, signal.SIG_DFL)
            sys.stdout = io.TextIOWrapper(io.FileIO(1, "w", closefd=False), encoding="utf-8")
            sys.stderr = io.TextIOWrapper(io.FileIO(2, "w", closefd=False), encoding="utf-8")
            _command(told, faults)
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
        except BaseException:
            import traceback

            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            if faults is not None:
                faults.faults_end()
            if _twins is not None:
                _twins.end(code)
                _twins.folder.with_name("looks").write_bytes(pickle.dumps(_twins.looks))
            made = _made if faults is None else faults.faults_made()
            os.write(made_write, str(made).encode())
            os._exit(code)
    for handle in (out_write, err_write, made_write):
        os.close(handle)
    ends = None
    if told["after"] is not None:
        ends = threading.Timer(told["after"], os.kill, (child, told["by"]))
        ends.start()
    texts = []
    # What a command says on standard error is far less than a pipe holds.
    for handle in (out_read, err_read, made_read):
        with os.fdopen(handle, encoding="utf-8", errors="replace") as file:
            texts.append(file.read())
    if ends is not None:
        ends.cancel()
        ends.join()
    _, status = os.waitpid(child, 0)
    return Done(os.waitstatus_to_exitcode(status), *texts[:2], int(texts[2] or 0))


def _serve() -> None:
    faults = ctypes.CDLL(None) if _FAULTS in os.environ else None
    sqlite = find_spec("_sqlite3")
    if faults is not None and sqlite is not None:
        # Twins end in the midst of its work: its locks among threads (SQLITE_CONFIG_SINGLETHREAD
        # has none) would be those of the process that they are a fork of.
        library = ctypes.CDLL(sqlite.origin)
        assert not library.sqlite3_shutdown()
        assert not library.sqlite3_config(1)
        assert not library.sqlite3_initialize()
    # Imported once, here, so that no copy has to.
    import pytest
    from support.empty_figures import have_empty_figures

    import greyscale

    for module in pkgutil.walk_packages(greyscale.__path__, "greyscale."):
        if not module.name.endswith("__main__"):
            import_module(module.name)
    for name in LIBRARIES:
        import_module(name)

    have_empty_figures(pytest.MonkeyPatch())
    # No copy is to search, and so to copy, what all have in common.
    gc.freeze()
    for line in sys.stdin:
        done = _in_a_copy(json.loads(line), faults)
        print(json.dumps(asdict(done)), flush=True)


if __name__ == "__main__":
    _serve()
