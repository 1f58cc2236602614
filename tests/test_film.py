"""The film on the ware: warm with the ware while the pump is off, part of the bath while it sprays.

No published source for the model: a balance of heat, worked out here by hand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, machine, programme
from iapws import IAPWS97
from planner_cases import settings_of, tiny
from scipy.linalg import expm

from optimizer.check.box import box_of
from optimizer.check.certificate import Trace
from optimizer.check.certify import check
from optimizer.check.equations import Drive, State, advance, spray_begins, spray_ends
from optimizer.check.integrate import Simulation
from optimizer.planner.simulation import Runs, Simulator
from optimizer.planner.structure import Mode, Programme, Structure
from optimizer.profile.machine import Machine

ONE = np.ones(1)
WARE_KJ_PER_K = 4.2
"""4 kg of porcelain at 1.05 kJ/(kg K)."""
SLOW: dict[str, object] = {
    "ware.film_l": 0.25, "ware.response_still_s": 20_000.0, "wash_pump.heat_share": 0.0, "tank.vent_m2": 0.0,
    "room.air_c": 18.0, "inlet.water_c": 18.0,
}  # fmt: skip
"""A quarter of a litre of film; water, ware and room at 18 °C; the ware hardly follows a still bath."""


def kj_per_kg(t_c: float) -> float:
    """Enthalpy of water at 101.325 kPa, IAPWS-IF97."""
    return float(IAPWS97(T=273.15 + t_c, P=0.101325).h)


def trace_of(rig: Machine, *, by_thermostat: bool = False) -> tuple[Trace, int]:
    """A heated wash after a prerinse, nominal, and the second at which the spray of the wash begins."""
    heated = a_round("wash", heat_s=1500, spray_s=400, setpoint_dc=450 * by_thermostat)
    control = {"control": "thermostat", "hysteresis_dk": 10} if by_thermostat else {}
    trace = check(programme(a_round("prerinse"), heated, **control), rig, goal(), circuit(), draws=0).trace
    heating = np.flatnonzero(trace.element)
    return trace, int(heating[-1]) + 1 + int(np.flatnonzero(trace.wash_pump[heating[-1] + 1 :])[0])


def test_a_spray_mixes_the_cold_film_into_the_hot_bath() -> None:
    # 1.5 l of water at 70 °C, 3.2 kJ/K of steel, 0.25 kg of film at 20 °C; enthalpies of IAPWS-IF97.
    start = State(70.0 * ONE, 20.0 * ONE, 1.75 * ONE, 0.25 * ONE)
    end = spray_begins(start, 3200.0 * ONE)
    before_kj = 1.5 * kj_per_kg(70.0) + 3.2 * 70.0 + 0.25 * kj_per_kg(20.0)
    after_kj = 1.75 * kj_per_kg(float(end.bath_c[0])) + 3.2 * end.bath_c[0]
    assert after_kj == pytest.approx(before_kj, rel=1e-4)
    # (6.28 + 3.2) kJ/K at 70 °C and 1.045 kJ/K at 20 °C: 65.0 °C.
    assert end.bath_c[0] == pytest.approx(65.03, abs=0.05)
    assert (end.ware_c[0], end.water_kg[0], end.film_kg[0]) == (20.0, 1.75, 0.0)


def test_the_end_of_a_spray_leaves_a_film_of_bath_on_the_ware() -> None:
    start = State(60.0 * ONE, 50.0 * ONE, 5.0 * ONE, 0.0 * ONE)
    end = spray_ends(start, 0.25 * ONE, 4200.0 * ONE)
    # (4.2 · 50 + 1.045 · 60) / 5.245 = 51.99 °C.
    assert end.ware_c[0] == pytest.approx(51.99, abs=0.01)
    assert (end.bath_c[0], end.water_kg[0], end.film_kg[0]) == (60.0, 5.0, 0.25)
    # A machine that has less water than a film's keeps what it has.
    assert spray_ends(replace(start, water_kg=0.1 * ONE), 0.25 * ONE, 4200.0 * ONE).film_kg[0] == 0.1


@pytest.mark.parametrize("jump", ["begins", "ends"])
def test_both_temperatures_rise_with_both_before(jump: str) -> None:
    """What the proof by bounding courses rests on: a warmer bath or ware never makes either colder."""
    at_c = np.linspace(1.0, 99.0, 50)
    bath_c, ware_c = (values.ravel() for values in np.meshgrid(at_c, at_c, indexing="ij"))
    size = np.ones(bath_c.size)
    if jump == "begins":
        after = spray_begins(State(bath_c, ware_c, 1.0 * size, 0.9 * size), 500.0 * size)
    else:
        after = spray_ends(State(bath_c, ware_c, 5.0 * size, 0.0 * size), 0.9 * size, 500.0 * size)
    for values in (after.bath_c.reshape(50, 50), after.ware_c.reshape(50, 50)):
        assert (np.diff(values, axis=0) >= 0.0).all()
        assert (np.diff(values, axis=1) >= 0.0).all()


def test_a_still_bath_heats_the_film_through_the_ware() -> None:
    """Reference: scipy.linalg.expm; the conductance is that of bare ware, the capacity that of wet ware."""
    tank, ware, film, exchange = 40e3, 4200.0, 0.25 * 4179.0, 4200.0 / 1800.0
    drive = Drive(
        heat_w=900.0 * ONE, loss_w_per_k=9.0 * ONE, response_s=1800.0 * ONE, ware_j_per_k=ware * ONE,
        film_kg=0.25 * ONE, tank_j_per_k=tank * ONE, room_c=20.0 * ONE, inlet_c=15.0 * ONE,
        humidity=0.5 * ONE, inflow_kg_per_s=0.0 * ONE, outflow_kg_per_s=0.0 * ONE, vent_m2=0.0,
    )  # fmt: skip
    # All the water there is hangs on the ware: what is in the tank is its 40 kJ/K.
    end = advance(State(50.0 * ONE, 15.0 * ONE, 0.25 * ONE, 0.25 * ONE), drive, 1800.0 * ONE).end
    follows = exchange / (ware + film)
    matrix = np.array([[-(9.0 + exchange) / tank, exchange / tank, (900.0 + 9.0 * 20.0) / tank],
                       [follows, -follows, 0.0], [0.0, 0.0, 0.0]])  # fmt: skip
    expected = expm(matrix * 1800.0) @ [50.0, 15.0, 1.0]
    assert (end.bath_c[0], end.ware_c[0]) == pytest.approx(expected[:2], abs=0.01)


@pytest.mark.parametrize("by_thermostat", [False, True], ids=["timed", "thermostat"])
def test_a_bath_heated_with_the_pump_off_falls_when_the_spray_begins(by_thermostat: bool) -> None:
    """By the cold film, at once: the ware takes its time. A bath that holds the film would not fall."""
    changes = SLOW | (
        {"element.control": "thermostat", "element.sensor_error_k": 0.0} if by_thermostat else {}
    )
    trace, start = trace_of(machine(changes | {"ware.response_spraying_s": 600.0}, tolerances=False),
                            by_thermostat=by_thermostat)  # fmt: skip
    before_c, ware_c = trace.bath_c[start - 1], trace.ware_c[start - 1]
    # 10 l of fill and 0.6 l of sump in 4.5 kJ/K of tank; the film is 0.25 l as warm as the ware.
    bath_kj_per_k, film_kj_per_k = 10.6 * 0.998 * 4.18 + 4.5, 0.25 * 4.18
    mixed_c = (bath_kj_per_k * before_c + film_kj_per_k * ware_c) / (bath_kj_per_k + film_kj_per_k)
    assert before_c - mixed_c > 0.4
    # Within three seconds the ware takes some more: 3/600 of a gap of 25 K times 4.2 kJ/K.
    assert trace.bath_c[start + 2] == pytest.approx(mixed_c, abs=0.03)


def test_a_dry_start_has_no_film_until_its_first_spray() -> None:
    """The same bath heated in a machine that was dry or wet: only the wet one has a film to mix in."""
    rig = machine(SLOW, tolerances=False)
    dry_wet = box_of(rig).cases(np.array([[0.0], [1.0]]))
    stretches = list(Simulation(programme(a_round("wash", heat_s=1500)), dry_wet, 0.0).run())
    number = next(n for n, stretch in enumerate(stretches) if stretch.phase.outputs.wash_pump)
    before, spray, after = (stretches[n].samples for n in (number - 1, number, number + 1))
    falls_k = before.bath_c[:, -1] - spray.bath_c[:, 0]
    assert dry_wet.start_share.tolist() == [0.0, 1.0]
    assert (falls_k[0], before.film_kg[0]) == (0.0, 0.0)
    assert falls_k[1] > 0.4
    assert after.film_kg == pytest.approx(0.25, rel=0.003)


def planned_peak_and_end(film_l: float) -> tuple[Runs, int]:
    ware = {"nominal": film_l, "low": film_l, "high": film_l}
    inputs = tiny(machine__ware__film_l=ware)
    simulator = Simulator(inputs.machine, inputs.goal)
    settings = settings_of(fill_s=60.0, element_s=[0.0, 900.0], spray_s=300.0)
    runs = simulator.run(Programme(Structure((0, 1), (Mode.UNHEATED, Mode.THEN_SPRAY)), settings))
    return runs, simulator.corners.nominal


def test_the_planner_heats_the_film_with_the_ware_too() -> None:
    """The more film there is the less the heated bath holds of it: it gets hotter, and mixes to less."""
    (little, at), (much, _) = planned_peak_and_end(0.02), planned_peak_and_end(0.8)
    # 6 l, 0.4 l of sump and 3 kJ/K: as hot with much film as with little, but for the colder start.
    assert much.peak_c[0, at, 1] == pytest.approx(little.peak_c[0, at, 1], abs=0.5)
    # 0.8 l that was left at 15 °C or so takes a tenth of the rise once it is sprayed on.
    assert much.ware_end_c[0, at] < little.ware_end_c[0, at] - 2.0
