"""A trend as JSON, schema "greyscale/trend/1"."""

from __future__ import annotations

from dataclasses import asdict

from greyscale.analysis.control_chart import ControlChart
from greyscale.analysis.trend import Movement
from greyscale.base.rests_on import support_data
from greyscale.reporting.json_output import Data, lab_data, neutrality_data, tone_data
from greyscale.reporting.trend_subject import ShownTrend
from greyscale.reporting.trend_words import trend_sentences

SCHEMA = "greyscale/trend/1"


def trend_data(shown: ShownTrend) -> Data:
    """Give a trend as plain data: readings by time, charts with as many values."""
    trend = shown.trend
    return {
        "schema": SCHEMA,
        "printer": shown.printer,
        "paper": shown.paper,
        "inks": shown.inks,
        "settings": shown.settings,
        "condition": shown.condition,
        "backing": shown.backing,
        "observer": shown.observer,
        "correction": shown.correction,
        "verdict": trend.verdict,
        "changed": trend.changed,
        "since": None if trend.since is None else trend.readings[trend.since].number,
        "signalled": list(trend.signalled),
        "stands_out": [trend.readings[i].number for i in trend.stands_out],
        "worth_correcting": trend.worth_correcting,
        "sentences": list(trend_sentences(shown)),
        "moved": None if trend.moved is None else _movement(trend.moved),
        "baseline": trend.baseline,
        "readings": [
            {
                "entry": one.number,
                "name": one.analysis.reading.name,
                "moment": one.moment.isoformat(),
                "paper": lab_data(one.analysis.paper),
                "black": lab_data(one.analysis.black),
                "neutrality": neutrality_data(one.analysis.neutrality),
                "tone": tone_data(one.analysis.tone),
            }
            for one in trend.readings
        ],
        "charts": {key: _chart(chart) for key, chart in trend.charts.items()},
        "notes": [
            {"entry": note.number, "moment": note.moment.isoformat(), "text": note.text}
            for note in shown.notes
        ],
        "rests_on": support_data(trend.rests_on),
        "remarks": list(shown.remarks),
    }


def _chart(chart: ControlChart) -> Data:
    return {
        "values": chart.values,
        "moving_range": chart.moving_range,
        "centre": chart.centre,
        "lower": chart.lower,
        "upper": chart.upper,
        "mean_range": chart.mean_range,
        "upper_range": chart.upper_range,
        "signals": [asdict(signal) for signal in chart.signals],
    }


def _movement(moved: Movement) -> Data:
    return {
        "mean_delta_Ch": moved.mean_delta_Ch,
        "max_delta_Ch": moved.max_delta_Ch,
        "max_at_level": moved.max_at_level,
        "hue": moved.hue,
        "mean_delta_L": moved.mean_delta_L,
        "mean_size_delta_L": moved.mean_size_delta_L,
        "without_noise_delta_Ch": moved.without_noise_delta_Ch,
        "without_noise_delta_L": moved.without_noise_delta_L,
        "paper": lab_data(moved.paper),
        "black": lab_data(moved.black),
        "level": moved.level,
        "delta_L": moved.delta_L,
        "delta_a": moved.delta_ab[:, 0],
        "delta_b": moved.delta_ab[:, 1],
        "delta_Ch": moved.delta_Ch,
    }
