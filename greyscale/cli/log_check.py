"""`greyscale log check`: is every entry what it was?"""

from __future__ import annotations

import typer

from greyscale.cli.recording import name_damages
from greyscale.cli.shared_options import DbOption
from greyscale.cli.voice import QuietOption, VerboseOption


def check(db: DbOption = None, quiet: QuietOption = False, verbose: VerboseOption = False) -> None:
    """Find what is damaged, entry by entry; name the backups.

    Damaged entries are named; the exit code is 1 then. The backups, three at most, lie beside the
    log. One is made when something is added and the last is a week old, and before an older
    log's tables are changed. Each is a print log: go back by copying it to the log's place.

    Example: greyscale log check --verbose
    """
    from greyscale.cli.progress import working
    from greyscale.records.export import look_through
    from greyscale.records.print_log import backups_of, open_log

    with working("Looking at every entry"), open_log(db) as log, log.at_one_time():
        sound, damages = look_through(log)
    typer.echo(f"{len(sound)} {'entry is' if len(sound) == 1 else 'entries are'} sound.")
    for backup in backups_of(log.path):
        state = "damaged" if backup.entries is None else f"sound, {backup.entries} entries"
        typer.echo(f"Backup of {backup.made:%Y-%m-%d}, {state}: {backup.path}")
    name_damages(damages, "damaged; 'greyscale log rescue -o NEW.sqlite3' saves all others")
