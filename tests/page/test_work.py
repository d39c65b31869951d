"""Long work: begun once, watched, cancelled without a trace; what went wrong is said."""

from __future__ import annotations

import html
import re

import numpy as np
import pytest
from support.page import client_of, commands_in, measure

from greyscale.readings.layout import Layout, write_layout

HUGE = ("chart", "-o", "chart-1", "--dpi", "1200")


@pytest.fixture
def paper(tmp_path):
    folder = tmp_path / "cotton rag"
    measure(folder / "ramp.txt")
    return folder


def jobs_of(client):
    return client.app.app.state.jobs


def test_cancelled_work_leaves_nothing(paper):
    client = client_of(paper.parent)
    job = jobs_of(client).begin("Drawing a chart", HUGE, paper, paper / "chart-1.txt")
    text = client.get("/paper/cotton rag").text
    assert f'data-wait="/work/{job.number}"' in text
    assert "greyscale chart -o chart-1 --dpi 1200" in commands_in(text)
    assert "<progress" in text
    answer = client.post(f"/work/{job.number}/cancel", data={"back": "/paper/cotton rag"})
    assert answer.headers["location"] == "/paper/cotton%20rag"
    assert client.get(f"/work/{job.number}").json() == {"done": True}
    assert (
        "Cancelled: drawing a chart. Nothing was left behind."
        in client.get("/paper/cotton rag").text
    )
    assert [path.name for path in paper.iterdir()] == ["ramp.txt"]
    assert job.process is None or job.process.poll() is not None


def test_two_tabs_get_two_charts(paper):
    """None waits for the other's end to have a name of its own."""
    client = client_of(paper.parent)
    for _ in range(2):
        assert client.post("/paper/cotton rag/chart", data={"page": "a5"}).status_code == 303
    second, first = jobs_of(client).of(paper)
    for job in (first, second):
        jobs_of(client).cancel(job)
        assert job.done.wait(240)
    assert first.arguments[:3] == ("chart", "-o", "chart-1")
    assert second.arguments[:3] == ("chart", "-o", "chart-2")
    assert second.arguments[-2:] == ("--seed", "2")


def test_the_next_step_is_taken_once_in_two_tabs(tmp_path):
    """The second tab still shows the button, while it is at work and when it is done."""
    (tmp_path / "baryta").mkdir()
    client = client_of(tmp_path)
    page = client.get("/paper/baryta").text
    assert re.search(r'action="/paper/baryta/chart".*?name="next" value="1"', page, re.DOTALL)
    for _ in range(2):
        assert client.post("/paper/baryta/chart", data={"next": "1"}).status_code == 303
    (job,) = jobs_of(client).of(tmp_path / "baryta")
    jobs_of(client).cancel(job)
    assert job.done.wait(240)
    places = ("A1", "A2")
    layout = Layout("chart-1", ("1", "2"), places, np.array([[0.0] * 3, [1.0] * 3]))
    write_layout(layout, tmp_path / "baryta" / "chart-1.txt")
    late = client.post("/paper/baryta/chart", data={"next": "1"})
    assert late.status_code == 422
    assert "This was done meanwhile, in another tab or by a command; see what is next" in late.text
    assert "Add it" in late.text
    assert len(jobs_of(client).of(tmp_path / "baryta")) == 1


def test_the_same_work_is_not_begun_twice(paper):
    jobs = jobs_of(client_of(paper.parent))
    first = jobs.begin("Drawing a chart", HUGE, paper, paper / "chart-1.txt")
    assert jobs.begin("Drawing a chart", HUGE, paper, paper / "chart-1.txt") is first
    jobs.cancel(first)
    assert first.done.wait(240)


def test_what_a_command_refuses_is_said_in_its_words(paper):
    client = client_of(paper.parent)
    words = ("check", "no-such.txt", "--repaired", "x.txt")
    job = jobs_of(client).begin("Putting the reading right", words, paper, paper / "x.txt")
    assert job.done.wait(240)
    assert job.code == 2
    text = " ".join(html.unescape(client.get("/paper/cotton rag").text).split())
    assert "It did not work:" in text
    assert "no-such.txt: there is no such file" in text
    assert "Traceback" not in text


def test_a_module_in_the_folder_is_no_part_of_the_program(paper):
    """A folder of prints may hold any file; Python would look there first."""
    (paper / "numpy.py").write_text("raise SystemExit('taken for the program')")
    client = client_of(paper.parent)
    words = ("check", "ramp.txt")
    job = jobs_of(client).begin("Checking", words, paper, paper / "ramp.txt")
    assert job.done.wait(240)
    assert job.code == 0, job.told


@pytest.mark.parametrize("step", ["proof", "round", "follow-up", "nothing", "repair"])
def test_a_step_that_cannot_be_done_now_is_refused(paper, step):
    """As from a tab that was left open while another went on."""
    (paper / "ramp.txt").unlink()
    answer = client_of(paper.parent).post(f"/paper/cotton rag/{step}", data={})
    assert answer.status_code == 422
    assert re.search(r'role="alert"', answer.text)


def test_there_is_no_job_that_was_not_begun(paper):
    client = client_of(paper.parent)
    assert client.get("/work/7").status_code == 404
    assert client.post("/work/7/cancel", data={}).status_code == 404
