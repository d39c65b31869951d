"""Choices redraw what is measured and what is foretold; the correction is made by the same."""

from __future__ import annotations

import html
import io
import re

import numpy as np
import pytest
from PIL import Image
from support.page import client_of, commands_in, measure

import greyscale
from greyscale.applying.preview import PreviewOptions, preview
from greyscale.charts.picture_tones import picture_tones
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.colorimetry.lights import light
from greyscale.page import findings
from greyscale.page.choices import Choices
from greyscale.page.papers import paper_of
from greyscale.reporting.correction_report import correction_sentences
from greyscale.reporting.preview_sheet import print_as_seen, write_png

NEAR = 0.1
"""ΔE00: what the page foretells with a printer that was fitted for other aims."""


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    root = tmp_path_factory.mktemp("prints")
    measure(root / "cotton rag" / "ramp.txt")
    return client_of(root)


def test_what_is_foretold_is_what_the_correction_promises(client):
    root = client.app.app.state.root
    own = greyscale.correct(root / "cotton rag" / "ramp.txt")
    text = html.unescape(client.get("/paper/cotton rag/predicted").text)
    assert correction_sentences(own)[0] in text


def test_of_other_aims_it_is_foretold_closely(client):
    reading = greyscale.read(client.app.app.state.root / "cotton rag" / "ramp.txt")
    foretold = findings.foretold((reading,), Choices(aim="srgb", neutral="absolute"))
    own = greyscale.correct(reading, aim="srgb", neutral="absolute")
    assert delta_E_2000(foretold.curve.lab, own.curve.lab).max() < NEAR


def test_the_address_holds_the_choices_and_the_command_has_them(client):
    address = "/paper/cotton rag?aim=srgb&neutral=paper&toning=yellow-brown&light=LED-B3"
    text = html.unescape(client.get(address).text)
    said = "greyscale analyse ramp.txt --aim srgb --neutral paper --light LED-B3"
    assert said in commands_in(text)
    end = "--aim srgb --neutral paper --toning yellow-brown -o correction-1"
    assert any(one.endswith(end) for one in commands_in(text))
    assert "LED-B3" in text
    assert "<option selected>srgb" in text


def test_a_correction_for_lights_with_weights_is_a_choice_like_the_others(client):
    query = {"made_for": "LED-B1, D50=2"}
    text = html.unescape(client.get("/paper/cotton rag", params=query).text)
    end = "--light LED-B1 --light D50 --weight D50=2 -o correction-1"
    assert any(one.endswith(end) for one in commands_in(text))
    assert ">LED-B1" in text
    reading = greyscale.read(client.app.app.state.root / "cotton rag" / "ramp.txt")
    own = greyscale.correct(reading, lights=["LED-B1", "D50"], weights={"D50": 2})
    foretold = html.unescape(client.get("/paper/cotton rag/predicted", params=query).text)
    assert correction_sentences(own)[0] in foretold
    for wrong, said in (("LED-B1=x", "has no weight"), ("Neon", "Neon"), ("/etc/passwd", "known")):
        row = client.get("/paper/cotton rag/predicted", params={"made_for": wrong})
        assert row.status_code == 200
        assert said in html.unescape(row.text)
        page = client.get("/paper/cotton rag", params={"made_for": wrong})
        assert page.status_code == 200
        refused = client.post("/paper/cotton rag/correct", data={"made_for": wrong})
        assert refused.status_code == 422


def test_a_picture_is_shown_through_a_correction_that_is_not_made_yet(client):
    folder = client.app.app.state.root / "cotton rag"
    Image.linear_gradient("L").resize((64, 48)).save(folder / "fog.png")
    address = "/paper/cotton rag/picture/fog.png"
    asked = {"encoding": "lstar", "toning": "yellow-brown"}
    text = html.unescape(client.get(address, params=asked).text)
    assert "This is what a correction would do; it is not made yet." in text
    assert 'name="toning" value="yellow-brown"' in text
    # The reading that the page has read: that what is foretold of it is true, is shown above.
    reading = paper_of(folder.parent, "cotton rag").readings[0].reading
    own = findings.foretold((reading,), Choices(toning="yellow-brown"))
    wanted = PreviewOptions(encoding="lstar", longest=findings.LONGEST)
    made = preview(reading, folder / "fog.png", light("D50"), own, wanted)
    file = io.BytesIO()
    write_png(print_as_seen(made, made.sides[1], 1.0), file)
    drawn = client.get(f"{address}/after.png", params=asked).content
    apart = np.asarray(Image.open(file), int) - np.asarray(Image.open(io.BytesIO(drawn)), int)
    assert not apart.any()
    plain = client.get(f"{address}/after.png", params={"encoding": "lstar"}).content
    assert plain != drawn


def test_a_picture_is_a_choice_like_the_others(client):
    """It shares the axis, is drawn as foretold, and the correction is made for it."""
    folder = client.app.app.state.root / "cotton rag"
    Image.linear_gradient("L").resize((64, 48)).save(folder / "fog.png")
    asked = {"picture": "fog.png", "encoding": "lstar", "toning": "yellow-brown"}
    text = html.unescape(client.get("/paper/cotton rag", params=asked).text)
    assert 'class="course histogram"' in text
    end = "--toning yellow-brown --for-image fog.png -o correction-1"
    assert any(one.endswith(end) for one in commands_in(text))
    picture = re.search(r'<img src="([^"]+/after.png[^"]+)"', text)[1]
    assert client.get(picture).headers["content-type"] == "image/png"
    reading = greyscale.read(folder / "ramp.txt")
    tones = picture_tones(folder / "fog.png")
    own = greyscale.correct(reading, toning="yellow-brown", picture=tones)
    choices = Choices(toning="yellow-brown", picture="fog.png")
    foretold = findings.foretold((reading,), choices, folder)
    assert foretold.picture == own.picture
    assert delta_E_2000(foretold.curve.lab, own.curve.lab).max() < NEAR
    unsure = html.unescape(client.get("/paper/cotton rag", params={"picture": "fog.png"}).text)
    assert "Choose its encoding below" in unsure


@pytest.mark.parametrize("name", ["aim", "neutral", "toning", "picture"])
def test_a_choice_that_is_not_known_is_the_usual_one(client, name):
    text = html.unescape(client.get("/paper/cotton rag", params={name: "/etc/passwd"}).text)
    assert "greyscale analyse ramp.txt" in commands_in(text)
    assert "passwd" not in text
