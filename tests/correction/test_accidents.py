"""A proof is known by the pattern that an accident leaves, and nothing is said to have worked then.

On simulated printers that were kept out while the patterns were described (`support.accidents`).
"""

from __future__ import annotations

import pytest
from support.accidents import ACCIDENTS, KEPT_OUT, corrected, proof
from support.families import family

import greyscale.correction.verify as verifying
from greyscale.correction.next_round import NextRound
from greyscale.correction.verify import verify
from greyscale.reporting.verification_words import verification_sentences

MEMBERS = [(name, accident) for name in KEPT_OUT for accident in ACCIDENTS]
EVERY_TIME = [
    ("random 11", accident) for accident in ACCIDENTS if accident.split()[-1] != "correction"
]


@pytest.mark.parametrize("member", family(MEMBERS, EVERY_TIME))
def test_an_accident_is_named_first(
    member: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    none = NextRound(False, None, None, None, None, None, None, 0.1, "Another round is not asked.")
    monkeypatch.setattr(verifying, "next_round", lambda *given: none)
    name, accident = member
    said = verification_sentences(verify(proof(name, accident, seed=2), corrected(name)))
    named = ACCIDENTS[accident]
    worked = any(sentence.startswith("The correction worked") for sentence in said)
    if named is None:
        assert worked
        assert said[0].startswith("The correction worked")
    else:
        assert named in said[0]
        assert not worked
