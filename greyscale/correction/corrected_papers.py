"""Papers compared by what stays after each one's best correction for the lights it will hang in.

A cast that all lights show alike is taken out by a correction; what it cannot take out is how
differently the lights show one tone. So each paper is corrected for the lights, on its own
evidence, and it is the corrected ramp, spectrum by spectrum as its printer is predicted to print
it, that is looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.tone import ToneAim
from greyscale.analysis.brighteners import Print, print_of, prints_of, with_glow
from greyscale.analysis.comparison import Comparison, ComparisonOptions, compare_prints, some
from greyscale.base.errors import BadInput
from greyscale.base.libraries import numpy_on_one_thread, on_one_thread
from greyscale.base.results import PrintFacts, filled
from greyscale.checks.finding import SpoiltPatch
from greyscale.colorimetry.arrays import columns_at
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.colorimetry.lights import Light
from greyscale.printer.answers import reaches_beside
from greyscale.readings.lamps import find_lights
from greyscale.readings.reading import Reading

if TYPE_CHECKING:
    from greyscale.correction.record import Correction

Progress = Callable[[Sequence[Print]], Iterable[Print]]


@numpy_on_one_thread
def compare_papers(
    given: Sequence[Reading | Correction],
    options: ComparisonOptions | None = None,
    *,
    as_printed: bool = False,
    progress: Progress = iter,
) -> Comparison:
    """Compare papers, corrected where all were read with near-neutral patches, else as printed.

    Parameters
    ----------
    given
        Readings, M1 and M2 of one chart as one; or corrections, for the evidence in them.
    options
        Lights, aims, viewer, weights.
    as_printed
        Whether to compare the prints as they are in any case.
    progress
        Wraps the loop over papers, as a progress bar does.

    Raises
    ------
    BadInput
        As `prints_of` and `compare_prints` do, and for a reading that cannot be corrected from.
    """
    asked = options or ComparisonOptions()
    readings = with_glow(
        [one if isinstance(one, Reading) else evidence_as_read(one) for one in given], by_name=True
    )
    whole = {_key(one): one for one in readings}
    prints = prints_of(readings)
    hindered = _hindrances([whole[_key(own.ramp.reading)] for own in prints])
    if as_printed:
        return replace(compare_prints(prints, asked, progress), correctable=not hindered)
    if hindered:
        found = compare_prints(prints, asked, progress)
        return replace(found, remarks=(*hindered, *found.remarks))
    lights = find_lights(asked.lights)
    each = [
        _corrected(own, whole[_key(own.ramp.reading)], asked, lights) for own in progress(prints)
    ]
    found = compare_prints(prints, asked, corrected=[made for made, _ in each])
    return replace(found, spoilt=tuple(patch for _, own in each for patch in own))


def _key(reading: Reading) -> tuple[str, str, str | None]:
    return reading.source, reading.name, reading.condition


def _hindrances(readings: Sequence[Reading]) -> list[str]:
    """Why no correction can be made from some readings, as sentences."""
    alone = [one.name for one in readings if not reaches_beside(one.device)]
    said = [
        f"Read with no near-neutral patches ({some(alone)}): prints are compared as printed."
    ] * bool(alone)
    if len(alone) < len(readings):
        from greyscale.correction.evidence import check_reading

        for one in readings:
            try:
                if reaches_beside(one.device):
                    check_reading(one, None)
            except BadInput as error:
                said.append(f"'{one.name}' cannot be corrected from: {error.message}.")
    return said


def evidence_as_read(correction: Correction) -> Reading:
    """Return a correction's evidence as one reading: of what was sent, not of the charts.

    Raises
    ------
    BadInput
        If it keeps no spectra.
    """
    evidence = correction.evidence
    if evidence.spectra is None:
        raise BadInput(
            f"the correction '{correction.name}' keeps no spectra; give the readings that it was "
            "made from, if they have them"
        )
    return filled(
        Reading,
        filled(PrintFacts, correction, created=None),
        name=correction.paper or correction.name,
        # Its readings may be those of another round: what was given is the correction.
        source=f"the correction '{correction.title}'",
        ids=tuple(str(number) for number in range(1, len(evidence) + 1)),
        device=evidence.device,
        lab=evidence.lab,
        spectra=evidence.spectra,
        wavelengths=evidence.wavelengths,
        glow=evidence.glow if evidence.glow_known else None,
    )


@on_one_thread
def _corrected(
    own: Print, reading: Reading, asked: ComparisonOptions, lights: Sequence[Light]
) -> tuple[Print, tuple[SpoiltPatch, ...]]:
    """Return the print of the same ramp through the paper's best correction for the lights.

    And the patches that were set aside for it.
    """
    from greyscale.correction.evidence import evidence_from, spoilt_in
    from greyscale.correction.for_lights import best_curve
    from greyscale.correction.record import Options
    from greyscale.correction.targets import Aims
    from greyscale.printer.model import fit, predict_spectra

    evidence = evidence_from([reading])
    neutral = "paper" if asked.viewer == "paper" else asked.neutral
    aim = asked.aim.name if isinstance(asked.aim, ToneAim) else str(asked.aim)
    aims = Aims.asked(aim, asked.scaling, neutral, None)
    model = fit(evidence, aims.centre(evidence.paper, evidence.black))
    wanted = Options(
        lights=tuple(lights),
        weights=asked.weights,
        worst_share=asked.worst_share,
        observer=asked.observer,
    )
    curve = best_curve(evidence, model, aims, wanted)
    ramp = own.ramp
    sent = columns_at(ramp.level, curve.levels, curve.rgb)
    assert evidence.spectra is not None
    assert evidence.wavelengths is not None
    spectra = predict_spectra(model, evidence.lab, evidence.spectra, sent)
    lab = spectra_to_lab(spectra, evidence.wavelengths)
    glow = None
    # A glow that is only supposed, as the correction supposes it, is looked at as a range.
    if evidence.glow is not None and evidence.glow_known:
        bare = evidence.spectra - evidence.glow
        glow = spectra - predict_spectra(model, evidence.lab, bare, sent)
    printed = replace(ramp.reading, spectra=spectra, lab=lab, glow=glow)
    rows = np.arange(len(printed))
    made = print_of(replace(ramp, reading=printed, single=printed, owner=rows))
    # What is not known of the printer stays too, as a correction's own expectation has it.
    sd = np.sqrt(np.mean(model.uncertainty(sent)[:, 1:] ** 2, axis=1))
    made = replace(made, name=own.name, delta_b=own.delta_b, sd=sd)
    return made, spoilt_in([reading], evidence, model)
