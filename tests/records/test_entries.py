"""What comes into the log, how it belongs together, and how it is found and given back."""

from __future__ import annotations

import dataclasses
import os
from datetime import date, datetime

import numpy as np
import pytest
from support.corrections import correction_with, curve_against
from support.cxf3_files import Patch, cxf3_bytes, specification
from support.logged import MEASURED, PAPER, PRINTER, correction_folder, sheet_reading

from greyscale.base.errors import BadInput
from greyscale.base.files import sha256_of
from greyscale.correction.as_json import correction_id
from greyscale.correction.folder import read_correction
from greyscale.readings.formats import read, read_all
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import Layout, write_layout
from greyscale.records.add_reading import WITHOUT, add_readings
from greyscale.records.adding import Stated, add_correction, add_note, is_correction
from greyscale.records.entries import (
    SourceReading,
    correction_of,
    reading_of,
    safe_name,
    write_files,
)
from greyscale.records.find import Wanted, entry_of, find, links_of
from greyscale.records.print_log import open_log


@pytest.fixture
def log(db):
    with open_log(db, write=True) as opened:
        yield opened


def test_a_reading_is_kept_with_all_that_it_tells(log, make_reading):
    path = make_reading(settings="best", instrument="spectrometer of the studio")
    (added,) = add_readings(log, path, Stated(inks="batch 12"))
    entry = entry_of(log, added.id)
    assert added.new
    assert (entry.kind, entry.name, entry.moment) == ("reading", "reading 0", MEASURED)
    assert (entry.printer, entry.paper, entry.inks, entry.settings) == (
        *(PRINTER, PAPER),
        *("batch 12", "best"),
    )
    details = entry.details
    assert (details.condition, details.backing, details.patches) == ("M1", "white", 14)
    assert (details.spectral, details.through) == (False, None)
    assert details.instrument == "spectrometer of the studio"
    (kept,) = entry.files
    assert (kept.role, kept.name) == ("reading", path.name)
    assert (kept.sha256, kept.size) == (sha256_of(path), path.stat().st_size)


def test_inks_are_as_the_file_names_them_where_nothing_is_told(log, make_reading):
    (added,) = add_readings(log, make_reading(inks="carbon"))
    entry = entry_of(log, added.id)
    assert entry.inks == "carbon"
    assert reading_of(log, entry).inks == "carbon"


def test_a_reading_comes_back_as_it_was_read(log, make_reading):
    path = make_reading()
    wanted = read(path)
    (added,) = add_readings(log, path)
    path.unlink()
    found = reading_of(log, entry_of(log, added.id))
    np.testing.assert_array_equal(found.lab, wanted.lab)
    np.testing.assert_array_equal(found.device, wanted.device)
    assert (found.ids, found.condition, found.created) == (wanted.ids, "M1", MEASURED)
    assert found.source == f"{path.name} (entry {added.id})"


def test_its_file_comes_back_byte_by_byte(log, make_reading, tmp_path):
    path = make_reading()
    content = path.read_bytes().replace(b"\n", b"\r\n") + b"\xff"
    path.write_bytes(content)
    (added,) = add_readings(log, path)
    (written,) = write_files(log, entry_of(log, added.id), tmp_path / "back")
    assert written.name == path.name
    assert written.read_bytes() == content
    written.write_bytes(b"another")
    with pytest.raises(BadInput, match="is another file"):
        write_files(log, entry_of(log, added.id), tmp_path / "back")
    assert written.read_bytes() == b"another"


def test_the_same_file_again_is_the_same_entry_and_is_completed(log, make_reading):
    path = make_reading(printer=None, settings=None)
    (first,) = add_readings(log, path)
    again = add_readings(
        log, path.rename(path.with_name("copy.txt")), Stated(printer="Studio, left")
    )
    assert [(one.id, one.new) for one in again] == [(first.id, False)]
    assert again[0].changes == ("printer 'Studio, left'",)
    (put_right,) = add_readings(log, path.with_name("copy.txt"), Stated(printer="studio, RIGHT"))
    assert put_right.changes == ("printer 'studio, RIGHT', was 'Studio, left'",)
    (same,) = add_readings(log, path.with_name("copy.txt"), Stated(printer=" Studio,  right"))
    assert same.changes == ()
    assert entry_of(log, first.id).printer == "studio, RIGHT"


def test_names_are_the_same_whatever_their_case_and_spaces(log, make_reading):
    add_readings(log, make_reading(1, paper="cotton rag"))
    add_readings(log, make_reading(2, paper=" Cotton  Rag "))
    rows = log.connection.execute("SELECT name FROM papers").fetchall()
    assert [tuple(row) for row in rows] == [("cotton rag",)]


