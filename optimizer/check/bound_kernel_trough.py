"""The least ware of a held bath once it swings: more than the lower threshold, which its bath comes down to.

D = T - W follows ``D' = r - k D`` (`bound_kernel_swing`). The ware cools only while D is below 0. In a fall r
is below 0 as well, so that D, once it is no more than 0, stays there to the end of the fall, and comes back
to 0 only in a rise, after a whole fall. Let d be the most D after such a fall, below 0: by ``D' <= r_most - k
D`` it takes ``ln(1 - k d / r_most) / k`` at least to come to 0. Meanwhile the bath, not colder than the lower
threshold and warmed by a ware that is warmer, rises by the least speed of one beside a ware as warm. There
the ware is as warm as the bath: no later minimum of the ware is below the lower threshold and that rise, nor
is any ware between two such minima, nor one on its way to the next, if the bath is held on in thought.

That holds from the first time on at which D was no more than 0. By ``D <= first exp(-k s) - r (1 - exp(-k s))
/ k`` that is in the first fall, if this lasts as long: d is then the most after the first fall, or after one
that begins with the most D after it. Else what is left of D at t1 dies out (`bound_kernel_begun`): after some
time it is no more than a quarter of what a later fall leaves below 0, each fall that begins then begins with
no more than that and the band, and the first of them has ended after the fall or rise that was under way.

Each inequality asks for ends of speeds and rates alone, so that they may wander in their box, unlike those of
the mean; and a sensor's error as far as no threshold falls under the lower one given: a fall that ends higher
by y is shorter by y at the most, and D with it.
"""

from __future__ import annotations

import math

from optimizer.check.bound_kernel import TANK, WARE, least_mixed
from optimizer.check.bound_kernel_apart import LEAST_J_PER_KG_K
from optimizer.check.bound_kernel_begun import Speeds, left_by_fall_k, most_later_k, speeds_of
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

DIES_OUT = 0.25
"""Share of what a fall leaves below 0 that may still be left of the first D [1]."""


@compiled
def rises_k(speeds: Speeds, fallen_k: float) -> float:
    """By how much a bath rises at least until its ware cools no more; ``fallen_k`` is D after a fall [K]."""
    _, _, on_least, on_most, _, _, k_most = speeds
    return on_least * math.log(1.0 - k_most * min(fallen_k, 0.0) / on_most) / k_most


@compiled
def in_first_fall(speeds: Speeds, swing_k: float, first_k: float) -> tuple[float, float]:
    """How much the least ware is above the lower threshold [K], and from when after the switching off [s].

    Never, where D may be above 0 all through the first fall.
    """
    off_least, off_most, _, _, passes, k_least, k_most = speeds
    zero_s = math.log(1.0 + first_k * k_most / off_least) / k_least
    shortest_s = swing_k / (off_most + passes * first_k)
    if zero_s > shortest_s:
        return 0.0, math.inf
    settled_k = most_later_k(speeds, first_k, swing_k)
    later_s = swing_k / (off_most + passes * settled_k)
    fallen_k = max(
        left_by_fall_k(first_k, shortest_s, off_least, k_least, k_most),
        left_by_fall_k(settled_k, later_s, off_least, k_least, k_most),
    )
    return rises_k(speeds, fallen_k), zero_s


@compiled
def died_out(speeds: Speeds, swing_k: float, first_k: float, longest_s: float) -> tuple[float, float]:
    """The same once D of the first switching off has died out; a fall lasts ``longest_s`` at the most."""
    off_least, off_most, on_least, on_most, passes, k_least, k_most = speeds
    band_k = on_most / k_least
    fallen_k = left_by_fall_k(band_k, swing_k / (off_most + passes * band_k), off_least, k_least, k_most)
    left_k = -DIES_OUT * fallen_k
    most_k = band_k + left_k
    if left_k <= 0.0 or on_least <= passes * most_k:
        return 0.0, math.inf
    fallen_k = left_by_fall_k(most_k, swing_k / (off_most + passes * most_k), off_least, k_least, k_most)
    waits_s = math.log(max(first_k / left_k, 1.0)) / k_least
    return rises_k(speeds, fallen_k), waits_s + 2.0 * longest_s + swing_k / (on_least - passes * most_k)


@compiled
def lift(
    times_s: Array, box: Array, course: Array, slopes: Array, from_s: float, least_c: float, kg: float
) -> None:
    """Keep the ware of a part (samples × state) at its least from a time on; ``kg`` is the least water.

    A sample between the two stays as it is, so that the cubic between them does not go past either.
    """
    final = len(times_s) - 1
    begins = final + 1
    while begins > 0 and times_s[begins - 1] >= from_s and course[begins - 1, 1] <= least_c:
        begins -= 1
    for sample in range(begins + 1, final + 1):
        course[sample, 1], slopes[sample] = least_c, 0.0
    if begins < final:
        mixed_c = least_mixed(box, course[final, 2], least_c, course[final, 3], kg)
        course[final, 0] = max(course[final, 0], mixed_c)


@compiled
def lift_part(
    times_s: Array, box: Array, course: Array, slopes: Array, on_c: float, hottest_c: float, swing_k: float,
    fall_k: float, first_k: float, colder_k: float, under_k: Array, start: int, end: int, ends_s: float,
    most_kg: float, least_kg: float,
) -> None:  # fmt: skip
    """Keep the ware of a part at the least of a held one, from when that is known."""
    speeds, final = speeds_of(box, on_c, hottest_c, most_kg, least_kg), len(times_s) - 1
    off_least, on_least = speeds[0], speeds[2]
    if off_least <= 0.0 or on_least <= 0.0:
        return
    above_k, after_s = in_first_fall(speeds, swing_k, first_k)
    lift(times_s, box, course, slopes, ends_s + after_s, on_c + above_k, least_kg)
    psi = box[WARE, 0] / (LEAST_J_PER_KG_K * least_kg + box[TANK, 1])
    longest_s = (fall_k + psi / (1.0 + psi) * colder_k) * (1.0 + psi) / off_least
    above_k, after_s = died_out(speeds, swing_k, first_k, longest_s)
    # Nor may a ware that was much colder have drawn the bath under its threshold by then: at the switching
    # off itself it is not under it yet.
    end = max(end, start + 1)
    while end < final and under_k[end] > 0.0:
        end += 1
    if under_k[end] == 0.0:
        lift(times_s, box, course, slopes, max(ends_s, times_s[end]) + after_s, on_c + above_k, least_kg)
