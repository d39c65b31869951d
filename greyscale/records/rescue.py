"""How all that is sound is saved from a damaged print log, into a new one."""

from __future__ import annotations

import tempfile
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.files import whole_file
from greyscale.base.folders import scratch
from greyscale.records.export import export_folder
from greyscale.records.imports import import_log
from greyscale.records.print_log import PrintLog, open_log
from greyscale.records.sound import Damage


def rescue(log: PrintLog, path: Path | str) -> tuple[int, tuple[Damage, ...]]:
    """Write all that is sound into a new log; give the number of entries, and what is lost.

    Raises
    ------
    BadInput
        If there is a file already, or nothing can be written.
    """
    target = Path(path)
    if target.exists():
        raise BadInput("is there already; give a new name for the rescued log", target)
    with scratch(Path(tempfile.gettempdir()), "greyscale-log-") as folder:
        count, damages = export_folder(log, folder / "sound")
        with whole_file(target) as temporary:
            with open_log(temporary, write=True) as new:
                import_log(new, folder / "sound")
            for ending in ("-wal", "-shm"):
                Path(f"{temporary}{ending}").unlink(missing_ok=True)
    return count, damages
