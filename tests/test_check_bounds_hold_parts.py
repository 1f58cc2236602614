"""The parts of a hold on courses that are given, each step worked out by hand.

*No source*: mixtures of two bodies, and slopes of a bath by its balance. Enthalpy of water by IAPWS-IF97.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import Numbers, boxes_of
from check_cases import THERMOSTAT, machine
from iapws import IAPWS97

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_hold import EDGES, PARTS, Heated, Held, Hold
from optimizer.check.bound_kernel import LOSS, QUANTITIES, ROOM, SWITCHED, TANK, WARE
from optimizer.check.bound_kernel_hold import _line_of, _on_line_c
from optimizer.check.bound_sides import C0_J_PER_KG_K, Acting
from optimizer.check.box import box_of

POOL_KG, WARE_J_PER_K, TANK_J_PER_K, INLET_C, ROOM_C = 10.0, 4200.0, 4500.0, 15.0, 18.0
ELEMENT_W, LOSS_W_PER_K, RESPONSE_S = 900.0, 9.0, 45.0
OFF_C, ON_C = 40.0, 38.0
FIXED: dict[str, Any] = {"inlet.water_c": INLET_C, "room.air_c": ROOM_C, "element.sensor_error_k": 0.0}


def h_j(at_c: float) -> float:
    """Enthalpy above that of the inlet's water."""
    return 1e3 * float(IAPWS97(T=273.15 + at_c, P=0.101325).h - IAPWS97(T=273.15 + INLET_C, P=0.101325).h)


def mixed_c(bath_c: float, ware_c: float) -> float:
    """Mixed temperature of bath and ware while the pump sprays, all film in the bath."""
    heat_j = POOL_KG * h_j(bath_c) + TANK_J_PER_K * (bath_c - INLET_C) + WARE_J_PER_K * (ware_c - INLET_C)
    return INLET_C + heat_j / (C0_J_PER_KG_K * POOL_KG + TANK_J_PER_K + WARE_J_PER_K)


def hold_of(
    low_c: list[float],
    high_c: list[float],
    ware_c: list[float],
    *,
    above_k: float = 0.0,
    step_s: float = 1.0,
    changes: dict[str, Any] | None = None,
    hot_ware_c: float | None = None,
    vent_m2: float = 0.0,
    rises_k_per_s: float = 0.0,
) -> Held:
    """Hold a bath of which the lower and the upper course are given, and the ware of both.

    Of the mixed temperature the lower course may be known better than by bath and ware: ``above_k``.
    """
    box = box_of(machine(THERMOSTAT | FIXED | (changes or {}), tolerances=False))
    boxes = boxes_of(box, box.nominal[None], box.nominal[None])
    none, one = np.zeros((2, 1)), np.ones(1)
    eqs = Bounding(boxes, vent_m2)
    acting = Acting(
        none, True, True, none, none,
        switched_w=eqs.element_w, on_below_c=ON_C * one, cap_c=OFF_C * one, off_low_c=OFF_C * one,
    )  # fmt: skip
    count = len(low_c)
    samples = np.zeros((count, 4, 2, 1))
    for course, bath_c in enumerate((low_c, high_c)):
        mixtures = [mixed_c(bath, ware) for bath, ware in zip(bath_c, ware_c, strict=True)]
        samples[:, 0, course, 0] = mixtures + (above_k if course == 0 else 0.0) * np.ones(count)
        samples[:, 1, course, 0], samples[:, 2, course, 0] = ware_c, bath_c
    samples[:, 3] = POOL_KG
    if hot_ware_c is not None:
        samples[:, 1, 1] = hot_ware_c
    slopes = np.zeros_like(samples)
    slopes[:, (0, 2)] = rises_k_per_s
    times_s: Numbers = step_s * np.arange(count, dtype=float)
    return Hold(eqs, acting, Heated(times_s, samples, slopes)).run()


def test_a_fall_begins_beside_the_ware_as_cold_as_it_is_a_step_later() -> None:
    """Switched off in the first step, while the ware cools from 60 to 50 °C: then S is that of 50 °C."""
    hold = hold_of([39.0, 41.0, 41.0], [39.5, 41.0, 41.0], [60.0, 50.0, 50.0], above_k=9.0)
    assert hold.samples[0, 2, 0, 0] == pytest.approx(39.0)
    assert hold.samples[0, 0, 0, 0] == pytest.approx(mixed_c(OFF_C, 50.0), abs=0.005)


