"""Water that stood in the inlet's pipe comes in first, as warm as the room; enthalpies of IAPWS-IF97."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from check_cases import THERMOSTAT, a_round, circuit, goal, machine, programme
from iapws import IAPWS97
from planner_cases import settings_of, tiny

from optimizer.check.box import box_of
from optimizer.check.certificate import Trace
from optimizer.check.certify import Runs, check
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.simulation import Simulator
from optimizer.planner.structure import Mode, Programme, Structure

HOT: dict[str, Any] = {"inlet.water_c": 55.0, "room.air_c": 15.0, "ware.response_still_s": 20_000.0,
                       "tank.loss_still_w_per_k": 0.2}  # fmt: skip
"""Fed at 55 °C in a room at 15 °C; next to no heat leaves the bath while it is filled."""


def filled(pipe_l: float, fill_s: int = 100) -> Trace:
    rig = machine(HOT | {"inlet.pipe_l": pipe_l}, tolerances=False)
    return check(programme(a_round("wash", fill_s=fill_s)), rig, goal(), circuit(), draws=0).trace


def mixed_c(cold_l: float, hot_l: float) -> float:
    """10 l of fill, 0.6 l of sump and 4.5 kJ/K of tank, the latter two at 15 °C like the pipe."""
    at_15, at_55 = (IAPWS97(T=273.15 + t, P=0.101325) for t in (15.0, 55.0))
    cold_kg, hot_kg = (cold_l + 0.6) * at_15.rho / 1000.0, hot_l * at_55.rho / 1000.0
    low_c, high_c = 15.0, 55.0
    for _ in range(50):
        middle_c = 0.5 * (low_c + high_c)
        h = IAPWS97(T=273.15 + middle_c, P=0.101325).h
        over = (cold_kg + hot_kg) * h + 4.5 * (middle_c - 15.0) - cold_kg * at_15.h - hot_kg * at_55.h
        low_c, high_c = (low_c, middle_c) if over > 0.0 else (middle_c, high_c)
    return middle_c


@pytest.mark.parametrize("pipe_l", [0.0, 1.5, 4.0])
def test_a_bath_fed_hot_mixes_with_the_water_of_the_pipe(pipe_l: float) -> None:
    # 6 l/min for 100 s are 10 l, `pipe_l` of them at 15 °C.
    trace = filled(pipe_l)
    end = int(np.flatnonzero(trace.inlet)[-1])
    assert trace.bath_c[end + 1] == pytest.approx(mixed_c(pipe_l, 10.0 - pipe_l), abs=0.25)
    assert trace.bath_c[end + 1] == pytest.approx(54.0 - 3.3 * pipe_l - 4.6, abs=1.5)


@pytest.mark.parametrize("pipe_l", [0.0, 1.5, 4.0])
def test_a_switch_counts_the_water_of_the_pipe(pipe_l: float) -> None:
    """10.6 l with the 0.6 l of the sump: 10 l come in, `pipe_l` of them at 15 °C; next to no film."""
    level = {"inlet.control": "level", "inlet.level_l": 10.6, "inlet.pipe_l": pipe_l, "ware.film_l": 0.005}
    rig = machine(HOT | level, tolerances=False)
    table = programme(a_round("wash", fill_s=200), fill_control="level")
    trace = check(table, rig, goal(), circuit(), draws=0).trace
    end = int(np.flatnonzero(trace.inlet)[-1])
    assert trace.bath_c[end + 1] == pytest.approx(mixed_c(pipe_l, 10.0 - pipe_l), abs=0.25)


def test_it_comes_first_and_in_every_fill() -> None:
    rig = machine(HOT | {"inlet.pipe_l": 2.0}, tolerances=False)
    table = programme(a_round("wash"), a_round("rinse"))
    trace = check(table, rig, goal(), circuit(), draws=0).trace
    starts = np.flatnonzero(trace.inlet[1:] & ~trace.inlet[:-1]) + 1
    assert len(starts) == 2
    for start in starts:
        # 2 l at 6 l/min run for 20 s: nothing warms the bath until then.
        assert trace.bath_c[start + 20] <= trace.bath_c[start] + 0.01
        assert trace.bath_c[start + 30] > trace.bath_c[start + 20] + 1.0


def test_a_pipe_that_is_empty_at_one_end_is_full_at_the_other() -> None:
    """Both ends in one run: the bath fed without a pipe is hot, the other one mixes with 4 l at 15 °C."""
    pipe = {"inlet.pipe_l": {"nominal": 2.0, "low": 0.0, "high": 4.0}}
    rig = machine({**HOT, **pipe, "ware.response_spraying_s": 45.0})
    box = box_of(rig)
    ends = np.array([box.nominal, box.nominal])
    ends[:, box.names.index("pipe_l")] = 0.0, 4.0
    hot_c, cold_c = Runs(programme(a_round("wash")), rig, goal(), circuit(), box).run(ends).heat.hottest_c
    assert hot_c == pytest.approx(mixed_c(0.0, 10.0), abs=0.25)
    assert cold_c == pytest.approx(mixed_c(4.0, 6.0), abs=0.25)


def test_a_fill_lasts_as_long_as_it_is_written_with_a_pipe_or_without() -> None:
    """10 s of start drain, 100 of fill, 300 of spray, 70 of drain and three pauses of 2 s."""
    for pipe_l in (0.0, 2.0, 20.0):
        rig = machine(HOT | {"inlet.pipe_l": pipe_l}, tolerances=False)
        box = box_of(rig)
        found = Runs(programme(a_round("wash")), rig, goal(), circuit(), box).run(box.nominal[None])
        assert found.heat.elapsed_s.tolist() == [486.0]
        assert found.water.filled_l.tolist() == pytest.approx([10.0], rel=1e-9)


def test_a_fill_shorter_than_the_pipe_stays_cold() -> None:
    assert filled(4.0, fill_s=30).bath_c.max() == pytest.approx(15.0, abs=0.7)


def test_a_level_switch_closes_at_its_level_all_the_same() -> None:
    rig = machine(HOT | THERMOSTAT | {"inlet.pipe_l": 3.0, "tank.vent_m2": 0.0}, tolerances=False)
    table = programme(
        a_round("wash", fill_s=200), control="thermostat", fill_control="level", hysteresis_dk=10
    )
    rows = {row.key: row for row in check(table, rig, goal(), circuit(), draws=0).rows}
    # 10 l where the switch closes at the lowest, less 1.5 l of hold-up; litres are those of water at 55 °C,
    # which has 0.993 of that volume at 37 °C.
    assert rows["cover.suction_l"].worst == pytest.approx(8.5 * 0.992, abs=0.03)


def test_the_more_stands_in_the_pipe_the_colder_is_a_hot_fed_bath() -> None:
    peaks = [filled(pipe_l).bath_c.max() for pipe_l in (0.0, 0.5, 1.0, 2.0, 5.0, 9.0, 20.0)]
    assert (np.diff(peaks) < 0.0).all()


def test_the_planner_takes_the_end_that_is_bad() -> None:
    pipe = {"nominal": 1.0, "low": 0.5, "high": 1.5}
    hot = {"nominal": 50.0, "low": 48.0, "high": 52.0}
    inputs = tiny(machine__inlet__water_c=hot, machine__inlet__pipe_l=pipe)
    corners = Simulator(inputs.machine, inputs.goal).corners
    assert set(corners.pipe_l[corners.cold]) == {1.5}
    assert set(corners.pipe_l[corners.hot]) == {0.5}
    # A cold feed is warmed by it instead.
    cold = Simulator(tiny(machine__inlet__pipe_l=pipe).machine, inputs.goal).corners
    assert set(cold.pipe_l[cold.cold]) == {0.5}
    # 6 l of fill, nominal: 1 l at 18 °C and 5 l at 50 °C.
    lumped = LumpedRound.of(corners, corners.nominal, 60.0)
    assert lumped.inlet_c == pytest.approx((18.0 + 5.0 * 50.0) / 6.0, abs=0.01)
    simulator = Simulator(inputs.machine, inputs.goal)
    settings = settings_of(fill_s=60.0, spray_s=60.0)
    runs = simulator.run(Programme(Structure((1,), (Mode.UNHEATED,)), settings))
    # 0.4 l of sump and 3 kJ/K at 18 °C: (44.7 · 25.1 + 18 · 4.67) / 29.7 = 40.5 °C.
    assert runs.peak_c[0, corners.nominal, 0] == pytest.approx(40.5, abs=0.3)