def test_where_the_time_is_known_from(log, make_reading):
    undated = make_reading(1, created=None)
    os.utime(undated, (1_770_000_000, 1_770_000_000))
    (stated,) = add_readings(log, make_reading(0))
    (by_file,) = add_readings(log, undated)
    told_at = datetime(2026, 2, 1, 9, 0)
    (told,) = add_readings(log, make_reading(2), Stated(moment=told_at))
    entries = [entry_of(log, one.id) for one in (stated, by_file, told)]
    assert [entry.moment_from for entry in entries] == ["stated", "file", "told"]
    assert entries[1].moment == datetime.fromtimestamp(1_770_000_000)
    assert entries[2].moment == told_at
    assert reading_of(log, entries[1]).created is None


def test_every_condition_of_a_file_is_an_entry_and_the_file_is_kept_once(log, tmp_path):
    spectrum = np.full(31, 0.9)
    patches = [
        Patch(f"p{v}", (v, v, v), spectra=dict.fromkeys(("M1", "M2"), spectrum * v / 255))
        for v in (25, 128, 255)
    ]
    path = tmp_path / "both.cxf"
    path.write_bytes(cxf3_bytes(patches, [specification(name, name) for name in ("M1", "M2")]))
    wanted = read_all(path)
    assert len(wanted) > 1
    added = add_readings(log, path)
    assert [entry_of(log, one.id).details.condition for one in added] == [
        reading.condition for reading in wanted
    ]
    for one, reading in zip(added, wanted, strict=True):
        np.testing.assert_array_equal(reading_of(log, entry_of(log, one.id)).lab, reading.lab)
    assert log.connection.execute("SELECT count(*) FROM files").fetchone()[0] == 1


def test_a_file_without_device_values_is_kept_with_its_layout(log, make_reading, tmp_path):
    whole = read(make_reading())
    layout = tmp_path / "layouts" / "bare.csv"  # Of the same name as the reading.
    layout.parent.mkdir()
    places = tuple(f"A{i + 1}" for i in range(len(whole)))
    write_layout(Layout("chart", whole.ids, places, whole.device), layout)
    bare = tmp_path / "bare.csv"
    rows = [f"{name},{L},{a},{b}" for name, (L, a, b) in zip(whole.ids, whole.lab, strict=True)]
    bare.write_text("\n".join(["SAMPLE_ID,LAB_L,LAB_A,LAB_B", *rows]) + "\n")
    (added,) = add_readings(log, bare, layout=layout)
    layout.unlink()
    found = reading_of(log, entry_of(log, added.id))
    np.testing.assert_allclose(found.device, whole.device, atol=1e-6)
    assert found.places == places
    written = write_files(log, entry_of(log, added.id), tmp_path / "back")
    assert len({path.read_bytes() for path in written}) == 2


def test_a_correction_is_kept_with_what_it_needs_and_comes_back(log, correction, tmp_path):
    added = add_correction(log, correction, Stated(inks="batch 12"))
    entry = entry_of(log, added.id)
    assert {kept.name for kept in entry.files} == {"correction.json", "curve.csv"}
    made = read_correction(correction)
    assert (entry.name, entry.moment) == (made.name, made.created)
    assert (entry.printer, entry.paper, entry.inks) == (PRINTER, PAPER, "batch 12")
    assert entry.details.identifier == correction_id(made)
    assert correction_id(correction_of(log, entry)) == correction_id(made)
    write_files(log, entry, tmp_path / "back")
    assert is_correction(tmp_path / "back")
    assert read_correction(tmp_path / "back").name == made.name


def test_the_json_alone_is_enough_and_is_the_same_correction(log, correction):
    first = add_correction(log, correction / "correction.json")
    again = add_correction(log, correction)
    assert (again.id, again.new) == (first.id, False)


def test_corrections_find_the_one_they_follow_in_any_order(log, tmp_path):
    name = "Harbour light"
    rounds = {
        number: correction_folder(
            tmp_path / str(number),
            name=name,
            round=number,
            follows=None if number == 1 else name,
            created=datetime(2026, 3, 4 + number),
        )
        for number in (1, 2, 3)
    }
    third = add_correction(log, rounds[3])
    assert entry_of(log, third.id).details.follows is None
    first, second = add_correction(log, rounds[1]), add_correction(log, rounds[2])
    assert entry_of(log, first.id).details.follows is None
    assert entry_of(log, second.id).details.follows == first.id
    assert entry_of(log, third.id).details.follows == second.id
    assert links_of(log, entry_of(log, first.id)) == (("Followed by", (second.id,)),)