def test_a_fall_is_kept_below_all_that_are_switched_off_later() -> None:
    """Switched off within five steps; the ware cools by 4 K in each, and so does what the last ones have."""
    low_c, high_c = [39.0, 39.2, 39.4, 39.6, 39.8, 40.0], [39.9, 40.1, 40.2, 40.3, 40.4, 40.5]
    ware_c = [60.0, 56.0, 52.0, 48.0, 44.0, 42.0]
    hold = hold_of(low_c, high_c, ware_c, above_k=9.0)
    # The first part is the first two fifths: it waits at the second sample, and ends at the third.
    for number in (0, 1):
        by_hand_c = mixed_c(OFF_C, ware_c[number + 1])
        assert hold.samples[number, 0, 0, 0] == pytest.approx(by_hand_c, abs=0.005)


def test_the_colder_of_heated_and_fallen_baths_bounds_them_all() -> None:
    """The heated bath while some are still heated, then the one that fell first: 198 W into 50.5 kJ/K."""
    low_c, high_c = [39.0, 39.5, 40.0, 40.2, 40.2], [39.9, 40.1, 40.2, 40.3, 40.4]
    hold = hold_of(low_c, high_c, [40.0] * 5, step_s=10.0)
    bath_c = hold.samples[:, 2, 0, 0]
    assert bath_c[:2] == pytest.approx(low_c[:2])
    bath = POOL_KG * 4179.0 + TANK_J_PER_K
    fall_k = LOSS_W_PER_K * (OFF_C - ROOM_C) / (bath + 0.5 * WARE_J_PER_K)
    # The first has been switched off as the phase began, or at the end of the first step at the latest.
    late_c, early_c = (OFF_C - fall_k * time_s for time_s in (20.0, 40.0))
    assert early_c - 0.01 <= bath_c[4] <= late_c + 0.01
    assert bath_c[4] < bath_c[3] < bath_c[2] < OFF_C


def test_ware_beside_a_bath_that_no_thermostat_has_switched_off_follows_the_heated_one() -> None:
    """All are heated for all the time: the bath stays at 30 °C, and ware of 20 °C comes nearer to it."""
    hold = hold_of([30.0] * 4, [30.0] * 4, [20.0] * 4, step_s=5.0)
    assert hold.samples[:, 2, 0, 0] == pytest.approx([30.0] * 4)
    time_s = 5.0 * np.arange(4)
    by_hand_c = 30.0 - 10.0 * np.exp(-time_s / RESPONSE_S)
    # While it warms, the mixture that was given would make the bath colder: the given bath counts.
    assert hold.samples[:, 1, 0, 0] == pytest.approx(by_hand_c, abs=0.01)
    assert hold.ware_slope[:, :, 0] == pytest.approx(
        np.tile((30.0 - by_hand_c[:, None]) / RESPONSE_S, PARTS), rel=1e-3
    )


def test_ware_beside_a_bath_that_rises_lags_behind_it() -> None:
    """``W = T - r tau (1 - exp(-t / tau))``: 0.1 K/s from 20 °C, read in mid-step as well."""
    time_s = 20.0 * np.arange(6)
    bath_c = list(20.0 + 0.1 * time_s)
    hold = hold_of(bath_c, bath_c, [20.0] * 6, step_s=20.0, rises_k_per_s=0.1)
    # As the ware of the given course is no warmer than 20 °C, the bath itself is what counts.
    by_hand_c = bath_c - 0.1 * RESPONSE_S * (1.0 - np.exp(-time_s / RESPONSE_S))
    assert hold.samples[:, 1, 0, 0] == pytest.approx(by_hand_c, abs=0.01)


def test_ware_beside_a_mixture_that_is_known_to_be_warmer_follows_the_bath_of_that() -> None:
    """The mixture is 2 K warmer than by a bath of 30 °C and ware of 20: then that bath is warmer as well."""
    hold = hold_of([30.0] * 7, [30.0] * 7, [20.0] * 7, step_s=5.0, above_k=2.0)
    known_c, low_c, high_c = mixed_c(30.0, 20.0) + 2.0, 30.0, 40.0
    for _ in range(30):
        near_c = 0.5 * (low_c + high_c)
        low_c, high_c = (near_c, high_c) if mixed_c(near_c, 20.0) < known_c else (low_c, near_c)
    # By as much as the ware gains the bath of such a mixture is less; no less than the 30 °C that it has.
    share = WARE_J_PER_K / (POOL_KG * 4179.0 + TANK_J_PER_K)
    ware_c, by_hand_c = 20.0, [20.0]
    for step in range(1, 301):
        beside_c = max(near_c - share * (ware_c - 20.0), 30.0)
        ware_c += 0.1 * (beside_c - ware_c) / RESPONSE_S
        if step % 50 == 0:
            by_hand_c.append(ware_c)
    assert near_c > 32.0
    assert hold.samples[:, 1, 0, 0] == pytest.approx(by_hand_c, abs=0.01)


