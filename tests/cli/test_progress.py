"""What takes longer than a moment is named on the error stream; what does not leaves no trace."""

from __future__ import annotations

import time

import pytest

from greyscale.cli import voice as progress


def test_what_takes_its_time_is_named_while_it_lasts(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setattr(progress, "PATIENCE", 0.01)
    with progress.working("Working out the correction"):
        time.sleep(0.3)
    said = capsys.readouterr()
    assert "Working out the correction" in said.err
    assert said.out == ""


def test_what_is_done_at_once_and_what_fails_leave_nothing_running(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    started = time.monotonic()
    with pytest.raises(ValueError, match="as it was"), progress.working("Working"):
        raise ValueError("as it was")
    assert time.monotonic() - started < progress.PATIENCE
    assert "Working" not in capsys.readouterr().err


def test_nobody_watches_a_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    monkeypatch.setattr(progress, "PATIENCE", 0.0)
    with progress.working("Working"):
        time.sleep(0.05)
    assert capsys.readouterr().err == ""
