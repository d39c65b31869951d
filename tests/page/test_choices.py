"""Choices redraw what is measured and what is foretold; the correction is made by the same."""

from __future__ import annotations

import html

import pytest
from support.page import client_of, measure

import greyscale
from greyscale.colorimetry.differences import delta_E_2000
from greyscale.page import findings
from greyscale.reporting.correction_words import correction_sentences

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
    foretold = findings.predicted((reading,), "srgb", "absolute", None)
    own = greyscale.correct(reading, aim="srgb", neutral="absolute")
    assert delta_E_2000(foretold.curve.lab, own.curve.lab).max() < NEAR


def test_the_address_holds_the_choices_and_the_command_has_them(client):
    address = "/paper/cotton rag?aim=srgb&neutral=paper&toning=yellow-brown&light=LED-B3"
    text = html.unescape(client.get(address).text)
    assert "greyscale analyse ramp.txt --aim srgb --neutral paper --light LED-B3" in text
    assert "--aim srgb --neutral paper --toning yellow-brown -o correction-1" in text
    assert "LED-B3" in text
    assert "<option selected>srgb" in text


@pytest.mark.parametrize("name", ["aim", "neutral", "toning"])
def test_a_choice_that_is_not_known_is_the_usual_one(client, name):
    text = html.unescape(client.get("/paper/cotton rag", params={name: "/etc/passwd"}).text)
    assert "greyscale analyse ramp.txt</code>" in text
    assert "passwd" not in text
