"""Thermal logs of an invented machine, by the equations of the check, and the least width any fit could have.

The least width is that of the Cramér–Rao bound with what is known beforehand counted in (the instruments'
stated errors, the weighed ware): Fisher information of all logs together, by differences of the same
simulation, its noise as it is.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from bench_protocol import ROOM_K, STEP_S, Point, Session, protocol
from bench_truth import Bench, Truth, stepped
from scipy.integrate import solve_ivp

from optimizer.check.equations import Drive, slopes
from optimizer.measure.bench_log import BenchLog
from optimizer.measure.thermal_test import ThermalTest
from optimizer.physics.water import specific_heat_kj_per_kg_k

RTOL = 1e-8
LOST_KG = (0.01, 0.06)
"""Water that a sponge does not bring out again, on walls and gone as vapour, from and to [kg]."""
Numbers = np.ndarray


def courses(truth: Truth, points: list[Point], step_s: float = STEP_S) -> dict[str, tuple[Numbers, Numbers]]:
    """Run all sessions at all points: bath and ware, a row a point, a column a reading [°C]."""
    found: dict[str, tuple[Numbers, Numbers]] = {}
    ends: dict[str, Numbers] = {}
    for session in protocol(truth):
        at = [point.conditions[session.name] for point in points]
        room = np.array([one.began_c for one in at])
        water = np.array([one.water_kg for one in at])
        tank = np.array([1e3 * point.one["tank.heat_capacity_kj_per_k"] for point in points])
        if session.follows:
            start = ends[session.follows]
        else:
            bath = room + np.array([one.bath_k for one in at])
            if session.poured_c is not None:
                poured = np.array([one.poured_c for one in at])
                poured = poured - np.array([one.lost_share for one in at]) * (poured - room)
                heat = 1e3 * specific_heat_kj_per_kg_k(poured) * water
                bath = (heat * poured + tank * bath) / (heat + tank)
            start = np.concatenate([bath, room + np.array([one.ware_k for one in at]), water])
        times = np.arange(0.0, session.last_s + 0.5 * step_s, step_s)
        states = _states(truth, session, points, start, times)
        count = len(points)
        found[session.name] = states[:count], states[count : 2 * count]
        ends[session.name] = states[:, -1]
    return found


def _states(truth: Truth, session: Session, points: list[Point], start: Numbers, times: Numbers) -> Numbers:
    """Integrate one session, in parts between the switchings of the element."""
    switch = session.element_from_s
    edges = [0.0, *([] if switch is None else [switch]), times[-1]]
    parts = list[Numbers]()
    state = start
    for number, (begin, end) in enumerate(pairwise(edges)):
        slope = slopes(_drive(truth, session, points, element=number == 1))
        last = number == len(edges) - 2
        asked = times[(times >= begin) & ((times <= end) if last else (times < end))]
        count = len(points)

        def right(_: float, y: Numbers, slope=slope, count=count) -> Numbers:
            return np.concatenate(slope(y[:count], y[count : 2 * count], y[2 * count :]))

        solved = solve_ivp(
            right,
            (begin, end),
            state,
            method="DOP853",
            rtol=RTOL,
            atol=1e-8,
            t_eval=[*asked, *([] if last else [end])],
        )
        assert solved.success
        parts.append(solved.y if last else solved.y[:, :-1])
        state = solved.y[:, -1]
    return np.concatenate(parts, axis=1)


def _drive(truth: Truth, session: Session, points: list[Point], *, element: bool) -> Drive:
    def each(key: str) -> Numbers:
        return np.array([point.one[key] for point in points])

    zero = np.zeros(len(points))
    pump_w = np.array([point.pump_w for point in points])
    heat = pump_w * each("wash_pump.heat_share") * session.pump_on
    if element and truth.machine.element is not None:
        volts = np.array([point.conditions[session.name].volts for point in points])
        heat = heat + each("element.rated_w") * (volts / truth.machine.element.rated_v) ** 2
    ware = np.array([1e3 * point.ware_kj_per_k for point in points])
    return Drive(
        heat_w=heat,
        loss_w_per_k=each("tank.loss_spraying_w_per_k" if session.pump_on else "tank.loss_still_w_per_k"),
        response_s=each("ware.response_spraying_s" if session.pump_on else "ware.response_still_s"),
        # With the basket empty the second node is a grain that follows at once.
        ware_j_per_k=ware if session.ware_in else zero + 1e-3,
        film_kg=zero,
        tank_j_per_k=1e3 * each("tank.heat_capacity_kj_per_k"),
        room_c=np.array([point.conditions[session.name].room_c for point in points]),
        humidity=zero + truth.machine.room.humidity_pct.nominal / 100.0,
        inlet_c=zero + 12.0,
        inflow_kg_per_s=zero,
        outflow_kg_per_s=zero,
        vent_m2=truth.machine.tank.vent_m2 * points[0].bench.vent_share,
    )


def read(
    truth: Truth, point: Point, rng: np.random.Generator, step_s: float = STEP_S
) -> tuple[ThermalTest, ...]:
    """Make the logs of all sessions, as a bench book holds them."""
    tests = []
    bench = point.bench
    # A stream of its own: the logs of a seed stay what they are.
    again = rng.spawn(1)[0]
    went_on = {session.follows for session in protocol(truth)}
    last = {session.name for session in protocol(truth)} - went_on
    rooms = dict[str, float]()
    all_courses = courses(truth, [point], step_s)
    for session in protocol(truth):
        at = point.conditions[session.name]
        bath, ware = (row[0] for row in all_courses[session.name])
        times = step_s * np.arange(len(bath))
        reads = bench.reads_c(lagged(bath, bench.lag_bath_s, step_s), bench.bath_off_k, rng, step_s)
        plate = None
        if session.ware_in:
            plate = bench.reads_c(lagged(ware, bench.lag_ware_s, step_s), bench.ware_off_k, rng, step_s)
        first = session.follows or session.name
        if first not in rooms:
            rooms[first] = _one_reading(at.began_c, bench, rng)
        heated = session.element_from_s is not None
        out_kg = at.water_kg - again.uniform(*LOST_KG) - session.ware_in * truth.mean["ware.film_l"]
        drained_kg = float(stepped(out_kg + bench.scales_off_kg, 0.001))
        tests.append(
            ThermalTest(
                name=session.name,
                log=BenchLog(f"{session.name}.csv", times, reads, plate),
                water_kg=float(stepped(at.water_kg + bench.scales_off_kg, 0.001)),
                room_c=rooms[first],
                pump_on=session.pump_on,
                ware_in=session.ware_in,
                stood_at_room=session.poured_c is None and not session.follows,
                poured_c=None if session.poured_c is None else _one_reading(at.poured_c, bench, rng),
                element_from_s=session.element_from_s,
                follows=session.follows,
                room_error_k=ROOM_K,
                drained_kg=drained_kg if session.name in last else None,
                room_end_c=_one_reading(at.room_c, bench, again) if session.name in last else None,
                voltage_v=float(stepped(at.volts * (1.0 + bench.volts_share), 0.1)) if heated else None,
                meter_kwh=_flips(truth, session, point, rng) if heated else (),
            )
        )
    return tuple(tests)


def _one_reading(true_c: float, bench: Bench, rng: np.random.Generator) -> float:
    return float(bench.reads_c(np.array([true_c]), bench.bath_off_k, rng, STEP_S)[0])


def lagged(true_c: Numbers, lag_s: float, step_s: float) -> Numbers:
    """What a probe is at that follows with a time constant; it begins at the first temperature."""
    if not lag_s:
        return true_c
    keep = np.exp(-step_s / lag_s)
    # Exact where the temperature is a straight line between two readings.
    slope_share = lag_s / step_s * (1.0 - keep)
    found = np.empty_like(true_c)
    found[0] = true_c[0]
    for at in range(1, len(true_c)):
        rise = true_c[at] - true_c[at - 1]
        found[at] = true_c[at] - slope_share * rise + keep * (found[at - 1] - true_c[at - 1])
    return found


FLIP_S = 1.0
"""How well a person notes when the last digit of a meter flips [s]."""


def drawn_w(truth: Truth, point: Point, session: Session) -> float:
    """Power that the meter sees while the element is on [W]."""
    element = truth.machine.element
    assert element is not None
    volts = point.conditions[session.name].volts
    heats = point.one["element.rated_w"] * (volts / element.rated_v) ** 2
    return heats + point.pump_w * session.pump_on + truth.machine.supply.controller_w


def _flips(
    truth: Truth, session: Session, point: Point, rng: np.random.Generator
) -> tuple[tuple[float, float], ...]:
    """Times at which the meter's last digit flips while the element is on, and what it shows then."""
    step = point.bench.stated.meter_step_kwh
    shown_w = drawn_w(truth, point, session) * (1.0 + point.bench.meter_share)
    assert session.element_from_s is not None
    left = float(rng.uniform(0.0, step))
    found, number = [], 1
    while (at := session.element_from_s + (left + (number - 1) * step) * 3.6e6 / shown_w) < session.last_s:
        noted = at + float(rng.uniform(-FLIP_S, FLIP_S))
        found.append((round(min(noted, session.last_s), 1), round(number * step, 6)))
        number += 1
    return tuple(found)
