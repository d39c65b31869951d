"""What results rest on: every standard, constant, curve and data file, and of what kind it is.

One register for all rooms. A result names the entries it used by their keys; reports, the terminal
and JSON show them from here, so that what is remembered or common practice never appears as fact.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

KINDS = ("standard", "published", "measured", "practice", "memory", "invented")
"""A standard's clause at hand; another publication; the user's own measurement; common practice
with no source; written down from memory of its source; made up."""


@dataclass(frozen=True)
class Support:
    """One thing that results rest on.

    Attributes
    ----------
    what
        The constant, curve, formula or data, in words, with its value where it is one.
    kind
        One of `KINDS`.
    source
        Where it comes from.
    where
        The constants (`module:NAME`, below `greyscale`) and data files (a path below it) that it
        stands for.
    """

    what: str
    kind: str
    source: str
    where: tuple[str, ...] = ()


_PRACTICE = "common practice, no source"

REGISTER = {
    "cielab": Support(
        "CIELAB, D50, from tristimulus values",
        "standard",
        "CIE 15:2018",
        (
            "colorimetry.cielab:_THRESHOLD",
            "colorimetry.cielab:_SLOPE",
            "colorimetry.cielab:_OFFSET",
        ),
    ),
    "weights": Support(
        "tristimulus values from spectra, by weighting factors",
        "standard",
        "ASTM E2022 and E308, 7.3.2.2",
    ),
    "cie-tables": Support(
        "the illuminants' and observers' tables",
        "standard",
        "CIE 15:2018, as colour holds them",
        ("colorimetry/data/cie-illuminants.csv", "colorimetry/data/cie-observers.csv"),
    ),
    "series": Support(
        "daylight and blackbody by colour temperature",
        "standard",
        "CIE 15:2018",
        (
            "colorimetry/data/cie-daylight.csv",
            "colorimetry.lights:RANGES",
            "colorimetry.lights:_C2",
        ),
    ),
    "measured-lamp": Support("the lamp's spectrum", "measured", "the file given"),
    "glazing-curve": Support(
        "the transmittance of the glazing, its ultraviolet with it",
        "memory",
        "a general curve, drawn from memory; measure the glass to replace it",
        ("readings/data/glazing/uv-filter.csv", "readings/data/glazing/window-glass.csv"),
    ),
    "glazing-family": Support(
        "how far another glass of that kind may differ: its ultraviolet edge by 15 nm, its tint",
        "practice",
        "common practice, no source; measure the glass to replace it",
        ("readings.lamps:CREDIBLE_SHIFTS", "readings.lamps:CREDIBLE_TINT"),
    ),
    "glazing-file": Support("the transmittance of the glazing", "measured", "the file given"),
    "delta-Ch": Support("ΔCh, the difference in a*, b*", "standard", "ISO 12647-7:2016"),
    "delta-E00": Support("CIEDE2000", "standard", "ISO/CIE 11664-6"),
    "fading": Support(
        "the fading aim: 85 % of the paper's tint is gone at black, here the darkest patch",
        "memory",
        "ISO 12647-2:2013, 4.2.8 and annex A",
        ("aims.neutral:FADED_AT_BLACK",),
    ),
    "adapting": Support(
        "the adapting aim, linear in luminance",
        "published",
        "High, Nussbaum and Green (2023), J. Imaging Sci. Technol. 67(5)",
    ),
    "toning": Support(
        "the presets of toning",
        "practice",
        _PRACTICE,
        ("aims/data/tonings.csv",),
    ),
    "exhibition": Support(
        "the exhibition grade: mean ΔCh up to 0.75, largest up to 1.5; mean ΔL* up to 2, largest "
        "up to 4; shadows distinct from black by level 0.06",
        "practice",
        _PRACTICE,
        ("aims.tolerances:TOLERANCES",),
    ),
    "contract-proof": Support(
        "the contract-proof grade: mean ΔCh up to 2.0, largest up to 3.5",
        "memory",
        "ISO 12647-7:2016, grey patches of a contract proof",
        ("aims.tolerances:TOLERANCES",),
    ),
    "proof-tone": Support(
        "the contract-proof grade's tone: mean ΔL* up to 2.5, largest up to 5; shadows distinct "
        "from black by level 0.10",
        "practice",
        _PRACTICE,
        ("aims.tolerances:TOLERANCES",),
    ),
    "verdicts": Support(
        "a verdict is given from a probability of 0.95 on, before the data any size of drift being "
        "as likely; noise alone names a cast on one ramp in 200, a reversal on one in 100",
        "practice",
        _PRACTICE,
        (
            "analysis.neutrality:FALSE_CASTS",
            "analysis.certainty:SURE",
            "analysis.certainty:_SIZES",
            "analysis.certainty:_LENGTHS",
            "analysis.certainty:_ROUGHNESS_FREEDOM",
            "analysis.tonality:ONE_RAMP_IN",
        ),
    ),
    "visible-cast": Support(
        "a tone more than ΔCh 1 from its aim is seen to have a hue, beside a neutral print; from "
        "ΔCh 2 on a careful viewer notices it, from 3 on anyone",
        "practice",
        _PRACTICE,
        (
            "analysis.neutrality:VISIBLE_DELTA_CH",
            "analysis.neutrality:ALONE_DELTA_CH",
            "analysis.neutrality:PLAIN_DELTA_CH",
        ),
    ),
    "distinct": Support(
        "a tone one unit of L* from black or paper is distinct from it",
        "practice",
        _PRACTICE,
        ("analysis.tonality:DISTINCT",),
    ),
    "density": Support("visual density from spectra", "standard", "ISO 5-3:2009"),
    "density-from-L": Support(
        "density as −log10(Y/100), for want of spectra", "practice", _PRACTICE
    ),
    "sRGB-tone": Support("the sRGB tone scale", "standard", "IEC 61966-2-1:1999"),
    "metamerism-index": Support(
        "special metamerism index against the spectrally flat grey, multiplicative correction",
        "standard",
        "CIE 15:2018; ISO 18314-4",
    ),
    "inconstancy": Support(
        "colour inconstancy by CIECAT16",
        "standard",
        "CIE 248:2022",
        ("colorimetry.illuminant_change:_CAT16",),
    ),
    "excitation": Support(
        "the excitation curve of brighteners",
        "memory",
        "the usual shape of stilbene brighteners, not measured",
        (
            "colorimetry/data/brightener-excitation.csv",
            "colorimetry.fluorescence:SHIFTS",
            "colorimetry.fluorescence:WIDTHS",
            "colorimetry.fluorescence:EXCITATION_PEAK",
        ),
    ),
    "two-sheets": Support(
        "how alike two sheets are seen in a hall (2 %, 4 % at most), and what counts as a sheet "
        "that glows",
        "practice",
        _PRACTICE,
        (
            "readings.by_sheets:SEEN_ALIKE",
            "readings.by_sheets:NOT_ALIKE",
            "readings.by_sheets:LEAST_GLOW",
        ),
    ),
    "emission": Support(
        "the emission curve of brighteners, where one condition only was read",
        "memory",
        "the usual shape, not measured",
        ("colorimetry.fluorescence:EMISSION_PEAK",),
    ),
    "brightened-paper": Support(
        "b* of unbrightened paper, its rise in the violet, the strongest brightener's Δb*, and how "
        "dense inks are in the ultraviolet",
        "practice",
        _PRACTICE,
        (
            "analysis.brighteners:UNBRIGHTENED_B",
            "analysis.brighteners:RISING_FROM",
            "analysis.brighteners:STRONGEST_DELTA_B",
            "analysis.brighteners:PASSING",
        ),
    ),
    "ranking": Support(
        "half of a score is the worst light's ΔCh; scores that chance would part in 5 % tie",
        "practice",
        _PRACTICE,
        (
            "analysis.comparison:FALSE_ORDERS",
            "analysis.comparison:TIE",
            "aims.tolerances:WORST_SHARE",
        ),
    ),
    "settings": Support(
        "what a setting's faults cost in its score",
        "practice",
        _PRACTICE,
        (
            "correction.settings:PER_BLACK",
            "correction.settings:PER_SHADOW",
            "correction.settings:PER_REVERSAL",
            "correction.settings:PER_LEFT",
            "correction.settings:PER_BUMP",
            "correction.settings:TIE",
        ),
    ),
    "colour-temperature": Support(
        "colour temperature and Duv", "published", "Ohno (2014), LEUKOS 10(1); computed by colour"
    ),
    "rendering": Support(
        "colour rendering Ra and fidelity Rf",
        "standard",
        "CIE 13.3-1995 and CIE 224:2017; computed by colour",
    ),
    "ultraviolet": Support(
        "ultraviolet as UV-A from 315 to 400 nm, in µW/lm, as museum meters weigh it",
        "practice",
        _PRACTICE,
        (
            "colorimetry.light_quality:FARTHEST_DUV",
            "colorimetry.light_quality:MAXIMUM_EFFICACY",
            "colorimetry.light_quality:ULTRAVIOLET",
        ),
    ),
    "dry": Support(
        "dry to measure: within ΔE00 0.3 of the final state",
        "practice",
        _PRACTICE,
        ("analysis.drying:WITHIN",),
    ),
    "drying-laws": Support(
        "how prints dry: exponentials, stretched ones, powers of time (diffusion), none ruled out",
        "memory",
        "Crank 1975, The mathematics of diffusion, and Barndorff-Nielsen and Cox 1994 on bounds, "
        "from memory; exponents, sizes and longest times are common practice, no source",
        (
            "analysis.kinetics:KINETICS",
            "analysis.kinetics:SHARES",
            "analysis.kinetics:SIZES",
            "analysis.kinetics:_BELIEF",
            "analysis.drying:SURE",
            "analysis.kinetics:_DAYS",
            "analysis.drying:_SLOWER",
            "analysis.kinetics:_HUES",
            "analysis.kinetics:_SHARED",
            "analysis.drying:_WORTH_MENTION",
        ),
    ),
    "first-readings": Support(
        "when a print can first be measured",
        "practice",
        "ink sets within minutes, and prints are left to dry for a day; no source",
        ("analysis.what_next:USUAL_DRYING",),
    ),
    "control-chart": Support(
        "limits and tests of control charts, for single values and for several together",
        "memory",
        "ISO 7870-2 and 7870-6; the limits for several together by simulation",
        (
            "analysis.control_chart:JUMP_LIMIT",
            "analysis.control_chart:AVERAGE_LIMIT",
            "analysis.control_chart:BACK",
            "analysis.control_chart:CREEP",
            "analysis.control_chart:D2",
            "analysis.control_chart:D4",
            "analysis.control_chart:E2",
            "analysis.control_chart:RUN",
            "analysis.control_chart:WEIGHT",
            "analysis.followed:FIRM_READINGS",
            "analysis.followed:LEAST_READINGS",
        ),
    ),
    "rechecks": Support(
        "checks of a printer are 1 to 26 weeks apart, 4 where its drift is not known",
        "practice",
        _PRACTICE,
        (
            "analysis.what_next:SHORTEST_WEEKS",
            "analysis.what_next:USUAL_WEEKS",
            "analysis.what_next:LONGEST_WEEKS",
        ),
    ),
    "noticed": Support(
        "a movement of ΔCh 0.5 or L* 1 is noticed side by side",
        "practice",
        _PRACTICE,
        (
            "analysis.under_lights:SEEN",
            "analysis.followed:NOTICED_DELTA_L",
            "analysis.followed:NOTICED_DELTA_CH",
            "analysis.followed:NOTICED_LARGEST",
            "analysis.trend:NOTICED_DELTA_L",
        ),
    ),
    "sheets": Support(
        "the mean a*, b* of sheets of one print vary by 0.12 (standard deviation), to a factor of "
        "two",
        "practice",
        _PRACTICE,
        (
            "analysis.followed:CHARACTERISTICS",
            "analysis.followed:SHEETS_CH",
            "analysis.followed:SHEETS_L",
            "analysis.followed:SHEETS_UNSURE",
            "analysis.followed:TONE_OF_SHEET",
        ),
    ),
    "proof": Support(
        "an honest proof lies up to a mean ΔE00 of 0.9 from the prediction, or as channels that "
        "print 0.5 % more or less (standard deviation) make it, its paper white up to 1 from the "
        "correction's; some 30 values of a ramp err independently",
        "practice",
        _PRACTICE,
        (
            "correction.evidence:ANOTHER_PAPER",
            "correction.accidents:SHEETS_APART",
            "correction.accidents:SHEETS_INK",
            "correction.accidents:_LOOKED_FOR",
            "correction.expectation:INDEPENDENT",
            "correction.expectation:UNLIKELY",
        ),
    ),
    "accidents": Support(
        "what went wrong with a proof is named where it leaves at most 0.65 of how far that lies "
        "off, and beside it what leaves up to 1.6 times as much; dry-down changes ink by at most a "
        "tenth",
        "practice",
        "found on simulated printers, others kept out; no source",
        (
            "correction.accidents:_APART",
            "correction.accidents:_BESIDE",
            "correction.accidents:_DRYING",
            "correction.accidents:_FITS",
            "correction.accidents:_GLOW_APART",
            "correction.accidents:_LIGHTER",
            "correction.accidents:_NEAR",
            "correction.accidents:_NOTHING",
            "correction.accidents:_OF_AN_INK",
            "correction.accidents:_OF_TONE",
            "correction.accidents:_PATTERN",
            "correction.accidents:_READS_APART",
            "correction.accidents:_ROUGH",
            "correction.accidents:_UNEVEN",
        ),
    ),
    "least-answer": Support(
        "a driver answers in colour from ΔCh 8 per unit of a channel's departure on, smoothly if "
        "neighbours foretell all but 3 % of it; tones within half a unit of L* print alike",
        "practice",
        _PRACTICE,
        (
            "analysis.response:BLOCKED",
            "analysis.response:LEAST_ANSWER",
            "analysis.response:NOT_FORETOLD",
            "analysis.response:_LENGTHS",
            "correction.record:STEPS_DOUBT",
        ),
    ),
    "typed": Support(
        "a typed value is asked for again 3.5 standard deviations from what the others suggest",
        "practice",
        _PRACTICE,
        ("checks.typing_in:SURE", "checks.typing_in:LIGHTER"),
    ),
    "control-strip": Support(
        "a control strip's patches: sides of 7 to 12 mm, a millimetre of bare paper between them",
        "practice",
        _PRACTICE,
        (
            "applying.strip:PATCH_MM",
            "applying.strip:LEAST_MM",
            "applying.strip:GAP_MM",
        ),
    ),
    "same-print": Support(
        "prints whose tones differ by up to ΔE00 1 are taken to be alike",
        "practice",
        _PRACTICE,
        ("analysis.trend:MATCHES_WITHIN",),
    ),
    "repeatability": Support(
        "a repeatability of 0.15 where nothing was repeated",
        "practice",
        _PRACTICE,
        ("readings.reading:ASSUMED_SD", "analysis.tonality:_USUAL_FREEDOM"),
    ),
    "observers": Support(
        "how individual observers' eyes differ: lens, macular pigment, photopigments",
        "memory",
        "Asano, Fairchild and Blondé (2016), PLoS ONE 11(2), e0145671, on CIE 170-1:2006; "
        "its standard deviations from memory, the lens's density rounded from a second library",
        (
            "analysis.under_lights:EYES",
            "colorimetry.individuals:COUNT",
            "colorimetry.individuals:SPREADS",
            "colorimetry.individuals:_LENS",
            "colorimetry.individuals:_TO_XYZ_10",
            "colorimetry.individuals:_TO_XYZ_2",
        ),
    ),
    "viewers": Support(
        "viewers are 20 to 70 years old, all ages as likely",
        "practice",
        _PRACTICE,
        ("colorimetry.individuals:AGES",),
    ),
    "solving": Support(
        "where not all of an aim can be had, an error of L* counts 1.5 times as much as ΔCh, and "
        "more from 0.3 on; colours of saturation 0.6 and more are left as they are",
        "practice",
        _PRACTICE,
        (
            "correction.luts:CLOSE_ENOUGH",
            "correction.luts:FAR",
            "correction.luts:NEAR",
            "printer.solver:SHARP_BEND",
            "printer.solver:TONE_ERROR",
            "printer.solver:TONE_WEIGHT",
        ),
    ),
    "answers": Support(
        "what is first assumed of how a printer answers",
        "practice",
        "found on simulated and published printers; no source",
        (
            "printer.answers:ASSUMED_FREEDOM",
            "printer.covariance:OFFSET_UNIT",
            "printer.covariance:WEIGHTS",
            "printer.gaussian_process:BEFOREHAND",
            "printer.model:PACE",
            "printer.model:_MAGENTA_IN_BLUE",
            "printer.model:_SRGB_D50",
            "correction.record:PAGE_REACH",
            "correction.sureness:ERR_ALONE",
            "printer.gaussian_process:_WANDERS",
            "printer.gaussian_process:_WANDERS_SD",
            "printer.gaussian_process:_DETAIL",
            "printer.gaussian_process:_DETAIL_SD",
            "printer.gaussian_process:_DETAIL_APART",
            "printer.model:_PARAMETERS_UNSURE",
            "printer.model:_SUPPOSED_UNSURE",
            "correction.expectation:SUPPOSED_RANGE",
            "printer.model:_UNSEEN",
        ),
    ),
}
"""Every support by its key."""


def supports(*keys: str) -> tuple[Support, ...]:
    """Return entries of the register, each once, in order.

    Examples
    --------
    >>> [one.kind for one in supports("cielab", "exhibition", "cielab")]
    ['standard', 'practice']
    """
    return tuple(REGISTER[key] for key in dict.fromkeys(keys))


def support_data(found: tuple[Support, ...]) -> list[dict[str, str]]:
    """Return entries as plain data: the list `rests_on` of every result's JSON."""
    return [{key: value for key, value in asdict(one).items() if key != "where"} for one in found]
