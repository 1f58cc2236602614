"""The check as a whole: points, accuracy, determinism, the trace."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from inspect import unwrap
from typing import Any

import numpy as np
import pytest
from check_cases import (
    THERMOSTAT,
    a_round,
    circuit,
    exact_but,
    five_rounds,
    five_rounds_by_thermostat,
    goal,
    machine,
    programme,
    sample_cases,
)
from exploring import TIMES
from kept_checks import no_bounds

from optimizer.check.box import box_of
from optimizer.check.certificate import Certificate, Row
from optimizer.check.certify import LeftOut, Runs, check
from optimizer.check.equations import RTOL
from optimizer.check.integrate import Simulation
from optimizer.check.meters import DoseMeter
from optimizer.check.requirements import Judged
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

RIGS = {
    "timed": (five_rounds(), machine({"tank.limit_c": 83.0})),  # a timed element keeps 8 K from it
    "thermostat": (five_rounds_by_thermostat(), machine(THERMOSTAT)),
}
FEW_CORNERS = {"room.air_c": 18.0, "inlet.water_c": 12.0, "tank.loss_still_w_per_k": 6.0,
               "tank.loss_spraying_w_per_k": 9.0}  # fmt: skip
"""An eighth of the corners, where a test is about how a case is run and not about which is worst."""
FEW = [
    pytest.param(five_rounds(), machine(FEW_CORNERS), id="timed"),
    pytest.param(five_rounds_by_thermostat(), machine(THERMOSTAT | FEW_CORNERS), id="thermostat"),
]
WARM_BY = ("supply.voltage_v", "element.rated_w", "inlet.water_c", "tank.residual_l")
FEWEST = [
    pytest.param(five_rounds(), exact_but(machine(), *WARM_BY), id="timed"),
    pytest.param(five_rounds_by_thermostat(), exact_but(machine(THERMOSTAT), *WARM_BY), id="thermostat"),
]
"""Fewer still, where bounds are looked for twice."""


@cache
def certificate_of(control: str, leave_out: LeftOut = "nothing") -> Certificate:
    """The certificate of the timed programme or of the thermostat's, worked out once."""
    constants, rig = RIGS[control]
    return check(constants, rig, goal({"limits.duration_min": 180.0}), circuit(), leave_out=leave_out)


@cache
def worst_found(control: str) -> Certificate:
    """The same without its bounds."""
    with no_bounds():
        return certificate_of.__wrapped__(control)


def by_key(certificate: Certificate) -> dict[str, Row]:
    return {row.key: row for row in certificate.rows}


@pytest.mark.parametrize("control", RIGS)
def test_a_sound_programme_passes(control: str) -> None:
    """With a thermostat near bounds take ten times as long: what passes with far ones passes (below)."""
    near = TIMES or control == "timed"
    certificate = certificate_of(control) if near else certificate_of(control, leave_out="nearness")
    assert [row.key for row in certificate.rows if not row.passed] == []
    assert certificate.passed
    assert certificate.draws == 64


def test_where_a_point_breaks_a_limit_the_bounds_may_be_left_out() -> None:
    """The clubhouse's programme in an hour less than it takes; then in all the time it wants."""
    constants, rig = RIGS["timed"]
    short = goal({"limits.duration_min": 30.0})
    whole, points = (check(constants, rig, short, circuit(), leave_out=one) for one in ("nothing", "bounds"))
    failed = {row.key for row in points.rows if not row.passed}
    assert "limits.duration_min" in failed
    assert failed <= {row.key for row in whole.rows if not row.passed}
    assert not points.passed
    assert {key: row.worst for key, row in by_key(points).items()} == {
        key: row.worst for key, row in by_key(whole).items()
    }
    doses = [row for row in points.rows if row.key.startswith("dose.")]
    assert doses
    assert all(row.guaranteed is None for row in doses)


def test_where_all_points_hold_no_bound_is_left_out() -> None:
    constants, rig = RIGS["timed"]
    again = check(constants, rig, goal({"limits.duration_min": 180.0}), circuit(), leave_out="bounds")
    assert again.rows == certificate_of("timed").rows


@pytest.mark.parametrize("left_out", ["nearness", "sharpness"])
def test_bounds_that_need_not_be_near_hold_their_limits_and_no_more(left_out: LeftOut) -> None:
    """What passes passes: each bound holds its limit, and none is better than the worst that was found."""
    constants, rig = RIGS["timed"]
    whole, rough = (
        check(constants, rig, goal({"limits.duration_min": 180.0}), circuit(), leave_out=one)
        for one in ("nothing", left_out)
    )
    assert whole.passed
    assert rough.passed
    for key, row in by_key(rough).items():
        sign = 1.0 if row.sense == "at least" else -1.0
        near = by_key(whole)[key].guaranteed
        if row.guaranteed is not None and near is not None:
            assert sign * row.limit <= sign * row.guaranteed <= sign * near + 1e-9 * abs(near), key


