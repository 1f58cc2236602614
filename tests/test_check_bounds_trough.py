"""The least ware of a held bath, and means that begin at any time: against runs stepped by hand.

*No published source*: the proofs stand in `bound_kernel_trough` and `bound_kernel_begun`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from bound_cases import broken, everything
from check_cases import a_round, machine, programme
from test_check_bounds_swing import STEP_S, Run, a_box, a_run

from optimizer.check import bound_kernel as kernel
from optimizer.check import bound_kernel_swing as swing
from optimizer.check.bound_box import ends_of
from optimizer.check.bound_kernel_apart import LEAST_J_PER_KG_K
from optimizer.check.bound_kernel_begun import Speeds, begun_ks, left_by_fall_k, most_later_k, speeds_of
from optimizer.check.bound_kernel_kept import nothing_kept
from optimizer.check.bound_kernel_trough import died_out, in_first_fall, lift, rises_k
from optimizer.check.box import box_of
from optimizer.check.worst_cases import cases_at, tolerances

SPEEDS: Speeds = (0.004, 0.005, 0.012, 0.014, 0.0015, 0.015, 0.016)
"""A bath that falls by 4 to 5 mK/s, rises by 12 to 14, and comes together with its ware in 65 s."""


def speeds_in(run: Run) -> Speeds:
    """Those of a run without tolerance; its steps go past a threshold by 0.02 K."""
    hottest_c = run.on_c + run.swing_k + 0.02
    return speeds_of(run.box, run.on_c - 0.02, hottest_c, run.water_kg, run.water_kg)


def longest_fall_s(run: Run, colder_k: float) -> float:
    psi = run.box[kernel.WARE, 0] / (LEAST_J_PER_KG_K * run.water_kg + run.box[kernel.TANK, 1])
    return float((run.swing_k + psi / (1.0 + psi) * colder_k) * (1.0 + psi) / speeds_in(run)[0])


def test_no_ware_of_a_held_bath_falls_below_its_least() -> None:
    """400 machines: from the first fall on, and from when what was apart at first has died out."""
    random, looked, above = np.random.default_rng(6), [0, 0], []
    for _ in range(400):
        run = a_run(random)
        if len(run.bath_k) < 200:
            continue
        apart_k, speeds = run.bath_k - run.ware_k, speeds_in(run)
        first_k, under = max(float(apart_k[0]), 0.0), run.bath_k < -0.5 * run.swing_k - 0.03
        longest_s = longest_fall_s(run, max(float(-apart_k.min()), 0.0))
        back_s = STEP_S * float(np.flatnonzero(under)[-1]) if under.any() else 0.0
        later = died_out(speeds, run.swing_k, first_k, longest_s)
        for place, (above_k, from_s) in enumerate(
            (in_first_fall(speeds, run.swing_k, first_k), (later[0], later[1] + back_s))
        ):
            if from_s < STEP_S * (len(run.ware_k) - 5):
                least_k = run.ware_k[math.ceil(from_s / STEP_S) :].min() + 0.5 * run.swing_k
                assert least_k >= above_k - 1e-3 * run.swing_k
                looked[place] += 1
                above.append(above_k / run.swing_k)
    assert min(looked) > 100
    # No empty bound: of a third of them more than a tenth of the hysteresis.
    assert np.quantile(above, 2.0 / 3.0) > 0.1


def test_a_mean_from_any_time_knows_when_the_element_first_went_off() -> None:
    """300 machines: nothing gets less, and a quarter of them miss a quarter less than without that."""
    random, looked, less = np.random.default_rng(7), 0, []
    while looked < 300:
        run = a_run(random)
        if len(run.bath_k) < 200:
            continue
        looked += 1
        apart_k = run.bath_k - run.ware_k
        whole_ks = np.concatenate([[0.0], np.cumsum(0.5 * STEP_S * (run.ware_k[1:] + run.ware_k[:-1]))])
        for start in random.integers(1, len(run.bath_k) - 100, 20):
            if run.bath_k[start] < -0.5 * run.swing_k - 0.03:
                continue
            warmer_k, colder_k = max(apart_k[start:].max(), 0.0), max(-apart_k[start:].min(), 0.0)
            held = warmer_k, colder_k, run.on_c - 0.02, run.on_c + run.swing_k + 0.02, run.swing_k
            kg = run.water_kg, run.water_kg, 0.0
            under_k, missing_ks = swing.swing_of(
                run.box, *held, run.swing_k, *kg, False, np.inf, max(apart_k[0], 0.0), STEP_S * start,
                max(-apart_k.min(), 0.0), nothing_kept(),
            )  # fmt: skip
            _, unknown_ks = swing.swing_of(
                run.box, *held, run.swing_k, *kg, False, np.inf, 1e6, 0.0, 1e3, nothing_kept()
            )
            if missing_ks < 0.0:
                continue
            lasts_s = STEP_S * np.arange(len(run.bath_k) - start)
            over_ks = whole_ks[start:] - whole_ks[start] + under_k * lasts_s + missing_ks
            assert over_ks.min() >= -0.02 * run.swing_k * (1.0 + STEP_S)
            assert missing_ks <= unknown_ks
            less.append(missing_ks / unknown_ks)
    assert np.quantile(less, 0.25) < 0.75, np.quantile(less, [0.1, 0.25, 0.5])


def test_a_ware_that_is_warmer_after_a_fall_cools_no_more_once_the_bath_has_risen() -> None:
    """By hand: 0.3 K warmer, coming together by 14 mK/s and 0.016 of the rest each second: 18.4 s."""
    seconds = math.log(1.0 + 0.016 * 0.3 / 0.014) / 0.016
    assert seconds == pytest.approx(18.4, abs=0.05)
    assert rises_k(SPEEDS, -0.3) == pytest.approx(0.012 * seconds)
    assert rises_k(SPEEDS, 0.2) == 0.0


def test_in_the_first_fall_bath_and_ware_meet_or_it_says_never() -> None:
    """By hand: 0.5 K apart, falling apart by 4 mK/s: ln(1 + 0.5 0.016 / 0.004) / 0.015 = 73 s of 1.5 K."""
    above_k, from_s = in_first_fall(SPEEDS, 1.5, 0.5)
    assert from_s == pytest.approx(math.log(3.0) / 0.015)
    assert 0.0 < above_k < 1.5
    # 20 K apart the ware draws the bath down within the minute, and is far colder still.
    assert in_first_fall(SPEEDS, 1.5, 20.0) == (0.0, math.inf)
    # However little they are apart at first: a later fall begins with what a rise leaves.
    assert in_first_fall(SPEEDS, 1.5, 0.0)[0] <= in_first_fall(SPEEDS, 1.5, 0.5)[0] + 1e-12
    assert most_later_k(SPEEDS, 0.0, 1.5) == pytest.approx(0.014 / 0.015)


def test_what_is_left_at_first_dies_out_before_the_least_ware_counts() -> None:
    """A fall that leaves nothing below 0 has no least ware: 0.1 K of hysteresis at these speeds."""
    above_k, from_s = died_out(SPEEDS, 1.5, 20.0, 400.0)
    assert above_k > 0.0
    band_k = 0.014 / 0.015
    left_k = -0.25 * left_by_fall_k(band_k, 1.5 / (0.005 + 0.0015 * band_k), 0.004, 0.015, 0.016)
    rise_s = 1.5 / (0.012 - 0.0015 * (band_k + left_k))
    assert from_s == pytest.approx(math.log(20.0 / left_k) / 0.015 + 800.0 + rise_s)
    assert died_out(SPEEDS, 0.1, 20.0, 400.0) == (0.0, math.inf)


def test_the_least_ware_is_put_where_every_later_one_is_colder_and_not_before() -> None:
    """Ware of 30, 26, 22, 21 and 20 °C each 10 s; at least 25 from 15 s on: the third stays as it is."""
    times_s, box = 10.0 * np.arange(5.0), a_box(10.0, 800.0, 3000.0)
    ware_c = np.array([30.0, 26.0, 22.0, 21.0, 20.0])
    course = np.stack([np.full(5, 24.0), ware_c, np.full(5, 25.0), np.full(5, 6.0)], 1)
    slopes = np.full(5, -0.1)
    lift(times_s, box, course, slopes, 15.0, 25.0, 6.0)
    assert course[:, 1].tolist() == [30.0, 26.0, 22.0, 25.0, 25.0]
    assert slopes.tolist() == [-0.1, -0.1, -0.1, 0.0, 0.0]
    # Bath and ware of 25 °C are a mixture of 25, but for the bend of water's enthalpy from 0 °C on.
    assert course[4, 0] == pytest.approx(25.0, abs=0.1)
    before = course.copy()
    lift(times_s, box, course, slopes, 41.0, 28.0, 6.0)
    lift(times_s, box, course, slopes, math.inf, 28.0, 6.0)
    assert np.array_equal(course, before)


def test_begun_at_the_worst_place_of_a_fall_or_a_rise() -> None:
    """Ware as warm as its bath all along, by hand: (H - y) y / 2 v is most halfway, H^2 / 8 v = 70 K s."""
    speeds: Speeds = (0.004, 0.004, 0.012, 0.012, 0.0, 1e3, 1e3)
    found = begun_ks(
        speeds, 0.0, 0.0, 1.5, 0.0, 0.0, 0.0, 1e6, 0.0, 0.004, 0.004, 0.012, 0.012, np.inf, nothing_kept()
    )
    fall_ks, rise_ks = 1.5**2 / (8.0 * 0.004), 1.5**2 / (8.0 * 0.012)
    # A cell is a twenty-fourth of the fall.
    assert fall_ks <= found[0] <= 1.1 * fall_ks
    assert fall_ks <= found[2] <= 1.1 * fall_ks
    # A rise that has begun ends above the middle; one that ends anywhere misses half of it.
    assert 0.0 <= found[1] <= 1.5 / 1e3
    assert rise_ks <= found[3] <= 1.1 * rise_ks
    # With 50 s to come together and as warm as its bath at first: in the first fall it stays the warmer one.
    speeds = (0.004, 0.004, 0.012, 0.012, 0.0, 0.02, 0.02)
    found = begun_ks(
        speeds, 0.0, 0.0, 1.5, 5.0, 0.0, 0.0, 0.0, 0.0, 0.004, 0.004, 0.012, 0.012, np.inf, nothing_kept()
    )
    assert fall_ks <= found[2] <= 1.1 * fall_ks


def test_voltage_and_rated_power_are_one_quantity_of_a_box() -> None:
    """218 to 241 V at 1800 to 2200 W of 230 V: every power between (218/230)^2 1800 and (241/230)^2 2200."""
    changes = {
        "supply.voltage_v": {"nominal": 230.0, "low": 218.0, "high": 241.0},
        "element.rated_w": {"nominal": 2000.0, "low": 1800.0, "high": 2200.0},
    }
    rig = machine(changes)
    assert rig.element is not None
    ends = ends_of(rig)
    assert ends["voltage_v"] == (rig.element.rated_v, rig.element.rated_v)
    ratio = 230.0 / rig.element.rated_v
    assert ends["rated_w"] == pytest.approx((1617.08 * ratio**2, 2415.46 * ratio**2), rel=1e-4)
    random, every = np.random.default_rng(3), tolerances(rig)
    table = {name: random.uniform(getattr(every, name).low, getattr(every, name).high, 500) for name in ends}
    power_w = cases_at(rig, ("",) * 500, 0, table).element_w
    assert ends["rated_w"][0] <= power_w.min()
    assert power_w.max() <= ends["rated_w"][1]


def test_a_bath_drawn_under_its_threshold_by_cold_ware_does_not_hold_the_ware() -> None:
    """Pump off, 7.5 kg come to 67.5 °C beside 38.7 kJ/K at 4 °C; ten minutes of spray bring both to under 65.

    The bath begins above its threshold: it is first switched off at once.
    """
    exact = {
        "inlet.flow_l_per_min": 10.0,
        "inlet.water_c": 37.0,
        "room.air_c": 0.0,
        "tank.heat_capacity_kj_per_k": 0.4,
        "tank.loss_still_w_per_k": 1.7,
        "tank.loss_spraying_w_per_k": 26.0,
        "tank.residual_l": 0.1,
        "ware.porcelain_kg": 45.0,
        "ware.response_spraying_s": 14.0,
        "wash_pump.power_w": 10.0,
        "element.rated_w": 3400.0,
        "element.control": "thermostat",
        "element.sensor_error_k": 0.0,
        "element.sensor_over_mean_k": -2.5,
        "element.top_over_mean_k": 3.0,
    }
    rig = machine(exact, tolerances=False)
    table = programme(
        a_round("wash", fill_s=45, heat_s=900, spray_s=600, spray_element_s=600, setpoint_dc=650),
        control="thermostat", hysteresis_dk=7, bath_max_dc=1000,
    )  # fmt: skip
    box = box_of(rig)
    assert broken(table, rig, everything(), box.low[None], box.high[None], 4, 1) == []
