"""What tests of the print log's commands share."""

from pathlib import Path

import pytest


@pytest.fixture
def db(tmp_path) -> Path:
    return tmp_path / "log.sqlite3"
