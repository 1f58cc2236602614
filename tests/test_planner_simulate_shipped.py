"""The planner's simulation of shipped pairs against the check of their plans."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from planner_cases import answer, proven, shipped

from optimizer.check.certificate import Row
from optimizer.plan_and_prove import Proven
from optimizer.planner.convert_constants import constants_of, programme_of
from optimizer.planner.corners import corners_of
from optimizer.planner.margins import Assessor
from optimizer.planner.simulation import Runs, Simulator
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.programme.constants import GAP_S, KINDS
from optimizer.units import J_PER_KWH, S_PER_MIN

PAIRS = [
    ("clubhouse", "everyday"),
    pytest.param(("clubhouse", "roasting-tins"), marks=pytest.mark.slow, id="clubhouse/roasting-tins"),
    pytest.param(("narrowboat", "roasting-tins"), marks=pytest.mark.slow, id="narrowboat/roasting-tins"),
    pytest.param(("garage-120v", "everyday"), marks=pytest.mark.slow, id="garage-120v/everyday"),
    ("cold-shed", "fresh-cups"),
]


def planned(found: Proven) -> tuple[Simulator, Runs]:
    machine = found.plan.inputs.machine
    # The worst points that the check found are among the planner's corners.
    simulator = Simulator(machine, found.plan.inputs.goal, corners_of(machine, found.kept.points))
    return simulator, simulator.run(programme_of(found.plan.constants, machine))


def rows_of(found: Proven) -> dict[str, Row]:
    return {row.key: row for row in found.certificate.rows}


def up_to_the_end_of_a_hold(programme: Programme) -> Programme:
    """End every spray that the element heats as it is last held."""
    settings, spray_s = programme.settings, programme.settings.spray_s.copy()
    for number, mode in enumerate(programme.structure.modes):
        held_s = {Mode.WHILE_SPRAYING: settings.element_s, Mode.BOTH_WAYS: settings.while_s}.get(mode)
        if held_s is not None:
            spray_s[:, number] = held_s[:, number]
    return Programme(programme.structure, replace(settings, spray_s=spray_s))


@pytest.mark.parametrize("pair", PAIRS, ids="/".join)
class TestAgainstTheCheck:
    """The check integrates the emitted constants with code of its own, evaporation included."""

    def test_worst_dose_within_1_pct(self, pair: tuple[str, str]) -> None:
        """Where a thermostat holds, up to what the bath is hotter at the top of its saw-tooth.

        The planner ends the hold at the bottom, the check wherever it stands: at most one hysteresis hotter,
        so that what is sprayed after it counts 10^(hysteresis / z) as much at the most.
        """
        found = proven(*pair)
        simulator, runs = planned(found)
        cold, rows = simulator.corners.cold, rows_of(found)
        held = simulator.run(up_to_the_end_of_a_hold(programme_of(found.plan.constants, simulator.machine)))
        for number, key in enumerate(simulator.targets.keys):
            worst = runs.dose_s[0, cold, number].argmin()
            least_min, held_min = (run.dose_s[0, cold, number][worst] / S_PER_MIN for run in (runs, held))
            more = 10.0 ** (simulator.corners.hysteresis_k / simulator.targets.z_k[number]) - 1.0
            most_min = least_min + more * (least_min - held_min)
            assert least_min / 1.01 < rows[key].worst < most_min * 1.01, key

    def test_peak_bath_within_half_a_kelvin(self, pair: tuple[str, str]) -> None:
        found = proven(*pair)
        simulator, runs = planned(found)
        planned_c, worst_c = runs.peak_c[0, simulator.corners.hot].max(), rows_of(found)["tank.bath_c"].worst
        if found.plan.inputs.machine.element is None:
            # Nothing heats: the hottest is the empty tank in a warm room, before it is filled.
            assert planned_c <= worst_c == found.plan.inputs.machine.room.air_c.high
            return
        assert planned_c == pytest.approx(worst_c, abs=0.5)

    def test_duration_to_the_second_where_all_is_timed(self, pair: tuple[str, str]) -> None:
        """Where a switch or a sensor decides, the check meets the longest run and the planner expects it."""
        found = proven(*pair)
        inputs, worst_min = found.plan.inputs, rows_of(found)["limits.duration_min"].worst
        if inputs.machine.inlet.level_l is None and found.plan.constants.control == "timed":
            assert found.plan.costs.duration_min * S_PER_MIN == pytest.approx(worst_min * S_PER_MIN, abs=1.0)
            return
        simulator, runs = planned(found)
        longest_s = simulator.start_drain_s + runs.round_s[0].sum(axis=-1).max()
        rounding_s = 1.0 + len(found.plan.constants.rounds)
        assert -rounding_s <= longest_s - worst_min * S_PER_MIN <= 0.01 * longest_s

    def test_electricity_within_1_pct(self, pair: tuple[str, str]) -> None:
        """Outputs of the check's nominal run, second by second, times the measured powers."""
        found = proven(*pair)
        machine, trace = found.plan.inputs.machine, found.certificate.trace
        power_w = np.full(len(trace.time_s), machine.supply.controller_w)
        power_w += trace.inlet * machine.inlet.valve_w
        power_w += trace.wash_pump * machine.wash_pump.power_w.nominal
        power_w += trace.drain_pump * machine.drain_pump.power_w.nominal
        if machine.element is not None:
            volts = machine.supply.voltage_v.nominal / machine.element.rated_v
            power_w += trace.element * machine.element.rated_w.nominal * volts**2
        stand_s = found.plan.constants.stand_s
        taken_kwh = power_w[: len(power_w) - stand_s].sum() / J_PER_KWH
        assert found.plan.costs.electricity_kwh == pytest.approx(taken_kwh, rel=0.01)

    def test_rinse_and_water(self, pair: tuple[str, str]) -> None:
        """Residue to 1 %; what runs in, nominal, to half a litre in a hundred (a level switch: to 2)."""
        found = proven(*pair)
        _, runs = planned(found)
        machine = found.plan.inputs.machine
        left_l = machine.tank.residual_l.high + machine.ware.film_l.high
        rinses = [row.kind == "rinse" for row in found.plan.constants.rounds]
        least_l = runs.filled_l[0].min(axis=0)
        # A first round may find the machine dry: then what it lets in is all that there is.
        full_l = least_l + left_l * (np.arange(len(least_l)) > 0)
        shares = [left_l / full_l[i] for i, rinse in enumerate(rinses) if rinse]
        assert float(np.prod(shares)) == pytest.approx(rows_of(found)["rinse.residue"].worst, rel=0.01)
        level_l = found.certificate.trace.level_l
        seen_l = np.clip(np.diff(level_l), 0.0, None)[found.certificate.trace.inlet[:-1]].sum()
        assert found.plan.costs.water_l == pytest.approx(seen_l, rel=0.02)