def test_a_programme_that_fails_is_bounded_as_closely_without_nearness() -> None:
    """Planning learns from these bounds what to keep back."""
    constants, rig = RIGS["timed"]
    short = goal({"limits.duration_min": 30.0})
    close, near = (
        check(constants, rig, short, circuit(), leave_out=one) for one in ("closeness", "nearness")
    )
    failed = {key: row for key, row in by_key(close).items() if not row.passed}
    assert failed
    assert {key: row for key, row in by_key(near).items() if not row.passed} == failed
    rough = check(constants, rig, short, circuit(), leave_out="sharpness")
    assert {key for key, row in by_key(rough).items() if not row.passed} >= failed.keys()


def test_where_a_row_of_the_table_fails_no_bound_is_nearer_than_its_limit() -> None:
    """A second prerinse is asked for: how closely the doses hold is of no use to who plans again."""
    constants, rig = RIGS["timed"]
    twice = goal({"limits.duration_min": 180.0, "prerinse": {"rounds_min": 2}})
    whole, close, near = (
        by_key(check(constants, rig, twice, circuit(), leave_out=one))
        for one in ("nothing", "closeness", "nearness")
    )
    assert [key for key, row in close.items() if not row.passed] == ["prerinse.rounds"]
    assert close == near
    assert any(row != whole[key] for key, row in close.items() if key.startswith("dose."))


def test_heatings_are_searched_for_their_slowest_point_as_well() -> None:
    """10 kg and 4.5 kJ/K from 20 to 50 °C: 900 W, or 810 W, less 0.2 W/K over 15 K."""
    changes = {"room.air_c": 20.0, "inlet.water_c": 20.0, "inlet.level_l": 10.0, "tank.vent_m2": 0.0,
               "tank.loss_still_w_per_k": 0.2, "ware.response_still_s": 20000.0, "ware.porcelain_kg": 1.0,
               "element.rated_w": {"nominal": 900.0, "low": 810.0, "high": 990.0}}  # fmt: skip
    rig = machine(THERMOSTAT | {"element.sensor_error_k": 0.0} | changes, tolerances=False)
    rounds = (a_round("wash", fill_s=120, heat_s=3000, setpoint_dc=500), a_round("rinse", fill_s=120))
    table = programme(*rounds, control="thermostat", fill_control="level", hysteresis_dk=10)
    box = box_of(rig)
    runs = Runs(table, rig, goal(), circuit(), box)
    slow = np.where(np.array(box.names) == "rated_w", box.low, box.nominal)
    found = runs.badness(np.stack([box.nominal, slow]))
    judged = [one for one in runs.run(box.nominal[None]).judged() if isinstance(one, Judged)]
    assert found.shape == (2, len(judged) + 1)
    heat_j = 30.0 * (10.0 * 0.9982 * 4180.0 + 4500.0)
    # 1 kg of porcelain, 1050 J/K, is warmed by 1050 / 20000 W a kelvin, over 15 K at the mean.
    taken_w = 15.0 * (0.2 + 1050.0 / 20000.0)
    assert found[:, -1] == pytest.approx([heat_j / (900.0 - taken_w), heat_j / (810.0 - taken_w)], rel=5e-3)


def test_points_lie_inside_the_tolerances() -> None:
    cases = sample_cases(machine(), draws=200, seed=7)
    ends = slice(0, cases.corners)
    assert set(cases.room_c[ends]) == {14.0, 25.0}
    assert (cases.room_c.min(), cases.room_c.max(), cases.room_c[-1]) == (14.0, 25.0, 18.0)
    assert sorted(set(cases.ware_j_per_k[ends])) == pytest.approx([1050.0 * 3.2, 1050.0 * 4.8])
    # Power of a resistor goes with the square of the voltage; each has its own tolerance.
    assert cases.element_w.max() == pytest.approx(945.0 * (240.0 / 230.0) ** 2)
    assert cases.element_w.min() == pytest.approx(855.0 * (220.0 / 230.0) ** 2)
    assert len({round(watts, 6) for watts in cases.element_w[ends]}) == 4


@pytest.mark.parametrize("control", RIGS)
def test_no_draw_is_worse_than_the_worst_found(control: str) -> None:
    """Other draws, 300 in place of 64, and another seed: the worst is the same."""
    constants, rig = RIGS[control]
    with no_bounds():
        drawn = check(constants, rig, goal(), circuit(), draws=300, seed=5)
    assert drawn.points > worst_found(control).points
    assert {key: row.worst for key, row in by_key(drawn).items()} == pytest.approx(
        {key: row.worst for key, row in by_key(worst_found(control)).items()}, rel=1e-4, abs=1e-6
    )