def test_a_correction_knows_the_readings_it_was_made_from(log, make_reading, tmp_path):
    path = make_reading()
    made = correction_with(curve_against(points=65))
    source = dataclasses.replace(made.evidence.sources[0], sha256=sha256_of(path))
    evidence = dataclasses.replace(made.evidence, sources=(source,))
    added = add_correction(log, correction_folder(tmp_path / "c", evidence=evidence))
    assert entry_of(log, added.id).details.sources == (
        SourceReading(source.name, 0, sha256_of(path)),
    )
    (reading,) = add_readings(log, path)
    (known,) = entry_of(log, added.id).details.sources
    assert known.entries == (reading.id,)
    assert ("Used for", (added.id,)) in links_of(log, entry_of(log, reading.id))


def _nameless(folder, path):
    """A correction made from a reading that names neither printer nor paper."""
    made = correction_with(curve_against(points=65)).evidence
    source = dataclasses.replace(made.sources[0], printer=None, paper=None, sha256=sha256_of(path))
    evidence = dataclasses.replace(made, sources=(source,))
    return correction_folder(folder, evidence=evidence, printer=None, paper=None)


def test_a_correction_that_names_no_print_is_of_the_print_it_was_made_from(
    log, make_reading, tmp_path
):
    path = make_reading(printer=None, paper=None)
    add_readings(log, path, Stated(printer="upstairs", paper="washi"), through=WITHOUT)
    made = entry_of(log, add_correction(log, _nameless(tmp_path / "c", path)).id)
    assert (made.printer, made.paper) == ("upstairs", "washi")


def test_a_correction_that_names_no_print_is_of_the_print_made_through_it(
    log, make_reading, tmp_path
):
    made = add_correction(log, _nameless(tmp_path / "c", make_reading(printer=None, paper=None)))
    assert entry_of(log, made.id).printer is None
    proof = make_reading(1, printer=None, paper=None)
    add_readings(log, proof, Stated(printer="upstairs", paper="washi"), through=made.id)
    found = entry_of(log, made.id)
    assert (found.printer, found.paper) == ("upstairs", "washi")


def test_a_print_through_a_correction_takes_its_names_and_says_so_once(
    log, make_reading, correction, tmp_path
):
    made = add_correction(log, correction)
    path = make_reading(printer=None, paper=None)
    (added,) = add_readings(log, path, through=made.id)
    entry = entry_of(log, added.id)
    assert (entry.printer, entry.paper, entry.details.through) == (PRINTER, PAPER, made.id)
    other = add_correction(log, correction_folder(tmp_path / "other", name="Another"))
    with pytest.raises(BadInput, match="add the reading with '--correction none' first"):
        add_readings(log, path, through=other.id)
    (undone,) = add_readings(log, path, through=WITHOUT)
    assert undone.changes == ("printed without correction",)
    assert entry_of(log, added.id).details.through is None
    add_readings(log, path, through=other.id)
    assert entry_of(log, added.id).details.through == other.id
    known = make_reading(1)
    add_readings(log, known)
    (told,) = add_readings(log, known, through=made.id)
    assert told.changes == (f"printed through the correction of entry {made.id}",)


def test_a_print_on_another_paper_is_none_of_a_correction(log, make_reading, correction):
    made = add_correction(log, correction)
    with pytest.raises(BadInput, match=r"the paper is 'baryta'.*is for 'cotton rag'"):
        add_readings(log, make_reading(paper="baryta"), through=made.id)
    assert len(find(log)) == 1


def test_a_note_is_about_something_or_stands_by_itself(log, make_reading):
    (reading,) = add_readings(log, make_reading())
    about = add_note(log, "New black ink.\nThe old one had run dry.", about=reading.id)
    alone = add_note(
        log, "Moved the printer", Stated(printer="another", moment=datetime(2026, 1, 2))
    )
    assert entry_of(log, about.id).paper == PAPER
    assert entry_of(log, about.id).details.text == "New black ink.\nThe old one had run dry."
    assert links_of(log, entry_of(log, reading.id)) == (("Notes", (about.id,)),)
    assert entry_of(log, alone.id).printer == "another"
    with pytest.raises(BadInput, match="note is empty"):
        add_note(log, " \n")
    with pytest.raises(BadInput, match="no entry 99"):
        add_note(log, "of nothing", about=99)


