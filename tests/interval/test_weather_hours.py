"""What the weather adds to the nights: cooling that runs through the hot ones alone."""

import numpy as np
import pytest

from reconcile.interval.weather_hours import weather_curve


@pytest.mark.parametrize("seed", range(4))
def test_nights_of_a_few_hot_weeks_teach_their_own_slope(seed):
    rng = np.random.default_rng(seed)
    day = np.arange(560)
    spell = np.convolve(rng.normal(0, 1.6, 600), np.exp(-np.arange(12) / 3.0), mode="full")[: len(day)]
    mean_c = 14.0 - 11.0 * np.cos(2 * np.pi * (day - 18) / 365.25) + spell
    cooled = 280.0 * np.maximum(mean_c - 24.5, 0.0)
    watts = 170.0 + rng.normal(0, 8, len(day)) + cooled * rng.normal(1.0, 0.1, len(day))
    part = weather_curve(watts[:, None], mean_c, np.ones(len(day), dtype=bool)).part(mean_c)[:, 0]
    hot = mean_c > 26.5
    assert 10 <= hot.sum() <= 120
    assert abs(part[hot].mean() / cooled[hot].mean() - 1.0) < 0.2
    assert np.abs(part[mean_c < 20.0]).max() < 15.0
