"""What a command reads and writes, declared before it works; where its result goes."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from greyscale.base.errors import BadInput
from greyscale.base.libraries import numpy_on_one_thread
from greyscale.base.plain_text import as_typed
from greyscale.cli import voice

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones
    from greyscale.readings.fields import Ramp
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading
    from greyscale.reporting.page import Report


WRITES = {"-o", "--json", "--repaired"}
"""Options that name what is written; every other value that names a file is an input."""

_STANDARD_OUTPUT = "-"
_DEMO = ("chart.txt", "drying-ramp.txt", "first-reading.txt", "lighthouse.tif")


def writes(parameter: Any) -> bool:
    """Say whether a parameter of a command names what it writes."""
    return bool(WRITES & set(parameter.opts))


@contextmanager
def declared(ctx: Any) -> Iterator[None]:
    """Guard the inputs of a command while it works, and refuse its outputs before it begins.

    Raises
    ------
    BadInput
        If an output is an input, the print log, one of the other outputs, something that
        greyscale did not write, or, without `--replace`, anything that is there.
    """
    from greyscale.base.files import resolved
    from greyscale.base.outputs import default_log, guarded, refuse_input, refuse_to_replace

    outputs: dict[str, Path] = {}
    taken: dict[Path, str] = {}
    inputs = [default_log()]
    for parameter in ctx.command.params:
        for value in _values(ctx.params.get(parameter.name)):
            if writes(parameter):
                if ctx.command.name == "chart":
                    _refuse_no_text(parameter, Path(value).name)
                if value != _STANDARD_OUTPUT:
                    outputs[parameter.opts[0]] = Path(value)
            else:
                _refuse_no_text(parameter, value)
                _refuse_no_file(value)
                inputs.append(Path(value))
                if "--db" in parameter.opts:
                    taken[_plain(Path(value))] = "--db"
    replace = bool(ctx.params.get("replace"))
    goes_on = ctx.command.name == "read"
    own = outputs.get("-o") if ctx.command.name == "demo" else None
    if own is not None:
        _refuse_foreign(own, replace)
    own = None if own is None else resolved(own)
    with guarded(inputs, replace=replace, own=own, goes_on=goes_on):
        for option, path in outputs.items():
            refuse_input(path)
            for file in files_of(ctx.command.name, option, path):
                refuse_to_replace(file)
                if (other := taken.setdefault(_plain(file), option)) != option:
                    raise BadInput(f"is given for {other} as well; give another name", file)
        yield


def _refuse_no_text(parameter: Any, value: str) -> None:
    """Refuse words that aren't UTF-8, which no file, log or picture could hold; names may be."""
    if os.path.lexists(value):
        return
    try:
        value.encode("utf-8")
    except UnicodeEncodeError as error:
        raise BadInput("is not UTF-8 text; type it again", parameter.opts[0]) from error


def _refuse_no_file(value: str) -> None:
    """Refuse a pipe or a device as an input: it may never end, and cannot be read twice."""
    try:
        mode = os.stat(value).st_mode
    except (OSError, ValueError):
        return
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise BadInput("is a device or a pipe, not a file; save it as a file first", value)


def _values(value: object) -> Iterator[str]:
    for one in value if isinstance(value, list | tuple) else [value]:
        if isinstance(one, str | Path) and str(one):
            yield str(one)


def _plain(path: Path) -> Path:
    """Return a path as a disk without capitals would have it, and without links."""
    return Path(str(path.absolute()).casefold())


def files_of(command: str, option: str, path: Path) -> Iterator[Path]:
    """Name the files that are certain to be written for an option, as far as the name tells."""
    is_glass = command == "lights" and path.suffix.lower() == GLAZING_ENDING
    is_file = option != "-o" or is_glass or command in ("preview", "read")
    if path.is_dir() if is_file else command == "chart" and path.name in ("", ".."):
        raise BadInput("is a folder; give the name of a file to write to", path)
    if is_file or command in ("apply", "export", "rescue"):
        yield path
    elif command == "chart":
        stem = path.name.removesuffix(path.suffix) if path.suffix in CHART_ENDINGS else path.name
        for ending in (".tif", ".pdf", ".txt"):
            yield path.with_name(f"{stem}{ending}")
        yield from path.parent.glob(f"{stem}-[0-9].tif")
    elif path.is_file():
        raise BadInput("is a file; give a folder to write to", path)
    else:
        yield path / ("lights.png" if command == "lights" else "report.html")


GLAZING_ENDING = ".csv"
"""What `lights --glass` writes ends so; without it, the spectra are drawn into a folder."""

CHART_ENDINGS = (".tif", ".tiff", ".pdf", ".txt")