@pytest.mark.parametrize("loss_w_per_k", [9.0, 30.0])
def test_what_is_switched_off_soon_was_not_much_colder_before(loss_w_per_k: float) -> None:
    """Off at 40 °C in the first 40 s: until then a mixture rises no quicker than at 900 W and least loss.

    The least loss is that of the lower course, of 30 °C. What comes later may have been as cold as that.
    """
    low_c, high_c = [30.0, 30.0, 30.0, 30.0, 30.0, 40.0], [39.0, 40.1, 40.2, 40.3, 40.4, 40.5]
    changes = {"tank.loss_spraying_w_per_k": loss_w_per_k}
    hold = hold_of(low_c, high_c, [20.0] * 6, step_s=20.0, changes=changes)
    bath = POOL_KG * 4179.0 + TANK_J_PER_K
    # Of the mixture; the bath is as much more as its heat is less than that of the mixture.
    rate_w = ELEMENT_W - loss_w_per_k * (30.0 - ROOM_C)
    for part in (0, 1, 2, PARTS - 1):
        # Five steps of 20 s in which points may be switched off, parted at shares of them.
        near_c = OFF_C - rate_w * 20.0 * 5.0 * EDGES[part + 1] / bath
        slope = float(hold.ware_slope[0, part, 0])
        assert slope == pytest.approx((max(near_c, 30.0) - 20.0) / RESPONSE_S, rel=0.005)


@pytest.mark.parametrize(("hot_ware_c", "colder_k"), [(50.0, 20.0), (20.0, 0.0)])
def test_vapour_that_is_colder_than_the_mixture_may_let_it_rise_quicker(
    hot_ware_c: float, colder_k: float
) -> None:
    """Of the hottest bath, 40 °C, most evaporates: through 5 m2, to be seen, into 18 °C and 40 %.

    0.089 kW/(m2 kPa) (ASHRAE). Colder by what the hottest ware is above the coldest bath, of 30 °C,
    and 1 K of bend.
    """
    hold = hold_of(
        [30.0] * 5 + [40.0], [40.0] * 6, [20.0] * 6,
        step_s=20.0, hot_ware_c=hot_ware_c, vent_m2=5.0, changes={"room.humidity_pct": 40.0},
    )  # fmt: skip
    bath, vapour, room = (IAPWS97(T=273.15 + t, x=x) for t, x in ((40.0, 0), (40.0, 1), (ROOM_C, 0)))
    gone_kg_per_s = 5.0 * 0.089 * 1000.0 * (bath.P - 0.4 * room.P) / (vapour.h - bath.h)
    rate_w = ELEMENT_W - LOSS_W_PER_K * (30.0 - ROOM_C) + gone_kg_per_s * C0_J_PER_KG_K * (colder_k + 1.0)
    near_c = OFF_C - rate_w * 20.0 * 5.0 * EDGES[1] / (POOL_KG * 4179.0 + TANK_J_PER_K)
    assert hold.ware_slope[0, 0, 0] == pytest.approx((near_c - 20.0) / RESPONSE_S, rel=1e-3)


@pytest.mark.parametrize("before_c", [38.5, 39.7])
def test_a_bath_that_is_heated_past_its_threshold_in_a_step_is_put_back_to_it(before_c: float) -> None:
    """To 40.6 °C in a step, where heating ends at 40: then bath and mixture are those of 40 °C; no pump."""
    box = box_of(machine(THERMOSTAT | FIXED | {"ware.porcelain_kg": 1e-3}, tolerances=False))
    eqs = Bounding(boxes_of(box, box.nominal[None], box.nominal[None]), 0.0)
    none, one = np.zeros((2, 1)), np.ones(1)
    acting = Acting(
        none, False, True, none, none, switched_w=eqs.element_w, on_below_c=OFF_C * one, cap_c=OFF_C * one
    )

    def at(bath_c: float) -> Numbers:
        heat_j = POOL_KG * h_j(bath_c) + TANK_J_PER_K * (bath_c - INLET_C)
        mixed_c = INLET_C + heat_j / (C0_J_PER_KG_K * POOL_KG + TANK_J_PER_K)
        return np.array([np.full((2, 1), value) for value in (mixed_c, bath_c, bath_c, POOL_KG)])

    kept = eqs.held(acting, at(before_c), at(40.6), 30.0)
    assert kept[2, :, 0] == pytest.approx([OFF_C] * 2)
    assert kept[0, :, 0] == pytest.approx([float(at(OFF_C)[0, 0, 0])] * 2, abs=0.01)
    # What was above it before falls as it does; but the lower course is that of baths not there yet.
    above = eqs.held(acting, at(40.8), at(40.6), 30.0)
    assert above[:, 1] == pytest.approx(at(40.6)[:, 1], abs=0.01)
    assert above[2, 0] == pytest.approx(OFF_C)


