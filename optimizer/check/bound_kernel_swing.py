"""The mean about which a held bath swings, midway between its thresholds; what a dose gets of it at least.

From its first switching off on, at t1, a bath T falls to the lower threshold of its point and rises again by
the hysteresis H, over and over. Every quantity of a point stays as it is while the bath is held: that is
taken for granted here, as for a whole run. ``t = T - mid`` and ``w = W - mid`` are bath and ware above the
middle of the thresholds, ``D = T - W``, psi the heat capacity of the ware over that of the bath, tau its time
constant, and ``k = (1 + psi) / tau``.

**A fall or a rise.** What passes to the ware leaves the bath, so ``T + psi W`` has the slope ``N / C``: of
heat of pump and element less the loss, over the bath's heat capacity C. N hangs on T alone. While T rises N
falls: T + psi W bends down, and lies on average above the straight line between its ends. While T falls it
bends up, and is under that line by no more than an eighth of the time that this takes, times the change of
slope, ``UA H / C`` (a curve that bends up lies above its tangents at both ends). C itself changes a little,
with T and by what evaporates: by a share eps of its most, which puts that average off by ``eps H / 2`` at the
most. So with ``tau W' = D``, over a fall or rise from a to b, of the length s::

    int w >= s (t_a + t_b) / 2 - s (psi (D_a + D_b) / 2 + delta) / (1 + psi) - (w_b - w_a) / k

``delta = UA H s / (8 C) + eps H / 2`` of a fall. Of whole falls and rises ``t_a + t_b`` is 0, and the last
term telescopes. One of D_a and D_b belongs to the end of a rise, or to t1, the other to the end of a fall.

**How far apart bath and ware are.** Beside a ware as warm the bath has a slope r, and ``D' = r - k D``. So D
is below the course of ``D' = r_most - k D`` with the least k as far as it is above 0, and the same from
below. With D1 the most it is at t1, a fall that lasts s ends with no more than ``D1 exp(-k s) - r (1 -
exp(-k s)) / k``, r the least by which the bath falls beside a ware as warm; a rise ends with no less than
``-colder exp(-k s) + r (1 - exp(-k s)) / k``. A rise that lasts s, after a fall that left D_b or less, has no
more than ``b - (b - D_b) exp(-k s)`` with ``b = r_most / k``, if D_b is between 0 and b: than at the end of
the longest rise. So of a mean from t1 on D1 counts in the first fall alone; after it D is no more than D2,
that or D_b, and after later falls as above with D2 for D1. (``D1 = D2`` in a mean from another time on.) By s
a fall has drawn the bath down by no more than ``passes D1 (1 - exp(-k s)) / k``: so short it may be.

**How long a fall lasts.** By its own equation T falls no slower than v, the least of ``r + colder`` ones. But
a ware that is warmer than its bath takes no heat from the two: of T + psi W, C the most of the fall, the
slope is -r or less. By the equation between its ends a fall by y that lasts s has ``(1 + psi) y - psi (D_a -
D_b) >= r s``: with r the least, and D_b no more than ``colder`` above D_a as it rises only where it is
negative, ``s <= (y + psi colder / (1 + psi)) (1 + psi) / r``, the lesser of this and y / v. The same says
that a long first fall cannot have begun far apart: ``psi D_a / (1 + psi) <= y + psi D_b / (1 + psi) - r s /
(1 + psi)``.

**The mean.** So the integral of w from t1 to any later time, e seconds, is at least ``-beta e - lambda``:
beta is what stands in the brackets above, over ``1 + psi``, D2 and the most D after a later fall in it;
lambda the most that the last term and a piece that has not ended may miss, and what D_a and D_b of the first
fall, whole or not, and D_a of the first rise miss more than beta has. The first fall is looked at in pieces
of its time, as the last one is below. At t1, ``w >= H / 2 - D1``. Of a last fall
that has lasted s and fallen by y, between its slowest and its quickest, ``t_a + t_b = H - y``, and ``w_b -
w_a`` is the integral of D over tau, and no more than ``D_a + colder - y``; w_a is above that of t1 by D1 less
the least D after a rise. Of a last rise by z ``t_a + t_b = z - H``, and ``w_b = z - H / 2 - D``. Both are
looked at in `PIECES` of their time, each at its worse end. A last fall that is not the first began with D
after a rise, which dies out; the first one's w_a is D_a below the threshold, and so misses no more. No fall
lasts longer than what is left of the hold. After a fall cut short D may be above that of a
whole one: ``s exp(-k s) <= 1 / (k e)`` bounds what this misses.

From another time on a mean may begin anywhere in a fall or a rise, see `bound_kernel_begun`: what it misses
then is reckoned from the same w above ``H / 2 - D1``. A ware that is much colder at first may draw the bath
under its threshold with the element on. By how much, u, is followed: ``u' <= G D / C - r_on`` and u >= 0;
that time is one without u.

A bath that begins above the threshold is at t1 at once: its first fall is longer, by as much in delta, and
``t_a + t_b`` is more.

**The dose.** A rate r that is exponential lies above its tangents: with ``M = mid - beta`` and any M',
``r(W) >= r(M') + r'(M') (W - M')``. So the dose from t1 to the end, e seconds later, is at least ``e q -
lambda r'(M')``, q the tangent at M. Closest is ``M' = M - lambda / e``: it is ``e r(M')`` then (Jensen). Of
t1 it is known to lie between two times u and v: M' is that of v, and from the sample before u up to v the
lesser counts of q and the rate of the lower course. While the ware comes up after t1 it is far below M', and
its rate above the tangent by more the further: points are taken in groups by their D at t1 (`SHARES`), each
with a lambda of its own, and the least of the groups counts (`bound_kernel_doses`). Where the rate itself
changes later than that sample, the mean is reckoned from there: the ware's surplus over M until then is
known, too, and taken off. A rate is exponential between its floor and its ceiling: where the ware may leave
these, the mean is not used.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from optimizer.check import bound_kernel_apart as apart
from optimizer.check.bound_kernel import LAG, LOSS, TANK, WARE, specific_heat
from optimizer.check.bound_kernel_begun import (
    begun_ks,
    largest,
    left_by_fall_k,
    settled_most_k,
    shortest_fall_s,
    speeds_of,
)
from optimizer.check.bound_kernel_hold import MOST_J_PER_KG_K
from optimizer.check.bound_kernel_kept import (
    LEAST,
    MOST,
    PIECES,
    TIME,
    Kept,
    last_fall,
    last_rise,
    nothing_kept,
)
from optimizer.check.bound_kernel_trough import lift_part
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

SHARES = (1.0, 0.8, 0.6)
"""Groups of points whose D at t1 is up to such a share of the most, and above that of the next group [1]."""

GROUPS = len(SHARES)
"""How many groups there are [1]."""

NUMBERS = 6 + 3 * GROUPS
COLDEST, HOTTEST, FROM, SURPLUS, TOP, QUICK = range(6)
LEVEL, MISSING, APART = range(6, NUMBERS, GROUPS)
"""Of a mean: coldest and hottest ware [°C], from when on every point has been switched off [s], by how much a
ware may be above the mean [K], no less than a bath in its first fall and how far D may lie under what is left
of it [°C], how quickly that dies out at the most [1/s]. Of each group the ware [°C], what may be missing [K
s], below 0 where there is no such group, and the least D at t1 [K]."""

SETTLED = (0.0, 0.5, 2.0, 4.0)
"""A mean is reckoned from the first switching off on; then so many time constants of the ware later [1]."""

KINDS = len(SETTLED)
"""How many means there are of a part [1]."""

OFF_K = 0.05
"""What the steps may put the lower course of the ware off [K]."""


@compiled
def swing_of(
    box: Array, warmer_k: float, colder_k: float, on_c: float, hottest_c: float, swing_k: float,
    fall_k: float, most_kg: float, least_kg: float, gone_kg: float, from_first: bool, left_s: float,
    first_k: float, ago_s: float, before_k: float, kept: Kept,
) -> tuple[float, float]:  # fmt: skip
    """By how much a ware's mean is under the middle of the thresholds [K]; what may be missing [K s].

    The latter ``from_first`` switching off on, or else from any later time on; it is -1 where a bath may not
    cool with the element off, or not warm with it on: then there is no mean. ``warmer_k`` and ``colder_k``
    are by how much a bath may be warmer and colder than its ware, ``hottest_c`` the hottest bath, ``gone_kg``
    what may evaporate meanwhile; a fall is by ``swing_k``, the first one by ``fall_k`` at the most.
    The bath is held for no more than ``left_s``. At the first switching off, at least ``ago_s`` before, the
    bath was no more than ``first_k`` warmer than its ware, and never more than ``before_k`` colder. ``kept``
    is room for what other means need as well.
    """
    heavy, light = MOST_J_PER_KG_K * most_kg + box[TANK, 0], apart.LEAST_J_PER_KG_K * least_kg + box[TANK, 1]
    speeds = speeds_of(box, on_c, hottest_c, most_kg, least_kg)
    off_least, off_most, on_least, on_most, passes, k_least, k_most = speeds
    falls_least = off_least - passes * colder_k
    if off_least <= 0.0 or falls_least <= 0.0:
        return 0.0, -1.0
    psi_most, psi_least = box[WARE, 0] / light, box[WARE, 1] / heavy
    part = psi_most / (1.0 + psi_most)
    # The mixture of bath and ware falls no slower, which bounds the time of a fall once more.
    eases, turns_k = off_least / (1.0 + psi_most), part * colder_k

    shortest_s = shortest_fall_s(swing_k, speeds, warmer_k)
    after_first_k = left_by_fall_k(warmer_k, shortest_s, off_least, k_least, k_most)
    settled_k, after_fall_k = warmer_k, after_first_k
    if from_first:
        settled_k = settled_most_k(speeds, swing_k, after_first_k)
        shortest_s = shortest_fall_s(swing_k, speeds, settled_k)
        after_fall_k = left_by_fall_k(settled_k, shortest_s, off_least, k_least, k_most)
    rises_most, rises_least = on_most + passes * colder_k, on_least - passes * settled_k
    if rises_least <= 0.0:
        return 0.0, -1.0

    bend = max(specific_heat(on_c), specific_heat(hottest_c)) - apart.LEAST_J_PER_KG_K
    varies = (bend * most_kg + MOST_J_PER_KG_K * gone_kg) / light
    longest_s = min(min(fall_k / falls_least, (fall_k + turns_k) / eases), left_s)
    under_line_k = box[LOSS, 0] * fall_k * longest_s / (8.0 * light) + 0.5 * varies * fall_k
    apart_k = 0.5 * part * max(settled_k + after_fall_k, 0.0)
    under_k = apart_k + under_line_k / (1.0 + psi_least)

    after_rise_s = swing_k / rises_most
    after_rise_k = -before_k * math.exp(-k_least * after_rise_s)
    after_rise_k += on_least * (1.0 - math.exp(-k_most * after_rise_s)) / k_most
    begins_k = max(max(warmer_k, settled_k), 0.0)
    less_s_k = max(warmer_k - after_rise_k, 0.0) / k_least
    fallen, risen, of_first_ks = 0.0, 0.0, 0.0
    fall = last_fall(kept, longest_s, k_least, k_most)
    rise = last_rise(kept, swing_k, rises_least, k_least, k_most)
    for piece in range(PIECES):
        since_s, until_s = fall[TIME, piece], fall[TIME, piece + 1]
        least_k = min(max(falls_least * since_s, eases * since_s - turns_k), swing_k)
        drawn_k = passes * begins_k * (1.0 - fall[LEAST, piece + 1]) / k_least
        most_k = min(off_most * until_s + drawn_k, swing_k)
        passed_s = (1.0 - fall[LEAST, piece + 1]) / (k_least * (1.0 + psi_least))
        short = max(settled_k * passed_s + less_s_k, warmer_k * passed_s)
        short -= 0.5 * since_s * (swing_k - most_k)
        # As it begins they are apart as after a rise; the first one is no worse.
        stays_k = min(after_rise_k, warmer_k)
        stays_k *= fall[MOST, piece + 1] if stays_k > 0.0 else fall[LEAST, piece]
        stays_k -= off_most * (1.0 - fall[LEAST, piece + 1]) / k_least
        far_k = warmer_k + min(colder_k, -stays_k)
        other = max(
            largest(1.0 / k_most, 1.0 / k_least, far_k - least_k) - 0.5 * since_s * (swing_k - least_k),
            largest(1.0 / k_most, 1.0 / k_least, far_k - most_k) - 0.5 * since_s * (swing_k - most_k),
        )
        fallen = max(fallen, min(short, other))
        if from_first:
            # The first fall, whole or not: much apart at its start it does not last.
            left_k = warmer_k * fall[LEAST, piece] - off_least * (1.0 - fall[MOST, piece]) / k_most
            behind_k = part * max(left_k, 0.0)
            ahead_k = min(part * warmer_k, fall_k + behind_k - eases * since_s)
            missed_k = 0.5 * (ahead_k + behind_k) - apart_k
            of_first_ks = max(of_first_ks, until_s * missed_k)

        since_s, until_s = rise[TIME, piece], rise[TIME, piece + 1]
        least_k, most_k = min(rises_least * since_s, swing_k), min(rises_most * until_s, swing_k)
        behind_k = -colder_k * rise[LEAST, piece] + on_least * (1.0 - rise[MOST, piece]) / k_most
        behind_k = warmer_k - swing_k - behind_k
        risen = max(
            risen,
            largest(1.0 / k_most, 1.0 / k_least, behind_k + least_k) + 0.5 * until_s * (swing_k - least_k),
            largest(1.0 / k_most, 1.0 / k_least, behind_k + most_k) + 0.5 * until_s * (swing_k - most_k),
        )
    cut_short_ks = 0.5 * part * (settled_k / k_least + off_least / k_most**2) / math.e
    fallen += cut_short_ks
    rise_s = swing_k / rises_least
    missing_ks = max(fallen, risen)
    if from_first:
        of_first_ks += 0.5 * part * rise_s * max(after_first_k - after_fall_k, 0.0)
        return under_k, missing_ks + of_first_ks
    in_fall_ks, in_rise_ks, of_fall_ks, of_rise_ks = begun_ks(
        speeds, psi_least, part, swing_k, warmer_k, after_fall_k, first_k, ago_s, turns_k, eases,
        falls_least, rises_least, rises_most, left_s, kept,
    )  # fmt: skip
    # What is begun then may have not ended: a piece of a fall, or of a rise.
    of_rise_ks = min(of_rise_ks, (swing_k + warmer_k + colder_k) / k_least + 0.125 * swing_k * rise_s)
    of_rise_ks += 0.5 * part * rise_s * max(warmer_k - after_fall_k, 0.0)
    begun = missing_ks + max(in_fall_ks + cut_short_ks, in_rise_ks)
    return under_k, max(max(of_fall_ks + cut_short_ks, of_rise_ks), begun)


@compiled
def all_swings(
    times_s: Array,
    boxes: Array,
    samples: Array,
    lower: Array,
    ware_slopes: Array,
    first: NDArray[np.int64],
    last: NDArray[np.int64],
    share: Array,
    ends_s: Array,
    lasts: NDArray[np.bool_],
    from_c: Array,
    off_c: Array,
    swing_k: Array,
    starts_c: Array,
    later: NDArray[np.bool_],
) -> tuple[NDArray[np.int64], Array]:
    """From which sample on a mean counts in each part (parts × boxes, -1 for never), and its `NUMBERS`.

    ``samples`` are the heated courses, boxes × samples × state × courses, ``lower`` those of the parts, boxes
    × parts × samples × state. Points of a part are first switched off between the samples ``first`` and
    ``last``, a ``share`` of a step after the former and until ``ends_s``, in a bath of ``from_c`` at least
    (parts × boxes). ``off_c`` is the lowest upper threshold, ``swing_k`` the hysteresis, ``starts_c`` the
    coldest ware of a part's points at the start.

    The wares of ``lower``, and their ``ware_slopes``, are kept at the least that a held ware has.
    """
    parts, count = last.shape
    begins, found = np.full((KINDS, parts, count), -1), np.zeros((NUMBERS, KINDS, parts, count))
    found[MISSING : MISSING + GROUPS] = -1.0
    final, kept = len(times_s) - 1, nothing_kept()
    for number in range(count):
        box, held, swing = boxes[number], samples[number], swing_k[number]
        least_kg, most_kg = held[:, 3, 1].min(), lower[number, :, :, 3].max()
        every_k, colder_k, every = apart.apart_k_of(
            times_s, box, held, off_c[number] - swing, most_kg, least_kg
        )
        warmer_k, during = np.empty_like(every_k), np.empty_like(every)
        for part in range(parts):
            start, end = first[part, number], last[part, number]
            if end >= final:
                continue
            if not lasts[part, number]:
                # A part that takes no time is the one before: `bound_kernel_hold`.
                begins[:, part, number] = begins[:, part - 1, number]
                found[:, :, part, number] = found[:, :, part - 1, number]
                lower[number, part], ware_slopes[number, part] = (
                    lower[number, part - 1], ware_slopes[number, part - 1],
                )  # fmt: skip
                continue
            course = lower[number, part]
            less_k = min(every[0, 1], starts_c[part, number] - held[0, 1, 0])
            apart.of_part(times_s, every_k, every, less_k, warmer_k, during)
            # In the rest of the step in which the part begins.
            stays = math.exp(-during[start, 2] * share[part, number] * (times_s[start + 1] - times_s[start]))
            first_k = stays * during[start, 1] + (1.0 - stays) * during[start, 0]
            first_k = max(first_k, warmer_k[start + 1])
            first_k = min(first_k, apart.first_apart_k(
                times_s, box, held, every, off_c[number], start, end, share[part, number],
                ends_s[part, number], later[part, number],
            ))  # fmt: skip
            # Heated up to its threshold: that is no lower than such a bath. But one may begin above it.
            below_c, fall_k = from_c[part, number] - swing, swing
            if start == 0:
                below_c = off_c[number] - swing
                fall_k = max(swing, held[0, 2, 1] - below_c)
            under_k = apart.under_threshold_k(
                times_s, box, during, start, held[start:, 2, 1].max(), most_kg, least_kg
            )
            lift_part(
                times_s, box, course, ware_slopes[number, part], below_c, held[start:, 2, 1].max(), swing,
                fall_k, first_k, colder_k[start], under_k, start, end, ends_s[part, number], most_kg,
                least_kg,
            )  # fmt: skip
            for kind in range(KINDS):
                step = end if kind else start
                while (
                    kind and step < final - 1 and times_s[step] < times_s[end] + SETTLED[kind] * box[LAG, 0]
                ):
                    step += 1
                # From another time on the bath is between its thresholds again, if the ware drew it under.
                while kind and step < final and under_k[step] > 0.0:
                    step += 1
                if kind and under_k[step] > 0.0:
                    continue
                hottest_c, apart_k = held[step:, 2, 1].max(), warmer_k[step] if kind else first_k
                lower_k = 0.0
                for group in range(GROUPS if kind == 0 and first_k > 0.0 else 1):
                    lower_k, missing_ks = swing_of(
                        box, SHARES[group] * apart_k, colder_k[step], below_c, hottest_c, swing, fall_k,
                        most_kg, least_kg, held[step, 3, 1] - held[final, 3, 1], kind == 0,
                        times_s[final] - times_s[step], first_k, times_s[step] - ends_s[part, number],
                        colder_k[start], kept,
                    )  # fmt: skip
                    if missing_ks < 0.0:
                        break
                    found[LEVEL + group, kind, part, number] = below_c + 0.5 * swing - lower_k
                    found[MISSING + group, kind, part, number] = missing_ks
                    if kind == 0 and group < GROUPS - 1:
                        found[APART + group, kind, part, number] = SHARES[group + 1] * apart_k
                if found[MISSING, kind, part, number] < 0.0 or (kind == 0 and missing_ks < 0.0):
                    continue
                begins[kind, part, number] = step
                coldest_c = course[step:, 1].min()
                if kind == 0:
                    # From t1 on it follows a bath no colder than the lower threshold.
                    coldest_c = max(coldest_c, below_c + min(swing - apart_k, 0.0))
                speeds = speeds_of(box, below_c, hottest_c, most_kg, least_kg)
                found[TOP, kind, part, number] = below_c + fall_k + speeds[1] / speeds[5]
                found[QUICK, kind, part, number] = speeds[6]
                found[COLDEST, kind, part, number] = coldest_c - OFF_K
                found[HOTTEST, kind, part, number] = held[step:, 1, 1].max()
                found[FROM, kind, part, number] = times_s[step] if kind else ends_s[part, number]
                found[SURPLUS, kind, part, number] = fall_k - 0.5 * swing + lower_k + colder_k[step]
    return begins, found
