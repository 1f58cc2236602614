"""Compiled integral of dose rates along lower courses of the ware, as `bound_doses` states it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from optimizer.check.bound_kernel_swing import (
    APART,
    COLDEST,
    FROM,
    GROUPS,
    HOTTEST,
    LEVEL,
    MISSING,
    QUICK,
    SURPLUS,
    TOP,
)
from optimizer.check.lethality_kernel import LEVEL_K
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

BENT = 6
"""Steps of a ware's way up [1]."""

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
def _bent_s(apart_k: float, under_k: float, quick: float, lasts_s: float, per_k: float) -> float:
    """What a rate is above its tangent while the ware comes up, in seconds of the tangent's rate.

    At first the ware is x under the tangent's point, ``apart_k`` that dies out less ``under_k`` or more.
    There ``exp(-b x) - 1 + b x`` rises with x, and bends up in time: its middle is no more than its mean.
    """
    if apart_k <= under_k or under_k <= 0.0:
        return 0.0
    step_s = min(math.log(apart_k / under_k) / quick, lasts_s) / BENT
    total = 0.0
    for step in range(BENT):
        x = per_k * (apart_k * math.exp(-quick * (step + 0.5) * step_s) - under_k)
        total += math.exp(-x) - 1.0 + x
    return float(total * step_s)


@compiled
def _about_mean_s(mean: Array, lasts_s: float, early_s: float, rate: Rates) -> tuple[float, float]:
    """Dose of a swing about a mean, its first seconds, ``early_s``, not counted [s]; and up to which
    temperature a time before it may count in its place [°C].

    Proof: `bound_kernel_swing`.
    """
    ln_at_0c, per_k, _, _, share = rate
    least_s, counts_c = math.inf, math.inf
    for group in range(GROUPS):
        if mean[MISSING + group] < 0.0:
            break
        short_k = (mean[MISSING + group] + early_s * mean[SURPLUS]) / lasts_s
        at_least_c = mean[LEVEL + group] - short_k
        counts_c = min(counts_c, at_least_c + math.log(1.0 + per_k * short_k) / per_k)
        more_s = 0.0
        if early_s <= 0.0:
            more_s = _bent_s(mean[APART + group], mean[TOP] - at_least_c, mean[QUICK], lasts_s, per_k)
        least_s = min(least_s, share * math.exp(ln_at_0c + per_k * at_least_c) * (lasts_s + more_s))
    return float(least_s), float(counts_c)


@compiled
def _same(ware_c: Array, slope: Array, course: int, box: int) -> bool:
    """Whether a course of a box is that after it."""
    for sample in range(ware_c.shape[0]):
        if ware_c[sample, course, box] != ware_c[sample, course + 1, box]:
            return False
        if slope[sample, course, box] != slope[sample, course + 1, box]:
            return False
    return True


@compiled
def _weights(between: int) -> Array:
    """Of a cubic at each point of a step: of its value at the start, slope there, and of those at the end."""
    found = np.empty((between + 1, 4))
    for place in range(between + 1):
        u = place / between
        found[place, 0], found[place, 1] = 2 * u**3 - 3 * u**2 + 1, u**3 - 2 * u**2 + u
        found[place, 2], found[place, 3] = 3 * u**2 - 2 * u**3, u**3 - u**2
    return found


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
    least: bool,
) -> Array:
    """Dose of each course (samples × courses × boxes), read between samples by cubics: courses × boxes [s].

    ``between`` is how many points of a step are looked at; up to the time ``part_s`` the ``first`` rate
    counts, after it the one ``then``. ``begins`` and ``means`` are those of a bath that swings, as
    `bound_kernel_swing` has them; -1 for one that does not. Where the ``least`` of all courses of a box is
    asked for, one is followed only until it has earned as much as another: its dose is no less than given.
    """
    samples, courses, boxes = ware_c.shape
    found, kinds = np.empty((courses, boxes)), len(begins)
    waits, swung_s, counts_c = np.zeros(kinds, dtype=np.bool_), np.empty(kinds), np.empty(kinds)
    of_first, of_then, weights = _ends_of(first), _ends_of(then), _weights(between)
    enough_s, final_s = np.full(boxes, math.inf), time_s[samples - 1]
    # Points that are switched off late have the least as a rule.
    for course in range(courses - 1, -1, -1):
        for box in range(boxes):
            if (
                course < courses - 1
                and _same(ware_c, slope, course, box)
                and np.all(begins[:, course, box] == begins[:, course + 1, box])
            ):
                found[course, box] = found[course + 1, box]
                continue
            total, now_s, now_c, parted = 0.0, time_s[0], ware_c[0, course, box], time_s[0] >= part_s
            rate, ends = (then, of_then) if parted else (first, of_first)
            now, swung, counts_until_s = _antiderivative(now_c, rate, ends), -math.inf, -math.inf
            wait = False
            for kind in range(kinds):
                waits[kind], swung_s[kind] = begins[kind, course, box] >= 0, -math.inf
                wait = wait or waits[kind]
            late_c, late_slope = now_c, slope[0, course, box]
            for step in range(samples - 1):
                if wait and (parted or part_s >= final_s):
                    rate, wait = then if parted else first, False
                    for kind in range(kinds):
                        swings = begins[kind, course, box]
                        if not waits[kind] or step < swings:
                            wait = wait or waits[kind]
                            continue
                        waits[kind], mean = False, means[:, kind, course, box]
                        from_s, early_s = max(mean[FROM], now_s), now_s - time_s[swings]
                        if from_s < final_s and _mean_counts(mean, rate):
                            # Up to the first time at which every point swings the lesser counts.
                            more_s, counts_c[kind] = _about_mean_s(mean, final_s - from_s, early_s, rate)
                            swung_s[kind] = total + more_s
                            counts_until_s = max(counts_until_s, mean[FROM])
                            swung = max(swung, swung_s[kind])
                begun_s, step_s = time_s[step], time_s[step + 1] - time_s[step]
                early_c, early_k = late_c, step_s * late_slope
                late_c, late_slope = ware_c[step + 1, course, box], slope[step + 1, course, box]
                late_k = step_s * late_slope
                for place in range(1, between + 1):
                    after_s, after_c = time_s[step + 1], late_c
                    if place < between:
                        after_s = begun_s + step_s * (place / between)
                        after_c = weights[place, 0] * early_c + weights[place, 1] * early_k
                        after_c += weights[place, 2] * late_c + weights[place, 3] * late_k
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
                    if now_s < counts_until_s:
                        for kind in range(kinds):
                            until_s = min(means[FROM, kind, course, box], after_s)
                            if swung_s[kind] > -math.inf and now_s < until_s:
                                there_c = now_c + (until_s - now_s) / (after_s - now_s) * (after_c - now_c)
                                one_c, other_c = min(now_c, counts_c[kind]), min(there_c, counts_c[kind])
                                one = _antiderivative(one_c, rate, ends)
                                other = _antiderivative(other_c, rate, ends)
                                swung_s[kind] += _earned_s(one_c, other_c, until_s - now_s, one, other, rate)
                                swung = max(swung, swung_s[kind])
                    now_s, now_c, now = after_s, after_c, after
                if max(total, swung) >= enough_s[box]:
                    break
            found[course, box] = max(total, swung)
            if least:
                enough_s[box] = min(enough_s[box], found[course, box])
    return found
