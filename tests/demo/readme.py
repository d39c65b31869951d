"""All that README shows, made anew: its commands are run, its quotation and pictures are taken.

python -m tests.demo.readme
"""

from __future__ import annotations

import re
import shlex
import shutil
import sys
import tempfile
import textwrap
from collections.abc import Iterable
from contextlib import chdir
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parents[1]))

from page.picture import take
from support.browser import BROWSER
from typer.testing import CliRunner

import greyscale
from greyscale.cli.app import app

REPOSITORY = Path(__file__).parents[2]
EXAMPLE = REPOSITORY / "reports" / "example"
FROM_DEMO = (
    "analysis", "lighthouse-before-after.png", "papers/report.html", "papers/figures/drift.png",
    "papers/figures/papers-by-lights.png", "proof-report/report.html",
)  # fmt: skip
"""What of the demo's folder README shows, or leads to."""

_REPORTS = r"\$ greyscale ((?:analyse|compare|verify) .* -o (?:analysis|papers|proof-report))\n"

FINDINGS = {"check": 1}
"""Commands that end with another code than 0 when all is as it should be."""


def blocks(text: str, kind: str) -> list[str]:
    """Return the blocks of code of a kind."""
    return re.findall(rf"^```{kind}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def commands(text: str) -> list[str]:
    """Return the guide's commands but `page`, which waits until it is ended."""
    lines = [line for block in blocks(text, "sh") for line in block.splitlines()]
    return [
        line for line in lines if line.startswith("greyscale ") and "greyscale page" not in line
    ]


def run_commands(given: Iterable[str], demo: Path) -> None:
    """Run commands of the guide in the demo's folder; each must end as it should."""
    with chdir(demo):
        for command in given:
            _, *arguments = shlex.split(command)
            done = CliRunner().invoke(app, arguments)
            expected = FINDINGS.get(arguments[0], 0)
            assert done.exit_code == expected, f"{command}\n{done.output}\n{done.exception}"


def quoting(text: str, demo: Path) -> str:
    """Return README's text with the quotation that today's demo gives, as many parts of it."""
    (quoted,) = re.findall(r"^((?:> .*\n)+)", text, re.MULTILINE)
    with chdir(demo):
        found = greyscale.summary(greyscale.analyse("reading.txt"))
    *parts, last = " ".join(found.split()).split("; ")[: quoted.count(";") + 1]
    # Of the last part, which names one light after the other, the first.
    shown = textwrap.wrap("; ".join([*parts, f"{last.split(' (')[0]} ..."]), 98)
    return text.replace(quoted, "".join(f"> {line}\n" for line in shown))


def take_pictures(demo: Path, example: Path) -> None:
    """Take README's pictures, and the reports that it leads to, into a folder."""
    for name in FROM_DEMO:
        made = demo / name
        shutil.rmtree(example / name, ignore_errors=True)
        (example / name).parent.mkdir(parents=True, exist_ok=True)
        (shutil.copytree if made.is_dir() else shutil.copy)(made, example / name)
    if BROWSER:
        take(demo, example / "page.png")


def main() -> None:
    """Make the demo, and with it README's quotation and the example that it shows."""
    readme = REPOSITORY / "README.md"
    with tempfile.TemporaryDirectory() as folder:
        demo, copy = Path(folder) / "greyscale-demo", Path(folder) / "copy"
        done = CliRunner().invoke(app, ["demo", "-o", str(demo)])
        assert done.exit_code == 0, done.output
        with chdir(demo):
            # As one who works in the demo's folder makes them: with names, not whole paths.
            for command in re.findall(_REPORTS, done.output):
                shutil.rmtree(command.split()[-1])
                typed = shlex.split(command)
                # The report says by which command it was made.
                with patch.object(sys, "argv", ["greyscale", *typed]):
                    made = CliRunner().invoke(app, typed)
                assert made.exit_code == 0, made.output
        shutil.copytree(demo, copy)
        text = readme.read_text(encoding="utf-8")
        run_commands(commands(text), copy)
        readme.write_text(quoting(text, demo), encoding="utf-8")
        take_pictures(demo, EXAMPLE)


if __name__ == "__main__":
    main()
