"""A drain pump moves litres: hot ones weigh less, so that a hot bath takes longer. Densities: IAPWS-IF97."""

from __future__ import annotations

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, machine, programme, sample_cases
from iapws import IAPWS97
from planner_cases import settings_of, tiny

from optimizer.check.certify import check
from optimizer.check.integrate import Simulation
from optimizer.planner.simulation import Simulator
from optimizer.planner.structure import Mode, Programme, Structure

HOT_FEED = {"inlet.water_c": 65.0, "room.air_c": 45.0, "tank.loss_still_w_per_k": 0.2,
            "tank.loss_spraying_w_per_k": 0.2, "tank.vent_m2": 0.0}  # fmt: skip


def kg_per_l(t_c: float) -> float:
    return float(IAPWS97(T=273.15 + t_c, P=0.101325).rho) / 1000.0


def test_a_hot_drain_moves_less_mass() -> None:
    """12 l/min for 20 s are 4 l: of water at 61 °C 3.93 kg, of water at 12 °C 4.00 kg."""
    cases = sample_cases(machine(HOT_FEED, tolerances=False))
    table = programme(a_round("wash", drain_s=20))
    *_, drain = (
        s for s in Simulation(table, cases, 0.0).run() if s.phase.name == "drain" and s.phase.round == 0
    )
    full_c, samples = float(drain.samples.bath_c[-1, 0]), drain.samples
    gone_kg = 10.0 * kg_per_l(65.0) + 0.798 - samples.water_kg[-1, -1]
    assert 55.0 < full_c < 64.0
    assert gone_kg == pytest.approx(4.0 * kg_per_l(full_c), rel=1e-3)
    assert gone_kg < 0.99 * 4.0


def test_a_drain_just_long_enough_for_cold_water_leaves_hot_water() -> None:
    # 10 l of fill at 12 l/min: 50 s while cold.
    cold = machine({"tank.vent_m2": 0.0}, tolerances=False)
    heated = a_round("wash", heat_s=3400, spray_s=60, rest_s=60, drain_s=50)
    found = check(programme(heated), cold, goal(), circuit(), draws=0)
    hot_c = float(found.trace.bath_c[np.flatnonzero(found.trace.drain_pump)[10]])
    # Filled at 12 °C and drained hot, 10 l have swollen by as much as the pump is short of.
    left_kg = 10.0 * (kg_per_l(12.0) - kg_per_l(hot_c))
    assert left_kg > 0.14
    left_l = next(row.worst for row in found.rows if row.key == "drain.left_l")
    assert left_l == pytest.approx(left_kg / kg_per_l(12.0), abs=0.02)
    plain = check(programme(a_round("wash", drain_s=50)), cold, goal(), circuit(), draws=0)
    assert next(row for row in plain.rows if row.key == "drain.left_l").worst < 0.02


def test_what_a_drain_leaves_is_weighed() -> None:
    """A sponge on kitchen scales: as many kilograms after a hot round as after a cold one."""
    for feed in ({}, HOT_FEED):
        cases = sample_cases(machine(feed, tolerances=False))
        assert cases.carry_over_kg == pytest.approx(0.8 * kg_per_l(20.0), rel=1e-3)


def test_the_planner_drains_a_hot_bath_for_longer() -> None:
    inputs = tiny()
    simulator = Simulator(inputs.machine, inputs.goal)
    settings = settings_of(fill_s=60.0, element_s=[0.0, 1500.0], spray_s=300.0)
    runs = simulator.run(Programme(Structure((1, 1), (Mode.UNHEATED, Mode.WHILE_SPRAYING)), settings))
    cold_s, hot_s = runs.drain_s[0]
    hot_c = float(runs.peak_c[0, simulator.corners.hot, 1].max())
    # 3 s for the hose; the densest fill is that of the cold inlet, the lightest bath the hottest.
    assert (hot_s - 3.0) / (cold_s - 3.0) == pytest.approx(kg_per_l(18.0) / kg_per_l(hot_c), abs=0.004)
    assert hot_s > cold_s + 0.5
