"""Hand-made plans and certificates for the tests of what is written and printed. All data is invented."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.certificate import Certificate, Row, Trace
from optimizer.planner.figures import costs_of
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.tariff import Tariff
from optimizer.programme.constants import Constants, Round
from optimizer.programme.plan import Costs, Inputs, Plan, Prices, Solve
from optimizer.programme.planfile import inputs_sha256

PUMP = {"power_factor": 0.6, "inrush_multiple": 4.0}
MACHINE = {
    "kind": "machine",
    "title": "Tote in a clubhouse",
    "usual_circuit": "shared",
    "usual_tariff": "flat",
    "supply": {"voltage_v": {"nominal": 230.0, "low": 220.0, "high": 240.0}},
    "room": {"air_c": 18.0},
    "inlet": {
        "water_c": {"nominal": 12.0, "low": 8.0, "high": 16.0},
        "flow_l_per_min": {"nominal": 6.0, "low": 5.0, "high": 6.6},
        "valve_w": 6.0,
        "control": "timed",
    },
    "tank": {
        "capacity_l": 28.0,
        "material": "PP",
        "limit_c": 75.0,
        "heat_capacity_kj_per_k": 4.5,
        "loss_still_w_per_k": 6.0,
        "loss_spraying_w_per_k": 9.0,
        "residual_l": {"nominal": 0.6, "low": 0.4, "high": 0.8},
    },
    "ware": {"porcelain_kg": 4.0, "settings": 6, "film_l": 0.2, "response_spraying_s": 45.0},
    "wash_pump": {**PUMP, "power_w": 85.0, "prime_l": 5.0, "holdup_l": 1.5, "heat_share": 0.5},
    "drain_pump": {**PUMP, "power_w": 15.0, "flow_l_per_min": 12.0},
    "element": {"rated_w": 900.0, "rated_v": 230.0, "cover_l": 7.5, "rest_s": 20, "control": "timed"},
}
GOAL = {
    "kind": "goal",
    "title": "Plates after supper",
    "dose": [{"name": "grease", "reference_c": 50.0, "z_k": 33.0, "minutes": 12.0, "kinds": ["wash"]}],
    "rinse": {"residue_max": 0.001},
    "limits": {"duration_min": 150.0},
    "detergent": {"g_per_l": 3.0, "price_per_kg": 4.0},
    "drying": {"method": "hot_rinse", "stand_min": 20.0},
}
CIRCUIT = {
    "kind": "circuit",
    "title": "Socket shared with a lamp",
    "voltage_v": 230.0,
    "device": "breaker_b",
    "rating_a": 6.0,
    "usable_share": 1.0,
    "background_a": {"nominal": 0.3, "low": 0.0, "high": 0.5},
    "earth_fault": "rcd_30ma",
}
TARIFF = {
    "kind": "tariff",
    "title": "One price all day",
    "currency": "EUR",
    "electricity": {"form": "flat", "price_per_kwh": 0.3},
    "water_per_m3": 2.2,
    "waste_per_m3": 2.4,
    "value_per_min": 0.002,
}

PRERINSE = Round("prerinse", 90, 0, 180, 0, 0, 0, 60, 0)
WASH = Round("wash", 96, 1500, 1200, 480, 0, 20, 62, 288)
RINSE = Round("rinse", 84, 0, 120, 0, 0, 0, 58, 0)
HOT_RINSE = Round("rinse", 84, 1320, 240, 120, 0, 20, 58, 0)


def machine_profile(*, element: bool = True, level: bool = False, thermostat: bool = False) -> Machine:
    """Make a machine with or without an element, a level switch and a thermostat."""
    data = dict(MACHINE)
    if not element:
        data.pop("element")
    elif thermostat:
        data["element"] = {**data["element"], "control": "thermostat", "sensor_error_k": 1.0}
    if level:
        data["inlet"] = {**data["inlet"], "control": "level", "level_l": 9.5}
    return Machine.model_validate(data)


def plan_case(*rows: Round, machine: Machine | None = None, **numbers: object) -> Plan:
    """Make a plan of the rounds given (the usual four where none is), for the machine given."""
    machine = machine or machine_profile()
    inputs = Inputs(
        machine=machine,
        goal=Goal.model_validate(GOAL),
        circuit=Circuit.model_validate(CIRCUIT),
        tariff=Tariff.model_validate(TARIFF),
        names=("tote", "supper", "shared", "flat"),
        prices=Prices(0.3, 0.3, 0.3),
    )
    constants = Constants(
        start_drain_s=30,
        gap_s=2,
        rounds=rows or (PRERINSE, WASH, RINSE, HOT_RINSE),
        stand_s=1200,
        lid_open_after_s=120,
        control=machine.element.control if machine.element else "timed",
        fill_control=machine.inlet.control,
        hysteresis_dk=10 if machine.element and machine.element.control == "thermostat" else 0,
        bath_max_dc=700 if machine.element and machine.element.control == "thermostat" else 0,
        input_sha256=inputs_sha256(inputs),
    )
    constants = replace(constants, **numbers)
    costs = Costs(
        electricity_kwh=1.0125,
        water_l=35.4,
        detergent_g=28.8,
        duration_min=run_s(constants) / 60.0,
        money=0.5825,
        money_low=0.5825,
        money_high=0.5825,
        waiting=0.18,
        peak_a=4.73,
    )
    return Plan(inputs, constants, costs, Solve("HiGHS 1.13.1", "optimal", 0.7603, 0.7601, 0.00026))


def thermostat_plan() -> Plan:
    """Make a plan for a machine with a thermostat and a level switch."""
    wash = replace(WASH, setpoint_dc=520, heat_s=2000, spray_element_s=1200)
    rows = (PRERINSE, wash, RINSE, replace(HOT_RINSE, setpoint_dc=655))
    return plan_case(*rows, machine=machine_profile(level=True, thermostat=True))


def steam_plan() -> Plan:
    """Make a plan that ends in a steam round, in a tank that stands it."""
    machine = machine_profile()
    tank = machine.tank.model_copy(update={"limit_c": 100.0})
    steam = Round("steam", 110, 1500, 0, 0, 0, 20, 60, 0)
    machine = machine.model_copy(update={"tank": tank})
    return plan_case(WASH, RINSE, steam, machine=machine)


def soaked_plan() -> Plan:
    """Make a plan whose wash soaks for a quarter of an hour before its last spray; it has no vent."""
    plan = plan_case(PRERINSE, replace(WASH, soak_s=900, rest_s=0), RINSE, HOT_RINSE, after_soak_s=60)
    machine = plan.inputs.machine
    tank = machine.tank.model_copy(update={"vent_m2": 0.0})
    return replace(plan, inputs=replace(plan.inputs, machine=machine.model_copy(update={"tank": tank})))


def cold_plan() -> Plan:
    """Make a plan for a machine without an element, of a single round."""
    return plan_case(replace(RINSE, kind="wash", detergent_dg=5), machine=machine_profile(element=False))


def with_own_figures(plan: Plan) -> Plan:
    """Give a plan the costs that its profiles and constants come to, as a plan file must have them."""
    return replace(plan, costs=costs_of(plan.inputs, plan.constants))


@dataclass(frozen=True)
class Phase:
    """A stretch of the run: which output is on, and whether the element is on as well."""

    output: str
    seconds: int
    element_s: int = 0


def phases(constants: Constants) -> list[Phase]:
    """List the phases of a run with the pauses between them, limits taken in full."""
    found = [Phase("drain_pump", constants.start_drain_s)]
    for row in constants.rounds:
        found += [
            Phase("inlet", row.fill_s),
            Phase("still", row.heat_s, row.heat_s),
            Phase("wash_pump", row.spray_s - constants.after_soak_s * bool(row.soak_s), row.spray_element_s),
            *([Phase("still", row.soak_s), Phase("wash_pump", constants.after_soak_s)] if row.soak_s else []),
            Phase("still", row.rest_s),
            Phase("drain_pump", row.drain_s),
        ]
    pause = Phase("still", constants.gap_s)
    return [part for phase in found if phase.seconds for part in (phase, pause)][:-1]


def run_s(constants: Constants) -> int:
    """Give the length of a run without the standing [s]."""
    return sum(phase.seconds for phase in phases(constants))


def trace_case(constants: Constants) -> Trace:
    """Draw a run whose bath warms by 1.5 K a minute with the element on and falls to 12 °C at each drain."""
    on = {name: [] for name in ("inlet", "element", "wash_pump", "drain_pump")}
    bath_c, warm_c = [], 12.0
    for phase in phases(constants):
        for second in range(phase.seconds):
            for name, samples in on.items():
                samples.append(name == phase.output or (name == "element" and second < phase.element_s))
            warm_c = 12.0 if phase.output == "inlet" else warm_c + 1.5 / 60.0 * on["element"][-1]
            bath_c.append(warm_c)
    for samples in on.values():
        samples += [False] * (constants.stand_s + 1)
    bath_c += [warm_c] * (constants.stand_s + 1)
    bath = np.array(bath_c)
    outputs = {name: np.array(samples, dtype=bool) for name, samples in on.items()}
    return Trace(np.arange(len(bath_c), dtype=float), bath, bath, np.full(len(bath_c), 9.0), **outputs)


COLD = "low voltage, cold inlet, cold room, high level"
ROWS = (
    Row(
        "dose.grease",
        "dose grease",
        "min",
        "at least",
        12.0,
        None,
        12.04,
        COLD,
    ),
    Row(
        "tank.bath_c",
        "bath temperature, for the tank",
        "°C",
        "at most",
        75.0,
        None,
        61.3,
        "high voltage, warm inlet",
    ),
    Row(
        "rinse.residue",
        "residue after the rinse",
        "1",
        "at most",
        0.001,
        None,
        0.00087,
        "low inlet flow, high carry-over",
    ),
    Row("cover.element_l", "water over the element", "l", "at least", 7.5, None, 7.61, "draw 17"),
    Row(
        "circuit.peak_a",
        "running current",
        "A",
        "at most",
        5.5,
        None,
        4.73,
        "high voltage, high element power",
    ),
    Row("duration", "duration", "min", "at most", 150.0, None, 92.0, "slow inlet"),
)


def certificate_case(constants: Constants, *rows: Row) -> Certificate:
    """Make a certificate of the rows given (six that pass where none is)."""
    return Certificate(rows or ROWS, points=912, draws=64, seed=1, trace=trace_case(constants))
