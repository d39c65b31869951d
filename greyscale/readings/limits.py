"""How large a reading may be: beyond these limits it is refused by one message, in no time."""

from __future__ import annotations

from greyscale.base.errors import BadInput

LARGEST_FILE = 50_000_000
"""Bytes. Three thousand patches at 1 nm are some 10 MB; a file beyond this is no reading."""

MOST_PATCHES = 10_000
"""Rows of one table. The largest published characterisations have some 3 000 patches."""

LONGEST_LINE = 1_000_000
"""Characters. A patch at 1 nm in four conditions takes some 20 000."""

MOST_LINES = 200_000
"""Lines of one table, where its rows are broken over several."""


def refuse_more_patches(count: int, source: object, line: int | None = None) -> None:
    """Refuse a reading of more than `MOST_PATCHES` patches.

    Raises
    ------
    BadInput
        With the limit.
    """
    if count > MOST_PATCHES:
        raise BadInput(
            f"holds more than {MOST_PATCHES} patches, which is the limit of a reading; export the "
            "grey and near-neutral patches alone",
            source,
            line,
        )
