"""Voltages at the socket, by hour: the high end from the machine idle, the low end from its element on."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.measure.book import VoltageReading, VoltageTable
from optimizer.measure.estimate import Estimate, Instruments
from optimizer.measure.intervals import Errors, Interval, run_to_run

KEY = "supply.voltage_v"
WIRING_SHARE = 0.05
"""What the wiring of a house may take from the voltage while a load is on [1] (secondary page)."""
SPREAD = 0.1
"""Spread of a year to count with where there is one reading [1]: EN 50160, 95 % of a week's ten-minute means
(secondary page)."""
GAP_H = 7.0
"""Hours without a reading that are remarked on [h]: the evening's dip lasts shorter."""
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
    remarks.append("a few days do not have the ends of a year: the supplier may deliver ± 10 % (EN 50160)")
    method = next(iter(spans.values())).method
    return [Estimate(KEY, nominal, low, high, len(idle) + len(loaded), method, tuple(remarks), "voltages")]


def _span(readings: Sequence[VoltageReading], instruments: Instruments) -> Interval:
    volts = [reading.v for reading in readings]
    mean = sum(volts) / len(volts)
    errors = Errors(instruments.voltmeter_error_share * mean, STEP_V / 12.0**0.5)
    return run_to_run(volts, errors, SPREAD * mean)


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
