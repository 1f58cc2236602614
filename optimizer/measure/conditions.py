"""Whether a thermal test can have gone as its condition says: what the log and the book have to agree on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from optimizer.errors import InputError, InputIssue
from optimizer.measure.book import ThermalTable
from optimizer.measure.thermal_input import refuse_tests
from optimizer.measure.thermal_test import Known, ThermalTest
from optimizer.units import J_PER_KWH, S_PER_MIN, fahrenheit_from_celsius

if TYPE_CHECKING:
    from numpy import ndarray

# What follows is our choice where no source is named.
APART_K = 2.0
"""Bath and room, or the end of a test and the start of the next, are not the same when further apart [K]."""
APART_WARE_K = 8.0
"""The same where a spray begins over cold ware, which takes heat out of the bath in seconds [K]."""
END_S = 60.0
"""A reading at the start or at the end of a test is the mean of so long [s]."""
MOST_W = 8000.0
"""What a socket gives at the most [W]."""
LOST_KG = 0.15
"""Water that a test loses to the air, to walls and hoses, and to a sponge that is not wrung out [kg]."""
LOST_SHARE = 0.01
"""The same as a share of it [1]."""
ROOM_APART_K = 2.0
"""Two readings of one room that are further apart are not of one room, or the test was not in it [K]."""
OFF_W, WATER_J_PER_KG_K = 200.0, 4180.0
"""With the element off a bath warms by no more than twice the pump's power and so much [W]; specific heat of
water [J/(kg K)]."""
NEEDS_MIN = {
    "the pump alone, to see what of its power warms": 12.0,
    "the element on": 5.0,
    "a cooling with the pump off": 8.0,
    "a cooling with the pump on": 6.0,
    "ware in a still bath": 3.0,
    "ware under the spray": 2.0,
}
"""Shortest log by its test [min]: about two thirds of what the bench protocol asks for."""


def condition_issues(tests: Sequence[ThermalTest], known: Known, subject: str) -> list[InputIssue]:
    """Find where condition and log of a thermal test contradict each other."""
    by_name = {test.name: test for test in tests}
    found = []
    for at, test in enumerate(tests, start=1):
        for key, rule, seen, fix in [*_issues(test, by_name, known), *_copied(test, tests[: at - 1])]:
            found.append(InputIssue(subject, f"thermal[{at}].{key}", f"{test.name}: {rule}", seen, fix))
    named = {issue.key.split(".")[0] for issue in found}
    return [
        *found,
        *(issue for issue in _unfit(tests, known, subject) if issue.key.split(".")[0] not in named),
    ]


def _unfit(tests: Sequence[ThermalTest], known: Known, subject: str) -> list[InputIssue]:
    """What the fit refuses before it begins."""
    try:
        refuse_tests(tests, known)
    except InputError as error:
        return in_book(error.issues, tests, subject)
    return []


def in_book(issues: Sequence[InputIssue], tests: Sequence[ThermalTest], subject: str) -> list[InputIssue]:
    """Place issues of the fit, which name a log, in the book that names the log."""
    places = {test.log.name: f"thermal[{at}]" for at, test in reversed(list(enumerate(tests, start=1)))}
    return [
        replace(one, subject=subject, key=_place(places[one.subject], one.key))
        if one.subject in places
        else one
        for one in issues
    ]


def _place(table: str, key: str) -> str:
    """Key of the book that an issue of the fit is about; what it says of a column is about the log."""
    return f"{table}.{key}" if key in ThermalTable.model_fields else f"{table}.log"


Finding = tuple[str, str, str, str]
"""Key, rule, value found and fix."""


def _issues(test: ThermalTest, by_name: dict[str, ThermalTest], known: Known) -> Iterator[Finding]:
    timed = list(_times(test))
    yield from timed
    yield from _words(test)
    if timed:  # with wrong times nothing else can be looked up in the log
        return
    yield from _length(test)
    yield from _start(test, by_name)
    yield from _read_twice(test, by_name, known.film_l)
    yield from _warms_while_off(test, known)


def condition_span_s(test: ThermalTest) -> tuple[float, float]:
    """When the condition began and ended, in the time of the log [s]."""
    ends_s = float(test.log.time_s[-1]) if test.ends_s is None else test.ends_s
    return test.begins_s or 0.0, ends_s


def _times(test: ThermalTest) -> Iterator[Finding]:
    last_s = float(test.log.time_s[-1])
    seen = f"the log ends at {last_s:g} s"
    for key in ("begins_s", "ends_s", "element_from_s", "element_until_s"):
        value = getattr(test, key)
        if value is not None and value > last_s + END_S:
            yield (
                key,
                f"{value:g} s is after the end of the log {test.log.name}",
                seen,
                "seconds from its first row",
            )
    for first, second in (("begins_s", "ends_s"), ("element_from_s", "element_until_s")):
        before, after = getattr(test, first), getattr(test, second)
        if before is not None and after is not None and after <= before:
            yield (
                second,
                f"must come after {first} ({before:g} s)",
                f"{after:g} s",
                "seconds from its first row",
            )
    if test.element_until_s is not None and test.element_from_s is None:
        yield "element_from_s", "is missing beside element_until_s", "", "element_from_s = 0"
    for time_s, _ in test.meter_kwh:
        if time_s > last_s + END_S:
            yield (
                "meter",
                f"a flip at {time_s:g} s is after the end of the log",
                seen,
                "seconds from its first row",
            )
    flips = sorted(test.meter_kwh)
    if len(flips) > 1 and flips[-1][0] > flips[0][0]:
        watts = (flips[-1][1] - flips[0][1]) * J_PER_KWH / (flips[-1][0] - flips[0][0])
        if watts > MOST_W:
            meant = (
                f"did you mean Wh? Divide by 1000 ({watts / 1000.0:.0f} W)" if watts / 1000.0 < MOST_W else ""
            )
            rule = f"its flips come to {watts:.3g} W, more than a socket gives"
            yield "meter", rule, f"{flips[-1][1] - flips[0][1]:g} kWh", meant or "seconds in the log, and kWh"
    kwh = [energy for _, energy in flips]
    if any(after <= before for before, after in pairwise(kwh)):
        yield "meter", "its energy must rise from flip to flip", f"{kwh}", "the reading after each flip"


def _words(test: ThermalTest) -> Iterator[Finding]:
    """Words of a condition that do not go together."""
    if test.ware_wet and not test.ware_in:
        yield "ware_wet", "goes with ware_in = true", "ware_in = false", "ware_in = true, or leave it out"
    if test.stood_at_room and test.poured_c is not None:
        yield "poured_c", "water that was poured hot did not stand at the room", "", "one of the two"


def _length(test: ThermalTest) -> Iterator[Finding]:
    begins_s, ends_s = condition_span_s(test)
    lasts_min = (ends_s - begins_s) / S_PER_MIN
    kind = _kind(test)
    if lasts_min < NEEDS_MIN[kind]:
        rule = f"its log is too short for {kind}: {NEEDS_MIN[kind]:g} min at least"
        yield (
            "log",
            rule,
            f"{lasts_min:.1f} min in {test.log.name}",
            "log it again, for longer; more is better",
        )


def _kind(test: ThermalTest) -> str:
    if test.element_from_s is not None:
        return "the element on"
    if test.ware_in:
        return "ware under the spray" if test.pump_on else "ware in a still bath"
    if test.stood_at_room and test.pump_on:
        return "the pump alone, to see what of its power warms"
    return f"a cooling with the pump {'on' if test.pump_on else 'off'}"


def _start(test: ThermalTest, by_name: dict[str, ThermalTest]) -> Iterator[Finding]:
    begins_s, ends_s = condition_span_s(test)
    start_c = _mean_c(test, begins_s, begins_s + END_S)
    if test.stood_at_room and abs(start_c - test.room_c) > APART_K:
        fix = "read both with one thermometer; leave stood_at_room out where the water had not stood"
        if abs(start_c - fahrenheit_from_celsius(test.room_c)) < APART_K:
            fix = "did you mean °F? Name the column of the log bath_f"
        rule = f"stood_at_room, but its bath begins {abs(start_c - test.room_c):.1f} K from room_c"
        yield "stood_at_room", rule, f"{start_c:.1f} °C in {test.log.name}, room {test.room_c:.1f} °C", fix
    if test.poured_c is not None and start_c > test.poured_c + APART_K:
        rule = f"the bath begins hotter than what was poured (poured_c, {test.poured_c:.1f} °C)"
        yield "poured_c", rule, f"{start_c:.1f} °C in {test.log.name}", "the water just before it was poured"
    if test.poured_c is not None and test.ware_in and test.log.ware_c is not None and test.ware_at_room:
        first_c = float(test.log.ware_c[0])
        if first_c > float(test.log.bath_c[0]) + APART_K:
            rule = "the plate begins warmer than the hot water that was poured over it"
            seen = f"plate {first_c:.1f} °C, bath {float(test.log.bath_c[0]):.1f} °C"
            yield "log", rule, seen, "look whether bath_c and ware_c are exchanged in the log's first line"
    if test.follows:
        yield from _goes_on(test, by_name[test.follows])
    end_c = _mean_c(test, ends_s - END_S, ends_s)
    cools = test.element_from_s is None and not test.pump_on
    if cools and not test.ware_in and end_c > start_c + APART_K and start_c > test.room_c:
        rule = f"the bath warms by {end_c - start_c:.1f} K with pump and element off"
        yield (
            "pump_on",
            rule,
            f"{start_c:.1f} to {end_c:.1f} °C",
            "say when the element was on: element_from_s",
        )


def _copied(test: ThermalTest, before: Sequence[ThermalTest]) -> Iterator[Finding]:
    """Readings that were given already: counted twice, they would make ends that are too narrow."""
    begins_s, ends_s = condition_span_s(test)
    for other in before:
        since_s, until_s = condition_span_s(other)
        same = (
            np.array_equal(test.log.bath_c, other.log.bath_c)
            and min(ends_s, until_s) - max(begins_s, since_s) > END_S
        )
        if same:
            rule = f"has readings that {other.name} has: each counts once"
            fix = "the log of this test; of one log for both, begins_s and ends_s say which part is whose"
            yield "log", rule, test.log.name, fix


def _warms_while_off(test: ThermalTest, known: Known) -> Iterator[Finding]:
    """A bath that takes up more than the pump can give, at a time when the element is said to be off."""
    begins_s, ends_s = condition_span_s(test)
    from_s, until_s = ends_s, ends_s
    if test.element_from_s is not None:
        from_s = test.element_from_s
        until_s = ends_s if test.element_until_s is None else test.element_until_s
    pump_w = known.pump_w.nominal if test.pump_on and known.pump_w is not None else 0.0
    for since_s, till_s in ((begins_s, from_s), (until_s + END_S, ends_s)):
        if till_s - since_s < 3.0 * END_S:
            continue
        rise_k = _mean_c(test, till_s - END_S, till_s) - _mean_c(test, since_s, since_s + END_S)
        water_w = test.water_kg * WATER_J_PER_KG_K * rise_k / (till_s - since_s - END_S)
        # A load that is hotter than the bath warms it as well.
        if water_w > 2.0 * pump_w + OFF_W and test.pump_on and not test.ware_in:
            rule = f"the bath warms by {rise_k:.1f} K while the element is said to be off"
            seen = f"{water_w:.0f} W into the water, the pump takes {pump_w:.0f} W"
            fix = "element_from_s and element_until_s, in the seconds of the log"
            yield "element_from_s" if test.element_from_s is None else "element_until_s", rule, seen, fix


def _goes_on(test: ThermalTest, before: ThermalTest) -> Iterator[Finding]:
    """A test that follows another has to begin where that ended."""
    begins_s, _ = condition_span_s(test)
    _, ended_s = condition_span_s(before)
    start_c, end_c = _mean_c(test, begins_s, begins_s), _mean_c(before, ended_s, ended_s)
    heated = test.element_from_s is not None or before.element_from_s is not None
    if before.pump_on == test.pump_on and not heated:
        rule = f"follows {before.name}, and nothing was switched"
        fix = "say what was: pump_on, element_from_s; one log of one condition is one test"
        yield "pump_on", rule, f"pump_on = {str(test.pump_on).lower()} in both", fix
    if abs(before.water_kg - test.water_kg) > LOST_KG:
        rule = f"follows {before.name}, which has other water"
        fix = "the same water goes on; water that is added or taken out begins a test of its own"
        yield "water_kg", rule, f"{before.water_kg:g} kg, then {test.water_kg:g} kg", fix
    most_k = APART_WARE_K if test.ware_in else APART_K
    if abs(end_c - start_c) > most_k:
        rule = (
            f"follows {before.name}, but its bath begins {abs(start_c - end_c):.1f} K from where that ended"
        )
        fix = "leave follows out where something was done between the two"
        yield "follows", rule, f"{end_c:.1f} °C, then {start_c:.1f} °C", fix


def _read_twice(test: ThermalTest, by_name: dict[str, ThermalTest], film_l: float) -> Iterator[Finding]:
    """The water and the room that were read a second time."""
    first = test
    while first.follows and by_name[first.follows] is not test:
        first = by_name[first.follows]
    if test.drained_kg is not None:
        stays_kg = LOST_KG + LOST_SHARE * first.water_kg + test.ware_in * 2.0 * film_l
        more_kg = test.drained_kg - first.water_kg
        if not -stays_kg <= more_kg <= LOST_KG:
            amount = f"{abs(more_kg):.3g} kg {'more' if more_kg > 0.0 else 'less'}"
            rule = f"contradicts water_kg of {first.name}: {amount} came out"
            fix = (
                "weigh both again, buckets taken off; begin with a dry tank, take up the rest with the sponge"
            )
            yield "drained_kg", rule, f"{first.water_kg:g} kg in, {test.drained_kg:g} kg out", fix
    if test.room_end_c is not None:
        apart_k = abs(test.room_end_c - test.room_c)
        if apart_k > max(ROOM_APART_K, 2.0 * test.room_error_k):
            rule = f"contradicts room_c: the room was another by {apart_k:.1f} K as the test ended"
            fix = "read both with the thermometer of the bath, dry, beside the machine; keep the room steady"
            yield "room_end_c", rule, f"{test.room_c:.1f} °C, then {test.room_end_c:.1f} °C", fix


def _mean_c(test: ThermalTest, since_s: float, until_s: float) -> float:
    """Mean of the bath between two times of the log [°C]; the nearest reading where none lies there."""
    time_s: ndarray = test.log.time_s
    there = (time_s >= since_s) & (time_s <= until_s)
    if not there.any():
        there = np.arange(time_s.size) == int(np.abs(time_s - since_s).argmin())
    return float(test.log.bath_c[there].mean())
