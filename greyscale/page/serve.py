"""Serving the page on this machine alone, until it is ended."""

from __future__ import annotations

import os
import secrets
import socket
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from greyscale.base.errors import BadInput

HOST = "127.0.0.1"


def serve(folder: Path, port: int, ready: Callable[[str], None]) -> None:
    """Serve a folder on 127.0.0.1 until Ctrl+C.

    Parameters
    ----------
    folder
        Made if it is missing.
    port
        0 takes a free one.
    ready
        Called with the address to open, once requests would be answered.

    Raises
    ------
    BadInput
        If the folder is none or cannot be made, or the port is taken.
    """
    import uvicorn

    from greyscale.page.app import create_app

    if folder.exists() and not folder.is_dir():
        raise BadInput("is a file; give the folder of your papers", folder)
    folder.mkdir(parents=True, exist_ok=True)
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HOST, port))
    except OSError as error:
        reason = error.strerror or str(error)
        raise BadInput(f"port {port} cannot be used ({reason}); give another", "--port") from error
    listener.listen(128)
    port = listener.getsockname()[1]
    token = secrets.token_urlsafe(32)
    app = create_app(folder, token, port)
    config = uvicorn.Config(
        app,
        # What goes wrong is said on the page.
        log_level="error" if os.environ.get("GREYSCALE_TRACEBACK") else "critical",
        access_log=False,
        server_header=False,
        ws="none",
        lifespan="on",
        timeout_graceful_shutdown=2,
    )
    # Whoever connects from now on waits until it is answered.
    ready(f"http://{HOST}:{port}/?token={token}")
    with suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listener])
