"""How a note comes into the log."""

from __future__ import annotations

from datetime import datetime
from uuid import uuid4

from greyscale.base.errors import BadInput
from greyscale.records.details import insert_details
from greyscale.records.entries import CLOCK, NOTE, TOLD, NoteDetails
from greyscale.records.find import entry_of
from greyscale.records.new_entry import Added, Told, insert_entry, with_names_of
from greyscale.records.print_log import PrintLog

_NAME = 60
"""Letters of a note that stand for its name."""


def add_note(
    log: PrintLog, text: str, told: Told | None = None, *, about: int | None = None
) -> Added:
    """Add a note, in a person's own words.

    Parameters
    ----------
    text
        The words.
    told
        What printer, paper, inks, settings and time it belongs to; where it is about an entry,
        that entry's printer, paper, inks and settings by default.
    about
        An entry's number.

    Raises
    ------
    BadInput
        If it says nothing, or there is no such entry.
    """
    if not text.strip():
        raise BadInput("the note is empty; write what is to be remembered", "--note")
    told = told or Told()
    with log.writing():
        names = told if about is None else with_names_of(entry_of(log, about), told)
        moment = (datetime.now(), CLOCK) if told.moment is None else (told.moment, TOLD)
        name = note_name(text)
        number = insert_entry(log, uuid4().hex, NOTE, name, moment, names)
        insert_details(log, number, NoteDetails(text, about))
    return Added(number, NOTE, name, True)


def note_name(text: str) -> str:
    """Give the beginning of a note on one line.

    Examples
    --------
    >>> note_name("New black ink.\\nThe old one had run dry.")
    'New black ink. The old one had run dry.'
    """
    line = " ".join(text.split())
    return line if len(line) <= _NAME else line[: _NAME - 1].rstrip() + "…"
