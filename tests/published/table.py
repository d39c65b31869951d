"""Every figure from outside beside what is found: `python -m tests.published.table -o FILE`."""

from __future__ import annotations

import argparse
import sys
from itertools import groupby
from pathlib import Path


def main() -> int:
    # The modules of tests find each other as they do under pytest.
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    from published.check import KINDS
    from published.registry import all_checks

    from greyscale import __version__
    from greyscale.base.files import write_whole

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("-o", dest="out", type=Path, help="a Markdown file; else it is printed")
    given = parser.parse_args()
    checks = all_checks()
    missed = [one for one in checks if not one.holds]
    lines = [
        "# Figures from outside, and what is found",
        "",
        f"greyscale {__version__}. {len(checks)} checks, {len(missed)} outside their tolerance: "
        + ", ".join(f"{sum(one.kind == kind for one in checks)} {kind}" for kind in KINDS)
        + ".",
        "",
        "Published: read in its source, and independent of the program. Second library: computed "
        "by an independent library. By hand: worked by hand from a formula in its source. "
        "Memory: the source was not at hand.",
        "",
        "Not held: the metameric pairs of CIE 51, whose table is in no library at hand; the "
        "metamerism index is held by a pair made for the purpose and, step by step, by a second "
        "library (`tests/colorimetry/test_illuminant_change.py`).",
    ]
    for group, members in groupby(checks, key=lambda one: one.group):
        lines += ["", f"## {group}", ""]
        lines += [
            "| | expected | found | difference | allowed | kind | source |",
            "|---|--:|--:|--:|--:|---|---|",
        ]
        lines += [
            f"| {'' if one.holds else '**missed:** '}{one.what} | {one.expected:.6g} | "
            f"{one.found:.6g} | {one.difference:+.2g} | {one.tolerance:.2g} | {one.kind} | "
            f"{one.source} |"
            for one in members
        ]
    text = "\n".join(lines) + "\n"
    if given.out is None:
        print(text)
    else:
        write_whole(given.out, text)
        print(f"{len(checks)} checks, {len(missed)} missed; written to {given.out}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
