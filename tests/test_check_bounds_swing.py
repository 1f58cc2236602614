"""The mean about which a held bath swings: its lemma against adverse sawteeth, and points of the tolerances.

*No published source*: the proof stands in `bound_kernel_swing`. Here bath and ware are stepped by hand, with
speeds chosen to hurt most, and by the check's own integration.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from bound_cases import Numbers, allowed, broken, everything, judged, points
from check_cases import THERMOSTAT, a_round, machine, programme

from optimizer.check import bound_hold
from optimizer.check import bound_kernel_swing as swing
from optimizer.check.bound_hold import PARTS
from optimizer.check.bound_kernel import QUANTITIES
from optimizer.check.bound_kernel_doses import _swung_s
from optimizer.check.bound_rows import values_of
from optimizer.check.box import box_of
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

STEP_S = 0.25
ON_C, SWING_K = 55.0, 4.0


def a_box(loss_w_per_k: float, element_w: float, passes_w_per_k: float = 0.0) -> Numbers:
    """A box without width: a tank of 2000 J/K, a room of 20 °C, no pump heat."""
    box = np.zeros((QUANTITIES, 2))
    box[swing.LOSS], box[swing.SWITCHED], box[swing.PASSES] = loss_w_per_k, element_w, passes_w_per_k
    box[swing.TANK], box[swing.ROOM], box[swing.LAG] = 2000.0, 20.0, 60.0
    return box


def test_equal_speeds_swing_about_the_middle() -> None:
    """By hand: no water, no ware; 10 W/K over 40 K is 400 W off, 800 W on gives as much: 0.2 K/s both."""
    share, missing_ks = swing._swing(a_box(10.0, 800.0), 0.0, 0.0, 60.0, 60.0, 4.0, 0.0, 0.0)
    assert share == pytest.approx(0.5)
    # Two triangles of 2 K and 10 s.
    assert missing_ks == pytest.approx(20.0)


def test_quick_above_and_slow_below_swing_lower() -> None:
    """By hand: 0.18 to 0.22 K/s at 56 and 64 °C; the root of their ratio 1.1055; the rise has the same."""
    share, _ = swing._swing(a_box(10.0, 800.0), 0.0, 0.0, 56.0, 64.0, 8.0, 0.0, 0.0)
    assert share == pytest.approx(1.0 / 2.10554, rel=1e-5)
    # Ware that may be 20 K colder takes 100 W more of a bath, and as much of its rise: 400 to 100 W there.
    share, _ = swing._swing(a_box(10.0, 800.0, 15.0), 20.0, 0.0, 60.0, 60.0, 4.0, 0.0, 0.0)
    assert share == pytest.approx(1.0 / 3.0)


@pytest.mark.parametrize("element_w", [399.0, 0.0])
def test_where_the_element_may_not_warm_the_bath_there_is_no_mean(element_w: float) -> None:
    assert swing._swing(a_box(10.0, element_w), 0.0, 0.0, 60.0, 60.0, 4.0, 0.0, 0.0) == (0.0, 0.0)
    assert swing._swing(a_box(0.0, 800.0), 0.0, 0.0, 60.0, 60.0, 4.0, 0.0, 0.0)[0] == 0.0


def sawteeth(random: np.random.Generator, quick: Numbers, slow: Numbers, lasts_s: float) -> Numbers:
    """x of many baths [K]: quick above an own level and slow below it, from anywhere in a fall or a rise."""
    count = len(quick)
    x, falls = random.uniform(0.0, SWING_K, count), random.uniform(size=count) < 0.5
    # Most are as bad as may be, others any.
    level = np.where(random.uniform(size=count) < 0.6, SWING_K / (1.0 + np.sqrt(quick / slow)),
                     random.uniform(0.0, SWING_K, count))  # fmt: skip
    found = [x]
    for _ in range(int(lasts_s / STEP_S)):
        speed = np.where(x > level, quick, slow)
        x = np.clip(x + STEP_S * np.where(falls, -speed, speed), 0.0, SWING_K)
        falls = np.where(falls, x > 0.0, x >= SWING_K)
        found.append(x)
    return np.array(found)


@pytest.mark.parametrize(
    ("tau_s", "lasts_s"), [(20.0, 300.0), (60.0, 300.0), (60.0, 2400.0), (300.0, 1200.0)]
)
def test_no_sawtooth_gets_less_of_a_dose(tau_s: float, lasts_s: float) -> None:
    """300 baths with speeds of any ratio up to 4, ware of any start, z of 10 K: none gets less than said."""
    random = np.random.default_rng(int(tau_s + lasts_s))
    slow = random.uniform(0.01, 0.1, 300)
    quick = slow * random.uniform(1.0, 4.0, 300)
    bath_c = ON_C + sawteeth(random, quick, slow, lasts_s)
    start_c = random.uniform(ON_C - 6.0, ON_C + SWING_K, 300)
    ware_c, rate = start_c.copy(), (-80.0 * math.log(10.0) / 10.0, math.log(10.0) / 10.0, 0.0, 200.0, 1.0)
    dose_s = np.zeros(300)
    stays = math.exp(-STEP_S / tau_s)
    for one, other in itertools.pairwise(bath_c):
        after_c = stays * ware_c + (1.0 - stays) * 0.5 * (one + other)
        dose_s += STEP_S * np.exp(rate[0] + rate[1] * 0.5 * (ware_c + after_c))
        ware_c = after_c
    share = 1.0 / (1.0 + np.sqrt(quick / slow))
    missing_ks = (share * SWING_K) ** 2 / slow
    times_s, near = np.linspace(0.0, lasts_s, int(lasts_s / 20.0) + 1), []
    for number in range(300):
        mean = np.zeros(swing.NUMBERS)
        mean[swing.LEVEL], mean[swing.MISSING] = ON_C + share[number] * SWING_K, missing_ks[number]
        mean[swing.BEHIND], mean[swing.HOTTEST] = tau_s, 100.0
        bound_s = _swung_s(times_s, 0, start_c[number], mean, rate)
        assert bound_s <= dose_s[number] * (1.0 + 2e-3)
        near.append(bound_s / dose_s[number])
    if lasts_s > 30.0 * tau_s:
        # And it is no empty bound: half of them are within a tenth, with a swing of 4 K and a z of 10 K.
        assert np.median(near) > 0.9


def test_a_rate_with_a_floor_or_a_ceiling_in_the_swing_is_left_alone() -> None:
    mean = np.zeros(swing.NUMBERS)
    mean[swing.LEVEL], mean[swing.COLDEST], mean[swing.HOTTEST], mean[swing.BEHIND] = 57.0, 54.0, 59.0, 60.0
    times_s = np.array([0.0, 100.0])
    for floor_c, ceiling_c in ((54.1, 90.0), (30.0, 58.9)):
        assert _swung_s(times_s, 0, 56.0, mean, (-10.0, 0.1, floor_c, ceiling_c, 1.0)) == -math.inf
    assert _swung_s(times_s, 0, 56.0, mean, (-10.0, 0.1, 54.0, 59.0, 1.0)) > 0.0


def table_of(spray_s: int, hysteresis_dk: int) -> Constants:
    row = a_round("wash", fill_s=200, spray_s=spray_s, spray_element_s=spray_s - 2, setpoint_dc=550)
    return programme(row, control="thermostat", fill_control="level", hysteresis_dk=hysteresis_dk)


def rig_of(changes: dict[str, Any] | None = None, *, tolerances: bool = True) -> Machine:
    warm = {"inlet.water_c": {"nominal": 50.0, "low": 48.0, "high": 52.0}}
    return machine(THERMOSTAT | warm | (changes or {}), tolerances=tolerances)


@pytest.mark.parametrize("response_s", [25.0, 200.0])
def test_most_of_what_the_threshold_alone_leaves_open_is_bounded(
    response_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A long hold without tolerances: at least 7 tenths of what its lower threshold is under its mean."""
    rig = rig_of({"ware.response_spraying_s": response_s, "inlet.water_c": 50.0}, tolerances=False)
    table, aim, box = table_of(5400, 30), everything(), box_of(rig)
    at = points(rig, box.tables(box.nominal[None]))
    bounds, found = values_of(table, rig, aim, at), judged(table, rig, aim, box.nominal[None])
    none = np.full((PARTS, 1), -1), np.zeros((swing.NUMBERS, PARTS, 1))
    monkeypatch.setattr(bound_hold, "all_swings", lambda *_: none)
    by_threshold = values_of(table, rig, aim, at)
    for key in (key for key in found if key.startswith("dose")):
        value, bound = float(found[key][0][0]), float(bounds[key][0])
        assert bound <= value + allowed(key, np.array([value]))[0], key
        assert value - bound <= 0.3 * (value - by_threshold[key][0]), key


@pytest.mark.parametrize("changes", [
    {}, {"ware.response_spraying_s": 200.0}, {"tank.loss_spraying_w_per_k": 30.0},
    {"element.sensor_error_k": 1.0, "element.rated_w": {"nominal": 900.0, "low": 700.0, "high": 1100.0}},
], ids=["usual", "slow ware", "much loss", "weak element"])  # fmt: skip
@pytest.mark.parametrize("hysteresis_dk", [15, 50])
def test_no_point_of_a_long_hold_breaks_the_bound(changes: dict[str, Any], hysteresis_dk: int) -> None:
    rig = rig_of(changes)
    box, random = box_of(rig), np.random.default_rng(hysteresis_dk)
    # Boxes of a tenth of the tolerances, where the bound is closest, and the whole of them.
    low = box.low + random.uniform(0.0, 0.9, (7, box.size)) * (box.high - box.low)
    low, high = np.vstack([low, box.low]), np.vstack([low + 0.1 * (box.high - box.low), box.high])
    assert broken(table_of(2400, hysteresis_dk), rig, everything(), low, high, each=6, seed=3) == []
