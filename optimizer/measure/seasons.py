"""Temperatures by date: the ends that a year brings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from itertools import pairwise

import numpy as np

from optimizer.measure.book import TemperatureReading
from optimizer.measure.estimate import Estimate
from optimizer.measure.intervals import (
    FEW_READINGS,
    ONE_READING,
    Errors,
    Interval,
    last_digit,
    run_to_run,
    step_error,
    tolerance_factor,
)
from optimizer.measure.read_book import Book
from optimizer.physics.water import UK_MAINS_C

KEYS = {"inlet": "inlet.water_c", "room": "room.air_c"}
MAINS_SWING_K = (max(UK_MAINS_C) - min(UK_MAINS_C)) / 2.0
"""Half of what mains water moves by over the year [K]: what a season without a reading may bring."""
DAYS_K = 3.0
"""What a temperature moves by from day to day within a season [K]: common practice, *no source*."""
LEAST_CURVE = 8
"""Readings from which on a curve of the year is drawn through them [1]: it takes three numbers itself."""
GAP_DAYS = 120
"""Days of the year without a reading from which on the year is not known [d]: our choice."""
YEAR_DAYS = 365.25
FAR_SIGMAS, FAR_K = 6.0, 5.0
"""A reading is asked about where it is further than both from the curve of the others [1], [K]: ours."""


def season_estimates(book: Book) -> list[Estimate]:
    """Temperatures of inlet and room, where they were read."""
    found = []
    for name, key in KEYS.items():
        readings: list[TemperatureReading] = getattr(book.bench.temperatures, name)
        if readings:
            interval = _interval(readings, book)
            ends = (interval.nominal, interval.low, interval.high)
            method, remarks = interval.method, interval.remarks
            found.append(Estimate(key, *ends, len(readings), method, remarks, f"temperatures.{name}"))
    return found


def _interval(readings: Sequence[TemperatureReading], book: Book) -> Interval:
    celsius = [book.corrected_c(reading.c) for reading in readings]
    tools = book.instruments
    step_k = last_digit([reading.c for reading in readings], tools.thermometer_step_k)
    errors = Errors(tools.thermometer_error_k, step_error(step_k))
    gap_days, gap = longest_gap([reading.on for reading in readings])
    if gap_days <= GAP_DAYS and len(readings) >= LEAST_CURVE:
        return _curve([reading.on for reading in readings], celsius, errors)
    if gap_days <= GAP_DAYS:
        return run_to_run(celsius, errors, DAYS_K)
    found = run_to_run(celsius, errors, DAYS_K + MAINS_SWING_K)
    unknown = f"no reading from {gap}" if len({reading.on for reading in readings}) > 1 else "read on one day"
    remark = f"{unknown}: ± {MAINS_SWING_K:.1f} K is counted, which a year moves mains water by"
    added_k = 0.0 if found.method in (ONE_READING, FEW_READINGS) else MAINS_SWING_K
    low, high = found.low - added_k, found.high + added_k
    return Interval(found.nominal, low, high, found.method, (*found.remarks, remark))


def _curve(days: Sequence[date], celsius: Sequence[float], errors: Errors) -> Interval:
    """Mean and swing of a year by least squares; its two ends with a tolerance interval about the curve.

    ``T = mean + a cos(2 pi d / 365.25) + b sin(2 pi d / 365.25)``: so mains water goes through the year
    (`optimizer.physics.water.mains_temperature_c`).
    """
    angle = np.array([2.0 * math.pi * day.timetuple().tm_yday / YEAR_DAYS for day in days])
    design = np.stack([np.ones_like(angle), np.cos(angle), np.sin(angle)], axis=1)
    found, *_ = np.linalg.lstsq(design, np.array(celsius), rcond=None)
    free = len(days) - 3
    scatter = max(float(np.sqrt(np.sum((celsius - design @ found) ** 2) / free)), errors.each)
    off = np.abs(celsius - design @ found)
    far = int(off.argmax())
    # One that is far off pulls curve and scatter along: it is looked for without it.
    rest = np.delete(np.arange(len(days)), far)
    alone, *_ = np.linalg.lstsq(design[rest], np.array(celsius)[rest], rcond=None)
    spread = float(np.std(np.array(celsius)[rest] - design[rest] @ alone, ddof=3))
    remarks: tuple[str, ...] = ()
    if abs(celsius[far] - float(design[far] @ alone)) > max(FAR_SIGMAS * spread, FAR_K):
        day = f"{days[far].day} {days[far]:%B}"
        remarks = (
            f"the reading of {day} ({celsius[far]:.1f} °C) is far from the others: was it written down right",
        )
    mean, swing = float(found[0]), math.hypot(found[1], found[2])
    crest = math.atan2(found[2], found[1])
    inverse = np.linalg.inv(design.T @ design)
    ends = []
    for side, at in ((-1.0, crest + math.pi), (1.0, crest)):
        row = np.array([1.0, math.cos(at), math.sin(at)])
        factor = tolerance_factor(round(1.0 / float(row @ inverse @ row), 6), free=free)
        ends.append(mean + side * (swing + math.hypot(factor * scatter, errors.common)))
    method = "curve of the year"
    return Interval(mean, min(ends[0], mean), max(ends[1], mean), method, remarks)


def longest_gap(days: Sequence[date]) -> tuple[int, str]:
    """Longest stretch of the year without a reading [d], in words."""
    of_year = sorted({(day.timetuple().tm_yday, f"{day.day} {day:%B}") for day in days})
    around = [*of_year, (of_year[0][0] + 365, of_year[0][1])]
    gaps = [(after[0] - before[0], f"{before[1]} to {after[1]}") for before, after in pairwise(around)]
    return max(gaps)
