"""The simulated printer is what its words say: seeded noise, dry-down, brightener, casts."""

import time

import colour
import numpy as np
import pytest

from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.demo.materials import PAPERS
from greyscale.demo.printer import demo_printer

RAMP = np.repeat(np.linspace(0.0, 1.0, 256)[:, None], 3, axis=1)
PAPER = np.ones((1, 3))


def ids(count):
    return [str(index) for index in range(count)]


def cast(lab):
    """Give a*, b* beside the fading aim (ISO 12647-2:2013, 4.2.8; memory) of a rising ramp."""
    paper, black = lab[-1], lab[0]
    fading = 1 - 0.85 * (paper[0] - lab[:, 0]) / (paper[0] - black[0])
    return lab[:, 1:] - paper[1:] * fading[:, None]


class TestNoise:
    @pytest.mark.parametrize("level", [0.0, 0.1, 0.5, 1.0])
    @pytest.mark.parametrize("noise", [0.05, 0.15, 0.45])
    def test_each_axis_of_cielab_has_the_stated_standard_deviation(self, level, noise):
        device = np.full((4000, 3), level)
        printer = demo_printer()
        reading = printer.measure(ids(4000), device, noise=noise, seed=3)
        error = reading.lab - printer.lab(device[:1])
        # 4000 draws know their standard deviation within 1.1 %, one sigma.
        assert error.std(axis=0, ddof=1) == pytest.approx([noise] * 3, rel=0.05)
        assert np.abs(error.mean(axis=0)).max() < 4 * noise / np.sqrt(4000)

    def test_noise_of_neighbouring_wavelengths_goes_together(self):
        device = np.full((2000, 3), 0.5)
        printer = demo_printer()
        error = printer.measure(ids(2000), device).spectra - printer.spectra(device[:1])
        neighbours = [np.corrcoef(error[:, i], error[:, i + 1])[0, 1] for i in range(35)]
        assert min(neighbours) > 0.8

    def test_the_seed_decides(self):
        printer = demo_printer()
        first = printer.measure(ids(256), RAMP, seed=1)
        assert np.array_equal(first.spectra, printer.measure(ids(256), RAMP, seed=1).spectra)
        assert not np.allclose(first.spectra, printer.measure(ids(256), RAMP, seed=2).spectra)

    def test_without_noise_the_true_values_are_read(self):
        printer = demo_printer("kozo")
        assert np.array_equal(printer.measure(ids(256), RAMP, noise=0).lab, printer.lab(RAMP))


@pytest.mark.parametrize("paper", PAPERS)
class TestEveryPaper:
    def test_more_level_is_lighter(self, paper):
        assert np.diff(demo_printer(paper).lab(RAMP)[:, 0]).min() > 0.15

    @pytest.mark.parametrize("level", [0.05, 0.2, 0.4, 0.6, 0.8])
    def test_beside_a_grey_no_channel_darkens_as_it_rises(self, paper, level):
        # Yellow hardly darkens, so the blue channel hardly lightens.
        for channel in range(3):
            device = np.full((41, 3), level)
            device[:, channel] = np.linspace(max(0.0, level - 0.2), level + 0.2, 41)
            assert np.diff(demo_printer(paper).lab(device)[:, 0]).min() > 0

    def test_spectra_are_those_of_a_print(self, paper):
        corners = np.stack(np.meshgrid([0, 0.5, 1], [0, 0.5, 1], [0, 0.5, 1]), axis=-1)
        spectra = demo_printer(paper).spectra(corners.reshape(-1, 3), condition="M2")
        assert spectra.min() > 0
        assert (spectra <= demo_printer(paper).spectra(PAPER, condition="M2") + 1e-12).all()

    def test_magenta_highlights_and_greenish_shadows_that_turn_reddish_under_incandescent(
        self, paper
    ):
        printer = demo_printer(paper)
        lab = printer.lab(RAMP)
        daylight = cast(lab)
        incandescent = cast(spectra_to_lab(printer.spectra(RAMP), printer.wavelengths, "A"))
        highlight, shadow = 200, 95
        assert daylight[highlight, 0] > 0.7
        assert daylight[highlight, 1] < 0
        assert daylight[shadow, 0] < -1.5
        assert incandescent[shadow, 0] > daylight[shadow, 0] + 0.8
        assert 2.5 < np.hypot(*daylight.T).max() < 5.0

    def test_dry_down_is_exponential_in_reflectance(self, paper):
        printer = demo_printer(paper)
        dry, fresh = printer.spectra(RAMP), printer.spectra(RAMP, hours=0.0)
        half = printer.spectra(RAMP, hours=PAPERS[paper].drying_hours * np.log(2))
        assert half == pytest.approx((dry + fresh) / 2, abs=1e-12)
        assert (fresh[:-1] < dry[:-1]).all()
        assert fresh[-1] == pytest.approx(dry[-1], abs=1e-12), "bare paper has nothing to dry"
        difference = colour.delta_E(printer.lab(RAMP), printer.lab(RAMP, hours=0.0))
        assert 0.5 < difference.max() < 3.0


