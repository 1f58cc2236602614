"""A thermometer held against what is known: melting ice, boiling water, or a better thermometer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.measure.intervals import step_error
from optimizer.physics.water import (
    BOILING_C,
    SEA_LEVEL_KPA,
    WEATHER_K,
    air_pressure_kpa,
    saturation_pressure_kpa,
)

ICE_C, ICE_ERROR_K = 0.0, 0.1
"""Crushed ice that melts in its own water, stirred, and how far it may be from that [°C], [K]; common
practice, *no source*."""

PRESSURE_ERROR_K = 0.1
"""What the boil may be off where the air's pressure was read [K]: 3 hPa of a weather report, our choice."""

WEATHER_SIGMAS = 3.0
"""How many standard deviations `WEATHER_K` is [1]: 10 hPa are one, in common years (no source)."""

USED_C = 70.0
"""Up to where a bath is measured [°C]; the error of the boil counts there by 0.7."""

BENDS_K = 0.1
"""How far a sensor may be from the straight line between the two points [K]: our choice, *no source*."""


@dataclass(frozen=True)
class Line:
    """A straight line through points of equal weight.

    Attributes
    ----------
    at : float
        Where it is counted from.
    level, slope : float
        Its value there and its slope.
    u_level, u_slope : float
        Their standard uncertainties; nan with two points, which leave no scatter.
    correlation : float
        Of the two [1].
    """

    at: float
    level: float
    slope: float
    u_level: float
    u_slope: float
    correlation: float

    def value(self, x: float) -> float:
        """Its value."""
        return self.level + self.slope * (x - self.at)


def straight_line(x: Sequence[float], y: Sequence[float], at: float = 0.0) -> Line:
    """Fit a straight line by least squares, with the uncertainties of GUM H.3.2."""
    points = np.array(x, dtype=float) - at
    values = np.array(y, dtype=float)
    many = points.size
    squares = many * float(points @ points) - float(points.sum()) ** 2
    level = (
        float(values.sum()) * float(points @ points) - float(points @ values) * float(points.sum())
    ) / squares
    slope = (many * float(points @ values) - float(values.sum()) * float(points.sum())) / squares
    left = values - level - slope * points
    variance = float(left @ left) / (many - 2) if many > 2 else math.nan
    return Line(
        at=at,
        level=level,
        slope=slope,
        u_level=math.sqrt(variance * float(points @ points) / squares),
        u_slope=math.sqrt(variance * many / squares),
        correlation=-float(points.sum()) / math.sqrt(many * float(points @ points)),
    )


@dataclass(frozen=True)
class Calibration:
    """Correction of a thermometer.

    Attributes
    ----------
    line : Line
        What to add to a reading [K], by the reading [°C].
    error_k : float
        Half-width of what it leaves open up to `USED_C` [K].
    boils_c : float
        Where water boiled [°C].
    """

    line: Line
    error_k: float
    boils_c: float

    def correction_k(self, reading_c: float) -> float:
        """What to add to a reading [K]."""
        return self.line.value(reading_c)


def two_points(
    ice_c: Sequence[float],
    boiling_readings_c: Sequence[float],
    height_m: float,
    sea_level_hpa: float | None,
    step_k: float,
) -> Calibration:
    """Calibrate by readings in melting ice and in boiling water.

    Parameters
    ----------
    ice_c, boiling_readings_c : sequence of float
        Readings [°C], one or more each.
    height_m : float
        Height above sea level [m].
    sea_level_hpa : float or None
        Pressure of the air as weather reports give it, brought down to the sea [hPa]; None where it was not
        read, and the weather then counts in full.
    step_k : float
        Last digit of the thermometer [K].
    """
    boils_c = boiling_at_c(height_m, sea_level_hpa)
    u_weather = WEATHER_K / WEATHER_SIGMAS if sea_level_hpa is None else PRESSURE_ERROR_K / math.sqrt(3.0)
    ice, boiling = float(np.mean(ice_c)), float(np.mean(boiling_readings_c))
    line = straight_line([ice, boiling], [ICE_C - ice, boils_c - boiling])
    # Between the two points their errors count by how near they are; u of a rectangle is its half / sqrt(3).
    near = min(1.0, USED_C / boils_c)
    u_ice = math.hypot(ICE_ERROR_K / math.sqrt(3.0), _u_mean(ice_c, step_k))
    u_boil = math.hypot(u_weather, _u_mean(boiling_readings_c, step_k))
    u_bends = BENDS_K / math.sqrt(3.0)
    at_most = max(math.hypot((1.0 - share) * u_ice, share * u_boil, u_bends) for share in (0.0, near))
    return Calibration(line, math.sqrt(3.0) * at_most, boils_c)


def boiling_at_c(height_m: float, sea_level_hpa: float | None = None) -> float:
    """Where water boils at a height, in the standard atmosphere or under a pressure as at sea level [°C].

    Where the vapour has the pressure of the air, both counted from 100 °C at 1013.25 hPa. A pressure at sea
    level is taken to change that at the height in the same proportion.

    Examples
    --------
    >>> f"{boiling_at_c(0.0):.1f} {boiling_at_c(0.0, 1000.0):.1f} {boiling_at_c(1000.0):.1f}"
    '100.0 99.6 96.7'
    """
    share = air_pressure_kpa(height_m) / SEA_LEVEL_KPA
    if sea_level_hpa is not None:
        share *= sea_level_hpa / (10.0 * SEA_LEVEL_KPA)
    low_c, high_c = 60.0, 110.0
    for _ in range(50):
        middle_c = 0.5 * (low_c + high_c)
        below = saturation_pressure_kpa(middle_c) < share * saturation_pressure_kpa(BOILING_C)
        low_c, high_c = (middle_c, high_c) if below else (low_c, middle_c)
    return low_c


def _u_mean(readings: Sequence[float], step_k: float) -> float:
    """Standard uncertainty of the mean of readings, no less than that of the last digit."""
    scatter = float(np.std(readings, ddof=1)) / math.sqrt(len(readings)) if len(readings) > 1 else 0.0
    return max(scatter, step_error(step_k))