def test_the_point_is_named_by_what_matters() -> None:
    rows = by_key(worst_found("timed"))
    # What a drain leaves is weighed, and of a fill of warm water, which is lighter, it is the larger share.
    assert set(rows["rinse.residue"].point.split(", ")) == {
        "slow inlet", "much left in the sump", "thick film", "warm inlet",
    }  # fmt: skip
    assert set(rows["cover.element_l"].point.split(", ")) >= {"slow inlet", "little left in the sump"}
    assert rows["rinse.rounds"].point == rows["limits.duration_min"].point == "every point"
    hot = set(rows["tank.bath_c"].point.split(", "))
    assert hot >= {"high voltage", "strong element", "warm inlet", "warm room", "light tank", "light ware"}
    cold = set(rows["dose.milk"].point.split(", "))
    assert cold >= {"low voltage", "weak element", "cold inlet", "cold room", "heavy ware"}


@pytest.mark.parametrize(("constants", "rig"), FEW if TIMES else FEWEST)
def test_the_same_plan_gives_the_same_certificate(constants: Constants, rig: Machine) -> None:
    first, second = (unwrap(check)(constants, rig, goal(), circuit(), seed=3) for _ in range(2))
    assert first.rows == second.rows
    for field in fields(first.trace):
        assert np.array_equal(getattr(first.trace, field.name), getattr(second.trace, field.name))


@pytest.mark.parametrize(("constants", "rig"), FEW)
def test_doses_are_accurate_to_a_thousandth(constants: Constants, rig: Machine) -> None:
    def doses(**accuracy: Any) -> dict[str, np.ndarray]:
        cases = sample_cases(rig, draws=16, seed=1)
        meter = DoseMeter(goal(), constants, cases)
        for stretch in Simulation(constants, cases, rig.tank.vent_m2, **accuracy).run():
            meter.add(stretch)
        return meter.doses_s

    usual, fine = doses(), doses(rtol=RTOL / 100.0, samples_per_step=24)
    for dose in goal().dose:
        # Relative to the dose asked for where there is less: a bath that grazes a floor adds next to nothing.
        assert usual[dose.name] == pytest.approx(fine[dose.name], rel=1e-3, abs=0.06 * dose.minutes.high)


def test_a_case_does_not_depend_on_its_neighbours() -> None:
    together = worst_found("timed").trace
    alone = check(five_rounds(), machine(tolerances=False), goal(), circuit(), draws=0).trace
    assert together.bath_c == pytest.approx(alone.bath_c, abs=5e-3)
    assert together.ware_c == pytest.approx(alone.ware_c, abs=5e-3)


def test_trace_has_every_second_with_its_outputs() -> None:
    constants = five_rounds()
    trace = worst_found("timed").trace
    rounds = constants.rounds
    assert np.array_equal(trace.time_s, np.arange(len(trace.time_s)))
    assert trace.inlet.sum() == sum(row.fill_s for row in rounds)
    assert trace.element.sum() == sum(row.heat_s + row.spray_element_s for row in rounds)
    assert trace.wash_pump.sum() == sum(row.spray_s for row in rounds)
    assert trace.drain_pump.sum() == sum(row.drain_s for row in rounds) + constants.start_drain_s
    assert not (trace.inlet & trace.drain_pump).any()
    assert trace.level_l.max() == pytest.approx(10.8, abs=0.3)
    assert not np.isnan(trace.bath_c).any()


def test_the_ware_follows_the_bath_fast_in_the_spray_and_slowly_out_of_it() -> None:
    # All from 18 °C: 900 s of heating, then 135 s of spray, three response times.
    changes = {"wash_pump.heat_share": 0.0, "inlet.water_c": 18.0, "tank.loss_spraying_w_per_k": 0.2}
    rig = machine(changes, tolerances=False)
    table = programme(a_round("wash", heat_s=900, spray_s=600, drain_s=60))
    trace = check(table, rig, goal(), circuit(), draws=0).trace
    before, after = (int(np.flatnonzero(trace.wash_pump)[place]) for place in (0, 135))
    # While the bath rises nearly straight by a, the ware is behind it by a·(1 - e^-x)/x, x = 900/1800 where
    # it is dry; 0.2 kg of film make its 4.2 kJ/K slower.
    x = 0.5 / (1.0 + 0.2 * 4.18 / 4.2)
    risen_k = trace.bath_c[before - 1] - 18.0
    behind_k = (1.0 - np.exp(-x)) / x * risen_k
    assert trace.bath_c[before - 1] - trace.ware_c[before - 1] == pytest.approx(behind_k, rel=0.02)
    gap_k = trace.bath_c - trace.ware_c
    # The bath cools as well: the gap closes faster by (1 + C_ware / C_bath), 4.2 over 49 kJ/K.
    assert gap_k[after] / gap_k[before] == pytest.approx(
        np.exp(-3.0 * (1.0 + 4.2 / 49.5)), rel=0.05, abs=0.005
    )


