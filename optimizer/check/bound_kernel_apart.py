"""How far a held bath and its ware are apart, and how far the bath may be under its lower threshold.

**The coldest ware of points that are switched off early.** Heated all the time, a bath that begins at T0
comes to ``off`` at t1. Its ware takes ``G D`` of the heat, D = T - W, and D is no less than ``D0 exp(-k t)``,
as the bath beside a ware as warm would rise. So with r the most speed of that::

    off - T0 <= r t1 - psi / (1 + psi) (1 - exp(-k t1)) D0

as ``G / C = psi / (1 + psi) k``; the least psi and k count. For t1 up to v that bounds D0, and most loosely
at v: ``(r t - y) / (1 - exp(-k t))`` rises with t where y is no less than 0. And ``W0 = T0 - D0`` is least
for the warmest T0; one that is switched off later than at the start was below ``off`` there. As D dies out,
D at t1 is bounded by what is left at u of that D0. From u to v both change: so the time is cut into `SLICES`,
each with D0 of its end and what is left at its beginning. All of it holds for quantities that wander in their
box as well.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from optimizer.check.bound_kernel import HEAT, LAG, LOSS, PASSES, ROOM, SWITCHED, TANK, WARE
from optimizer.check.bound_kernel_hold import MOST_J_PER_KG_K
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

SLICES = 8
"""Slices of a part in which D as it is switched off is looked at [1]."""

LEAST_J_PER_KG_K = 4174.0
"""No more than the specific heat of water between 0 and 100 °C [J/(kg K)]."""


@compiled
def over_c(box: Array, watts: float, loss_end: int, over_k: float) -> float:
    """Net heat of a bath that much warmer than the room, the loss at one end of its tolerance [W]."""
    return float(watts - (box[LOSS, loss_end] if over_k >= 0.0 else box[LOSS, 1 - loss_end]) * over_k)


@compiled
def apart_k_of(
    times_s: Array, box: Array, held: Array, on_c: float, most_kg: float, least_kg: float
) -> tuple[Array, Array, Array]:
    """By how much the bath may be warmer than the ware from each sample on, and by how much colder [K].

    And how far apart they come and stay in each step, how much they were, and how quickly that dies out:
    steps × (K, K, 1/s). D = T - W follows ``D' = r - k D``, r the slope of a bath beside a ware as warm,
    ``k = G / C + 1 / tau``.
    """
    heavy, light = MOST_J_PER_KG_K * most_kg + box[TANK, 0], LEAST_J_PER_KG_K * least_kg + box[TANK, 1]
    quick, steps = box[PASSES, 1] / heavy + 1.0 / box[LAG, 0], len(times_s) - 1
    warmer_k, colder_k, during = np.empty(steps + 1), np.empty(steps + 1), np.empty((steps, 3))
    warmer_k[0] = max(held[0, 2, 1] - held[0, 1, 0], 0.0)
    colder_k[0] = max(held[0, 1, 1] - held[0, 2, 0], 0.0)
    for step in range(steps):
        coldest_c = min(min(held[step, 2, 0], held[step + 1, 2, 0]), on_c)
        hottest_c = max(held[step, 2, 1], held[step + 1, 2, 1])
        rises = max(over_c(box, box[SWITCHED, 1] + box[HEAT, 1], 1, coldest_c - box[ROOM, 1]), 0.0) / light
        falls = max(-over_c(box, box[HEAT, 0], 0, hottest_c - box[ROOM, 0]), 0.0) / light
        stays = math.exp(-quick * (times_s[step + 1] - times_s[step]))
        during[step, 0], during[step, 1], during[step, 2] = rises / quick, warmer_k[step], quick
        warmer_k[step + 1] = stays * warmer_k[step] + (1.0 - stays) * rises / quick
        colder_k[step + 1] = stays * colder_k[step] + (1.0 - stays) * falls / quick
    for step in range(steps - 1, -1, -1):
        warmer_k[step] = max(warmer_k[step], warmer_k[step + 1])
        colder_k[step] = max(colder_k[step], colder_k[step + 1])
    return warmer_k, colder_k, during


@compiled
def coldest_start_c(
    box: Array, held: Array, off_c: float, ends: int, later: bool, until_s: float, most_kg: float,
    least_kg: float,
) -> float:  # fmt: skip
    """Coldest ware that a point may begin with that is first switched off by a time [°C]; by sample ``ends``.

    It is surely switched off ``later`` than at the start, or perhaps then already. A cold ware draws heat
    from its bath, which then takes longer to come to the threshold.
    """
    coldest_c, warmest_c, begins_c = held[0, 1, 0], held[0, 1, 1], held[0, 2, 1]
    if later:
        begins_c = min(begins_c, off_c)
    heavy, light = MOST_J_PER_KG_K * most_kg + box[TANK, 0], LEAST_J_PER_KG_K * least_kg + box[TANK, 1]
    bath_c = held[: ends + 1, 2, 0].min()
    hottest_c = max(held[: ends + 1, 2, 1].max(), off_c)
    on_least = over_c(box, box[HEAT, 0] + box[SWITCHED, 0], 0, hottest_c - box[ROOM, 0])
    on_most = max(over_c(box, box[HEAT, 1] + box[SWITCHED, 1], 1, bath_c - box[ROOM, 1]), 0.0) / light
    if (begins_c >= off_c and not later) or on_least < 0.0 or until_s <= 0.0:
        return float(coldest_c)
    psi = box[WARE, 1] / heavy
    draws = psi / (1.0 + psi) * (1.0 - math.exp(-(1.0 + psi) / box[LAG, 0] * until_s))
    apart_k = max(on_most * until_s - (off_c - begins_c), 0.0) / draws
    return float(min(max(begins_c - apart_k, coldest_c), max(coldest_c, warmest_c)))


@compiled
def all_starts(
    boxes: Array, samples: Array, off_c: Array, later: NDArray[np.bool_], last: NDArray[np.int64],
    ends_s: Array,
) -> Array:  # fmt: skip
    """Coldest wares at the start of all parts, as `coldest_start_c`: parts × boxes [°C]."""
    parts, count = last.shape
    found, final = np.empty((parts, count)), samples.shape[1] - 1
    for number in range(count):
        held = samples[number]
        most_kg, least_kg = held[:, 3, 0].max(), held[:, 3, 1].min()
        for part in range(parts):
            found[part, number] = held[0, 1, 0]
            if last[part, number] <= final:
                found[part, number] = coldest_start_c(
                    boxes[number], held, off_c[number], last[part, number], later[part, number],
                    ends_s[part, number], most_kg, least_kg,
                )  # fmt: skip
    return found


@compiled
def of_part(times_s: Array, warmer_k: Array, during: Array, less_k: float, warmer: Array, own: Array) -> None:
    """How far bath and ware of some points are apart that are ``less_k`` nearer at first than others may be.

    Writes ``warmer`` and ``own`` as `apart_k_of` gives ``warmer_k`` and ``during``: what is less dies out.
    """
    steps = len(during)
    warmer[:], own[:] = warmer_k, during
    if less_k <= 0.0:
        return
    for step in range(steps):
        own[step, 1] -= less_k * math.exp(-during[step, 2] * times_s[step])
    warmer[steps] -= less_k * math.exp(-during[steps - 1, 2] * times_s[steps])
    for step in range(steps - 1, -1, -1):
        warmer[step] = max(own[step, 1], warmer[step + 1])


@compiled
def _apart_at_k(times_s: Array, during: Array, start: int, now_s: float, less_k: float) -> float:
    """By how much a bath may be warmer than its ware at a time at or after a sample [K].

    ``during`` is as `apart_k_of` has it, ``less_k`` as `of_part`.
    """
    step, steps = start, len(during)
    while step < steps - 1 and times_s[step + 1] <= now_s:
        step += 1
    quick = during[step, 2]
    stays = math.exp(-quick * max(now_s - times_s[step], 0.0))
    return float(
        stays * during[step, 1]
        + (1.0 - stays) * during[step, 0]
        - max(less_k, 0.0) * math.exp(-quick * now_s)
    )


@compiled
def first_apart_k(
    times_s: Array, box: Array, held: Array, during: Array, off_c: float, start: int, end: int,
    share: float, until_s: float, later: bool,
) -> float:  # fmt: skip
    """By how much a bath may be warmer than its ware from its first switching off on, from u to v [K].

    u is a ``share`` of the step after the sample ``start`` later than that, v is no later than ``end``.
    ``during`` is that of all points, from the start on: `apart_k_of`.
    """
    from_s = times_s[start] + share * (times_s[start + 1] - times_s[start])
    most_kg, least_kg = held[:, 3, 0].max(), held[:, 3, 1].min()
    # Where the element stays on, that is what they come to; without it they do not part any further.
    found_k = during[start:, 0].max()
    for number in range(SLICES):
        begins_s = from_s + (until_s - from_s) * number / SLICES
        ends_s = from_s + (until_s - from_s) * (number + 1.0) / SLICES
        starts_c = coldest_start_c(box, held, off_c, end, later or number > 0, ends_s, most_kg, least_kg)
        less_k = min(during[0, 1], starts_c - held[0, 1, 0])
        found_k = max(found_k, _apart_at_k(times_s, during, start, begins_s, less_k))
    return float(found_k)


@compiled
def under_threshold_k(
    times_s: Array, box: Array, during: Array, start: int, hottest_c: float, most_kg: float, least_kg: float
) -> Array:
    """By how much a bath may be under its lower threshold at each sample, switched off after ``start`` [K].

    Under it the element is on, and the bath rises by the element less what its ware draws: it goes under
    only while ``G D`` is more than that.
    """
    heavy, light = MOST_J_PER_KG_K * most_kg + box[TANK, 0], LEAST_J_PER_KG_K * least_kg + box[TANK, 1]
    on_least = over_c(box, box[HEAT, 0] + box[SWITCHED, 0], 0, hottest_c - box[ROOM, 0]) / heavy
    under_k = np.zeros(len(times_s))
    for step in range(start, len(times_s) - 1):
        lasts_s = times_s[step + 1] - times_s[step]
        stays = math.exp(-during[step, 2] * lasts_s)
        ends_k = stays * during[step, 1] + (1.0 - stays) * during[step, 0]
        sinks = box[PASSES, 0] / light * max(during[step, 1], ends_k) - on_least
        under_k[step + 1] = max(under_k[step] + sinks * lasts_s, 0.0)
    return under_k
