"""The print log of a folder that the page keeps: an index, made of the files that lie there.

What is in the log already stays as it is: a lost or old one is made anew by gathering again.
"""

from __future__ import annotations

from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.checks.identity import sent_otherwise
from greyscale.correction.verify import verify
from greyscale.page.findings import usable
from greyscale.page.papers import Made, Measured, Paper, is_correction, look, papers, unread
from greyscale.records.add_reading import WITHOUT, add_readings
from greyscale.records.adding import Added, Stated, add_correction, add_verification
from greyscale.records.print_log import PrintLog
from greyscale.reporting.verification_report import verification_data


def gather(log: PrintLog, root: Path) -> tuple[Added, ...]:
    """Add all that lies in a folder: corrections, readings that can be used, and proofs, judged.

    Each paper is called as its folder. Misread and half typed readings stay out: see `passed_over`.

    Raises
    ------
    BadInput
        If there is nothing in it.
    """
    refuse_empty(root)
    return tuple(one for paper in papers(root.resolve()) for one in _of_paper(log, paper))


def passed_over(root: Path) -> tuple[tuple[Path, str], ...]:
    """Return what `gather` leaves out of a folder, and why; half typed readings are not."""
    whole = root.resolve()
    found = papers(whole)
    used = {one.path for paper in found for one in paper.readings}
    left = {path: "cannot be read" for path in unread(whole) if path not in used}
    for paper in found:
        for one in paper.readings:
            if not usable(one, paper.sheet_of(one)):
                left[one.path] = "is misread; 'greyscale check' says how"
    return tuple((root / path.relative_to(whole), why) for path, why in sorted(left.items()))


def refuse_empty(root: Path) -> None:
    """Refuse a folder without a reading or a correction, before a log is begun for it."""
    if is_correction(root):
        raise BadInput("is a correction itself; give the folder that it lies in", root)
    if not any(
        paper.corrections or paper.loose or any(sheet.readings for sheet in paper.sheets)
        for paper in papers(root.resolve())
    ):
        left = [path.name for path, _ in passed_over(root)]
        raise BadInput(
            "holds no reading and no correction" + (" that can be read" if left else ""),
            root,
            choices=[f"  {name} cannot be read" for name in left],
        )


def _of_paper(log: PrintLog, paper: Paper) -> list[Added]:
    told = Stated(paper=paper.name)
    added = [add_correction(log, made.path, told) for made in paper.corrections]
    entries = {made.path: one.id for made, one in zip(paper.corrections, tuple(added), strict=True)}
    for sheet in paper.sheets:
        made = paper.correction_through(sheet)
        for one in sheet.readings:
            through = None if made is None else entries[made.path]
            if not sheet.through and not sent_otherwise(one.reading):
                through = WITHOUT
            if usable(one, sheet):
                # A reading without device values has them from its layout.
                layout = sheet.path if look(one.path) is None else None
                prints = add_readings(log, one.path, told, layout=layout, through=through)
                added += prints
                if made is not None:
                    added += _judged(log, one, made, prints, entries[made.path])
    for one in paper.loose:
        if usable(one, None):
            added += add_readings(log, one.path, told)
    return added


def _judged(
    log: PrintLog, one: Measured, made: Made, prints: tuple[Added, ...], correction: int
) -> list[Added]:
    """The judgement of a proof; none where it cannot be judged, or is in the log already."""
    known = log.connection.execute(
        "SELECT 1 FROM verifications WHERE reading = ? AND correction = ?",
        (prints[0].id, correction),
    ).fetchone()
    if known is not None:
        return []
    try:
        found = verify(one.reading, made.correction)
    except BadInput:
        return []
    data = verification_data(found)
    return [add_verification(log, found, data, reading=prints[0].id, correction=correction)]
