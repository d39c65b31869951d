"""What comes after a result: the right command, with what it needs, and none where none can run."""

from __future__ import annotations

import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from support.logged import sheet_reading

from greyscale.analysis.analyse import analyse
from greyscale.analysis.brighteners import with_glow
from greyscale.checks.finding import CheckResult, Finding
from greyscale.readings.assemble import FROM_LAYOUT, LACKING
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.next_step import (
    TypedComparison,
    after_analysis,
    after_check,
    after_comparison,
    after_correction,
    after_verification,
)


@pytest.mark.parametrize("layout", [None, Path("my chart.txt")])
def test_a_print_without_a_correction_is_corrected(analysis, layout):
    step = after_analysis([analysis], layout)
    assert step.commands[0].startswith(f"greyscale correct {shlex.quote(analysis.reading.source)} ")
    assert ("--layout 'my chart.txt'" in step.commands[0]) == (layout is not None)


def test_a_print_through_a_correction_is_a_proof_of_it(make_reading):
    proof = make_reading(sent_through="Harbour light")
    checked = CheckResult(proof, (), None, ())
    for step in (after_analysis([analyse(proof)]), after_check(checked)):
        assert "'Harbour light'" in step.words
        assert step.commands[0].startswith("greyscale verify ")


def test_a_proof_by_its_own_code_is_proved_and_not_corrected_from():
    """Neither its file nor a layout says what it was sent through."""
    proof = sheet_reading("Harbour light", source="proof-reading.txt")
    for aim in ("lstar", "srgb"):
        step = after_analysis([analyse(proof, aim=aim)])
        assert step.commands == ("greyscale verify proof-reading.txt --correction CORRECTION",)
    assert after_check(CheckResult(proof, (), None, ())) == step
    assert "unless patches are missing, which its layout settles (--layout)" in step.words


def test_what_is_repaired_of_a_reading_that_lacks_patches_still_needs_its_layout(make_reading):
    reading = make_reading(remarks=(f"{LACKING}: B2.",))
    missing = Finding("patch missing", "B2", 1.0, "1 has no measurement.", "Read it.", ("p",))
    found = CheckResult(reading, (missing,), reading, ())
    step = after_check(found, Path("chart.txt"), Path("whole.txt"))
    assert step.commands == ("greyscale analyse whole.txt --layout chart.txt",)


def test_a_name_that_cannot_be_shown_is_left_to_the_person(make_reading):
    """Of a file from a system before UTF-8: typed as it is shown it names none."""
    found = analyse(make_reading(source="reading-\udce9\udce8.txt"))
    assert after_analysis([found]).commands == ("greyscale correct READING -o my-correction",)


def test_a_reading_in_m2_is_named_beside_that_in_m1(make_reading):
    """From Python as from the command; and it is an input that no report may replace."""
    m1 = make_reading(source="in m1.txt", condition="M1")
    m2 = replace(m1, source="in m2.txt", condition="M2")
    found = analyse(*with_glow([m1, m2]))
    assert (
        after_analysis([found]).commands[0].startswith("greyscale correct 'in m1.txt' 'in m2.txt' ")
    )
    assert analysis_report([found]).inputs == ("in m1.txt", "in m2.txt")
    (once,) = with_glow([m1, replace(m2, source="in m1.txt")])
    assert analysis_report([analyse(once)]).inputs == ("in m1.txt",)


def test_a_reading_that_was_completed_is_gone_on_with(make_reading):
    reading = make_reading(remarks=(FROM_LAYOUT,))
    checked = CheckResult(reading, (), None, ())
    (command,) = after_check(checked, Path("chart.txt")).commands
    assert command.endswith("--layout chart.txt")
    (command,) = after_check(checked, Path("chart.txt"), Path("whole.txt")).commands
    assert command == "greyscale analyse whole.txt"


def test_the_aims_that_a_print_was_judged_by_are_kept(make_reading):
    step = after_analysis([analyse(make_reading(), aim="srgb", neutral="absolute")])
    assert "--aim srgb --neutral absolute" in step.commands[0]


def test_readings_without_spectra_are_not_sent_to_a_comparison_that_refuses_them(
    analysis, without_spectra
):
    other, bare = (
        replace(one, reading=replace(one.reading, paper="baryta"))
        for one in (analysis, without_spectra)
    )
    assert after_analysis([analysis, bare]) is None
    assert after_analysis([analysis, other]).commands[0].startswith("greyscale compare ")
    # Nor is a print with itself, or with its proof.
    assert after_analysis([analysis, analysis]) == after_analysis([analysis])
    proof = replace(other, reading=replace(other.reading, sent_through="Harbour light"))
    assert after_analysis([analysis, proof]) is None