def _refuse_foreign(folder: Path, replace: bool) -> None:
    """Refuse to fill a folder that holds anything but an earlier demo, and that without leave."""
    try:
        if not folder.is_dir() or not any(folder.iterdir()):
            return
    except OSError:
        return
    if not all((folder / name).is_file() for name in _DEMO):
        raise BadInput("holds other files; give a new folder", folder)
    if not replace:
        raise BadInput(
            "holds a demo already; give a new folder, or --replace to replace it", folder
        )


# What commands take in: readings, checked before they are taken as measured, and pictures.


def chart_of(layout: Path | None) -> Layout | None:
    """Read a chart's layout, if one is given."""
    if layout is None:
        return None
    from greyscale.readings.layout import read_layout

    return read_layout(layout)


def taken(
    paths: Sequence[Path],
    layout: Path | None,
    unchecked: bool,
    *,
    ramp: Ramp | None = None,
    by_layout: bool = False,
) -> tuple[list[Reading], str]:
    """Read readings, one of each file; give with them what is to be said of the checks.

    `by_layout` checks them against the layout as well: where all are of that one chart.

    Raises
    ------
    BadInput
        For the first one that is certainly misread.
    """
    from greyscale.readings.formats import read

    chart = chart_of(layout)
    found = [read(path, ramp=ramp, layout=chart) for path in paths]
    if unchecked:
        found = [one.taken_as_it_is() for one in found]
    return found, checked(found, unchecked, chart if by_layout else None)


@numpy_on_one_thread
def checked(readings: Sequence[Reading], unchecked: bool, chart: Layout | None = None) -> str:
    """Refuse readings that are certainly misread; give what is to be said of the checks.

    Raises
    ------
    BadInput
        For the first one that is certainly misread.
    """
    from greyscale.checks.checking import refuse_if_misread
    from greyscale.reporting.check_report import checks_in_a_report

    looked_at = [] if unchecked else voice.tracked(readings, "Checking")
    return checks_in_a_report([refuse_if_misread(one, chart) for one in looked_at])


def counted_tones(image: Path | None) -> PictureTones | None:
    """Count a picture's tones, with a bar while it takes long; None where none is given."""
    if image is None:
        return None
    from greyscale.charts.picture_tones import picture_tones

    with voice.progress("Counting tones") as advance:
        return picture_tones(image, advance)


# Where a command's result goes: to the terminal, as JSON, into a folder as a report.


def command_line() -> str:
    """Return the running command as it can be pasted into a shell of this system."""
    return as_typed(*sys.argv[1:])


@dataclass(frozen=True)
class Results:
    """Where results are to go, as the options have it; refused if they cannot.

    Attributes
    ----------
    json_file
        Of `--json`; "-" is standard output, and nothing else is said there.

    Raises
    ------
    BadInput
        If there is no folder to write to, or no package to write a PDF with.
    """

    json_file: str | None = None
    folder: Path | None = None
    pdf: bool = False
    shown: bool = False

    def __post_init__(self) -> None:
        if self.folder is None and (self.pdf or self.shown):
            what, option = ("a PDF", "--pdf") if self.pdf else ("a page to open", "--open")
            raise BadInput(f"{what} needs a folder; add -o DIR", option)
        if self.pdf:
            from greyscale.reporting.html import need_writer

            need_writer()

    @property
    def as_json(self) -> bool:
        """Whether JSON alone goes to standard output."""
        return self.json_file == "-"

    def give(
        self,
        data: Callable[[], dict[str, Any]],
        report: Callable[[], Report],
        every: bool = False,
        inputs: Sequence[Path] = (),
    ) -> None:
        """Write and show a result in the ways that are asked for, each made only then.

        Parameters
        ----------
        every
            Whether the terminal shows all of the report.
        inputs
            What the report was made from, beside what it names itself.
        """
        made, page = cache(report), None
        if self.folder is not None:
            from greyscale.reporting.html import write_report

            with voice.working("Drawing the report"):
                page = write_report(self.folder, made(), inputs=inputs, pdf=self.pdf)
        if self.json_file is not None:
            from greyscale.reporting.json_output import write_json

            write_json(data(), self.json_file)
        if not self.as_json:
            from greyscale.reporting.terminal import show_report, terminal

            show_report(made(), terminal(), every, page)
        if page is not None and self.shown:
            open_page(page)


def open_page(page: Path) -> None:
    """Open a page in the person's browser; say so where there is none."""
    import webbrowser

    if not webbrowser.open(page.resolve().as_uri()):
        typer.echo(f"greyscale: no browser was found; open {page} yourself", err=True)