def by_thermostat(bath_c: float, ware_c: float, element_w: float, loss_w_per_k: float, steps: int) -> Numbers:
    """A bath that was just switched off, in steps of 0.1 s: its temperature every 40 s. Euler's method."""
    on, found, bath = False, [bath_c], POOL_KG * 4179.0 + TANK_J_PER_K
    for step in range(1, 400 * steps + 1):
        on = on or bath_c <= ON_C
        passed_w = WARE_J_PER_K / RESPONSE_S * (bath_c - ware_c)
        ware_c += 0.1 * (bath_c - ware_c) / RESPONSE_S
        bath_c += 0.1 * (on * element_w - loss_w_per_k * (bath_c - ROOM_C) - passed_w) / bath
        if step % 400 == 0:
            found.append(bath_c)
    return np.array(found)


@pytest.mark.parametrize("element_w", [200.0, 460.0, 640.0, 720.0])
def test_an_element_too_weak_for_the_lower_threshold_does_not_keep_the_bath_there(element_w: float) -> None:
    """Bath, tank and ware lose 40 W/K to a room 20 K colder: the element is on, and the bath cools on."""
    changes = {"element.rated_w": element_w, "tank.loss_spraying_w_per_k": 40.0}
    low_c = [40.0, *[40.5] * 14]
    fallen_c = hold_of(low_c, low_c, [39.9] * 15, step_s=40.0, changes=changes).samples[:, 2, 0, 0]
    by_hand_c = by_thermostat(40.0, 39.9, element_w, 40.0, 14)
    crossed = int(np.argmax(by_hand_c < ON_C))
    assert 2 < crossed < 10
    # Never above it; below it by no more than one step without the element.
    assert (fallen_c <= by_hand_c + 0.01).all()
    assert (fallen_c >= by_hand_c - 40.0 * element_w / (POOL_KG * 4179.0 + TANK_J_PER_K)).all()
    assert fallen_c[: crossed - 1] == pytest.approx(by_hand_c[: crossed - 1], abs=0.01)


def test_an_element_that_is_strong_enough_keeps_the_bath_at_the_lower_threshold_at_once() -> None:
    """1200 W and more stand against 800 W."""
    for element_w in (1200.0, 1500.0):
        changes = {"element.rated_w": element_w, "tank.loss_spraying_w_per_k": 40.0}
        low_c = [40.0, *[40.5] * 14]
        fallen_c = hold_of(low_c, low_c, [39.9] * 15, step_s=40.0, changes=changes).samples[:, 2, 0, 0]
        by_hand_c = by_thermostat(40.0, 39.9, 0.0, 40.0, 14)
        assert fallen_c == pytest.approx(np.maximum(by_hand_c, ON_C), abs=0.01)
        assert fallen_c.min() == pytest.approx(ON_C, abs=1e-6)


def test_no_mixture_that_is_heated_comes_under_its_line() -> None:
    """300 machines stepped by hand, two nodes that stay as they are: from cold ware up to their switching."""
    random = np.random.default_rng(3)
    near_k = []
    for _ in range(300):
        kg, tank, ware = (float(random.uniform(*ends)) for ends in ((2.0, 10.0), (1e3, 8e3), (5e2, 15e3)))
        lag_s, loss, room_c = (
            float(random.uniform(*ends)) for ends in ((15.0, 250.0), (2.0, 40.0), (5.0, 28.0))
        )
        bath_c, ware_c = 40.0, float(random.uniform(15.0, 45.0))
        pool, watts = C0_J_PER_KG_K * kg + tank, loss * (55.0 - room_c) * float(random.uniform(1.1, 5.0))
        states = [(bath_c, ware_c)]
        while bath_c < 50.0:
            passes_w = ware / lag_s * (bath_c - ware_c)
            bath_c += (watts - loss * (bath_c - room_c) - passes_w) / pool
            ware_c += passes_w / ware
            states.append((bath_c, ware_c))
        baths_c, wares_c = np.array(states).T
        mixed_c = (pool * baths_c + ware * wares_c) / (pool + ware)
        if mixed_c[-1] <= mixed_c[0]:
            continue
        box = np.zeros((QUANTITIES, 2))
        box[LOSS], box[TANK], box[WARE], box[ROOM], box[SWITCHED] = loss, tank, ware, room_c, watts
        held = np.empty((len(states), 4, 2))
        held[:, 0], held[:, 1], held[:, 2], held[:, 3] = (
            each[:, None] for each in (mixed_c, wares_c, baths_c, np.full(len(states), kg))
        )
        until_s = float(len(states) - 1)
        line = _line_of(box, 0.0, held, float(mixed_c[-1]), len(states) - 1, until_s)
        over_k = mixed_c - np.array([_on_line_c(line, float(now_s)) for now_s in range(len(states))])
        assert over_k.min() >= -1e-9
        near_k.append(over_k.max())
    # And it is close to them: within a kelvin, of ten and more that they rise.
    assert len(near_k) > 250
    assert np.median(near_k) < 1.0
