"""The mean about which a held ware swings: its lemma against runs by hand, and points of the tolerances.

*No published source*: the proof stands in `bound_kernel_swing`. Here bath and ware are stepped by a code of
this file, and by the check's own integration.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from bound_cases import Numbers, allowed, broken, everything, judged, points
from check_cases import THERMOSTAT, a_round, machine, programme

from optimizer.check import bound_hold
from optimizer.check import bound_kernel as kernel
from optimizer.check import bound_kernel_swing as swing
from optimizer.check.bound_hold import PARTS
from optimizer.check.bound_kernel import QUANTITIES
from optimizer.check.bound_kernel_apart import under_threshold_k
from optimizer.check.bound_kernel_doses import _about_mean_s, _earned_s, _mean_counts, coldest_doses_s
from optimizer.check.bound_kernel_kept import nothing_kept
from optimizer.check.bound_rows import values_of
from optimizer.check.box import box_of
from optimizer.compiled import compiled
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

STEP_S = 0.5
C_J_PER_KG_K = 4190.0
"""Specific heat of water within what the bound allows for [J/(kg K)]."""


def a_box(loss_w_per_k: float, element_w: float, ware_j_per_k: float = 0.0, lag_s: float = 60.0) -> Numbers:
    """A box without width: a tank of 2000 J/K, a room of 20 °C, no pump heat."""
    box = np.zeros((QUANTITIES, 2))
    box[kernel.LOSS], box[kernel.SWITCHED], box[kernel.PASSES] = loss_w_per_k, element_w, ware_j_per_k / lag_s
    box[kernel.TANK], box[kernel.WARE], box[kernel.ROOM], box[kernel.LAG] = 2000.0, ware_j_per_k, 20.0, lag_s
    return box


def held_between(
    box: Numbers, on_c: float = 56.0, warmer_k: float = 0.0, first: bool = True
) -> tuple[float, float]:
    """The mean of a bath of no water that is held for ever below 60 °C, each fall by 4 K."""
    return swing.swing_of(
        box, warmer_k, 0.0, on_c, 60.0, 4.0, 4.0, 0.0, 0.0, 0.0, first, np.inf, warmer_k, 0.0, 0.0,
        nothing_kept(),
    )  # fmt: skip


def test_without_ware_the_mean_is_midway_but_for_the_bend_of_a_fall() -> None:
    """By hand: 10 W/K over 36 to 40 K cool 2000 J/K by 0.18 to 0.2 K/s: 4 K take 22.2 s at the most."""
    (under_k, missing_ks), (_, later_ks) = (
        held_between(a_box(10.0, 800.0), first=first) for first in (True, False)
    )
    assert under_k == pytest.approx(10.0 * 4.0 * (4.0 / 0.18) / (8.0 * 2000.0))
    # The ware follows in 60 s: of a rise or fall just begun or ended its 4 K may be missing, and no more.
    assert 0.0 <= missing_ks <= 60.0 * 4.0
    # (4 - y) (60 + y / 0.36) is most at no y.
    assert later_ks == pytest.approx(missing_ks + 4.0 * 60.0, rel=0.02)


@pytest.mark.parametrize("element_w", [399.0, 0.0])
def test_where_the_element_may_not_warm_the_bath_there_is_no_mean(element_w: float) -> None:
    for box in (a_box(10.0, element_w), a_box(0.0, 800.0)):
        for first in (True, False):
            found = held_between(box, on_c=60.0, first=first)
            assert found[1] == -1.0


def test_what_is_kept_from_another_mean_changes_none() -> None:
    """Means one after the other in the same room, each but for one number as the one before; bit by bit.

    No source: it is to be no more than a saving of work.
    """
    usual = [5.0, 1.0, 56.0, 61.0, 4.0, 4.5, 8.0, 7.5, 0.02, 900.0, 6.0, 30.0, 1.0]
    kept = nothing_kept()
    for number in (*range(len(usual)), *range(len(usual))):
        usual[number] *= 1.01
        for first in (True, False):
            for box in (a_box(10.0, 700.0, 2000.0, 50.0), a_box(12.0, 700.0, 2000.0, 50.0)):
                at = box, *usual[:9], first, *usual[9:]
                assert swing.swing_of(*at, kept) == swing.swing_of(*at, nothing_kept())


def test_bath_and_ware_are_as_far_apart_as_the_falls_leave_them() -> None:
    """By hand: 2000 J/K of ware as of tank, 50 s, 10 K apart at first; 0.18 to 0.2 K/s off, 0.17 K/s on.

    They approach by k = 2 / 50 s. By 0.2 s + 0.02 x 10 (1 - e^-ks) / k = 4 K the first fall takes 11.06 s and
    leaves 10 e^-0.4424 - 0.18 (1 - e^-0.4424) / k = 4.816 K, more than 0.17 / k; a later one, with 4.816 for
    10, takes 14.66 s and leaves 4.816 e^-0.5864 - 4.5 (1 - e^-0.5864) = 0.682 K. A fall lasts 4 K / 0.09 K/s
    at the most.
    """
    held = 56.0, 60.0, 4.0, 4.0, 0.0, 0.0, 0.0, True, np.inf, 10.0, 0.0, 0.0
    under_k, _ = swing.swing_of(a_box(10.0, 700.0, 2000.0, 50.0), 10.0, 0.0, *held, nothing_kept())
    assert under_k == pytest.approx(
        (4.816 + 0.682) / 4.0 + 10.0 * 4.0 * 22.222 / (8.0 * 2000.0) / 2.0, abs=1e-3
    )


def test_a_last_fall_misses_no_more_than_at_any_moment_that_may_end_it() -> None:
    """No heat in the ware, 4 K colder at first, 60 s: every end of a fall of 0.18 to 0.2 K/s is looked at.

    What the ware is behind by w - y and 60 s of it, or by what it can have gained, less s (4 K - y) / 2.
    """
    _, missing_ks = held_between(a_box(10.0, 800.0), warmer_k=4.0)
    since_s = np.linspace(0.0, 4.0 / 0.18, 2001)[:, None]
    fallen_k = np.linspace(0.18 * since_s, np.minimum(0.2 * since_s, 4.0), 21)
    gained_ks = 60.0 * 4.0 * -np.expm1(-since_s / 60.0)
    # A rise at 0.22 K/s, 4 K long, or slower by its loss: 0.2 K/s leave the ware so much colder.
    behind_ks = 60.0 * (4.0 - 0.2 * 60.0 * -np.expm1(-4.0 / 0.22 / 60.0))
    gained_ks = np.maximum(gained_ks, gained_ks + behind_ks)
    most_ks = (np.minimum(gained_ks, 60.0 * (4.0 - fallen_k)) - 0.5 * since_s * (4.0 - fallen_k)).max()
    assert most_ks <= missing_ks <= 1.06 * most_ks


@dataclass
class Run:
    """A bath held by hand: bath and ware above the middle of the thresholds, from its first switching off."""

    bath_k: Numbers
    ware_k: Numbers
    box: Numbers
    water_kg: float
    on_c: float
    swing_k: float


@compiled
def by_hand(held_by: tuple[float, ...], bath_c: float, ware_c: float, to: Numbers) -> Numbers:
    """Step bath and ware by the midpoint rule; what they are from the first switching off on."""
    on_c, swing_k, element_w, loss, room_c, ware, lag_s, bath = held_by
    on, count = 1.0, 0
    for _ in range(len(to)):
        if bath_c >= on_c + swing_k:
            on = 0.0
        elif bath_c <= on_c:
            on = 1.0
        if count or on == 0.0:
            to[count, 0], to[count, 1] = bath_c, ware_c
            count += 1
        at_bath_c, at_ware_c, bath_slope, ware_slope = bath_c, ware_c, 0.0, 0.0
        for _ in range(2):
            passes_w = ware / lag_s * (at_bath_c - at_ware_c)
            bath_slope = (element_w * on - loss * (at_bath_c - room_c) - passes_w) / bath
            ware_slope = (at_bath_c - at_ware_c) / lag_s
            at_bath_c, at_ware_c = bath_c + 0.5 * STEP_S * bath_slope, ware_c + 0.5 * STEP_S * ware_slope
        bath_c, ware_c = bath_c + STEP_S * bath_slope, ware_c + STEP_S * ware_slope
    return to[:count]


def a_run(random: np.random.Generator) -> Run:
    """Two nodes that stay as they are, stepped by the midpoint rule: ware of any weight, speed and start."""
    swing_k, on_c, water_kg = (
        float(random.uniform(*ends)) for ends in ((0.5, 5.0), (35.0, 65.0), (2.0, 10.0))
    )
    tank, ware = float(random.uniform(1e3, 8e3)), float(10.0 ** random.uniform(2.0, 4.3))
    lag_s, loss = float(random.uniform(15.0, 250.0)), float(random.uniform(2.0, 25.0))
    room_c, bath = float(random.uniform(5.0, 28.0)), C_J_PER_KG_K * water_kg + tank
    element_w = float(random.uniform(1.3, 6.0)) * loss * (on_c + swing_k - room_c)
    bath_c = on_c + swing_k - float(random.uniform(0.0, 3.0))
    ware_c = bath_c - float(random.choice([0.0, 2.0, 15.0, 40.0]) * random.uniform(-0.1, 1.0))
    steps = int(random.uniform(3.0, 9.0) * 400.0 / STEP_S)
    held_by = (on_c, swing_k, element_w, loss, room_c, ware, lag_s, bath)
    found = by_hand(held_by, bath_c, ware_c, np.empty((steps, 2)))
    box = a_box(loss, element_w, ware, lag_s)
    box[kernel.TANK], box[kernel.ROOM] = tank, room_c
    above_k = found - (on_c + 0.5 * swing_k)
    return Run(above_k[:, 0], above_k[:, 1], box, water_kg, on_c, swing_k)


def test_no_held_ware_gets_less_than_its_mean_from_any_time_to_any_later() -> None:
    """400 machines: from the first switching off, and from 40 later times, to every later second."""
    random, looked, near = np.random.default_rng(5), 0, []
    while looked < 400:
        run = a_run(random)
        if len(run.bath_k) < 200:
            continue
        apart_k = run.bath_k - run.ware_k
        starts = [0, *(random.integers(1, len(run.bath_k) - 100, 40)).tolist()]
        whole_ks = np.concatenate([[0.0], np.cumsum(0.5 * STEP_S * (run.ware_k[1:] + run.ware_k[:-1]))])
        for start in starts:
            warmer_k, colder_k = max(apart_k[start:].max(), 0.0), max(-apart_k[start:].min(), 0.0)
            lasts_s = STEP_S * np.arange(len(run.bath_k) - start)
            # The hottest bath is that of a step that passed the threshold.
            hottest_c = run.on_c + run.swing_k + 0.02
            under_k, missing_ks = swing.swing_of(
                run.box, warmer_k, colder_k, run.on_c - 0.02, hottest_c, run.swing_k, run.swing_k,
                run.water_kg, run.water_kg, 0.0, not start, lasts_s[-1], max(apart_k[0], 0.0),
                STEP_S * start, max(-apart_k.min(), 0.0), nothing_kept(),
            )  # fmt: skip
            if missing_ks < 0.0:
                break
            earned_ks = whole_ks[start:] - whole_ks[start]
            least_ks = -under_k * lasts_s - missing_ks
            assert (earned_ks - least_ks).min() >= -0.02 * run.swing_k * (1.0 + STEP_S)
            if not start:
                near.append((earned_ks[-1] - least_ks[-1]) / (run.swing_k * lasts_s[-1]))
        else:
            looked += 1
    # And it is no empty bound: half of them are within a fifteenth of the hysteresis.
    assert np.median(near) < 1.0 / 15.0


def test_a_cold_ware_that_draws_its_bath_under_the_threshold_is_followed_until_it_is_back() -> None:
    """4.6 kg heated to 60 °C, then sprayed on ware of 15 °C: 200 W/K of it draw more than the 600 W give.

    A mean from a time under the threshold misses more than it says, so that none may begin there.
    """
    on_c, swing_k, water_kg, step_s = 56.0, 4.0, 4.6, 0.5
    box = a_box(5.0, 600.0, 8000.0, 40.0)
    heat_j_per_k = C_J_PER_KG_K * water_kg + 2000.0
    courses, on = [(on_c + swing_k, 15.0)], False
    for _ in range(4800):
        bath_c, ware_c = courses[-1]
        on = (on and bath_c < on_c + swing_k) or bath_c <= on_c
        net_w = 600.0 * on - 5.0 * (bath_c - 20.0) - 200.0 * (bath_c - ware_c)
        courses.append((bath_c + step_s * net_w / heat_j_per_k, ware_c + step_s * (bath_c - ware_c) / 40.0))
    bath_c, ware_c = np.array(courses).T
    apart_k, times_s = bath_c - ware_c, step_s * np.arange(len(bath_c))
    under_k = np.maximum(on_c - bath_c, 0.0)
    # Each step with how far they are apart at its ends.
    during = np.stack([apart_k[1:], apart_k[:-1], np.full(len(apart_k) - 1, 1e9)], axis=1)
    found = under_threshold_k(times_s, box, during, 0, on_c + swing_k, water_kg, water_kg)
    assert under_k.max() > 1.0
    assert (found >= under_k - 0.05).all(), "by the steps of this file"
    assert found.max() < under_k.max() + swing_k + 1.0
    back = int(np.flatnonzero(under_k > 0.05)[-1])
    assert found[back + 1500 :].max() == 0.0
    # By now the element warms it again.
    deep = int(np.flatnonzero((200.0 * apart_k < 200.0) & (under_k > 0.0))[0])
    lower_k, missing_ks = swing.swing_of(
        box, apart_k[deep:].max(), 0.0, on_c, on_c + swing_k, swing_k, swing_k, water_kg, water_kg, 0.0,
        False, np.inf, apart_k[0], step_s * deep, 0.0, nothing_kept(),
    )  # fmt: skip
    above_ks = np.cumsum(step_s * (ware_c[deep:] - on_c - 0.5 * swing_k))
    assert missing_ks > 0.0
    assert (above_ks + lower_k * step_s * np.arange(1, len(above_ks) + 1) + missing_ks).min() < 0.0


def test_a_rate_with_a_floor_or_a_ceiling_in_the_swing_is_left_alone() -> None:
    mean = np.zeros(swing.NUMBERS)
    mean[swing.LEVEL], mean[swing.COLDEST], mean[swing.HOTTEST] = 57.0, 54.0, 59.0
    for floor_c, ceiling_c, counts in ((54.1, 90.0, False), (30.0, 58.9, False), (54.0, 59.0, True)):
        assert _mean_counts(mean, (-10.0, 0.1, floor_c, ceiling_c, 1.0)) is counts


def test_a_swing_earns_the_rate_of_its_mean_less_what_may_be_missing() -> None:
    """By hand: a rate of 1 at 57 °C, exp(0.1) as much each kelvin: 100 s, 30 K s and 5 s of 4 K missing.

    That is 0.5 K under the mean: exp(-0.05). Up to there the tangent at 56.5 °C counts, 1.05 of it at 57 °C.
    """
    mean = np.zeros(swing.NUMBERS)
    mean[swing.MISSING :][: swing.GROUPS] = -1.0
    mean[swing.LEVEL], mean[swing.MISSING], mean[swing.SURPLUS] = 57.0, 30.0, 4.0
    earned_s, counts_c = _about_mean_s(mean, 100.0, 5.0, (-5.7, 0.1, 0.0, 90.0, 0.5))
    assert earned_s == pytest.approx(0.5 * 100.0 * 0.951229)
    assert counts_c == pytest.approx(56.5 + 10.0 * np.log(1.05))


RATE = (-5.7, 0.1, 30.0, 90.0, 0.5)
"""Half a second a second at 57 °C, exp(0.1) as much each kelvin, nothing under 30 °C."""


@pytest.mark.parametrize(("ware_c", "earned_s"), [(57.0, 50.0), (30.0, 50.0 * np.exp(-2.7)), (29.9, 0.0)])
def test_a_ware_that_stays_earns_by_its_rate_and_nothing_under_the_floor(
    ware_c: float, earned_s: float
) -> None:
    assert _earned_s.py_func(ware_c, ware_c, 100.0, 0.0, 0.0, RATE) == pytest.approx(earned_s)


def doses_s(ware_c: Numbers, slope: Numbers, mean: dict[int, float] | None = None) -> list[float]:
    """Doses of the courses of one box over 300 s, the mean of all of them counting from 100 s on."""
    means, courses = np.zeros((swing.NUMBERS, 1, ware_c.shape[1], 1)), ware_c.shape[1]
    means[swing.MISSING + 1 : swing.MISSING + swing.GROUPS] = -1.0
    for number, value in (mean or {}).items():
        means[number] = value
    begins = np.full((1, courses, 1), 1 if mean else -1)
    time_s = np.array([0.0, 100.0, 200.0, 300.0])
    rates = 2, 0.0, RATE, RATE
    return list(coldest_doses_s.py_func(time_s, ware_c, slope, *rates, begins, means, False)[:, 0])


def test_up_to_the_time_of_a_mean_the_ware_counts() -> None:
    """By hand: 56 °C up to 150 s, which is exp(-0.1) of the rate, then 150 s of a mean of 57 °C."""
    mean = {swing.LEVEL: 57.0, swing.COLDEST: 54.0, swing.HOTTEST: 59.0, swing.FROM: 150.0}
    level = np.full((4, 1, 1), 56.0)
    (earned_s,) = doses_s(level, np.zeros_like(level), mean)
    assert earned_s == pytest.approx(0.5 * (150.0 * np.exp(-0.1) + 150.0))
    # One that begins as the hold ends never counts.
    (earned_s,) = doses_s(level, np.zeros_like(level), mean | {swing.FROM: 300.0})
    assert earned_s == pytest.approx(0.5 * 300.0 * np.exp(-0.1))


def test_every_course_has_its_own_dose() -> None:
    """By hand: 57 °C twice, 56 °C, and 56 °C that sets out at 0.04 K/s: an eighth of 4 K more in mid-step."""
    ware_c, slope = np.full((4, 4, 1), 57.0), np.zeros((4, 4, 1))
    ware_c[:, 2:], slope[0, 3] = 56.0, 0.04
    bent_s = 0.5 * 100.0 * (np.exp(-0.05) - np.exp(-0.1)) / 0.05 + 100.0 * np.exp(-0.1)
    assert doses_s(ware_c, slope) == pytest.approx([150.0, 150.0, 150.0 * np.exp(-0.1), bent_s])


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
    none = np.full((swing.KINDS, PARTS, 1), -1), np.zeros((swing.NUMBERS, swing.KINDS, PARTS, 1))
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
