"""The mean about which a held bath swings, above its lower threshold; and what a dose gets of it at least.

From its first switching off on a bath T falls to the lower threshold ``on`` of its point and rises again by
the hysteresis H, over and over: ``T = on + x``, x from H down to 0 and from 0 up to H.

**A level.** Say x falls at a speed between two numbers whose ratio is q. In dx it spends between 1 and q
times as long as where it is quickest. Its mean over a fall is least if it is quick above some level and slow
below it; the least such mean is that level itself, ``s H`` with ``s = 1 / (1 + sqrt(q))``: the excess above
it, ``(1 - s)^2 H^2 / 2`` over the quick speed, makes up for ``s^2 H^2 / 2`` over the slow one. The same holds
for a rise. With the greater q of the two, x is on average at least ``s H`` over every whole fall or rise, and
above that level at the beginning of a fall and the end of a rise. So from any moment to any later one the
integral of ``x - s H`` is at least ``-e``: ``e = (s H)^2 / 2 (1 / slowest fall + 1 / slowest rise)``, what a
fall that had begun and a rise that has not ended may miss. Speeds may change as they like between their ends.

**The speeds** are those of the equations: heat of pump and element, less the loss and what passes to the
ware, over the heat capacity. For the last, ``D = T - W`` is bounded: beside a ware as warm the bath has a
slope r, and ``D' = r - (G / C + 1 / tau) D``. So D is below the course of ``D' = r_most - k D`` with k the
least of that sum, as far as it is above 0, and the same from below; and W is not under its own lower course.

**The ware** follows: ``tau W' = T - W``. Beside ``M = lowest on + s H`` let V follow it by the same tau, from
a W that is known as a lower bound, or from M if that is less: V rises to M. With ``U = W - V`` and, from some
moment on, the integrals Y of ``T - M`` and Z of U, ``tau Z' + Z = Y + tau U(start)``: Z is Y smoothed. As Y
is never under -e, nor is tau U; so the integral of U from any moment to the end is at least ``-2 e``, and
from the beginning, where U is not negative, ``-e``.

**The dose.** A rate r that is convex lies above its tangents: ``r(W) >= r(V) + r'(V) U``. As ``r'(V)`` grows
with V, and so with the time, the integral of ``r'(V) U`` is at least ``-e r'(V(start)) - 2 e (r'(M) -
r'(V(start)))`` (by parts, with the integrals to the end). So the dose is at least that of V less ``e (2 r'(M)
- r'(V(start)))``, V by the longest tau. A rate is convex between its floor and its ceiling: where the ware
may leave these, the mean is not used. It begins when every point of a part has been switched off, at the
sample that promises most; whichever that is, the bound holds. That ``on`` and tau stay as they are while the
bath is held is taken for granted here, as for a whole run; all else may wander in its box.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from optimizer.check.bound_kernel import HEAT, LAG, LOSS, PASSES, ROOM, SWITCHED, TANK
from optimizer.check.bound_kernel_hold import MOST_J_PER_KG_K
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

LEAST_J_PER_KG_K = 4174.0
"""No more than the specific heat of water between 0 and 100 °C [J/(kg K)]."""

NUMBERS = 5
LEVEL, MISSING, COLDEST, HOTTEST, BEHIND = range(NUMBERS)
"""Of a mean: bath [°C], what may be missing [K s], coldest and hottest ware [°C], its time constant [s]."""

OFF_K = 0.05
"""What the steps may put the lower course of the ware off [K]."""


@compiled
def _over_c(box: Array, watts: float, loss_end: int, over_k: float) -> float:
    """Net heat of a bath that much warmer than the room, the loss at one end of its tolerance [W]."""
    return float(watts - (box[LOSS, loss_end] if over_k >= 0.0 else box[LOSS, 1 - loss_end]) * over_k)


@compiled
def _apart_k(
    times_s: Array, box: Array, held: Array, on_c: float, most_kg: float, least_kg: float
) -> tuple[Array, Array]:
    """By how much the bath may be warmer than the ware at each sample, and by how much colder [K].

    D = T - W follows ``D' = r - k D``, r the slope of a bath beside a ware as warm, ``k = G / C + 1 / tau``.
    """
    heavy, light = MOST_J_PER_KG_K * most_kg + box[TANK, 0], LEAST_J_PER_KG_K * least_kg + box[TANK, 1]
    quick = box[PASSES, 1] / heavy + 1.0 / box[LAG, 0]
    warmer_k, colder_k = np.empty(len(times_s)), np.empty(len(times_s))
    warmer_k[0] = max(held[0, 2, 1] - held[0, 1, 0], 0.0)
    colder_k[0] = max(held[0, 1, 1] - held[0, 2, 0], 0.0)
    for step in range(len(times_s) - 1):
        coldest_c = min(min(held[step, 2, 0], held[step + 1, 2, 0]), on_c)
        hottest_c = max(held[step, 2, 1], held[step + 1, 2, 1])
        rises = max(_over_c(box, box[SWITCHED, 1] + box[HEAT, 1], 1, coldest_c - box[ROOM, 1]), 0.0) / light
        falls = max(-_over_c(box, box[HEAT, 0], 0, hottest_c - box[ROOM, 0]), 0.0) / light
        stays = math.exp(-quick * (times_s[step + 1] - times_s[step]))
        warmer_k[step + 1] = stays * warmer_k[step] + (1.0 - stays) * rises / quick
        colder_k[step + 1] = stays * colder_k[step] + (1.0 - stays) * falls / quick
    for step in range(len(times_s) - 2, -1, -1):
        warmer_k[step] = max(warmer_k[step], warmer_k[step + 1])
        colder_k[step] = max(colder_k[step], colder_k[step + 1])
    return warmer_k, colder_k


@compiled
def _swing(
    box: Array, warmer_k: float, colder_k: float, on_c: float, hottest_c: float, swing_k: float,
    most_kg: float, least_kg: float,
) -> tuple[float, float]:  # fmt: skip
    """Share of the hysteresis from the lower threshold to the mean [1], and what may be missing [K s].

    0 where a bath may not cool with the element off, or not warm with it on.
    """
    heavy, light = MOST_J_PER_KG_K * most_kg + box[TANK, 0], LEAST_J_PER_KG_K * least_kg + box[TANK, 1]
    passes = box[PASSES, 0] / light
    off_most = -_over_c(box, box[HEAT, 0], 0, hottest_c - box[ROOM, 0]) / light
    off_least = -_over_c(box, box[HEAT, 1], 1, on_c - box[ROOM, 1]) / heavy
    on_most = _over_c(box, box[HEAT, 1] + box[SWITCHED, 1], 1, on_c - box[ROOM, 1]) / light
    on_least = _over_c(box, box[HEAT, 0] + box[SWITCHED, 0], 0, hottest_c - box[ROOM, 0]) / heavy
    falls_most, falls_least = off_most + passes * warmer_k, off_least - passes * colder_k
    rises_most, rises_least = on_most + passes * colder_k, on_least - passes * warmer_k
    if off_least <= 0.0 or falls_least <= 0.0 or rises_least <= 0.0:
        return 0.0, 0.0
    share = 1.0 / (1.0 + math.sqrt(max(falls_most / falls_least, rises_most / rises_least)))
    missing_ks = 0.5 * (share * swing_k) ** 2 * (1.0 / falls_least + 1.0 / rises_least)
    return share, missing_ks


@compiled
def all_swings(
    times_s: Array,
    boxes: Array,
    samples: Array,
    lower: Array,
    last: NDArray[np.int64],
    on_c: Array,
    swing_k: Array,
) -> tuple[NDArray[np.int64], Array]:
    """From which sample on a mean counts in each part (parts × boxes, -1 for never), and its `NUMBERS`.

    ``samples`` are the heated courses, boxes × samples × state × courses, ``lower`` those of the parts, boxes
    × parts × samples × state. After sample ``last`` every point has been switched off. ``on_c`` is the lowest
    lower threshold, ``swing_k`` how much higher that at which the element is switched off.
    """
    parts, count = last.shape
    begins, found = np.full((parts, count), -1), np.zeros((NUMBERS, parts, count))
    final = len(times_s) - 1
    for number in range(count):
        box, held, below_c, swing = boxes[number], samples[number], on_c[number], swing_k[number]
        least_kg = held[:, 3, 1].min()
        for part in range(parts):
            if last[part, number] >= final:
                continue
            if (
                part
                and last[part, number] == last[part - 1, number]
                and (lower[number, part, final, 1] == lower[number, part - 1, final, 1])
            ):
                # Parts that take no time are the one before: `bound_kernel_hold`.
                begins[part, number] = begins[part - 1, number]
                found[:, part, number] = found[:, part - 1, number]
                continue
            course = lower[number, part]
            most_kg = course[:, 3].max()
            warmer_k, colder_k = _apart_k(times_s, box, held, below_c, most_kg, least_kg)
            coldest_c, hottest_c, best = course[final, 1], held[final, 2, 1], 0.0
            hottest_ware_c = held[final, 1, 1]
            for step in range(final - 1, last[part, number] - 1, -1):
                coldest_c, hottest_c = min(coldest_c, course[step, 1]), max(hottest_c, held[step, 2, 1])
                hottest_ware_c = max(hottest_ware_c, held[step, 1, 1])
                apart_k = min(warmer_k[step], hottest_c - coldest_c + OFF_K)
                share, missing = _swing(
                    box, apart_k, colder_k[step], below_c, hottest_c, swing, most_kg, least_kg
                )  # fmt: skip
                mean_k = share * swing
                # An estimate alone: whichever sample is taken, the bound holds.
                behind_s = box[LAG, 0] if course[step, 1] < below_c + mean_k else 0.0
                gain = mean_k * (times_s[final] - times_s[step] - behind_s) - 2.0 * missing
                if gain > best:
                    best, begins[part, number] = gain, step
                    found[LEVEL, part, number], found[MISSING, part, number] = below_c + mean_k, missing
                    found[COLDEST, part, number] = coldest_c - OFF_K
                    found[HOTTEST, part, number], found[BEHIND, part, number] = hottest_ware_c, box[LAG, 0]
    return begins, found
