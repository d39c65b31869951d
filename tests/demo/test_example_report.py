"""The committed example report is small, whole, and of the demo's own reading."""

import json
from pathlib import Path

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
    assert "no conservation advice" in page
