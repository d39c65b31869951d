"""Only this run's own tabs are let in, nothing outside the folder is shown, nothing is lost."""

from __future__ import annotations

import re

import pytest
from support.hostile import HOSTILE, HOSTILE_NAME, Outline
from support.page import PORT, TOKEN, client_of, measure

from greyscale.page import uploads


@pytest.fixture
def studio(tmp_path):
    """A folder with one paper that was measured, and what must not be reached beside it."""
    (tmp_path / "secret.txt").write_text("not for the page")
    root = tmp_path / "prints"
    root.mkdir()
    measure(root / "cotton rag" / "ramp.txt")
    (root / "cotton rag" / "out").symlink_to(tmp_path)
    (root / "linked.txt").symlink_to(tmp_path / "secret.txt")
    return root


def test_the_token_of_the_address_lets_in_and_only_it(studio):
    stranger = client_of(studio, token="another")
    assert stranger.get("/").status_code == 403
    assert stranger.get("/?token=guessed").status_code == 403
    assert "cotton rag" not in stranger.get("/").text
    let_in = stranger.get(f"/?token={TOKEN}")
    assert let_in.status_code == 303
    assert let_in.headers["location"] == "/"
    cookie = let_in.headers["set-cookie"]
    assert cookie.startswith(f"greyscale-{PORT}={TOKEN};")
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()


@pytest.mark.parametrize(
    "path", ["/", "/static/page.js", "/paper/cotton rag", "/file/x", "/work/1"]
)
def test_every_address_asks_for_the_token(studio, path):
    assert client_of(studio, token="").get(path).status_code == 403


@pytest.mark.parametrize("host", ["example.test", "example.test:8765", "127.0.0.1:80", "127.0.0.1"])
def test_a_name_that_was_made_to_lead_here_is_refused(studio, host):
    """DNS rebinding: the browser sends its own name of the host, and the cookie of that name."""
    assert client_of(studio).get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["http://example.test", "null", "http://127.0.0.1:80", None])
def test_another_site_can_change_nothing(studio, origin):
    client = client_of(studio)
    del client.headers["origin"]
    headers = {} if origin is None else {"origin": origin}
    answer = client.post("/papers", data={"name": "planted"}, headers=headers)
    assert answer.status_code == 403
    assert not (studio / "planted").exists()


