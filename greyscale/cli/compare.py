"""`greyscale compare`: which paper keeps its greys neutral under the lights it will hang in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from greyscale.cli import option, voice

if TYPE_CHECKING:
    from greyscale.correction.record import Correction
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading


def compare(
    readings: Annotated[
        list[Path],
        option.argument(
            "READING READING",
            "Readings on the papers, with near-neutral patches where corrected prints are to "
            "be compared; M1 and M2 of one chart count as one paper. Or correction folders.",
        ),
    ],
    light: Annotated[
        list[str] | None,
        option.light(
            "A light to compare under: a name, a mixture or a lamp's file; repeat it for "
            "more. Without any: D50, A, F11."
        ),
    ] = None,
    weight: option.Weight = None,
    glazing: option.Glazing = None,
    viewer: Annotated[
        str, option.value("light|paper", "What the viewer's eyes are adapted to.")
    ] = "light",
    worst_share: Annotated[
        float, option.value("0..1", "Share of the worst light in the score.")
    ] = 0.5,
    as_printed: Annotated[
        bool,
        option.flag(
            "--as-printed",
            "Compare the prints as they are, not what remains after each paper's best "
            "correction for the lights.",
        ),
    ] = False,
    neutral: option.Neutral = "fading",
    aim: Annotated[str, option.aim("Tone aim, as for 'greyscale analyse'.")] = "lstar",
    observer: Annotated[str, option.value("2|10", "Observer.")] = "2",
    json_file: option.Json = None,
    folder: option.Report = None,
    pdf: option.Pdf = False,
    shown: option.Open = False,
    layout: option.Layout = None,
    unchecked: option.Unchecked = False,
    replace: option.Replace = False,
    verbose: voice.Every = False,
) -> None:
    """Compare papers under the lights that the prints will hang in.

    Example: greyscale compare cotton-rag.txt baryta.txt --light A --light LED-B3 -o papers
    """
    from greyscale.analysis.comparison import ComparisonOptions
    from greyscale.cli.outputs import Results, chart_of, checked, command_line
    from greyscale.colorimetry.lights import REQUIRED_LIGHTS
    from greyscale.correction.corrected_papers import compare_papers
    from greyscale.readings.lamps import find_lights
    from greyscale.readings.reading import Reading
    from greyscale.reporting.comparison_report import comparison_data, comparison_report
    from greyscale.reporting.next_step import TypedComparison

    results = Results(json_file, folder, pdf, shown)
    lights = find_lights(light or REQUIRED_LIGHTS, glazing)
    options = ComparisonOptions(
        lights=lights,
        weights=option.weights_of(weight, glazing, lights),
        neutral=neutral,
        aim=aim,
        observer=observer,
        viewer=viewer,
        worst_share=worst_share,
    )
    chart = chart_of(layout)
    given = [one for path in voice.tracked(readings, "Reading") for one in _given(path, chart)]
    if unchecked:
        given = [one.taken_as_it_is() if isinstance(one, Reading) else one for one in given]
    checks = checked([one for one in given if isinstance(one, Reading)], unchecked)
    comparison = compare_papers(
        given,
        options,
        as_printed=as_printed,
        progress=lambda prints: voice.tracked(prints, "Comparing"),
    )
    words = [word for name in light or REQUIRED_LIGHTS for word in ("--light", name)]
    words += [word for text in weight or () for word in ("--weight", text)]
    words += ["--glazing", glazing] if glazing else []
    words += ["--aim", aim] if aim != "lstar" else []
    words += ["--unchecked"] if unchecked else []
    typed = TypedComparison(tuple(words), tuple(map(str, readings)), layout)
    results.give(
        lambda: comparison_data(comparison),
        lambda: comparison_report(comparison, command_line(), typed).with_fact("Checks", checks),
        verbose,
    )


def _given(path: Path, chart: Layout | None) -> Sequence[Reading | Correction]:
    """The readings in a file, or a folder's correction."""
    if path.is_dir():
        from greyscale.correction.folder import read_correction

        return [read_correction(path)]
    from greyscale.readings.formats import read_all

    return read_all(path, layout=chart)
