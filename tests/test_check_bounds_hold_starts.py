"""What a hold knows of points that are switched off early, or far apart from their ware: runs by hand.

*No published source*: the proofs stand in `bound_kernel_apart`, `bound_kernel_swing`, `bound_kernel_doses`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from bound_cases import Numbers
from test_check_bounds_swing import C_J_PER_KG_K, STEP_S, Run, a_box, a_run

from optimizer.check import bound_kernel as kernel
from optimizer.check import bound_kernel_swing as swing
from optimizer.check.bound_kernel_apart import coldest_start_c, of_part
from optimizer.check.bound_kernel_begun import Speeds, begun_ks, speeds_of
from optimizer.check.bound_kernel_doses import _about_mean_s, _bent_s
from optimizer.check.bound_kernel_kept import nothing_kept
from optimizer.compiled import compiled

NOMINAL = np.array([900.0, 6.0, 4000.0, 60.0, 3000.0, 20.0])
"""Element [W], loss [W/K], ware [J/K], its time constant [s], tank [J/K], room [°C]."""


def a_box_of(random: np.random.Generator) -> tuple[Numbers, Numbers, Numbers]:
    """Ends of every quantity of `NOMINAL`, and the box of them."""
    low = NOMINAL * random.uniform(0.6, 1.5, 6)
    high = low * (1.0 + random.choice([0.0, 0.03, 0.2]) * random.uniform(size=6))
    box = np.zeros((kernel.QUANTITIES, 2))
    box[kernel.SWITCHED], box[kernel.LOSS], box[kernel.WARE] = (
        (low[0], high[0]), (high[1], low[1]), (high[2], low[2]),
    )  # fmt: skip
    box[kernel.LAG], box[kernel.TANK], box[kernel.ROOM] = (
        (high[3], low[3]), (high[4], low[4]), (low[5], high[5]),
    )  # fmt: skip
    box[kernel.PASSES] = high[2] / low[3], low[2] / high[3]
    return low, high, box


@compiled
def switched_off_s(at: Numbers, water_kg: float, bath_c: float, ware_c: float, off_c: float) -> float:
    """When a bath that is heated all the time comes to a temperature, by the midpoint rule."""
    element_w, loss, ware, lag_s, tank, room_c = at[0], at[1], at[2], at[3], at[4], at[5]
    for step in range(10_000):
        if bath_c >= off_c:
            return STEP_S * step
        at_bath_c, at_ware_c, bath_slope, ware_slope = bath_c, ware_c, 0.0, 0.0
        for _ in range(2):
            net_w = element_w - loss * (at_bath_c - room_c) - ware / lag_s * (at_bath_c - at_ware_c)
            bath_slope = net_w / (C_J_PER_KG_K * water_kg + tank)
            ware_slope = (at_bath_c - at_ware_c) / lag_s
            at_bath_c, at_ware_c = bath_c + 0.5 * STEP_S * bath_slope, ware_c + 0.5 * STEP_S * ware_slope
        bath_c, ware_c = bath_c + STEP_S * bath_slope, ware_c + STEP_S * ware_slope
    return math.inf


def test_no_point_that_is_switched_off_by_then_begins_with_a_colder_ware() -> None:
    """300 boxes of 24 points, most at ends: each is asked for by its own time of switching off."""
    random, above, slack_k = np.random.default_rng(3), 0, []
    for _ in range(300):
        low, high, box = a_box_of(random)
        water_kg, off_c = float(random.uniform(2.0, 9.0)), float(random.uniform(36.0, 60.0))
        baths = np.sort(off_c - random.uniform(0.1, 3.0, 2))
        wares = baths[0] - np.sort(random.uniform(0.0, 40.0, 2))[::-1]
        # Between its first sample and its last the bath is no colder than the coldest of both nodes.
        held = np.zeros((2, 4, 2))
        held[0, 1], held[0, 2], held[:, 3] = wares, baths, water_kg
        held[1, 2] = wares[0], off_c
        for _ in range(24):
            ends = random.integers(0, 2, 6)
            at = np.where(random.uniform(size=6) < 0.8, np.where(ends, low, high), random.uniform(low, high))
            bath_c = float(random.choice([baths[0], baths[1], random.uniform(*baths)]))
            ware_c = float(random.choice([wares[0], wares[1], random.uniform(*wares)]))
            until_s = switched_off_s(at, water_kg, bath_c, ware_c, off_c)
            if math.isfinite(until_s):
                least_c = coldest_start_c(box, held, off_c, 1, False, until_s, water_kg, water_kg)
                assert wares[0] <= least_c <= ware_c + 0.01, (at, until_s)
                above += least_c > wares[0] + 1.0
                slack_k.append(ware_c - least_c)
    # No empty bound: it binds for many, and some come close to it.
    assert above > 500
    assert np.quantile(slack_k, 0.05) < 1.5


def test_what_is_nearer_at_first_dies_out() -> None:
    """By hand: 4 K nearer at first, 1.5 K after 100 s, 0.5 K after 200 s."""
    times_s = np.array([0.0, 100.0, 200.0])
    during = np.array([[1.0, 10.0, 0.01], [1.0, 4.0, 0.01]])
    warmer_k, own_k, own = np.array([10.0, 4.0, 2.0]), np.empty(3), np.empty((2, 3))
    of_part(times_s, warmer_k, during, 4.0, own_k, own)
    assert own[:, 1] == pytest.approx([6.0, 4.0 - 4.0 * math.exp(-1.0)])
    assert own_k == pytest.approx([6.0, 4.0 - 4.0 * math.exp(-1.0), 2.0 - 4.0 * math.exp(-2.0)])
    of_part(times_s, warmer_k, during, 0.0, own_k, own)
    assert own_k.tolist() == warmer_k.tolist()
    assert own.tolist() == during.tolist()


@pytest.mark.parametrize("lasts_s", [20.0, 500.0])
@pytest.mark.parametrize(("apart_k", "under_k"), [(8.0, 0.5), (20.0, 2.0), (3.0, 2.9)])
def test_a_rate_is_above_its_tangent_by_its_bend(apart_k: float, under_k: float, lasts_s: float) -> None:
    times_s = np.linspace(0.0, lasts_s, 20_001)
    x = 0.1 * np.maximum(apart_k * np.exp(-times_s / 60.0) - under_k, 0.0)
    whole_s = float(np.trapezoid(np.exp(-x) - 1.0 + x, times_s))
    assert 0.93 * whole_s <= _bent_s(apart_k, under_k, 1.0 / 60.0, lasts_s, 0.1) <= whole_s + 1e-9
    assert _bent_s(under_k, apart_k, 1.0 / 60.0, lasts_s, 0.1) == 0.0


def mean_of(run: Run, first_k: float, colder_k: float, lasts_s: float) -> Numbers:
    """The mean of a run from its first switching off on, its groups and all, or none."""
    hottest_c, kg = run.on_c + run.swing_k + 0.02, (run.water_kg, run.water_kg)
    found = np.zeros(swing.NUMBERS)
    for group, share in enumerate(swing.SHARES):
        under_k, missing_ks = swing.swing_of(
            run.box, share * first_k, colder_k, run.on_c - 0.02, hottest_c, run.swing_k, run.swing_k,
            *kg, 0.0, True, lasts_s, share * first_k, 0.0, colder_k, nothing_kept(),
        )  # fmt: skip
        found[swing.LEVEL + group] = run.on_c + 0.5 * run.swing_k - under_k
        found[swing.MISSING + group] = missing_ks
        found[swing.APART + group] = first_k * (*swing.SHARES[1:], 0.0)[group]
    speeds = speeds_of(run.box, run.on_c - 0.02, hottest_c, *kg)
    found[swing.TOP] = run.on_c + run.swing_k + 0.02 + speeds[1] / speeds[5]
    found[swing.QUICK] = speeds[6]
    return found


def test_no_held_ware_earns_less_than_its_groups_say() -> None:
    """400 machines, a tenfold rate each 5 to 30 K, every 20th second as the end; D1 is known or rough."""
    random, looked, bent, gaps = np.random.default_rng(8), 0, 0, []
    while looked < 400:
        run = a_run(random)
        if len(run.bath_k) < 400:
            continue
        apart_k, mid_c = run.bath_k - run.ware_k, run.on_c + 0.5 * run.swing_k
        first_k, colder_k = max(float(apart_k.max()), 0.0), max(float(-apart_k.min()), 0.0)
        first_k *= float(random.choice([1.0, random.uniform(1.0, 1.3)]))
        per_k = math.log(10.0) / float(random.uniform(5.0, 30.0))
        rate = -per_k * mid_c, per_k, -1e3, 1e3, 1.0
        rates = np.exp(per_k * run.ware_k)
        earned_s = np.concatenate([[0.0], np.cumsum(0.5 * STEP_S * (rates[1:] + rates[:-1]))])
        looked += 1
        for end in range(200, len(rates), 40):
            mean = mean_of(run, first_k, colder_k, STEP_S * end)
            if mean[swing.MISSING] < 0.0:
                break
            bound_s, _ = _about_mean_s(mean, STEP_S * end, 0.0, rate)
            assert bound_s <= earned_s[end] * (1.0 + 2e-3)
            mean[swing.APART : swing.APART + swing.GROUPS] = 0.0
            straight_s, _ = _about_mean_s(mean, STEP_S * end, 0.0, rate)
            assert straight_s <= bound_s
            bent += straight_s < 0.99 * bound_s
            gaps.append(1.0 - bound_s / earned_s[end])
    assert bent > 500
    assert np.quantile(gaps, 0.1) < 0.02


def test_no_fall_lasts_longer_than_what_is_left_of_the_hold() -> None:
    """By hand: 10 W/K and 2000 J/K, 4 K in 20 to 22 s; of 10 s the bend is an eighth of 10 s times 0.02 K/s.

    Begun anywhere in a fall it may miss a half of 10 s times what the ends are short of 4 K, once it has 10 s
    to fall: with 1.8 to 2 K above the threshold, of cells of a sixth of a kelvin.
    """
    box = a_box(10.0, 800.0)
    for left_s, bend_s in ((10.0, 10.0), (1e3, 4.0 / 0.18)):
        held = 56.0, 60.0, 4.0, 4.0, 0.0, 0.0, 0.0, True, left_s, 0.0, 0.0, 0.0
        under_k, _ = swing.swing_of(box, 0.0, 0.0, *held, nothing_kept())
        assert under_k == pytest.approx(bend_s * 10.0 * 4.0 / 2000.0 / 8.0)
    speeds: Speeds = (0.18, 0.2, 0.2, 0.22, 0.0, 1e3, 1e3)
    found = begun_ks(
        speeds, 0.0, 0.0, 4.0, 0.0, 0.0, 0.0, 1e6, 0.0, 0.18, 0.18, 0.2, 0.22, 10.0, nothing_kept()
    )
    assert 0.5 * 10.0 * (4.0 - 1.8) <= found[2] <= 0.5 * 10.0 * (4.0 - 1.8 + 1.0 / 3.0)
