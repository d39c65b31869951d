"""Only readings that were printed and measured alike come into one trend."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest
from support.logged import correction_folder, reading

from greyscale.base.errors import BadInput
from greyscale.correction.targets import aims_for
from greyscale.readings.iso28178 import write
from greyscale.records.add_reading import add_readings
from greyscale.records.adding import Stated, add_correction, add_note
from greyscale.records.entries import NOTE, READING, correction_of
from greyscale.records.find import (
    Wanted,
    dated_analyses,
    differing,
    entry_of,
    find,
    groups,
    has,
    notes_about,
    one_group,
)
from greyscale.records.print_log import open_log


@pytest.fixture
def log(db):
    with open_log(db, write=True) as opened:
        yield opened


def readings(log):
    return find(log, Wanted(kind=READING))


@pytest.mark.parametrize(
    ("changes", "told", "differ"),
    [
        ({"printer": "another"}, Stated(), "printer"),
        ({"paper": "baryta"}, Stated(), "paper"),
        ({"settings": "fast"}, Stated(), "settings"),
        ({}, Stated(inks="batch 13"), "inks"),
        ({"condition": "M2"}, Stated(), "condition"),
        ({"condition": None}, Stated(), "condition"),
        ({"backing": "black"}, Stated(), "backing"),
        ({"observer": "10"}, Stated(), "observer"),
    ],
)
def test_what_is_unlike_is_a_group_of_its_own(log, make_reading, changes, told, differ):
    add_readings(log, make_reading(1))
    add_readings(log, make_reading(2, printer="Six-ink,  STUDIO"))
    add_readings(log, make_reading(3, **changes), told)
    found = groups(readings(log))
    assert [[entry.name for entry in group] for group in found] == [
        ["reading 1", "reading 2"],
        ["reading 3"],
    ]
    assert differing(found) == (differ,)
    with pytest.raises(BadInput, match=f"choose one line:\n  --{differ} .*\\(2 readings\\)\n"):
        one_group(readings(log), "log")


def test_prints_with_and_without_a_correction_are_unlike(log, make_reading, tmp_path):
    made = add_correction(log, correction_folder(tmp_path / "first"))
    other = add_correction(log, correction_folder(tmp_path / "other", name="Another"))
    add_readings(log, make_reading(1))
    add_readings(log, make_reading(2), through=made.id)
    add_readings(log, make_reading(3), through=other.id)
    assert len(groups(readings(log))) == 3
    with pytest.raises(BadInput) as refused:
        one_group(readings(log), "log")
    for option in ("none", made.id, other.id):
        assert f"--correction {option} " in str(refused.value)
        (entry,) = (one for one in readings(log) if has(one, correction=str(option)))
        assert (entry.details.through or "none") == option


def test_a_chosen_group_is_given_whole(log, make_reading):
    for number in range(3):
        add_readings(log, make_reading(number))
    assert one_group(readings(log), "log") == readings(log)
    with pytest.raises(BadInput, match="is as asked for; 'greyscale log list --kind reading'"):
        one_group([], "log")


def test_prints_through_a_correction_are_held_against_its_own_aims(log, make_reading, tmp_path):
    made = add_correction(log, correction_folder(tmp_path / "c", aim="gamma-2.2", neutral="paper"))
    add_readings(log, make_reading(1), through=made.id)
    add_readings(log, make_reading(2))
    with_it = [one for one in readings(log) if one.details.through]
    (analysed,) = dated_analyses(log, with_it)
    assert analysed.analysis.tone.aim == "gamma-2.2"
    assert analysed.analysis.neutrality.aim == "paper"
    (without,) = dated_analyses(log, [one for one in readings(log) if not one.details.through])
    assert without.analysis.tone.aim == "lstar"


def test_a_proof_without_black_is_held_to_the_black_of_its_correction(log, tmp_path):
    """An even ramp of L* from 40 on: its own darkest tone is no black to fit an aim to."""
    made = add_correction(log, correction_folder(tmp_path / "c", aim="lstar", scaling="linear"))
    path = tmp_path / "lights-only.txt"
    whole = reading(1)
    write(whole.select(whole.device.mean(axis=1) >= 0.4), path)
    add_readings(log, path, through=made.id)
    (found,) = dated_analyses(log, readings(log))
    patches = found.analysis.patches
    correction = correction_of(log, entry_of(log, made.id))
    wanted = aims_for(correction, patches.level)[0].target(patches.level, 0, 100, "none")
    np.testing.assert_allclose(patches.aim_lab[:, 0], wanted)


def test_notes_belong_to_it_unless_they_name_another(log, make_reading):
    add_readings(log, make_reading(1, created=datetime(2026, 3, 4, 10)))
    day = datetime(2026, 3, 4)
    add_note(log, "of all printers", Stated(moment=day))
    add_note(log, "of this paper", Stated(paper="Cotton Rag", moment=day))
    add_note(log, "of another paper", Stated(paper="baryta", moment=day))
    add_note(log, "of its inks, which are not known", Stated(inks="batch 1", moment=day))
    add_note(log, "too early", Stated(moment=datetime(2026, 3, 3)))
    found = notes_about(find(log, Wanted(kind=NOTE)), readings(log))
    assert [entry.details.text for entry in found] == ["of all printers", "of this paper"]
