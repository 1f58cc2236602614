"""Two tests that cannot both be true: each such pair is named, with what either says."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from optimizer.errors import InputIssue
from optimizer.measure.book import FlowTable, VoltageReading
from optimizer.measure.estimate import Estimate
from optimizer.measure.read_book import Book
from optimizer.units import short

APART = 1.5
"""Two intervals of one number contradict each other where they do not even meet when so much wider [1]."""
POWER_APART = 0.2
"""Watts of a log and of the meter that are further apart than this share are not of the same parts [1]: our
choice; instrument and voltage make some 5 %."""

OTHER_WATER_K = 10.0
"""So far beyond the ends of a year the water of a fill is other water [K]: our choice."""

ORDER = (
    ("wash_pump.prime_l", "tank.capacity_l", "the spray spits at more than goes into the tank"),
    ("element.cover_l", "tank.capacity_l", "the element is covered at more than goes into the tank"),
    ("inlet.level_l", "tank.capacity_l", "the switch closes at more than goes into the tank"),
    ("tank.residual_l", "wash_pump.prime_l", "a drain leaves more than the pump needs to spray"),
    ("wash_pump.holdup_l", "tank.capacity_l", "the spray holds up more than goes into the tank"),
)
"""Two numbers of which the first cannot be above the second, and what it would mean."""


def estimate_contradictions(book: Book, found: Mapping[str, Estimate]) -> list[InputIssue]:
    """Find estimates of two tests that cannot both be true."""
    issues = []
    for smaller, larger, meaning in ORDER:
        if smaller in found and larger in found and found[smaller].low > found[larger].high:
            issues.append(_pair(book, found[smaller], found[larger], meaning))
    return issues


def same_number(book: Book, found: Sequence[Estimate]) -> list[InputIssue]:
    """Find two estimates of one number that are too far apart to be of one."""
    issues = []
    for at, one in enumerate(found):
        for other in found[at + 1 :]:
            first, second = sorted((one, other), key=lambda each: each.nominal)
            reach = APART * (first.high - first.nominal + second.nominal - second.low)
            if second.nominal - first.nominal > reach:
                issues.append(_pair(book, one, other, f"two values of {one.key}"))
    return issues


def book_contradictions(book: Book, found: Mapping[str, Estimate]) -> list[InputIssue]:
    """Find readings of two tests that cannot both be true."""
    issues = [*_overfull(book, found), *_voltages(book), *_watts(book), *_fed(book, found)]
    return [InputIssue(book.subject, *one) for one in issues]


Finding = tuple[str, str, str, str]
"""Key, rule, value found and fix."""


def _overfull(book: Book, found: Mapping[str, Estimate]) -> Iterator[Finding]:
    """More water in a test than buckets filled the tank with."""
    if "tank.capacity_l" not in found:
        return
    lip = found["tank.capacity_l"]
    seen = f"up to the lip {_ends(lip)} l"
    for at, test in enumerate(book.tests, start=1):
        if test.water_kg > lip.high:
            rule = f"contradicts {lip.test}: {test.name} has more water than goes into the tank"
            fix = "weigh the water, or fill to the lip again"
            if test.water_kg / 1000.0 > 0.5:
                fix = f"did you mean {test.water_kg / 1000.0:g} kg?"
            yield f"thermal[{at}].water_kg", rule, f"{test.water_kg:g} kg, {seen}", fix
    drains: FlowTable | None = book.bench.drains
    for at, run in enumerate(drains.runs if drains else (), start=1):
        amount = run.l if run.kg is None else run.kg
        if amount is not None and amount > lip.high * 1.05:
            rule = f"contradicts {lip.test}: a drain brings more than goes into the tank"
            yield f"drains.runs[{at}]", rule, f"{amount:g}, {seen}", "repeat one of the two"


def _fed(book: Book, found: Mapping[str, Estimate]) -> Iterator[Finding]:
    """Fills of other water than the inlet's."""
    fills, inlet = book.bench.fills, found.get("inlet.water_c")
    if fills is None or inlet is None or "water_c" not in fills.model_fields_set:
        return
    if not inlet.low - OTHER_WATER_K <= fills.water_c <= inlet.high + OTHER_WATER_K:
        rule = "contradicts temperatures.inlet: the fills had other water than the inlet has in any season"
        seen = f"{fills.water_c:g} °C, inlet {_ends(inlet)} °C"
        yield "fills.water_c", rule, seen, "look whether one of the two is in °F"


def _voltages(book: Book) -> Iterator[Finding]:
    """A load that raises the voltage."""
    idle, loaded = book.bench.voltages.idle, book.bench.voltages.loaded
    if not idle or not loaded:
        return
    rises_v = _mean_v(loaded) - _mean_v(idle)
    error_v = book.instruments.voltmeter_error_share * _mean_v(idle)
    scatter = [_scatter(one) / math.sqrt(len(one)) for one in (idle, loaded)]
    if rises_v > error_v + 2.0 * math.hypot(*scatter):
        rule = "contradicts voltages.idle: the voltage is higher with the element on than with it off"
        seen = f"idle {_mean_v(idle):.1f} V, loaded {_mean_v(loaded):.1f} V"
        yield "voltages.loaded", rule, seen, "look whether the two are exchanged"


def _watts(book: Book) -> Iterator[Finding]:
    """Watts of a log that are not those that the meter showed of the same parts."""
    meter = book.bench.meter
    for at, test in enumerate(book.tests, start=1):
        parts = [meter.wash_pump] if test.pump_on else []
        if test.log.power_w is None or test.element_from_s is not None or not parts or not parts[0]:
            continue
        logged_w = float(sum(test.log.power_w) / test.log.power_w.size)
        read_w = sum(reading.w for reading in parts[0]) / len(parts[0])
        if abs(logged_w / read_w - 1.0) > POWER_APART:
            rule = f"contradicts meter.wash_pump: {test.name} took other watts with the pump alone"
            seen = f"{logged_w:.0f} W in {test.log.name}, {read_w:.0f} W by the meter"
            yield (
                f"thermal[{at}].log",
                rule,
                seen,
                "say when the element was on (element_from_s), or read again",
            )


def _pair(book: Book, one: Estimate, other: Estimate, meaning: str) -> InputIssue:
    first, second = (each.test or "the thermal logs" for each in (one, other))
    seen = f"{one.key} {_ends(one)}, {other.key} {_ends(other)}"
    return InputIssue(
        book.subject, first, f"contradicts {second}: {meaning}", seen, f"repeat {first} or {second}"
    )


def _ends(found: Estimate) -> str:
    return f"{short(found.nominal, 3)} ({short(found.low, 3)} to {short(found.high, 3)})"


def _mean_v(readings: Sequence[VoltageReading]) -> float:
    return sum(reading.v for reading in readings) / len(readings)


def _scatter(readings: Sequence[VoltageReading]) -> float:
    mean = _mean_v(readings)
    return math.sqrt(sum((reading.v - mean) ** 2 for reading in readings) / max(len(readings) - 1, 1))
