"""Compiled: whole programmes, candidate by candidate and round by round, each round in all corners.

A round is one function up to its rest and one from there, as a drain's time hangs on the corner with the most
to pump. Candidates share what they begin with: rounds whose numbers are those of the first candidate, or of
the one before, are not simulated again, up to the first that differs.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from optimizer.compiled import compiled
from optimizer.physics import Array
from optimizer.planner.simulated_bath import (
    BATH_C,
    INLET_KG_PER_S,
    PUMP_W,
    SENSOR_K,
    SENSOR_OVER_K,
    TOP_OVER_K,
    WARE_C,
    Fixed,
    spray_begins,
    spray_ends,
)
from optimizer.planner.simulated_heat import (
    DOSE_S,
    PIECES,
    UNDER_SPRAY,
    WASH,
    boil,
    heat,
    heat_spraying,
    rest,
    soak,
    spray,
    spray_as,
)
from optimizer.planner.simulated_water import drain, fill, kg_per_l, slowest_drain_s, top_up
from optimizer.planner.structure import Mode
from optimizer.programme.constants import GAP_S, REST_BEFORE_DRAIN_S, SPRAY_BY_SOAK_S

FILL, ELEMENT, SPRAY, SETPOINT, SOAK, WHILE, COOL, TOP_UP, MIX = range(9)
NUMBERS = ("fill_s", "element_s", "spray_s", "setpoint_c", "soak_s", "while_s", "cool_s", "top_up_s", "mix_s")
"""Numbers of a round as a candidate has them, in the order of `Settings`: [s], the set point in [°C]."""

PEAK_C, SPRAY_END_C, BEFORE_DRAIN_C, BEGIN_C, FILLED_L, ELEMENT_ON_S, ROUND_S, WET_S, BOILED_L = range(9)
TOPPED_L, DRAINED_C, ALONE_S, FOUND = range(9, 13)
"""What is found for a round, as in `Runs`; for how long its bath may evaporate [s]; what boiled away [l]."""

UNHEATED, WHILE_SPRAYING, THEN_SPRAY, STEAM, BOTH_WAYS = (int(mode) for mode in Mode)
_drain_s = compiled(slowest_drain_s)


class Found(NamedTuple):
    """What is written, candidates × rounds first: of corners × `FOUND`, × targets, × (bath, ware); alone.

    ``over_k`` is candidates × steps × corners. ``at_c`` has one round more: what each begins with, its end.
    """

    rounds: Array
    dose_s: Array
    over_k: Array
    at_c: Array
    drain_s: Array
    rest_s: Array


@compiled
def _to_the_drain(
    corner: Array,
    bath: Array,
    round_of: tuple[int, int, bool, bool],
    numbers: Array,
    fixed: Fixed,
    rates: Array,
    doses: Array,
    grid: Array,
    found: Array,
) -> tuple[float, float]:
    """One round in one corner until its rest.

    Gives ware less bath as it begins to spray [K], and litres to drain.
    """
    kind, mode, soaks, first = round_of
    element_s, soak_s = numbers[ELEMENT], numbers[SOAK]
    after_s = float(SPRAY_BY_SOAK_S) if soaks else 0.0
    spray_s = numbers[SPRAY] - after_s
    off_at_c = numbers[SETPOINT] + corner[SENSOR_K]
    open_s, filled_l = fill(corner, bath, numbers[FILL], first, fixed)
    on_s = heat_s = boiled_l = over_k = sprayed_s = 0.0
    peak_c = bath[BATH_C]
    # Heat, alone or while spraying.
    if mode in (THEN_SPRAY, BOTH_WAYS):
        heat_s = on_s = heat(corner, bath, element_s, off_at_c - corner[SENSOR_OVER_K])
        peak_c = max(peak_c, bath[BATH_C] + corner[TOP_OVER_K])
        element_s = numbers[WHILE]
    begin_c = bath[BATH_C]
    if mode == STEAM:
        heat_s = on_s = element_s
        boiled_l = boil(corner, bath, element_s, fixed)
        element_s = 0.0
    else:
        over_k = bath[WARE_C] - bath[BATH_C]
        spray_begins(bath)
        if mode == UNHEATED:
            element_s = 0.0
        if mode in (WHILE_SPRAYING, BOTH_WAYS):
            while_s, top_c = heat_spraying(corner, bath, element_s, off_at_c, kind, fixed, rates, doses, grid)
            sprayed_s, on_s, peak_c = element_s, on_s + while_s, max(peak_c, top_c)
    # Spray with the element off.
    peak_c = max(peak_c, bath[BATH_C])
    coasts_s = max(spray_s - element_s, 0.0)
    spray(corner, bath, coasts_s, corner[PUMP_W], sprayed_s, kind, fixed, rates, doses, grid)
    peak_c = max(peak_c, bath[BATH_C])
    spray_end_c = bath[BATH_C]
    if soaks:
        spray_ends(corner, bath)
        soak(corner, bath, soak_s + 2.0 * GAP_S, kind, rates, doses, grid)
        spray_begins(bath)
        spray_as(corner, bath, after_s, corner[PUMP_W], kind, rates, doses, grid)
        spray_end_c = min(spray_end_c, bath[BATH_C])
    if mode != STEAM:
        spray_ends(corner, bath)
    found[PEAK_C], found[SPRAY_END_C], found[BEGIN_C] = peak_c, spray_end_c, begin_c
    found[FILLED_L], found[ELEMENT_ON_S], found[BOILED_L] = filled_l, on_s, boiled_l
    found[WET_S], found[ALONE_S] = heat_s + numbers[SPRAY] + soak_s, heat_s
    found[ROUND_S] = open_s + found[WET_S]
    # The drain pumps litres, and warm water takes more of them.
    return over_k, corner[INLET_KG_PER_S] * (open_s + numbers[TOP_UP]) / kg_per_l(bath)


@compiled
def _rests_s(mode: int, numbers: Array, rest_s: float) -> float:
    """How long everything is off before a drain: as the element asks for, and for the bath to cool [s]."""
    asked_s = 0.0
    if mode == STEAM:
        asked_s = rest_s
    elif mode != UNHEATED:
        element_s = numbers[ELEMENT] if mode == WHILE_SPRAYING else numbers[WHILE]
        asked_s = max(rest_s - (numbers[SPRAY] - element_s) - numbers[SOAK], 0.0)
    return float(max(asked_s, numbers[COOL]))


@compiled
def _from_the_rest(
    corner: Array,
    bath: Array,
    round_of: tuple[int, bool],
    numbers: Array,
    times_s: tuple[float, float],
    fixed: Fixed,
    rates: Array,
    doses: Array,
    found: Array,
) -> float:
    """Rest, top-up and drain in one corner; gives ware less bath as a top-up is stirred in [K]."""
    kind, topped = round_of
    rest_s, drain_s = times_s
    top_s, mix_s, over_k = numbers[TOP_UP], numbers[MIX], 0.0
    # A rest cools the bath for the drain; what is to soak for longer has a spray after it.
    counts_s = min(rest_s, float(REST_BEFORE_DRAIN_S)) if kind == WASH else rest_s
    rest(corner, bath, rest_s, counts_s if topped else counts_s + drain_s, kind, rates, doses)
    found[DRAINED_C], found[TOPPED_L] = bath[BATH_C], 0.0
    if topped:
        found[DRAINED_C], found[TOPPED_L], over_k = top_up(corner, bath, top_s, mix_s, drain_s, fixed)
        if mix_s > 0.0:
            # The pump that stirs sprays as well.
            found[SPRAY_END_C] = min(found[SPRAY_END_C], bath[BATH_C])
    found[BEFORE_DRAIN_C] = bath[BATH_C]
    drain(corner, bath, drain_s)
    found[ROUND_S] += rest_s + top_s + mix_s + drain_s
    return over_k


@compiled
def _one_round(
    corners: Array,
    fixed: Fixed,
    rates: Array,
    round_of: tuple[int, int, bool, bool, bool],
    numbers: Array,
    at_c: Array,
    doses: Array,
    grid: Array,
    found: Array,
    over_k: Array,
) -> tuple[float, float]:
    """One round of a candidate in all corners; gives how long it drains and rests [s].

    ``at_c`` is corners × (bath, ware) and moved on; ``doses``, ``found`` and ``over_k`` are written, corners
    first.
    """
    kind, mode, soaks, topped, first = round_of
    count, most_l = len(corners), 0.0
    baths = np.empty((count, 5))
    for number in range(count):
        bath = baths[number]
        bath[BATH_C], bath[WARE_C] = at_c[number, 0], at_c[number, 1]
        over_k[number, 0], litres = _to_the_drain(
            corners[number],
            bath,
            (kind, mode, soaks, first),
            numbers,
            fixed,
            rates,
            doses[number],
            grid,
            found[number],
        )
        most_l = max(most_l, litres)
    rest_s, drain_s = _rests_s(mode, numbers, fixed.rest_s), _drain_s(fixed, most_l)
    gaps = 3 + (mode in (THEN_SPRAY, BOTH_WAYS)) + 2 * soaks + (rest_s > 0.0) + topped
    gaps += numbers[MIX] > 0.0
    for number in range(count):
        bath = baths[number]
        stirred_k = _from_the_rest(
            corners[number],
            bath,
            (kind, topped),
            numbers,
            (rest_s, drain_s),
            fixed,
            rates,
            doses[number],
            found[number],
        )
        if topped:
            over_k[number, 1] = stirred_k
        found[number, ROUND_S] += GAP_S * gaps
        at_c[number, 0], at_c[number, 1] = bath[BATH_C], bath[WARE_C]
    return drain_s, rest_s


@compiled
def _copy(to: Array, of: Array) -> None:
    """Write one table over another: a loop compiles in a tenth of the time of ``to[:] = of``."""
    for row in range(of.shape[0]):
        for column in range(of.shape[1]):
            to[row, column] = of[row, column]


@compiled
def _alike(numbers: Array, at_c: Array, one: int, other: int) -> int:
    """How many rounds one candidate begins with that are those of another, an earlier one."""
    if one <= other:
        return 0
    for corner in range(at_c.shape[2]):
        for node in range(2):
            if at_c[one, 0, corner, node] != at_c[other, 0, corner, node]:
                return 0
    for index in range(numbers.shape[1]):
        for number in range(numbers.shape[2]):
            if numbers[one, index, number] != numbers[other, index, number]:
                return int(index)
    return int(numbers.shape[1])


@compiled
def all_rounds(
    corners: Array,
    fixed: Fixed,
    rates: Array,
    under_spray: Array,
    rounds: NDArray[np.int64],
    numbers: Array,
    to: Found,
    begin: int,
    end: int,
) -> None:
    """Simulate candidates from one number to before another; ``numbers`` is candidates × rounds × `NUMBERS`.

    The first of all candidates is simulated before any others are.

    ``rounds`` has kind, mode, whether it soaks and whether it is topped up on its last axis. ``to.at_c`` has
    the temperatures that each candidate begins with.
    """
    count, grid = len(corners), np.empty((3, PIECES + 1))
    doses, over_k = np.empty((count, 2, under_spray.shape[1])), np.empty((count, 2))
    for corner in range(count):
        for target in range(doses.shape[2]):
            doses[corner, UNDER_SPRAY, target] = under_spray[corner, target]
    all_found, dose_s, all_over_k, all_at_c, all_drain_s, all_rest_s = to
    for candidate in range(begin, end):
        # What the first or the last candidate did is not done again for one that begins as it does.
        like, index = 0, _alike(numbers, all_at_c, candidate, 0)
        if candidate > begin and _alike(numbers, all_at_c, candidate, candidate - 1) > index:
            like, index = candidate - 1, _alike(numbers, all_at_c, candidate, candidate - 1)
        step = 0
        for earlier in range(index):
            _copy(all_found[candidate, earlier], all_found[like, earlier])
            _copy(dose_s[candidate, earlier], dose_s[like, earlier])
            _copy(all_at_c[candidate, earlier + 1], all_at_c[like, earlier + 1])
            all_drain_s[candidate, earlier] = all_drain_s[like, earlier]
            all_rest_s[candidate, earlier] = all_rest_s[like, earlier]
            step += 1 + rounds[earlier, 3]
        _copy(all_over_k[candidate, :step], all_over_k[like, :step])
        while index < len(rounds):
            for corner in range(count):
                for target in range(doses.shape[2]):
                    doses[corner, DOSE_S, target] = 0.0
            _copy(all_at_c[candidate, index + 1], all_at_c[candidate, index])
            kind, mode = rounds[index, 0], rounds[index, 1]
            drain_s, rest_s = _one_round(
                corners,
                fixed,
                rates,
                (kind, mode, rounds[index, 2] == 1, rounds[index, 3] == 1, index == 0),
                numbers[candidate, index],
                all_at_c[candidate, index + 1],
                doses,
                grid,
                all_found[candidate, index],
                over_k,
            )
            all_drain_s[candidate, index], all_rest_s[candidate, index] = drain_s, rest_s
            for corner in range(count):
                for target in range(doses.shape[2]):
                    dose_s[candidate, index, corner, target] = doses[corner, DOSE_S, target]
            for number in range(1 + rounds[index, 3]):
                for corner in range(count):
                    all_over_k[candidate, step, corner] = over_k[corner, number]
                step += 1
            index += 1
