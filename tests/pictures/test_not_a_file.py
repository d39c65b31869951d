"""What is no file is refused as a picture, without waiting for it."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from greyscale.base.errors import BadInput
from greyscale.pictures.formats import read_picture


@pytest.mark.skipif(sys.platform == "win32", reason="has no FIFOs")
def test_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    pipe = tmp_path / "fog.tif"
    os.mkfifo(pipe)
    with pytest.raises(BadInput, match="a pipe or a device"):
        read_picture(pipe)