def test_the_planner_and_the_check_count_gaps_alike() -> None:
    """Three pauses a round, one more where it is heated alone or rests: as the table says."""
    found = answer("clubhouse", "everyday")
    assert isinstance(found, Proven)
    trace = found.certificate.trace
    on = trace.inlet | trace.element | trace.wash_pump | trace.drain_pump
    run = on[: len(on) - found.plan.constants.stand_s]
    starts = np.flatnonzero(run[1:] & ~run[:-1])
    rests = sum(row.rest_s for row in found.plan.constants.rounds)
    pauses_s = int((~run).sum())
    assert abs(pauses_s - rests - len(starts) * GAP_S) <= len(starts)


def test_a_longest_heating_is_that_of_the_first_part_alone() -> None:
    """*No source*: a bath heated while it is sprayed as well takes as long to its set point before that.

    Heated both ways it was held to what both parts took together, which no check lets pass.
    """
    inputs = shipped("narrowboat", "eco-everyday", "inverter-10a", "generator")
    assessor = Assessor(inputs)
    rounds = [[12.0, 12.0]], [[9000.0, 0.0]], [[1800.0, 120.0]], [[40.0, np.inf]]
    fill_s, element_s, spray_s, setpoint_c = (np.array(each) for each in rounds)
    none, kinds = np.zeros((1, 2)), (KINDS.index("wash"), KINDS.index("rinse"))
    settings = Settings(
        fill_s, element_s, spray_s, setpoint_c, none, np.array([[1700.0, 0.0]]), none, none, none
    )
    limits_s, alone_s, both_s = [], [], []
    for mode in (Mode.THEN_SPRAY, Mode.BOTH_WAYS):
        programme = Programme(Structure(kinds, (mode, Mode.UNHEATED)), settings)
        runs = assessor.simulator.run(programme)
        limits_s.append(constants_of(inputs, assessor.simulator, programme, runs).rounds[0].heat_s)
        alone_s.append(runs.alone_s[0, :, 0].max())
        both_s.append(runs.element_on_s[0, :, 0].max())
    assert both_s[0] == alone_s[0] == alone_s[1] < both_s[1] - 60.0
    assert limits_s[0] == limits_s[1] == math.floor(1.099 * alone_s[0] + 10.0)
