"""The program: its commands in the order of the work, and how it ends on bad input."""

from __future__ import annotations

import atexit
import codecs
import gc
import io
import logging
import os
import sys
import unicodedata
from pathlib import Path
from typing import Annotated

import typer

from greyscale import __version__
from greyscale.cli.contents import Contents

# Consoles that lack letters: what is shown there instead, so that nothing ends in an error.

_ONE_FOR_ONE = {
    "Δ": "d", "−": "-", "–": "-", "—": "-", "×": "x", "→": ">", "←": "<", "≤": "<", "≥": ">",
    "✓": "+", "✗": "x", "′": "'", "″": '"', "…": "~", "•": "*", "°": "o", "·": ".", "±": "~",
    "“": '"', "”": '"', "‘": "'", "’": "'", "│": "|", "─": "-", "━": "-", "┃": "|",
}  # fmt: skip
"""One sign for one, so that columns stay in line."""

_HANDLER = "greyscale-nearest-sign"


def suit_console() -> None:
    """Let whatever stands at the other end of the three streams, or nothing, end in no error.

    Output shows the nearest sign where its encoding lacks one.
    """
    # A stream that somebody closed is missing, and the next file would be opened in its place.
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            handle = os.open(os.devnull, os.O_RDWR)
            setattr(sys, name, os.fdopen(handle, mode, encoding="utf-8"))
    # So shells call a window that there is not.
    if os.environ.get("COLUMNS") == "0":
        del os.environ["COLUMNS"]
    codecs.register_error(_HANDLER, _nearest_sign)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_HANDLER)


def _nearest_sign(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missing = error.object[error.start : error.end]
    return "".join(_instead(sign) for sign in missing), error.end


def _instead(sign: str) -> str:
    if sign in _ONE_FOR_ONE:
        return _ONE_FOR_ONE[sign]
    plain = unicodedata.normalize("NFKD", sign)[0]
    return plain if plain.isascii() else "?"


# What each does and where it stands, contents.PARTS has. Command modules import nothing heavy at
# their top: `--help` must stay instant.

app = typer.Typer(
    name="greyscale",
    cls=Contents,
    help="Make black-and-white prints neutral: measure them, judge them under any light, "
    "correct them, prove it.",
    epilog="'greyscale COMMAND --help' tells more of a command, with an example.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"greyscale {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    pass


UNFORESEEN = 70
"""Exit code where the program itself is at fault (EX_SOFTWARE of sysexits.h)."""


def _end_like_ctrl_c() -> None:
    """Let SIGTERM and SIGHUP end the work in order: what was being made is cleared away."""
    import signal

    def end(number: int, _: object) -> None:
        sys.exit(128 + number)

    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name) and signal.getsignal(getattr(signal, name)) != signal.SIG_IGN:
            signal.signal(getattr(signal, name), end)


def quiet_libraries() -> None:
    """Let the program alone speak: what a file is refused for, it says in words of its own."""
    # Figures are drawn into files, and LUTs made without a word, whatever a person has set for
    # Matplotlib and OpenColorIO.
    os.environ |= {"MPLBACKEND": "Agg", "OCIO_LOGGING_LEVEL": "none"}
    # Matplotlib without a home that it may write to makes do with a temporary folder.
    for library in ("matplotlib", "python_multipart"):
        logging.getLogger(library).setLevel(logging.ERROR)


def main() -> None:
    """Run the program; a person's mistake ends in one message and exit code 2."""
    from greyscale.base.errors import BadInput

    suit_console()
    # The matrices are small: threads gain nothing, and on a busy machine they wait for each
    # other. Set before NumPy is imported, which no command has done yet.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    quiet_libraries()
    # Modules and figures are hundreds of thousands of objects that stay: to search them for
    # garbage as often as Python does by itself takes a twentieth of the time.
    gc.set_threshold(320_000, 20, 50)
    # Nor need what is left at the end be searched: the process gives all its memory back.
    atexit.register(gc.freeze)
    _end_like_ctrl_c()
    try:
        app(prog_name="greyscale")
    except BadInput as error:
        typer.echo(f"greyscale: {error}", err=True)
        sys.exit(2)
    except BrokenPipeError:
        # Whoever read the output has gone; nothing is left to say to them.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.exit(1)
    except OSError as error:
        # No space or no leave somewhere else than where the results go; or nowhere to be at all.
        said = BadInput(error.strerror or str(error), error.filename)
        try:
            os.getcwd()
        except OSError:
            gone = "the working folder is not there any more; change to another one"
            said = BadInput(gone, os.environ.get("PWD"))
        typer.echo(f"greyscale: {said}", err=True)
        sys.exit(2)
    except Exception as error:
        if os.environ.get("GREYSCALE_TRACEBACK"):
            raise
        where = error.__traceback__
        while where is not None and where.tb_next is not None:
            where = where.tb_next
        place = "" if where is None else f" ({Path(where.tb_frame.f_code.co_filename).name}"
        place += "" if where is None else f", line {where.tb_lineno})"
        typer.echo(
            f"greyscale: a fault of the program itself: {type(error).__name__}: {error}{place}. "
            "Nothing was half written. GREYSCALE_TRACEBACK=1 in the environment shows more.",
            err=True,
        )
        sys.exit(UNFORESEEN)
