"""`greyscale page` as a person starts and ends it."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request

import pytest
from support.invoked import refused
from support.page import page_of


def test_it_serves_this_machine_alone_and_its_address_opens(tmp_path):
    with page_of(tmp_path / "prints") as address:
        host, port = address.removeprefix("http://").split("/")[0].split(":")
        assert host == "127.0.0.1"
        assert (tmp_path / "prints").is_dir()
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(address.split("?")[0])
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        assert "No paper yet" in opener.open(address).read().decode()
        # A server of all interfaces would answer on every loopback address, too.
        with socket.socket() as other, pytest.raises(OSError, match="refused"):
            other.connect(("127.0.0.2", int(port)))


def test_ctrl_c_ends_it_without_a_fault(tmp_path):
    process = subprocess.Popen(
        [sys.executable, "-m", "greyscale", "page", str(tmp_path), "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    process.stdout.readline()
    address = process.stdout.readline().strip()
    urllib.request.build_opener(urllib.request.HTTPCookieProcessor()).open(address)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=120)
    assert process.returncode == 0
    assert told == ""


def test_a_port_that_is_taken_and_a_folder_that_is_a_file_are_refused(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert "--port" in refused("page", tmp_path, "--port", port, "--no-browser")
    file = tmp_path / "file"
    file.write_text("x")
    assert "is a file" in refused("page", file, "--no-browser")
