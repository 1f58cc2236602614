"""Compiled integral of dose rates along lower courses of the ware, as `bound_doses` states it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from optimizer.check.bound_kernel_swing import COLDEST, FROM, HOTTEST, LEVEL, MISSING, SURPLUS
from optimizer.check.lethality_kernel import LEVEL_K
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

Rates = tuple[float, float, float, float, float]
"""A rate as `lethality.Rate` has it: ``ln_at_0c``, ``per_k``, ``floor_c``, ``ceiling_c``, ``share``."""


@compiled
def _ends_of(rate: Rates) -> tuple[float, float]:
    """Rate at the floor and at the ceiling, without its share [1]."""
    ln_at_0c, per_k, floor_c, ceiling_c, _ = rate
    return math.exp(ln_at_0c + per_k * floor_c), math.exp(ln_at_0c + per_k * ceiling_c)


@compiled
def _antiderivative(value_c: float, rate: Rates, ends: tuple[float, float]) -> float:
    """Integral of a rate over the temperature, from its floor, without its share; its ends are given."""
    ln_at_0c, per_k, floor_c, ceiling_c, _ = rate
    at_floor, at_ceiling = ends
    if value_c <= floor_c:
        return 0.0
    if value_c < ceiling_c:
        return (math.exp(ln_at_0c + per_k * value_c) - at_floor) / per_k
    return (at_ceiling - at_floor) / per_k + at_ceiling * (value_c - ceiling_c)


@compiled
def _earned_s(early_c: float, late_c: float, lasts_s: float, early: float, late: float, rate: Rates) -> float:
    """Dose while a temperature moves straight from one value to another, by the antiderivative at both."""
    ln_at_0c, per_k, floor_c, ceiling_c, share = rate
    change_k = late_c - early_c
    if abs(change_k) >= LEVEL_K:
        return share * (late - early) / change_k * lasts_s
    middle_c = late_c - 0.5 * change_k
    if middle_c < floor_c:
        return 0.0
    return share * math.exp(ln_at_0c + per_k * min(middle_c, ceiling_c)) * lasts_s


@compiled
def _mean_counts(mean: Array, rate: Rates) -> bool:
    """Whether a rate is convex where the ware swings about a mean."""
    _, _, floor_c, ceiling_c, _ = rate
    return bool(min(mean[COLDEST], mean[LEVEL]) >= floor_c and max(mean[HOTTEST], mean[LEVEL]) <= ceiling_c)


@compiled
def _about_mean_s(mean: Array, lasts_s: float, early_s: float, rate: Rates) -> float:
    """Dose of a swing about a mean; its first seconds, ``early_s``, are not counted [s].

    Proof: `bound_kernel_swing`.
    """
    ln_at_0c, per_k, _, _, share = rate
    at_level = share * math.exp(ln_at_0c + per_k * mean[LEVEL])
    missing_ks = mean[MISSING] + early_s * mean[SURPLUS]
    return float(at_level * (lasts_s - per_k * missing_ks))


@compiled
def _same(ware_c: Array, slope: Array, course: int, box: int) -> bool:
    """Whether a course of a box is that before it."""
    for sample in range(ware_c.shape[0] - 1, -1, -1):
        if ware_c[sample, course, box] != ware_c[sample, course - 1, box]:
            return False
        if slope[sample, course, box] != slope[sample, course - 1, box]:
            return False
    return True


@compiled
def coldest_doses_s(
    time_s: Array,
    ware_c: Array,
    slope: Array,
    between: int,
    part_s: float,
    first: Rates,
    then: Rates,
    begins: NDArray[np.int64],
    means: Array,
) -> Array:
    """Dose of each course (samples × courses × boxes), read between samples by cubics: courses × boxes [s].

    ``between`` is how many points of a step are looked at; up to the time ``part_s`` the ``first`` rate
    counts, after it the one ``then``. ``begins`` and ``means`` are those of a bath that swings, as
    `bound_kernel_swing` has them; -1 for one that does not.
    """
    samples, courses, boxes = ware_c.shape
    found, kinds = np.empty((courses, boxes)), len(begins)
    waits, swung_s = np.zeros(kinds, dtype=np.bool_), np.empty(kinds)
    of_first, of_then = _ends_of(first), _ends_of(then)
    for course in range(courses):
        for box in range(boxes):
            if (
                course
                and _same(ware_c, slope, course, box)
                and np.all(begins[:, course, box] == begins[:, course - 1, box])
            ):
                found[course, box] = found[course - 1, box]
                continue
            total, now_s, now_c, parted = 0.0, time_s[0], ware_c[0, course, box], time_s[0] >= part_s
            rate, ends = (then, of_then) if parted else (first, of_first)
            now = _antiderivative(now_c, rate, ends)
            final_s = time_s[samples - 1]
            for kind in range(kinds):
                waits[kind], swung_s[kind] = begins[kind, course, box] >= 0, -math.inf
            for step in range(samples - 1):
                if parted or part_s >= final_s:
                    rate = then if parted else first
                    for kind in range(kinds):
                        swings, mean = begins[kind, course, box], means[:, kind, course, box]
                        if not waits[kind] or step < swings:
                            continue
                        waits[kind] = False
                        if _mean_counts(mean, rate):
                            # Up to the first time at which every point swings the lesser counts.
                            from_s, early_s = max(mean[FROM], now_s), now_s - time_s[swings]
                            swung_s[kind] = total + _about_mean_s(mean, final_s - from_s, early_s, rate)
                step_s = time_s[step + 1] - time_s[step]
                early_c, late_c = ware_c[step, course, box], ware_c[step + 1, course, box]
                early_k, late_k = step_s * slope[step, course, box], step_s * slope[step + 1, course, box]
                for place in range(1, between + 1):
                    u = place / between
                    after_s = time_s[step] + step_s * u
                    after_c = (2 * u**3 - 3 * u**2 + 1) * early_c + (u**3 - 2 * u**2 + u) * early_k
                    after_c += (3 * u**2 - 2 * u**3) * late_c + (u**3 - u**2) * late_k
                    if place == between:
                        after_s, after_c = time_s[step + 1], late_c
                    if not parted and after_s > part_s:
                        # Straight between the two points, up to where the rate changes.
                        there_c = now_c + (part_s - now_s) / (after_s - now_s) * (after_c - now_c)
                        there = _antiderivative(there_c, first, of_first)
                        total += _earned_s(now_c, there_c, part_s - now_s, now, there, first)
                        now_s, now_c, parted = part_s, there_c, True
                        now = _antiderivative(now_c, then, of_then)
                    rate, ends = (then, of_then) if parted else (first, of_first)
                    after = _antiderivative(after_c, rate, ends)
                    total += _earned_s(now_c, after_c, after_s - now_s, now, after, rate)
                    for kind in range(kinds):
                        level_c = means[LEVEL, kind, course, box]
                        if swung_s[kind] > -math.inf and now_s < means[FROM, kind, course, box]:
                            one_c, other_c = min(now_c, level_c), min(after_c, level_c)
                            one = _antiderivative(one_c, rate, ends)
                            other = _antiderivative(other_c, rate, ends)
                            swung_s[kind] += _earned_s(one_c, other_c, after_s - now_s, one, other, rate)
                    now_s, now_c, now = after_s, after_c, after
            found[course, box] = max(total, swung_s.max())
    return found
