"""`greyscale page`: the whole job in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli import option


def page(
    folder: Annotated[
        Path,
        option.argument(
            "[FOLDER]",
            "Where everything is kept: a folder in it for each printer and paper. Made if it "
            "is missing.",
        ),
    ] = Path("greyscale-prints"),
    port: Annotated[
        int, option.value("N", "Port on 127.0.0.1; 0 takes a free one.", min=0, max=65535)
    ] = 0,
    no_browser: Annotated[
        bool, option.flag("--no-browser", "Print the address and open no browser.")
    ] = False,
) -> None:
    """Do the whole job in the browser, on this machine alone. Ctrl+C ends it.

    Without FOLDER it is greyscale-prints, here. Nothing is sent anywhere, and only the address
    that is printed lets anyone in.

    Example: greyscale page my-prints --no-browser
    """
    open_page(folder, port, browser=not no_browser)


def open_page(folder: Path, port: int = 0, *, browser: bool = True) -> None:
    """Serve a folder and say where, until Ctrl+C."""
    from greyscale.page.app import serve

    def ready(address: str) -> None:
        typer.echo(f"The page of {folder} is at\n{address}\nCtrl+C ends it.")
        if browser:
            import webbrowser

            webbrowser.open(address)

    serve(folder, port, ready)
