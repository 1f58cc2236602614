"""How far a held bath and its ware are apart, and how short a fall is: runs of random machines by hand.

*No published source*: the proofs stand in `bound_kernel_apart` and `bound_kernel_begun`. Bath and ware are
stepped by the midpoint rule of this file.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from bound_cases import Numbers
from test_check_bounds_hold_starts import a_box_of
from test_check_bounds_swing import C_J_PER_KG_K

from optimizer.check.bound_kernel_apart import apart_k_of, first_apart_k
from optimizer.check.bound_kernel_begun import (
    Speeds,
    left_by_fall_k,
    settled_most_k,
    shortest_fall_s,
    speeds_of,
)

STEP_S = 0.5


def a_run(at: Numbers, water_kg: float, bath_c: float, ware_c: float, on_c: float, swing_k: float) -> Numbers:
    """Bath, ware and whether the element is on, a row a step: heated at first, then held for 800 s."""
    element_w, loss, ware, lag_s, tank, room_c = at
    bath, on, found = C_J_PER_KG_K * water_kg + tank, True, []
    held_s, off_c = 0.0, on_c + swing_k

    def slopes(bath_c: float, ware_c: float) -> tuple[float, float]:
        passes_w = ware / lag_s * (bath_c - ware_c)
        return (element_w * on - loss * (bath_c - room_c) - passes_w) / bath, (bath_c - ware_c) / lag_s

    for _ in range(6000):
        if on and bath_c >= off_c:
            on, held_s = False, max(held_s, STEP_S)
        elif not on and bath_c <= on_c:
            on = True
        found.append((bath_c, ware_c, float(on)))
        if held_s > 800.0:
            break
        held_s += STEP_S * (held_s > 0.0)
        first = slopes(bath_c, ware_c)
        rates = slopes(bath_c + 0.5 * STEP_S * first[0], ware_c + 0.5 * STEP_S * first[1])
        bath_c, ware_c = bath_c + STEP_S * rates[0], ware_c + STEP_S * rates[1]
    return np.array(found)


def a_point(random: np.random.Generator, low: Numbers, high: Numbers) -> Numbers:
    ends = random.integers(0, 2, len(low))
    return np.where(random.uniform(size=len(low)) < 0.8, np.where(ends, low, high), random.uniform(low, high))


def heated(
    wares: Numbers, baths: Numbers, off_c: float, water_kg: float, lasts_s: float
) -> tuple[Numbers, Numbers]:
    """Samples of a heated course of which little is known between its start and its end, and their times."""
    held = np.zeros((41, 4, 2))
    held[0, 1], held[0, 2], held[:, 3] = wares, baths, water_kg
    held[1:, 1], held[1:, 2] = (wares[0], off_c), (wares[0], off_c)
    return held, np.linspace(0.0, lasts_s, 41)


def attack(seed: int, boxes: int, each: int) -> tuple[list[float], int]:
    """Slack of `first_apart_k` at points, and how many of them bind more than what a box knows at the start.

    Each point's time of switching off lies somewhere in its part; some begin at their upper threshold.
    """
    random, slack_k, nearer = np.random.default_rng(seed), [], 0
    for _ in range(boxes):
        low, high, box = a_box_of(random)
        water_kg, off_c = float(random.uniform(2.0, 9.0)), float(random.uniform(36.0, 60.0))
        swing_k = float(random.uniform(0.5, 4.0))
        baths = np.sort(off_c - random.choice([0.0, 1.0]) * random.uniform(0.0, 3.0, 2))
        if random.uniform() < 0.3:
            baths[1] = off_c
        wares = baths[0] - np.sort(random.uniform(0.0, 40.0, 2))[::-1]
        for _ in range(each):
            at = a_point(random, low, high)
            start = [float(random.choice([*ends, random.uniform(*ends)])) for ends in (baths, wares)]
            run = a_run(at, water_kg, start[0], start[1], off_c - swing_k, swing_k)
            off = np.flatnonzero(run[:, 2] == 0.0)
            if not len(off) or (run[:, 0].min() < off_c - swing_k - 0.05 and off[0] == 0):
                continue
            first = int(off[0])
            # The midpoint rule sees the crossing a step late.
            first_s = STEP_S * max(first - 1, 0)
            wide_s = float(random.choice([0.0, 5.0, 60.0]))
            from_s = max(first_s - wide_s * float(random.uniform()), 0.0) if first else 0.0
            until_s = STEP_S * first + wide_s * float(random.uniform())
            held, times_s = heated(wares, baths, off_c, water_kg, 40.0 * max(until_s / 30.0, 1.0))
            every_k, _, during = apart_k_of(times_s, box, held, off_c - swing_k, water_kg, water_kg)
            begins = min(int(np.searchsorted(times_s, from_s, side="right")) - 1, 39)
            ends = int(np.searchsorted(times_s, until_s))
            share = (from_s - times_s[begins]) / (times_s[begins + 1] - times_s[begins])
            bound_k = first_apart_k(
                times_s, box, held, during, off_c, begins, ends, share, until_s, from_s > 0.0
            )
            apart_k = (run[first:, 0] - run[first:, 1]).max()
            slack_k.append(float(bound_k - apart_k))
            nearer += bound_k < every_k[begins] - 1.0
    return slack_k, nearer


def test_no_bath_is_further_from_its_ware_once_it_is_switched_off() -> None:
    slack_k, nearer = attack(5, 60, 12)
    assert len(slack_k) > 500
    assert min(slack_k) > -0.02
    # No empty bound: it binds for many, and is close for some.
    assert nearer > 30
    assert np.quantile(slack_k, 0.1) < 0.5


def falls(seed: int, count: int) -> tuple[list[float], list[float], list[float]]:
    """How much longer whole falls last than said (a share), and by how much less D is after the first one."""
    random, longer, after_k, later_k = np.random.default_rng(seed), [], [], []
    while len(after_k) < count:
        low, high, box = a_box_of(random)
        at = a_point(random, low, high)
        water_kg, on_c = float(random.uniform(2.0, 9.0)), float(random.uniform(36.0, 60.0))
        swing_k = float(random.uniform(0.5, 4.0))
        run = a_run(at, water_kg, on_c + swing_k, on_c + swing_k - random.uniform(-1.0, 20.0), on_c, swing_k)
        switches = np.flatnonzero(np.diff(run[:, 2])) + 1
        ends = [step for step in switches if run[step, 2] == 1.0]
        if not ends or run[:, 0].min() < on_c - 0.05:
            continue
        hottest_c = float(run[:, 0].max())
        speeds = speeds_of(box, float(run[:, 0].min()), hottest_c, water_kg, water_kg)
        off_least, _, on_least, _, passes, k_least, k_most = speeds
        begun = 0
        for end in ends:
            apart_k, fallen_k = run[begun, 0] - run[begun, 1], run[begun, 0] - run[end, 0]
            least_s = shortest_fall_s(float(fallen_k), speeds, float(apart_k))
            longer.append(STEP_S * (end - begun) / least_s - 1.0)
            starts = [step for step in switches if step > end and run[step, 2] == 0.0]
            if not starts:
                break
            begun = starts[0]
        first_k = float(run[0, 0] - run[0, 1])
        least_s = shortest_fall_s(swing_k, speeds, first_k)
        if off_least <= 0.0:
            continue
        left_k = left_by_fall_k(max(first_k, 0.0), least_s, off_least, k_least, k_most)
        after_k.append(left_k - float(run[ends[0], 0] - run[ends[0], 1]))
        if on_least > passes * max(left_k, speeds[3] / k_least):
            most_k = float((run[ends[0] :, 0] - run[ends[0] :, 1]).max())
            later_k.append(settled_most_k(speeds, swing_k, left_k) - most_k)
    return longer, after_k, later_k


def test_no_fall_is_shorter_and_nothing_further_apart_after_it() -> None:
    longer, after_k, later_k = falls(11, 200)
    assert min(longer) > -0.01
    assert min(after_k) > -0.02
    assert min(later_k) > -0.02
    assert np.quantile(longer, 0.2) < 0.12
    assert np.quantile(later_k, 0.2) < 0.3


@pytest.mark.parametrize("warmer_k", [0.0, 2.0, 12.0])
def test_the_least_time_of_a_fall_is_that_of_its_sum(warmer_k: float) -> None:
    """The root of ``0.02 s + 0.002 D (1 - exp(-s / 50)) 50 = 1.5 K``, from below and all but it."""
    speeds: Speeds = (0.01, 0.02, 0.1, 0.1, 0.002, 1.0 / 50.0, 1.0 / 40.0)
    found_s = shortest_fall_s(1.5, speeds, warmer_k)
    fallen_k = 0.02 * found_s + 0.1 * warmer_k * -math.expm1(-found_s / 50.0)
    assert 0.98 * 1.5 <= fallen_k <= 1.5 + 1e-12