class TestPapers:
    # How dark and how warm such papers are: common practice, no source.
    @pytest.mark.parametrize(
        ("paper", "black", "white_b"),
        [
            ("cotton rag", (16, 18), (2, 3.5)),
            ("baryta", (3, 6), (-4, -1.5)),
            ("unbleached cotton", (16, 20), (4, 7)),
            ("kozo", (18, 23), (8, 11)),
        ],
    )
    def test_black_and_white_are_typical_of_the_kind(self, paper, black, white_b):
        lab = demo_printer(paper).lab(RAMP)
        assert black[0] < lab[0, 0] < black[1]
        assert white_b[0] < lab[-1, 2] < white_b[1]

    def test_an_unknown_paper_is_named(self):
        with pytest.raises(LookupError, match="cotton rag, baryta"):
            demo_printer("blotting paper")


class TestBrightener:
    def test_m1_less_m2_is_the_emission_as_constructed(self):
        printer = demo_printer("baryta")
        added = printer.spectra(PAPER)[0] - printer.spectra(PAPER, condition="M2")[0]
        nm = printer.wavelengths
        width = np.where(nm < 440, 17, 36)
        assert added == pytest.approx(0.075 * np.exp(-(((nm - 440) / width) ** 2) / 2), abs=1e-12)

    def test_m0_adds_what_illuminant_a_excites(self):
        # From the tables of `colour`, not from the project's: U as a sum over 300 to 430 nm, the
        # lights at equal luminance.
        from greyscale.demo.materials import EXCITATION, EXCITATION_NM

        tables = {name: colour.SDS_ILLUMINANTS[name].copy() for name in ("A", "D50")}
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        shape = colour.SpectralShape(300, 780, 1)
        power = {name: table.align(shape).values for name, table in tables.items()}
        V = observer.copy().align(shape).values[:, 1]
        V[: 360 - 300] = 0
        nm = shape.wavelengths
        scaled = {name: values / (values @ V) for name, values in power.items()}
        excited = {
            name: np.interp(EXCITATION_NM, nm, values) @ EXCITATION
            for name, values in scaled.items()
        }
        printer = demo_printer("baryta")
        at = (printer.wavelengths - 300).astype(int)
        expected = (excited["A"] / excited["D50"]) * scaled["D50"][at] / scaled["A"][at]
        without = printer.spectra(PAPER, condition="M2")[0]
        m0 = printer.spectra(PAPER, condition="M0")[0] - without
        m1 = printer.spectra(PAPER)[0] - without
        assert m0 == pytest.approx(m1 * expected, rel=2e-3, abs=1e-7)

    def test_ink_hides_it(self):
        printer = demo_printer("baryta")
        added = printer.spectra(RAMP) - printer.spectra(RAMP, condition="M2")
        at_peak = added[:, 6]
        assert (np.diff(at_peak) > 0).all()
        assert at_peak[0] < 0.001 < 0.07 < at_peak[-1]

    def test_fibre_without_brightener_reads_alike_in_every_condition(self):
        printer = demo_printer("cotton rag")
        m2 = printer.spectra(RAMP, condition="M2")
        assert np.array_equal(printer.spectra(RAMP), m2)
        assert np.array_equal(printer.spectra(RAMP, condition="M0"), m2)

    def test_a_condition_that_it_has_not_is_refused(self):
        with pytest.raises(ValueError, match="M0, M1, M2"):
            demo_printer().spectra(PAPER, condition="M3")


class TestChart:
    def test_what_was_sent_is_printed_and_the_charts_values_are_kept(self):
        printer = demo_printer()
        reading = printer.measure(ids(256), RAMP, sent=RAMP**1.2, noise=0)
        assert np.array_equal(reading.device, RAMP)
        assert np.array_equal(reading.lab, printer.lab(RAMP**1.2))

    def test_8_bit_prints_the_nearest_code_value(self):
        printer = demo_printer(bits=8)
        assert np.array_equal(
            printer.lab([[0.5, 0.2, 0.7]]), printer.lab([[128, 51, 178]] / np.array(255))
        )

    def test_page_drift_darkens_towards_the_end(self):
        printer = demo_printer()
        grey = np.full((11, 3), 0.5)
        lab = printer.measure(ids(11), grey, noise=0, page_drift=0.02).lab
        assert (np.diff(lab[:, 0]) < 0).all()
        assert lab[5] == pytest.approx(printer.lab(grey[:1])[0])

    def test_a_reading_says_what_it_is(self):
        reading = demo_printer("kozo").measure(ids(2), [[0, 0, 0], [1, 1, 1]], condition="M2")
        assert (reading.condition, reading.paper, reading.backing) == ("M2", "kozo", "white")
        assert len(reading) == 2


def test_a_hundred_thousand_patches_take_less_than_a_second():
    device = np.random.default_rng(0).random((100_000, 3))
    printer = demo_printer()
    printer.lab(device[:2])
    times = []
    for _ in range(3):
        start = time.process_time()
        printer.spectra(device)
        times.append(time.process_time() - start)
    assert min(times) < 1.0
