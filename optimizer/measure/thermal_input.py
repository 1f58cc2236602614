"""What is refused before anything is fitted: tests that cannot be what they say they are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.errors import InputError, InputIssue
from optimizer.measure.thermal_model import begins_s, ends_s
from optimizer.measure.thermal_test import Known, ThermalTest
from optimizer.physics.water import BOILING_C, specific_heat_kj_per_kg_k
from optimizer.units import J_PER_KJ, S_PER_MIN, figure

LEAST_ROWS, LEAST_S = 8, 90.0
"""A log with fewer rows, or a shorter one, says nothing [1], [s]; our choice, *no source*."""

USUAL_MIN = {"still": 12.0, "spraying": 10.0, "element": 10.0, "ware": 5.0, "room": 20.0}
"""How long the protocol logs a cooling, a hot pour, an element, a load in hot water, a pump alone [min]."""

LEAST_WARMING = 0.15
"""An element that is on warms by this share at least of what it would if no heat went elsewhere [1]."""

NEAR_BOIL_K = 3.0
"""A log is not fitted so close to the boil, where steam takes the heat [K]."""


def refuse_tests(tests: Sequence[ThermalTest], known: Known) -> None:
    """Refuse tests that cannot be what they say.

    Parameters
    ----------
    tests : sequence of ThermalTest
        All tests.
    known : Known
        What is known from elsewhere.

    Raises
    ------
    InputError
        With every fault that was found.
    """
    issues = [*_orders(tests)]
    for test in tests:
        issues += [*_lasts(test), *_water(test, known), *_needs(test, known), *_temperatures(test)]
        issues += _element(test, known)
    if issues:
        raise InputError(sorted(issues))


def _orders(tests: Sequence[ThermalTest]) -> list[InputIssue]:
    """Names that are given twice, tests that follow nothing, themselves or each other."""
    names = [test.name for test in tests]
    issues = [
        InputIssue(test.log.name, "name", "is the name of two tests", f'"{test.name}"', "another name")
        for i, test in enumerate(tests)
        if test.name in names[:i]
    ]
    followed: dict[str, str] = {}
    by_name = {test.name: test for test in tests}
    for test in tests:
        if not test.follows:
            continue
        rule, seen, before = "", {test.name}, test.follows
        if before not in by_name:
            rule = "names no thermal test"
        elif before in followed:
            rule = f'is followed by "{followed[before]}" already'
        while not rule and before in by_name:
            if before in seen:
                rule = "goes round in a circle"
            seen.add(before)
            before = by_name[before].follows
        followed.setdefault(test.follows, test.name)
        if rule:
            fix = "the test that ended as this one began, or leave it out"
            issues.append(InputIssue(test.log.name, "follows", rule, f'"{test.follows}"', fix))
        elif by_name[test.follows].ware_in != test.ware_in:
            was = "out" if test.ware_in else "in"
            rule = f'"{test.follows}" had the ware {was}, and this test goes on'
            fix = "ware put in or taken out begins a test of its own: leave follows out"
            issues.append(InputIssue(test.log.name, "ware_in", rule, str(test.ware_in).lower(), fix))
    return issues


def usual_min(test: ThermalTest) -> float:
    """How long the protocol logs such a test [min]."""
    if test.element_from_s is not None:
        return USUAL_MIN["element"]
    if test.ware_in:
        return USUAL_MIN["ware"]
    if test.stood_at_room:
        return USUAL_MIN["room"]
    return USUAL_MIN["spraying" if test.pump_on else "still"]


def _lasts(test: ThermalTest) -> list[InputIssue]:
    inside = (test.log.time_s >= begins_s(test)) & (test.log.time_s <= ends_s(test))
    rows, lasts_s = int(np.sum(inside)), ends_s(test) - begins_s(test)
    fix = f"log {figure(usual_min(test), 2)} min, a reading every 10 s"
    if lasts_s < LEAST_S:
        rule = f'is too short for the test "{test.name}"'
        return [InputIssue(test.log.name, "", rule, f"{figure(max(lasts_s, 0.0), 3)} s", fix)]
    if rows < LEAST_ROWS:
        rule = f'has too few rows for the test "{test.name}"'
        return [InputIssue(test.log.name, "", rule, f"{rows}", fix)]
    return []


def _water(test: ThermalTest, known: Known) -> list[InputIssue]:
    """Water that weighs nothing, or a load that holds more heat than its bath."""
    if not test.water_kg > 0.0:
        return [InputIssue(test.log.name, "water_kg", "must be above 0 kg", f"{test.water_kg:g}", "5")]
    water_kj = test.water_kg * float(specific_heat_kj_per_kg_k(40.0))
    if test.ware_in and known.ware_kj_per_k is not None and known.ware_kj_per_k.nominal > water_kj:
        load = figure(known.ware_kj_per_k.nominal, 3)
        rule = (
            f'the ware ({load} kJ/K) is heavier than its bath ({figure(water_kj, 3)} kJ/K) in "{test.name}"'
        )
        fix = "weigh both again (kilograms, the dry load without the basket's water), or use more water"
        return [InputIssue(test.log.name, "water_kg", rule, f"{test.water_kg:g}", fix)]
    return []


def _needs(test: ThermalTest, known: Known) -> list[InputIssue]:
    """Tests that need a number from elsewhere."""
    issues = []
    if test.pump_on and known.pump_w is None:
        fix = "read the plug-in power meter with the wash pump on, or name a machine that it is like"
        issues.append(
            InputIssue(test.log.name, "pump_on", "needs wash_pump.power_w", "no reading of it", fix)
        )
    if test.ware_in and known.ware_kj_per_k is None:
        fix = "weigh the dry load, or name a machine that it is like"
        issues.append(InputIssue(test.log.name, "ware_in", "needs the masses in [ware]", "no weighing", fix))
    if test.element_from_s is not None and known.rated_v is None:
        fix = "read rated_v from the element's name-plate"
        issues.append(InputIssue(test.log.name, "element_from_s", "needs element.rated_v", "none", fix))
    return issues


def _temperatures(test: ThermalTest) -> list[InputIssue]:
    # One reading that jumped is no boil.
    hottest_c = float(np.nanquantile(test.log.bath_c, 0.98))
    if hottest_c <= BOILING_C - NEAR_BOIL_K:
        return []
    rule = f'"{test.name}" comes too close to the boil: steam takes the heat there'
    fix = f"end the test below {BOILING_C - NEAR_BOIL_K:g} °C, ends_s says when"
    return [InputIssue(test.log.name, "bath_c", rule, f"{hottest_c:.1f} °C", fix)]


def _element(test: ThermalTest, known: Known) -> list[InputIssue]:
    """An element that is on outside its log, or that warms nothing."""
    if test.element_from_s is None or not test.water_kg > 0.0:
        return []
    end_s = ends_s(test)
    until_s = end_s if test.element_until_s is None else test.element_until_s
    if until_s <= test.element_from_s or test.element_from_s >= end_s or until_s <= begins_s(test):
        rule = f'the log of "{test.name}" ends at {figure(end_s, 4)} s'
        if until_s <= test.element_from_s:
            rule = "element_until_s must be later"
        found = f"{test.element_from_s:g} to {until_s:g} s"
        return [InputIssue(test.log.name, "element_from_s", rule, found, "the seconds in the log's own time")]
    on_s = (max(test.element_from_s, begins_s(test)), min(until_s, end_s))
    time_s, bath_c = test.log.time_s, test.log.bath_c
    on = (time_s >= on_s[0]) & (time_s <= on_s[1])
    if on.sum() < 4 or on_s[1] - on_s[0] < 60.0:
        return []
    like = known.like.get("element.rated_w")
    power_w = 900.0 if like is None else like.nominal
    water_j = test.water_kg * J_PER_KJ * float(specific_heat_kj_per_kg_k(40.0))
    ware_j = J_PER_KJ * known.ware_kj_per_k.nominal if test.ware_in and known.ware_kj_per_k else 0.0
    tank = known.like.get("tank.heat_capacity_kj_per_k")
    total_j = water_j + ware_j + J_PER_KJ * (5.0 if tank is None else tank.nominal)
    third = max(int(on.sum()) // 4, 1)
    rise_k = float(np.median(bath_c[on][-third:]) - np.median(bath_c[on][:third]))
    span_s = float(np.median(time_s[on][-third:]) - np.median(time_s[on][:third]))
    expected_k = power_w * span_s / total_j
    if rise_k >= LEAST_WARMING * expected_k:
        return []
    rule = (
        f'element on with no warming in "{test.name}": {figure(span_s / S_PER_MIN, 2)} min should bring about'
    )
    rule += f" {figure(expected_k, 2)} K"
    fix = "check the times, that the log's first column is the bath, and (unplugged) the element's cut-out"
    return [InputIssue(test.log.name, "bath_c", rule, f"{rise_k:.1f} K", fix)]
