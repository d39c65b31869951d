"""One curve from the original: what it sends, and what the next round takes it to have sent."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from support.corrections import correction_with, curve_against, proof_of, unchanged

from greyscale.base.rests_on import supports
from greyscale.correction.evidence import evidence_from
from greyscale.correction.record import Curve

CURVE = curve_against()
VALUES = st.lists(st.tuples(*[st.floats(0, 1)] * 3), min_size=1, max_size=20).map(np.array)


@given(VALUES)
def test_no_correction_changes_nothing(device):
    np.testing.assert_allclose(unchanged().apply(device), device, atol=1e-12)


@given(VALUES)
def test_each_channel_goes_its_own_way(device):
    """A nudge of one channel moves that channel alone, so that near-neutral patches stay such."""
    sent = CURVE.apply(device)
    for channel in range(3):
        alone = np.full_like(device, 0.5)
        alone[:, channel] = device[:, channel]
        np.testing.assert_array_equal(CURVE.apply(alone)[:, channel], sent[:, channel])


@given(VALUES)
def test_a_rising_curve_keeps_the_order_of_tones(device):
    assert np.diff(CURVE.rgb, axis=0).min() >= 0
    order = np.argsort(device[:, 0])
    assert np.diff(CURVE.apply(device)[order, 0]).min(initial=0.0) >= 0


@given(st.lists(st.floats(-2, 3), min_size=3, max_size=3))
def test_values_outside_are_held_at_the_ends(device):
    sent = CURVE.apply(device)
    np.testing.assert_array_equal(sent, CURVE.apply(np.clip(device, 0, 1)))


def test_the_next_round_knows_what_was_sent():
    """The reading has the chart's values; what the printer got are those through the curve, so
    that the next curve again starts from the printer itself."""
    first = correction_with(CURVE)
    proof = proof_of(first)
    joined = evidence_from([proof], first)
    earlier = len(first.evidence)
    np.testing.assert_allclose(joined.device[:earlier], first.evidence.device, atol=1e-5)
    sent = np.unique(CURVE.apply(proof.device), axis=0)
    found = np.unique(joined.device[earlier:], axis=0)
    np.testing.assert_allclose(found, sent, atol=1e-5)
    assert [source.round for source in joined.sources] == [0, 1]


def test_a_third_round_counts_on_from_the_second():
    first = correction_with(CURVE)
    straight = Curve(CURVE.levels, np.repeat(CURVE.levels[:, None], 3, axis=1), CURVE.lab, CURVE.sd)
    second = replace(
        first, round=2, curve=straight, evidence=evidence_from([proof_of(first)], first)
    )
    third = evidence_from([proof_of(second)], second)
    assert [source.round for source in third.sources] == [0, 1, 2]
    # The last print went through the second curve alone, which sends the values as they are.
    last = third.device[third.origin == 2]
    assert np.ptp(last, axis=1).max() < 1e-4


def test_with_8_bits_what_was_sent_are_whole_steps():
    first = correction_with(CURVE, bits=8)
    joined = evidence_from([proof_of(first)], first, bits=8)
    codes = joined.device[len(first.evidence) :] * 255
    np.testing.assert_allclose(codes, np.round(codes), atol=1e-9)


def test_weights_are_named_as_what_it_rests_on_where_spectra_were_measured(correction):
    weights = set(supports("weights", "cie-tables"))
    assert weights.isdisjoint(correction.rests_on)
    evidence = replace(correction.evidence, spectra=np.full((21, 36), 0.5))
    assert weights <= set(replace(correction, evidence=evidence).rests_on)
