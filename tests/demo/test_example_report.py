"""The committed example report is small, whole, and of the demo's own reading."""

import json
import re
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "reports" / "example" / "analysis"


def test_it_is_small():
    assert sum(path.stat().st_size for path in EXAMPLE.rglob("*") if path.is_file()) < 3e6


def test_it_is_of_the_demos_starting_chart():
    data = json.loads((EXAMPLE / "analysis.json").read_text(encoding="utf-8"))
    assert data["schema"] == "greyscale/analysis/1"
    assert data["reading"]["name"] == "cotton rag, starting chart"
    assert data["reading"]["source"] == "reading.txt"
    page = (EXAMPLE / "report.html").read_text(encoding="utf-8")
    assert "greyscale analyse reading.txt -o analysis" in page
    assert "conservation advice" in page


@pytest.mark.xdist_group("demo")
def test_its_numbers_are_those_of_todays_demo(job):
    """Made anew by copying what `greyscale demo` writes; it may not fall behind the code."""
    made = json.loads((job.folder / "analysis" / "analysis.json").read_text(encoding="utf-8"))
    kept = json.loads((EXAMPLE / "analysis.json").read_text(encoding="utf-8"))
    assert list(kept) == list(made)
    for part in ("neutrality", "tone", "paper", "black", "rests_on"):
        assert json.dumps(kept[part]) == json.dumps(made[part]), part
    for page in ("analysis", "papers", "proof-report"):
        first, second = (
            re.findall(r'<p class="(?:lead|after-lead)">(.*?)</p>', path.read_text("utf-8"), re.S)
            for path in (EXAMPLE.parent / page / "report.html", job.folder / page / "report.html")
        )
        assert first == second
