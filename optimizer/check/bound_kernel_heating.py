"""Compiled loop of a heating by the element alone: the ware as its bath rises, as in `bound_heating`."""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_kernel import LAG, LOSS, PASSES, QUICK, ROOM, SWITCHED, TANK, specific_heat
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled
from optimizer.physics.water import BOILING_C

SECTION_STEPS = 20
"""Steps of the bath's temperature while it is heated to a setpoint, at the least [1]."""

MOST_STEPS = 400
"""The same at the most [1]."""

AT_ONCE = 1e9
"""Share of what bath and ware are apart that is made up for beside a bath that does not rise [1/K]."""

STEADY = 1.0
"""Share of what bath and ware are apart that a step may make up for [1]: Runge and Kutta's method is 2 % off
there, and of no use from 2.8 on."""


@compiled
def _bath_slope(box: Array, bath_c: float, at_c: float, bath_j_per_k: float, end: int) -> float:
    """Slope of a bath with all that makes it cold at one end: 0 of the lower course, 1 of the upper [K/s]."""
    over_room, over_ware = bath_c - box[ROOM, end], bath_c - at_c
    net_w = box[SWITCHED, end] - (box[LOSS, end] if over_room >= 0.0 else box[LOSS, 1 - end]) * over_room
    net_w -= (box[PASSES, end] if over_ware >= 0.0 else box[PASSES, 1 - end]) * over_ware
    return float(net_w / bath_j_per_k)


@compiled
def _ware_slope(box: Array, pool_kg: Array, bath_c: Array, at_c: float, row: int) -> float:
    """How much the ware of a course rises a kelvin of its bath [1]."""
    over_k, other = bath_c[row] - at_c, 1 - row
    here_j_per_k = specific_heat(min(bath_c[row], BOILING_C)) * pool_kg[row] + box[TANK, row]
    if over_k >= 0.0:
        other_j_per_k = specific_heat(min(bath_c[other], BOILING_C)) * pool_kg[other] + box[TANK, other]
        fast = _bath_slope(box, bath_c[row], at_c, other_j_per_k, other)
        if fast > 0.0:
            return float(over_k / box[LAG, row] / fast)
        # Ware that is much colder may cool the bath at first: meanwhile it may come up to it.
        return 0.0 if row == 0 else float(over_k * AT_ONCE)
    slow = _bath_slope(box, bath_c[row], at_c, here_j_per_k, row)
    return float(over_k / box[QUICK, row] / (slow if slow > 0.0 else 1.0 / AT_ONCE))


@compiled
def _share(moved_k: float, apart_k: float) -> float:
    """How much of what bath and ware are apart is made up for in a step, by a slope [1]."""
    return abs(moved_k / apart_k) if abs(apart_k) > 1e-9 else 0.0


@compiled
def _steps(box: Array, pool_kg: Array, to_c: Array, rise_k: Array) -> int:
    """Steps of a heating: the more, the sooner the ware comes to its bath where that rises slowest."""
    steps = float(SECTION_STEPS)
    for row in range(2):
        bath_j_per_k = specific_heat(min(to_c[row], BOILING_C)) * pool_kg[row] + box[TANK, row]
        slope = _bath_slope(box, to_c[row], to_c[row], bath_j_per_k, row)
        if slope > 0.0:
            steps = max(steps, rise_k[row] / (slope * min(box[LAG, row], box[QUICK, row])) / STEADY)
    return int(min(steps + 1.0, float(MOST_STEPS))) if steps > SECTION_STEPS else SECTION_STEPS


@compiled
def all_wares(
    boxes: Array,
    from_c: Array,
    ware_c: Array,
    to_c: Array,
    pool_kg: Array,
    found: Array,
    begin: int,
    end: int,
) -> None:
    """Ware of boxes from one number to before another as their bath has risen; it is written to ``found``.

    Boxes × quantities × courses, the others courses × boxes [°C].
    """
    bath_c, pool = np.empty(2), np.empty(2)
    rise_k, at_c, first, second = np.empty(2), np.empty(2), np.empty(2), np.empty(2)
    third = np.empty(2)
    for number in range(begin, end):
        box = boxes[number]
        for row in range(2):
            pool[row], at_c[row] = pool_kg[row, number], ware_c[row, number]
            rise_k[row] = max(to_c[row, number] - from_c[row, number], 0.0)
        steps = _steps(box, pool, to_c[:, number], rise_k)
        for row in range(2):
            rise_k[row] /= steps
        for step in range(steps):
            for row in range(2):
                bath_c[row] = from_c[row, number] + step * rise_k[row]
            for row in range(2):
                first[row] = _ware_slope(box, pool, bath_c, at_c[row], row)
            for row in range(2):
                bath_c[row] += 0.5 * rise_k[row]
            for row in range(2):
                half_k = 0.5 * rise_k[row]
                second[row] = _ware_slope(box, pool, bath_c, at_c[row] + half_k * first[row], row)
                third[row] = _ware_slope(box, pool, bath_c, at_c[row] + half_k * second[row], row)
            for row in range(2):
                bath_c[row] = from_c[row, number] + step * rise_k[row] + rise_k[row]
            for row in range(2):
                fourth = _ware_slope(box, pool, bath_c, at_c[row] + rise_k[row] * third[row], row)
                twice = 2.0 * (second[row] + third[row])
                # A bath that hardly rises leaves the ware time to come to it, but not to go past it; where it
                # all but stands still, any ware between the two may be the point's.
                rises_k = rise_k[row] / 6.0 * (first[row] + twice + fourth)
                early_c = bath_c[row] - rise_k[row]
                least_c, most_c = min(at_c[row], early_c), max(at_c[row], bath_c[row])
                quick = max(
                    _share(first[row] * rise_k[row], early_c - at_c[row]),
                    _share(fourth * rise_k[row], bath_c[row] - at_c[row] - rise_k[row] * third[row]),
                )
                if quick > STEADY:
                    at_c[row] = least_c if row == 0 else most_c
                else:
                    at_c[row] = min(max(at_c[row] + rises_k, least_c), most_c)
        for row in range(2):
            found[row, number] = at_c[row]