def test_a_thermostat_holds_the_bath_between_its_two_switchings() -> None:
    # Setpoint 55.0 °C, hysteresis 1.0 K, an exact sensor in the nominal case.
    trace = worst_found("thermostat").trace
    # The spray of the wash first has to warm the ware; the thermostat holds from its first switching on.
    holding = trace.wash_pump & (trace.bath_c > 50.0)
    start, end = np.flatnonzero(holding & trace.element)[[0, -1]]
    switched = start + np.flatnonzero(np.diff(trace.element[start:end].astype(int)))
    held = trace.bath_c[switched[0] : switched[-1] + 1]
    assert len(switched) >= 4
    assert held.max() == pytest.approx(55.0, abs=0.03)
    assert held.min() == pytest.approx(54.0, abs=0.03)


def test_a_sensor_error_shifts_the_bath() -> None:
    rows = by_key(worst_found("thermostat"))
    assert rows["tank.bath_c"].worst == pytest.approx(56.0, abs=0.01)
    assert "sensor reads low" in rows["tank.bath_c"].point


def test_a_level_switch_fills_to_its_level_whatever_the_flow() -> None:
    rig = machine(THERMOSTAT | {"inlet.water_c": 20.0, "room.air_c": 20.0, "tank.vent_m2": 0.0})
    constants = programme(
        a_round("wash", fill_s=200), a_round("rinse", fill_s=200),
        control="thermostat", fill_control="level", hysteresis_dk=10,
    )  # fmt: skip
    rows = by_key(check(constants, rig, goal(), circuit(), draws=0))
    # The switch sees the tank alone: the film on the ware, up to 0.25 l, comes on top of its highest 11.0 l.
    assert rows["overflow.level_l"].worst == pytest.approx(11.0 + 0.25, abs=0.01)
    assert rows["cover.suction_l"].worst == pytest.approx(10.0 - 1.8, abs=0.01)
    short = programme(
        a_round("wash", fill_s=80), control="thermostat", fill_control="level", hysteresis_dk=10
    )  # fmt: skip
    # 80 s at 5.7 l/min: the switch is not reached, and a dry machine has 7.6 l.
    rows = by_key(check(short, rig, goal(), circuit(), draws=0))
    assert rows["cover.suction_l"].worst == pytest.approx(7.6 - 1.8, abs=0.01)


def test_a_machine_without_element_is_checked_as_well() -> None:
    constants = programme(
        a_round("prerinse"), a_round("wash", spray_s=1800, detergent_dg=300), a_round("rinse")
    )
    with no_bounds():
        rows = by_key(check(constants, machine({"element": None}), goal(), circuit()))
    assert "cover.element_l" not in rows
    assert rows["dose.fat"].worst == 0.0
    assert rows["dose.milk"].worst > 0.0


def test_rows_that_are_met_exactly_are_not_the_tightest() -> None:
    certificate = worst_found("timed")
    assert not {"rinse.rounds", "drain.left_l"} & {row.key for row in certificate.tightest(5)}
    failing = check(programme(a_round("wash")), machine(), goal(), circuit())
    assert "rinse.rounds" in {row.key for row in failing.tightest(20)}


def test_a_rise_that_nothing_limits_is_told_of_with_a_bound_of_every_point() -> None:
    table = programme(a_round("wash", heat_s=1500, rest_s=30))
    goals = goal({}), goal({"limits.ware_rise_k": 5.0})
    free, asked = (check(table, machine(), each, circuit(), draws=0) for each in goals)
    (row,) = (row for row in asked.rows if row.key == "ware.rise_k")
    assert not any(row.key == "ware.rise_k" for row in free.rows)
    told = free.told_of("ware.rise_k")
    assert told is not None
    assert told.nominal < row.worst <= told.guaranteed < 1.4 * row.worst
    assert asked.told_of("ware.rise_k") is None


def test_what_is_told_without_a_bound_is_the_worst_that_was_found() -> None:
    with no_bounds():
        found = check(five_rounds(), machine(), goal(), circuit(), draws=0)
    told = {one.key: one for one in found.told}
    (row,) = (row for row in found.rows if row.key == "rinse.residue")
    assert told["rinse.residue"].guaranteed == row.worst
    # Two of them have no row that would say it.
    for key in ("rinse.residue", "rinse.soil", "rinse.film_mg_per_l"):
        assert told[key].guaranteed > 1.1 * told[key].nominal