def test_filters_alone_and_together(log, make_reading, correction):
    add_readings(log, make_reading(1, paper="Baryta, 310 g", created=datetime(2026, 1, 5)))
    add_readings(log, make_reading(2, created=datetime(2026, 2, 5, 23, 59)))
    add_readings(log, make_reading(3, created=datetime(2026, 2, 6)), Stated(settings="fast"))
    add_correction(log, correction)
    add_note(log, "Tür zum LAGER stand offen", Stated(moment=datetime(2026, 2, 7)))

    def found(**wanted):
        return [entry.name for entry in find(log, Wanted(**wanted))]

    assert len(found()) == 5
    assert found(kind="reading") == ["reading 1", "reading 2", "reading 3"]
    assert found(paper="baryta") == ["reading 1"]
    assert found(settings="FAST") == ["reading 3"]
    assert found(printer="studio", kind="correction") == ['Harbour light, "première"']
    assert found(since=date(2026, 2, 5), until=date(2026, 2, 5)) == ["reading 2"]
    assert found(until=date(2026, 1, 5)) == ["reading 1"]
    assert found(text="lager") == ["Tür zum LAGER stand offen"]
    assert found(text="TÜR") == ["Tür zum LAGER stand offen"]
    assert found(text="reading-3.txt") == ["reading 3"]
    assert found(text="310 G") == ["reading 1"]
    assert found(text="100%_'") == []
    with pytest.raises(BadInput, match="'song' is not a kind of entry; take one of reading"):
        find(log, Wanted(kind="song"))


def test_a_failing_add_leaves_nothing(log, make_reading, tmp_path):
    nothing = tmp_path / "nothing.txt"
    nothing.write_text("this is no reading")

    def add():
        with log.writing():
            add_readings(log, make_reading())
            add_readings(log, nothing)

    with pytest.raises(BadInput):
        add()
    assert find(log) == ()


@pytest.mark.parametrize("name", ["../up", "a/b", "c\\d", "..", ".", "", "C:\\x"])
def test_no_kept_name_leads_out_of_its_folder(name, tmp_path):
    assert (tmp_path / safe_name(name)).resolve().parent == tmp_path.resolve()
    assert (tmp_path / safe_name(name)) != tmp_path


class TestWhatTheLayoutSays:
    """A chart's layout says which correction it was sent through, and its reading carries that."""

    SENT = 'Harbour light, "première"'

    def test_need_not_be_said_again(self, log, make_reading, correction):
        made = add_correction(log, correction)
        (added,) = add_readings(log, make_reading(1, sent_through=self.SENT))
        details = entry_of(log, added.id).details
        assert (details.through, details.stated) == (made.id, True)

    def test_of_a_correction_that_is_not_here_nothing_is_known(self, log, make_reading):
        (added,) = add_readings(log, make_reading(1, sent_through="Another"))
        assert not entry_of(log, added.id).details.stated

    def test_of_several_prints_with_corrections_of_one_name_its_own_is_meant(
        self, log, make_reading, tmp_path
    ):
        papers = ("cotton rag", "baryta")
        made = []
        for day, one in enumerate(papers, 1):
            changes = {"paper": one, "created": datetime(2026, 3, day)}
            made.append(add_correction(log, correction_folder(tmp_path / one, **changes)))
        for number, (paper, one) in enumerate(zip(papers, made, strict=True)):
            (added,) = add_readings(log, make_reading(number, sent_through=self.SENT, paper=paper))
            assert entry_of(log, added.id).details.through == one.id
        (added,) = add_readings(log, make_reading(2, sent_through=self.SENT, paper=None))
        assert not entry_of(log, added.id).details.stated

    def test_a_second_correction_of_one_name_and_print_is_told_of(self, log, correction, tmp_path):
        first = add_correction(log, correction)
        assert first.changes == ()
        anew = correction_folder(tmp_path / "anew", created=datetime(2026, 4, 1))
        (said,) = add_correction(log, anew).changes
        assert said.startswith(f"entry {first.id} has the same name")

    def test_another_correction_or_none_is_refused(self, log, make_reading, correction):
        made = add_correction(log, correction)
        path = make_reading(1, sent_through="Another")
        with pytest.raises(BadInput, match=r"sent through the correction 'Another'.*not through"):
            add_readings(log, path, through=made.id)
        with pytest.raises(BadInput, match="not without one; name that correction"):
            add_readings(log, path, through=WITHOUT)

    def test_nor_what_the_sheet_says_of_itself(self, log, tmp_path, correction):
        """The chart bears a code; its reading says nothing of a correction, and need not."""
        made = add_correction(log, correction)
        for through, wanted in ((self.SENT, made.id), (None, None)):
            path = tmp_path / f"{wanted}.txt"
            write(sheet_reading(through), path)
            (added,) = add_readings(log, path)
            details = entry_of(log, added.id).details
            assert (details.through, details.stated) == (wanted, True)

    def test_of_a_correction_that_is_not_here_it_is_not_taken_for_a_first_print(
        self, log, tmp_path
    ):
        path = tmp_path / "proof.txt"
        write(sheet_reading("Another"), path)
        with pytest.raises(BadInput, match=r"own code says .* through a correction; name that one"):
            add_readings(log, path, through=WITHOUT)
        (added,) = add_readings(log, path)
        assert not entry_of(log, added.id).details.stated
        add_readings(log, path, through=WITHOUT, unchecked=True)
        assert entry_of(log, added.id).details.stated
