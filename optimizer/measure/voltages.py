"""Voltages at the socket, by hour: the high end from the machine idle, the low end from its element on.

A tolerance interval (ISO 16269-6) is of what the readings are drawn from: of a year only where they are
spread over it. Readings of a few days count with what a supplier may deliver, as one reading does.
"""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.measure.book import VoltageReading, VoltageTable
from optimizer.measure.estimate import Estimate, Instruments
from optimizer.measure.intervals import FEW, OF_RUNS, Errors, Interval, run_to_run
from optimizer.measure.seasons import GAP_DAYS, longest_gap
from optimizer.profile.machine import LOW_MAINS_HIGH, LOW_MAINS_V, SUPPLY_SHARE

KEY = "supply.voltage_v"
WIRING_SHARE = 0.05
"""What the wiring of a house may take from the voltage while a load is on [1] (secondary page)."""
GAP_H = 7.0
"""Hours without a reading that are remarked on [h]: the evening's dip lasts shorter."""
FEW_DAYS = "few days"
"""How ends came about that hold what a year may bring beyond some days of readings."""
STEP_V = 1.0
"""Last digit of a plug-in meter's volts [V]."""


def voltage_estimates(table: VoltageTable, instruments: Instruments) -> list[Estimate]:
    """The voltage over the hours, where it was read."""
    idle, loaded = table.idle, table.loaded
    if not idle and not loaded:
        return []
    spans = {name: _span(given, instruments) for name, given in (("idle", idle), ("loaded", loaded)) if given}
    remarks = [f"{name}: {remark}" for name, span in spans.items() for remark in span.remarks]
    high = spans["idle"].high if idle else spans["loaded"].high * (1.0 + WIRING_SHARE)
    low = spans["loaded"].low if loaded else spans["idle"].low * (1.0 - WIRING_SHARE)
    missing = "" if idle and loaded else "idle" if loaded else "loaded"
    if missing:
        remarks.append(f"no {missing} voltages: {WIRING_SHARE:.0%} is counted for the wiring instead")
    nominal = spans["loaded" if loaded else "idle"].nominal
    low, high = min(low, *(span.low for span in spans.values())), max(high, nominal)
    if gap := _longest_gap(idle + loaded):
        remarks.append(gap)
    method = next(iter(spans.values())).method
    if unknown := _unknown_days(idle + loaded):
        # A few days do not have the ends of a year.
        counted, more = (
            f"± {SUPPLY_SHARE:.0%} is counted, what a supplier may deliver (EN 50160)",
            SUPPLY_SHARE,
        )
        if nominal < LOW_MAINS_V:
            more = LOW_MAINS_HIGH
            counted = (
                f"-{SUPPLY_SHARE:.0%} and +{more:.0%} are counted, what a supplier may deliver (ANSI C84.1)"
            )
        low, high = min(low, (1.0 - SUPPLY_SHARE) * nominal), max(high, (1.0 + more) * nominal)
        remarks.append(f"{unknown}: {counted}")
        method = FEW_DAYS if method == OF_RUNS else method
    return [Estimate(KEY, nominal, low, high, len(idle) + len(loaded), method, tuple(remarks), "voltages")]


def _span(readings: Sequence[VoltageReading], instruments: Instruments) -> Interval:
    volts = [reading.v for reading in readings]
    mean = sum(volts) / len(volts)
    errors = Errors(instruments.voltmeter_error_share * mean, STEP_V / 12.0**0.5)
    return run_to_run(volts, errors, SUPPLY_SHARE * mean)


def _unknown_days(readings: Sequence[VoltageReading]) -> str:
    """Why the days of the readings do not show what a year brings; empty where they do."""
    days = {reading.on for reading in readings if reading.on is not None}
    if not days:
        return "no days are given"
    if len(days) < FEW:
        return f"read on {len(days)} day{'s' if len(days) > 1 else ''} only"
    gap_days, gap = longest_gap(list(days))
    return f"no reading from {gap}" if gap_days > GAP_DAYS else ""


def _longest_gap(readings: Sequence[VoltageReading]) -> str:
    """Name the longest stretch of the day that no reading is in."""
    hours = sorted({reading.hour % 24.0 for reading in readings})
    gaps = [
        ((after - before) % 24.0 or 24.0, before, after)
        for before, after in zip(hours, [*hours[1:], hours[0]], strict=True)
    ]
    lasts_h, before, after = max(gaps)
    if lasts_h <= GAP_H:
        return ""
    return f"no reading between {_clock(before)} and {_clock(after)}"


def _clock(hour: float) -> str:
    minutes = round(hour * 60.0) % 1440
    return f"{minutes // 60}:{minutes % 60:02d}"