def test_a_paper_is_not_compared_with_itself_in_another_condition(make_reading):
    made = [make_reading(condition=one, source=f"{one}.txt") for one in ("M0", "M1", "M2")]
    both = [analyse(one) for one in with_glow(made)]
    (command,) = after_analysis(both).commands
    assert command == "greyscale correct M1.txt M2.txt -o my-correction"
    other = analyse(make_reading(condition="M1", paper="baryta"))
    assert after_analysis([both[0], other]).commands[0].startswith("greyscale compare ")


def test_a_measured_lamp_is_not_named_as_if_it_were_known(comparison):
    lights = ("D50", "hall lamp", *comparison.lights[2:])
    weights = (1.0, 1.0, 3.0)
    step = after_comparison(replace(comparison, lights=lights, weights=weights, corrected=True))
    assert "--light D50 --light LAMP-FILE" in step.commands[0]
    assert f"--weight {lights[2]}=3" in step.commands[0]


def test_a_file_that_holds_both_conditions_is_named_once(comparison, tmp_path):
    both = tmp_path / "both.txt"
    both.touch()
    best = _read_from(comparison.papers[0], both, both)
    step = after_comparison(replace(comparison, papers=(best,), corrected=True))
    assert step.commands[0].count("both.txt") == 1


def _read_from(paper, m1, m2):
    reading = replace(paper.own.ramp.reading, source=str(m1), glow_source=str(m2))
    own = replace(paper.own, ramp=replace(paper.own.ramp, reading=reading))
    return replace(paper, own=own, source=str(m1))


def test_the_best_paper_is_corrected_as_it_was_compared(comparison, tmp_path):
    """From all its files, for the lights as typed, with what else was asked for."""
    m1, m2 = tmp_path / "m1.txt", tmp_path / "m2.txt"
    m1.touch()
    m2.touch()
    best = _read_from(comparison.papers[0], m1, m2)
    asked = replace(
        comparison, papers=(best,), corrected=True, observer="10", neutral="paper", worst_share=0.2
    )
    lamp = ["--light", "D50", "--light", "hall.csv", "--weight", "hall=2", "--glazing", "mine.csv"]
    step = after_comparison(asked, TypedComparison(tuple(lamp), layout=Path("chart.txt")))
    command = shlex.split(step.commands[0])
    assert command[:4] == ["greyscale", "correct", str(m1), str(m2)]
    assert command[4:12] == lamp
    given = dict(zip(command[12::2], command[13::2], strict=True))
    assert given == {
        "--layout": "chart.txt",
        "--observer": "10",
        "--neutral": "paper",
        "--worst-share": "0.2",
        "-o": "my-correction",
    }
    assert "if there is one" not in step.words


def test_papers_with_near_neutral_patches_are_not_sent_to_print_them(comparison, tmp_path):
    """As printed was asked for; what follows is the comparison as corrected, no other chart."""
    m1, m2 = tmp_path / "m1.txt", tmp_path / "m2.txt"
    m1.touch()
    m2.touch()
    papers = tuple(_read_from(paper, m1, m2) for paper in comparison.papers)
    printed = replace(comparison, papers=papers, correctable=True)
    typed = TypedComparison(("--light", "A"))
    words = shlex.split(after_comparison(printed, typed).commands[0])
    assert words[:2] == ["greyscale", "compare"]
    assert words[-2:] == ["--light", "A"]
    assert words[2:-2] == [str(m1), str(m2)]
    typed = replace(typed, readings=("a folder", "b.txt"))
    assert shlex.split(after_comparison(printed, typed).commands[0])[2:4] == ["a folder", "b.txt"]
    assert "--near-neutral" in after_comparison(replace(printed, correctable=False)).commands[0]


def test_a_proof_has_near_neutral_patches_as_the_first_chart():
    """Another round learns from them; of tone alone there is nothing beside the axis to learn."""
    near = [
        " --near-neutral " in after_correction("c", alone).commands[0] for alone in (False, True)
    ]
    assert near == [True, False]


def test_a_doubt_comes_before_another_round_and_that_before_pictures(verification):
    round_ = replace(verification.next_round, worth_it=True)
    doubted = replace(verification, accidents=("It is another print.",), next_round=round_)
    step = after_verification(doubted, "c")
    assert "print the chart" in step.words
    assert step.commands == ("greyscale verify PROOF-READING --correction c",)
    changed = after_verification(replace(doubted, doubted=("printer",)), "c")
    assert [command.split()[1] for command in changed.commands] == ["verify", "correct", "chart"]
    assert "--previous c" in changed.commands[1]
    # Only where all else is right does the same print measured again settle it.
    for about, said in ((("reading",), "measure the print again"), (("proof", "reading"), "chart")):
        assert said in after_verification(replace(doubted, doubted=about), "c").words
    again = replace(doubted, accidents=())
    assert "--previous c" in after_verification(again, "c").commands[0]
    done = replace(again, next_round=replace(round_, worth_it=False), within_tolerance=True)
    assert after_verification(done, "c").commands == ("greyscale apply c PICTURE.tif -o PRINT.tif",)
