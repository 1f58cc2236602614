"""What a mean misses that begins anywhere in a fall or a rise of a held bath, as `bound_kernel_swing` has it.

**How far apart bath and ware are by then.** D' = r - k D is linear: D is what is left of the D at t1, no more
than ``first exp(-k s)`` after s seconds, and D~, which begins at 0 at t1. The element on, D~ comes to
``band = r_most / k`` at the most. In the first fall it is below 0. A later fall begins with no more than the
band; where it has y still to fall it has fallen by H - y, no quicker than by the most D that there is after
the first fall, and D~ has fallen as long. A rise begins with what a whole fall leaves, and where it has risen
by z it has not lasted longer than by its least speed.

**Begun in a fall**, y above the lower threshold: ``t_a + t_b = y - H`` of that piece, and ``w_a >= y - H / 2
- D_a``, which is above the ``H / 2 - D1`` that the rest is reckoned from by ``y - H + D1 - D_a``. **In a
rise**, z above it: ``t_a + t_b = z``, ``w_a >= z - H / 2 - D_a``. **Neither begun nor ended there**: a piece
of a fall misses the more the lower it ends, and D earns no more than D_a / k in it. Of a piece of a rise from
z_a to z_b both are sums over its z: that of ``H / 2 - z`` and that of D over 1 + psi, each by the speed that
makes it most; and the piece that has the largest sum is found in one go.

All of it is looked at in `CELLS` of y or z, each at its worse end.
"""

from __future__ import annotations

import math

from optimizer.check.bound_kernel import HEAT, LAG, PASSES, ROOM, SWITCHED, TANK, WARE
from optimizer.check.bound_kernel_apart import LEAST_J_PER_KG_K, over_c
from optimizer.check.bound_kernel_hold import MOST_J_PER_KG_K
from optimizer.check.bound_kernel_kept import BEGUN, CELLS, IN_FALL, IN_RISE, Kept
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

TANGENTS = 4
"""How many tangents are taken for the least time of a fall [1]."""

Speeds = tuple[float, float, float, float, float, float, float]
"""Least and most by which a bath beside a ware as warm falls, least and most by which it rises [K/s], what a
ware takes of that for each kelvin, least and most rate at which the two come together [1/s]."""


@compiled
def speeds_of(box: Array, on_c: float, hottest_c: float, most_kg: float, least_kg: float) -> Speeds:
    """Speeds between a lower threshold and the hottest bath, with most and least of the water."""
    heavy, light = MOST_J_PER_KG_K * most_kg + box[TANK, 0], LEAST_J_PER_KG_K * least_kg + box[TANK, 1]
    off_least = -over_c(box, box[HEAT, 1], 1, on_c - box[ROOM, 1]) / heavy
    off_most = -over_c(box, box[HEAT, 0], 0, hottest_c - box[ROOM, 0]) / light
    on_least = over_c(box, box[HEAT, 0] + box[SWITCHED, 0], 0, hottest_c - box[ROOM, 0]) / heavy
    on_most = over_c(box, box[HEAT, 1] + box[SWITCHED, 1], 1, on_c - box[ROOM, 1]) / light
    k_least = (1.0 + box[WARE, 1] / heavy) / box[LAG, 0]
    k_most = (1.0 + box[WARE, 0] / light) / box[LAG, 1]
    return off_least, off_most, on_least, on_most, box[PASSES, 0] / light, k_least, k_most


@compiled
def largest(factor_low: float, factor_high: float, value: float) -> float:
    """Most of a product of which one factor lies between two ends, none of them negative."""
    return max(factor_low * value, factor_high * value)


@compiled
def left_by_fall_k(warmer_k: float, lasts_s: float, off_least: float, k_least: float, k_most: float) -> float:
    """By how much a bath is warmer than its ware at the most after a fall [K]."""
    return float(
        warmer_k * math.exp(-k_least * lasts_s) - off_least * (1.0 - math.exp(-k_most * lasts_s)) / k_most
    )


@compiled
def shortest_fall_s(fall_k: float, speeds: Speeds, warmer_k: float) -> float:
    """Least time in which a bath falls so far that is no more than ``warmer_k`` warmer than its ware [s].

    D dies out in a fall, ``D <= warmer exp(-k s)``: by s the bath has fallen by no more than ``off_most s +
    passes warmer (1 - exp(-k s)) / k``. That bends down: where its tangents meet the fall is never too late.
    """
    _, off_most, _, _, passes, k_least, _ = speeds
    found_s, draws = 0.0, passes * max(warmer_k, 0.0)
    for _ in range(TANGENTS):
        left = math.exp(-k_least * found_s)
        fallen_k = off_most * found_s + draws * (1.0 - left) / k_least
        found_s += max(fall_k - fallen_k, 0.0) / (off_most + draws * left)
    return found_s


@compiled
def most_later_k(speeds: Speeds, first_k: float, swing_k: float) -> float:
    """By how much a bath is warmer than its ware at the most at any time after its first fall [K]."""
    off_least, _, _, on_most, _, k_least, k_most = speeds
    shortest_s = shortest_fall_s(swing_k, speeds, first_k)
    ends_k = left_by_fall_k(first_k, shortest_s, off_least, k_least, k_most)
    return max(ends_k, on_most / k_least)