def test_every_answer_says_what_may_run(studio):
    client = client_of(studio)
    for path in ("/", "/paper/cotton rag", "/static/page.css", "/nothing"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"


def test_no_page_has_a_script_or_a_style_of_its_own(studio):
    client = client_of(studio)
    for path in ("/", "/paper/cotton rag"):
        text = client.get(path).text
        assert re.findall(r"<script[^>]*>", text) == ['<script src="/static/page.js" defer>']
        assert not re.search(r"<style|\sstyle=|\son\w+=|javascript:", text)


@pytest.mark.parametrize(
    "path",
    [
        "../secret.txt", "%2e%2e/secret.txt", "..%2fsecret.txt", "cotton rag/../../secret.txt",
        "linked.txt", "cotton rag/out/secret.txt", "/etc/passwd", "%2fetc%2fpasswd",
        "cotton rag", "cotton%20rag%5c..%5c..%5csecret.txt", ".hidden", "x%00y",
    ],
)  # fmt: skip
def test_nothing_outside_the_folder_is_sent(studio, path):
    (studio / ".hidden").write_text("not for the page")
    answer = client_of(studio).get(f"/file/{path}")
    assert answer.status_code == 404
    assert "not for the page" not in answer.text


def test_files_in_it_are(studio):
    answer = client_of(studio).get("/file/cotton rag/ramp.txt")
    assert answer.content == (studio / "cotton rag" / "ramp.txt").read_bytes()
    assert answer.headers["content-disposition"].startswith("attachment")


def test_a_page_in_the_folder_has_no_part_in_this_one(studio):
    (studio / "report.html").write_text("<script>alert(1)</script>")
    policy = client_of(studio).get("/file/report.html").headers["content-security-policy"]
    assert policy.startswith("sandbox;")
    assert "allow" not in policy
    assert "script-src" not in policy


@pytest.mark.parametrize("key", ["%2e%2e%2f", "cotton%20rag%2f..", "nothing", "out", "linked.txt"])
def test_an_address_never_becomes_a_path(studio, key):
    client = client_of(studio)
    assert client.get(f"/paper/{key}").status_code in (404, 405)
    assert client.post(f"/paper/{key}/chart").status_code in (404, 405)


@pytest.mark.parametrize(
    "name", ["../planted", "..\\planted", "/planted", ".planted", "a/../planted"]
)
def test_a_new_paper_lies_in_the_folder(studio, name):
    before = set(studio.parent.iterdir())
    assert client_of(studio).post("/papers", data={"name": name}).status_code == 303
    assert set(studio.parent.iterdir()) == before
    assert (studio / "planted").is_dir()


def send(client, file, name="reading.txt", **fields):
    return client.post("/paper/cotton rag/add", files={"file": (name, file)}, data=fields or None)


def test_a_reading_is_filed_whole_under_a_name_of_its_own(studio, tmp_path):
    folder = studio / "cotton rag"
    given = measure(tmp_path / "given.txt", seed=5).read_bytes()
    client = client_of(studio)
    for name in ("../ramp.txt", "ramp.txt", "C:\\scans\\ramp.txt"):
        assert send(client, given, name).status_code == 303
    there = {path.name: path.read_bytes() for path in folder.glob("*.txt")}
    assert sorted(there) == ["ramp-2.txt", "ramp-3.txt", "ramp-4.txt", "ramp.txt"]
    assert all(there[f"ramp-{number}.txt"] == given for number in (2, 3, 4))
    assert there["ramp.txt"] != given


@pytest.mark.parametrize(
    "content", [b"", b"\0\1\2", b"CGATS.17\n", b"<!DOCTYPE x [<!ENTITY a 'b'>]>"]
)
def test_what_is_no_reading_is_refused_in_words_and_leaves_nothing(studio, content):
    before = sorted(studio.rglob("*"))
    answer = send(client_of(studio), content)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert "Traceback" not in answer.text
    assert sorted(studio.rglob("*")) == before


def test_too_much_is_refused_while_it_streams_in(studio, monkeypatch):
    monkeypatch.setattr(uploads, "ROOM", 1000)
    client = client_of(studio)
    boundary = {"content-type": "multipart/form-data; boundary=x"}
    seen = []

    def endless():
        yield b'--x\r\nContent-Disposition: form-data; name="name"\r\n\r\n'
        for number in range(100):
            seen.append(number)
            yield b"a" * 500

    assert client.post("/papers", content=endless(), headers=boundary).status_code == 413
    told = {**boundary, "content-length": "5000"}
    assert client.post("/papers", content=b"x" * 5000, headers=told).status_code == 413


def test_hostile_names_are_shown_and_do_nothing(studio):
    measure(studio / "cotton rag" / "ramp.txt", name=HOSTILE)
    measure(studio / HOSTILE_NAME.replace("\\", "") / f"{HOSTILE_NAME[:40]}.txt")
    client = client_of(studio)
    outline = Outline(client.get("/").text)
    assert any("document.title" in text for text in outline.text)
    other, *_ = [one for one in outline.sources if one.startswith("/paper/%22")]
    for page in (
        outline,
        Outline(client.get(other).text),
        Outline(client.get("/paper/cotton rag").text),
    ):
        assert page.scripts == 1
        assert page.handlers == []
        assert "img" not in page.tags
        assert all(one.startswith(("/", "#")) for one in page.sources)


def test_a_tab_that_looks_while_files_come_and_go_sees_what_is_there(studio):
    client = client_of(studio)
    ramp = studio / "cotton rag" / "ramp.txt"
    assert "ramp.txt" in client.get("/paper/cotton rag").text
    ramp.rename(ramp.with_name("renamed.txt"))
    text = client.get("/paper/cotton rag").text
    assert "renamed.txt" in text
    measure(studio / "baryta" / "ramp.txt", paper="baryta")
    assert "baryta" in client.get("/").text


def test_the_surround_leads_nowhere_else(studio):
    client = client_of(studio)
    for back in ("//example.test", "http://example.test", "/\\example.test"):
        answer = client.post("/surround", data={"surround": "dark", "back": back})
        assert answer.headers["location"] == "/"
