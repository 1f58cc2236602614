"""Compiled: bath and ware of a simulated round in one corner, and the two jumps that the film makes.

A bath is an array whose numbers `BATH_C` and the like name; it is moved on from phase to phase. A corner is
a row of `machine_rows`: quantities of one point of the tolerances.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, cast

import numpy as np

from optimizer.compiled import compiled
from optimizer.physics import Array
from optimizer.physics.thermal import mixed_c
from optimizer.physics.two_nodes import Course, TwoNodes, after, bath_slope_k_per_s, course_of
from optimizer.planner.corner_arrays import Corners

BATH_C, WARE_C, J_PER_K, FILM_J_PER_K, WATER_J_PER_K = range(5)
"""A bath: temperatures of bath and ware [°C], heat capacity of the bath with tank and carry-over, of the film
that hangs on the ware now, of what was let in [J/K]."""

QUANTITIES = (
    *("element_w", "pump_heat_w", "inlet_c", "room_c", "inlet_kg_per_s", "inlet_l_per_s", "drain_l_per_s"),
    *("steam_share", "pipe_l", "level_l", "sump_l", "sump_j_per_k", "film_j_per_k", "wet_start"),
    *("ware_j_per_k", "tank_j_per_k", "loss_still_w_per_k", "loss_spraying_w_per_k"),
    *("exchange_spraying_w_per_k", "exchange_still_w_per_k", "sensor_k", "sensor_over_mean_k"),
    *("top_over_mean_k", "hysteresis_k"),
)
"""Quantities of `Corners` that a corner's row has, in this order."""
ELEMENT_W, PUMP_W, INLET_C, ROOM_C, INLET_KG_PER_S, INLET_L_PER_S, DRAIN_L_PER_S = range(7)
STEAM_SHARE, PIPE_L, LEVEL_L, SUMP_L, SUMP_J_PER_K, WET_FILM_J_PER_K, WET_START = range(7, 14)
WARE_J_PER_K, TANK_J_PER_K, STILL_W_PER_K, SPRAYING_W_PER_K = range(14, 18)
TO_WARE_SPRAYING_W_PER_K, TO_WARE_STILL_W_PER_K, SENSOR_K, SENSOR_OVER_K = range(18, 22)
TOP_OVER_K, HYSTERESIS_K = range(22, 24)
"""Their numbers."""


class Fixed(NamedTuple):
    """What is the same in every corner.

    How long detergent dissolves and an element must have been off before a drain [s]; the boiling point
    [°C], heat of a litre's steam [J/l], what splashes over [l]; the slowest drain [l/s], its longest lag [s],
    whether a switch ends a fill at a level, and the share of a bath's fall by which a top-up that is not
    stirred in leaves its hottest water hotter [1].
    """

    dissolving_s: float
    rest_s: float
    boils_c: float
    steam_j_per_l: float
    splash_l: float
    drain_slow_l_per_s: float
    drain_lag_s: float
    to_a_level: bool
    unmixed_share: float


NEWTON_STEPS, CLOSE_K = 8, 1e-6
"""Newton's steps, and how close to a temperature they must have come [1, K]."""
HALVINGS = 50
"""Halvings where they have not: a day is then known to less than a nanosecond [1]."""

_mixed_c = compiled(mixed_c)
_course_of = compiled(course_of)
_slope_k_per_s = cast("Callable[[Course, float], float]", compiled(bath_slope_k_per_s))
temperatures_c = cast("Callable[[Course, float], tuple[float, float]]", compiled(after))
"""Bath and ware after a time [°C]."""


def machine_rows(corners: Corners) -> Array:
    """Corners × quantities of `QUANTITIES`."""
    rows = np.empty((len(corners.room_c), len(QUANTITIES)))
    for number, name in enumerate(QUANTITIES):
        rows[:, number] = getattr(corners, name)
    return rows


@compiled
def spray_begins(bath: Array) -> None:
    """Mix the film with the bath."""
    film_j_per_k = bath[FILM_J_PER_K]
    bath[BATH_C] = _mixed_c(bath[BATH_C], bath[J_PER_K], bath[WARE_C], film_j_per_k)
    bath[J_PER_K] += film_j_per_k
    bath[FILM_J_PER_K] = 0.0


@compiled
def spray_ends(corner: Array, bath: Array) -> None:
    """Leave a film of bath on the ware."""
    film_j_per_k = corner[WET_FILM_J_PER_K]
    bath[WARE_C] = _mixed_c(bath[WARE_C], corner[WARE_J_PER_K], bath[BATH_C], film_j_per_k)
    bath[J_PER_K] -= film_j_per_k
    bath[FILM_J_PER_K] = film_j_per_k


@compiled
def course(corner: Array, bath: Array, power_w: float, spraying: bool) -> Course:
    """How bath and ware go on from here with so much heat into the bath [W]."""
    exchange = corner[TO_WARE_SPRAYING_W_PER_K] if spraying else corner[TO_WARE_STILL_W_PER_K]
    loss = corner[SPRAYING_W_PER_K] if spraying else corner[STILL_W_PER_K]
    ware_j_per_k = corner[WARE_J_PER_K] + bath[FILM_J_PER_K]
    nodes = TwoNodes(bath[J_PER_K], ware_j_per_k, exchange, loss, power_w, corner[ROOM_C])
    return _course_of(nodes, bath[BATH_C], bath[WARE_C])


@compiled
def reached_s(run: Course, target_c: float, horizon_s: float) -> float:
    """Time at which a rising bath first reaches a temperature; the horizon where it does not by then [s].

    A target of inf is never reached. Newton's steps, held inside the horizon; halving where the curve is too
    bent for them: a bath that the ware holds back at first rises slowly and then faster. Two decays cross
    what lies between start and end once. The numbers of steps are a choice of our own.
    """
    start_c = temperatures_c(run, 0.0)[0]
    if start_c >= target_c:
        return 0.0
    end_c = temperatures_c(run, horizon_s)[0]
    if end_c <= target_c:
        return horizon_s
    time_s = horizon_s * min(max((target_c - start_c) / (end_c - start_c), 0.0), 1.0)
    for _ in range(NEWTON_STEPS):
        slope = _slope_k_per_s(run, time_s)
        step_s = (target_c - temperatures_c(run, time_s)[0]) / (slope if abs(slope) > 1e-12 else 1e-12)
        before_s, time_s = time_s, min(max(time_s + step_s, 0.0), horizon_s)
        if time_s == before_s:
            break
    if abs(target_c - temperatures_c(run, time_s)[0]) <= CLOSE_K:
        return time_s
    low_s, high_s = 0.0, horizon_s
    for _ in range(HALVINGS):
        middle_s = 0.5 * (low_s + high_s)
        if temperatures_c(run, middle_s)[0] < target_c:
            low_s = middle_s
        else:
            high_s = middle_s
    return high_s
