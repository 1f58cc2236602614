"""How far a held bath and its ware are apart, and how far the bath may be under its lower threshold."""

from __future__ import annotations

import math

import numpy as np

from optimizer.check.bound_kernel import HEAT, LAG, LOSS, PASSES, ROOM, SWITCHED, TANK
from optimizer.check.bound_kernel_hold import MOST_J_PER_KG_K
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

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