@compiled
def settled_most_k(speeds: Speeds, swing_k: float, after_first_k: float) -> float:
    """Most D at any time after the first fall, which leaves no more than ``after_first_k`` [K]."""
    off_least, _, on_least, on_most, passes, k_least, k_most = speeds
    band_k = on_most / k_least
    settled_k = max(after_first_k, band_k)
    rises_least = on_least - passes * settled_k
    if after_first_k >= band_k or rises_least <= 0.0:
        return settled_k
    after_k = left_by_fall_k(
        settled_k, shortest_fall_s(swing_k, speeds, settled_k), off_least, k_least, k_most
    )
    # A rise comes up to the band, but does not last for ever.
    begins_k = max(max(after_first_k, after_k), 0.0)
    return min(settled_k, band_k - (band_k - begins_k) * math.exp(-k_least * swing_k / rises_least))


@compiled
def _apart_at_begin_k(speeds: Speeds, swing_k: float, first_k: float, kept: Kept) -> Array:
    """Most D that is left of later falls and rises in each cell of a fall and of a rise [K]: `IN_FALL` ...

    D at t1 is left out. All means from later times on have the same, unless their speeds differ.
    """
    off_least, off_most, on_least, on_most, passes, k_least, k_most = speeds
    found, known = kept[2], kept[3][BEGUN]
    same = known[7] == swing_k and known[8] == first_k
    for number, speed in enumerate(speeds):
        same = same and known[number] == speed
        known[number] = speed
    known[7], known[8] = swing_k, first_k
    if same:
        return found
    band_k, settled_k = on_most / k_least, most_later_k(speeds, first_k, swing_k)
    falls_most, rises_before = off_most + passes * settled_k, on_least - passes * settled_k
    fallen_k = max(
        left_by_fall_k(0.0, swing_k / (off_most + passes * first_k), off_least, k_least, k_most),
        left_by_fall_k(band_k, swing_k / falls_most, off_least, k_least, k_most),
    )
    for cell in range(CELLS):
        high_k = swing_k * (cell + 1.0) / CELLS
        fell_s = (swing_k - high_k) / falls_most
        found[IN_FALL, cell] = left_by_fall_k(band_k, fell_s, off_least, k_least, k_most)
        found[IN_RISE, cell] = band_k
        if rises_before > 0.0:
            rose_s = high_k / rises_before
            grows_k = on_most * (1.0 - math.exp(-k_least * rose_s)) / k_least
            dies_out = k_least if fallen_k > 0.0 else k_most
            found[IN_RISE, cell] = min(band_k, fallen_k * math.exp(-dies_out * rose_s) + grows_k)
    return found


@compiled
def begun_ks(
    speeds: Speeds, psi_least: float, part: float, swing_k: float, warmer_k: float, after_k: float,
    first_k: float, since_s: float, turns_k: float, eases: float, falls_least: float, rises_least: float,
    rises_most: float, left_s: float, kept: Kept,
) -> tuple[float, float, float, float]:  # fmt: skip
    """What is missing at the most of a mean begun in a fall, in a rise, and of one piece of either [K s].

    ``warmer_k`` is by how much the bath may be warmer than its ware from the beginning on, ``first_k`` at the
    first switching off, at least ``since_s`` before; ``after_k`` after a fall as `swing_of` has it; ``part``
    is psi over 1 + psi at the most. A fall by y lasts ``(y + turns_k) / eases`` or ``y / falls_least`` at the
    most, and no longer than ``left_s``; a rise is by ``rises_least`` at the least and ``rises_most`` at the
    most. ``kept`` is room for what other means need as well.
    """
    off_least, _, _, _, _, k_least, k_most = speeds
    left_k = first_k * math.exp(-k_least * since_s)
    in_first_k = left_by_fall_k(0.0, since_s, off_least, k_least, k_most)
    later_k = _apart_at_begin_k(speeds, swing_k, first_k, kept)
    stays = 1.0 / (k_least * (1.0 + psi_least))
    in_fall, in_rise, of_fall, of_rise, sum_of_rise = 0.0, 0.0, 0.0, 0.0, 0.0
    for cell in range(CELLS):
        low_k, high_k = swing_k * cell / CELLS, swing_k * (cell + 1.0) / CELLS
        apart_k = min(warmer_k, left_k + max(in_first_k, later_k[IN_FALL, cell]))
        lasts_s = min(min(high_k / falls_least, (high_k + turns_k) / eases), left_s)
        under_ks = 0.5 * lasts_s * (swing_k - low_k)
        begins_k = swing_k - low_k - warmer_k + apart_k
        in_fall = max(in_fall, under_ks + largest(1.0 / k_most, 1.0 / k_least, begins_k))
        of_fall = max(of_fall, under_ks + max(apart_k, 0.0) * stays)

        apart_k = min(warmer_k, left_k + later_k[IN_RISE, cell])
        lasts_s = (swing_k - low_k) / rises_least
        begins_k = swing_k - low_k - warmer_k + apart_k
        more_ks = 0.5 * part * max(apart_k - after_k, 0.0) * lasts_s
        in_rise = max(in_rise, more_ks + largest(1.0 / k_most, 1.0 / k_least, begins_k))
        earns_k = apart_k / (1.0 + psi_least) if apart_k > 0.0 else apart_k * (1.0 - part)
        rate = largest(1.0 / rises_most, 1.0 / rises_least, 0.5 * swing_k - low_k)
        rate += largest(1.0 / rises_most, 1.0 / rises_least, earns_k)
        sum_of_rise = max(sum_of_rise + rate * (high_k - low_k), 0.0)
        of_rise = max(of_rise, sum_of_rise)
    return in_fall, in_rise, of_fall, of_rise
