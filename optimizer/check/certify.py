"""Prove a programme on a machine, once its constants are seen to fit that kind of machine."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from optimizer.check.box import Box, box_of
from optimizer.check.certificate import EVERY_POINT, Certificate, Row, Told
from optimizer.check.dosing_moment import dosed_sprays
from optimizer.check.equations import RTOL, SAMPLES_PER_STEP
from optimizer.check.fills import drain_dry_most_s
from optimizer.check.integrate import Simulation
from optimizer.check.lethality import earned_doses
from optimizer.check.meters import DoseMeter, HeatMeter, Meter, Recorder, WaterMeter
from optimizer.check.phases import phases
from optimizer.check.requirements import Findings, Judged
from optimizer.check.second_run import AGAIN, LastState, hottest_again, judged_twice, search_again
from optimizer.check.sensor_meter import SensorMeter
from optimizer.check.table_rows import bath_max_most_dc, hysteresis_most_dk
from optimizer.check.worst_cases import QUANTITIES, Array
from optimizer.check.worst_inside import look_inside
from optimizer.check.worst_points import WorstPoints
from optimizer.errors import InputError, InputIssue
from optimizer.option_defaults import DRAWS, SEED
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

SUBJECT = "constants"

SEARCH_RTOL = 1e-5
"""Relative tolerance of the integration while worst points are searched for [1]."""

SEARCH_SAMPLES = 4
"""Samples in a step of the integrator while worst points are searched for [1]: which point is the worst does
not hang on them, and what it comes to is found with all of them."""

RUN_AGAIN = 2
"""Worst points of each requirement that are run again with finer steps [1]."""

STRANGERS = 8
"""Drawn points at which steps are made finer, beside the worst ones, to see what they put bounds off [1]."""

SWUNG = ("dose.", "hygiene.", "detergent.drain_c", "drain.bath_c", "ware.drop_k", "ware.rise_k")
"""Beginnings of the requirements that hang on where the wave of a bath stands that a thermostat holds, as a
spray ends."""

LeftOut = Literal["nothing", "closeness", "bounds", "nearness", "sharpness", "proof"]
"""What a check may leave out: the first two after nothing only where it fails."""

ROUGH = {"nearness": 99, "sharpness": 4}
"""Most batches of boxes for a bound where none need be nearer than its limit [1]; the first are as many as
any check makes for a bound that does not hold."""

NO_QUANTITY = "no quantity by itself matters"
"""Point of a row whose value no single quantity changes by much."""


def misfits(constants: Constants, machine: Machine, *, bench_run: bool = False) -> list[InputIssue]:
    """Find what makes constants impossible to run on a machine; empty where they can be run.

    A bench run is refused as well, unless ``bench_run`` says that one is expected.
    """
    found = constants.issues(SUBJECT)
    if constants.bench_run and not bench_run:
        rule, fix = "a bench run rehearses a programme and washes nothing", "the plan it came from"
        found.append(InputIssue(SUBJECT, "bench_run", rule, "true", fix))
    element = machine.element
    control = "timed" if element is None else element.control
    if constants.control != control:
        by = "time" if control == "timed" else "a thermostat"
        rule = (
            f"the machine's element is controlled by {by}"
            if element
            else "a machine without an element is timed"
        )
        found.append(InputIssue(SUBJECT, "control", rule, constants.control, control))
    if constants.fill_control != machine.inlet.control:
        rule = (
            f"the machine's inlet is controlled by {'time' if machine.inlet.control == 'timed' else 'level'}"
        )
        found.append(InputIssue(SUBJECT, "fill_control", rule, constants.fill_control, machine.inlet.control))
    most_dk = hysteresis_most_dk(machine)
    if constants.control == "thermostat" and constants.hysteresis_dk < 1:
        rule = "a thermostat needs a gap between off and on again"
        found.append(InputIssue(SUBJECT, "hysteresis_dk", rule, str(constants.hysteresis_dk), "at least 1"))
    elif constants.hysteresis_dk > most_dk:
        rule = "is a wider gap between off and on again than the machine was measured with"
        fix = f"at most {most_dk}" if most_dk else "0, a timed element has none"
        found.append(InputIssue(SUBJECT, "hysteresis_dk", rule, str(constants.hysteresis_dk), fix))
    limit_dc = bath_max_most_dc(constants, machine)
    if control == "timed" and constants.bath_max_dc:
        rule = "nothing reads the bath of a machine without a thermostat: it has no watchdog"
        found.append(InputIssue(SUBJECT, "bath_max_dc", rule, str(constants.bath_max_dc), "0"))
    elif constants.bath_max_dc > limit_dc:
        limit_c = machine.tank.limit_c
        hotter_k = limit_c - limit_dc / 10.0
        wrong = (
            f", and its water may be {hotter_k:.3g} K hotter than the sensor reads" if hotter_k > 0.1 else ""
        )
        rule, fix = f"the tank stands {limit_c:g} °C{wrong}", f"at most {limit_dc}"
        found.append(InputIssue(SUBJECT, "bath_max_dc", rule, str(constants.bath_max_dc), fix))
    found += _dry_drains(constants, machine)
    for number, row in enumerate(constants.rounds, start=1):
        if row.heated and element is None:
            key = f"rounds[{number}]"
            found.append(
                InputIssue(SUBJECT, key, "the machine has no element", "a heated round", "0 s of element")
            )
        if row.setpoint_dc and (constants.control == "timed" or not row.heated):
            key, fix = f"rounds[{number}].setpoint_dc", "0"
            rule = "a timed element has no setpoint" if row.heated else "an unheated round has no setpoint"
            found.append(InputIssue(SUBJECT, key, rule, str(row.setpoint_dc), fix))
    return found


def _dry_drains(constants: Constants, machine: Machine) -> list[InputIssue]:
    """Find drains that last longer than the drain pump may run dry: the tank may be empty from the first."""
    rule = "the drain pump would run dry for longer than it stands (drain_pump.dry_most_s)"
    spans = [("start_drain_s", constants.start_drain_s, drain_dry_most_s(machine))]
    for number, row in enumerate(constants.rounds, start=1):
        spans.append((f"rounds[{number}].drain_s", row.drain_s, drain_dry_most_s(machine, row)))
    return [
        InputIssue(SUBJECT, key, rule, f"{drain_s} s", f"at most {most_s} s")
        for key, drain_s, most_s in spans
        if drain_s > most_s
    ]


@dataclass(frozen=True)
class Runs:
    """A programme on a machine, to be run at points of the tolerances."""

    constants: Constants
    machine: Machine
    goal: Goal
    circuit: Circuit
    box: Box

    def run(
        self,
        points: Array,
        rtol: float = RTOL,
        others: tuple[Meter, ...] = (),
        samples_per_step: int = SAMPLES_PER_STEP,
    ) -> Findings:
        """Run points; other meters follow the run."""
        constants, machine, cases = self.constants, self.machine, self.box.cases(points)
        doses = DoseMeter(self.goal, constants, cases)
        water = WaterMeter(cases, machine.element)
        heat = HeatMeter(constants, cases)
        sensor = SensorMeter(constants, cases)
        vent_m2 = machine.tank.vent_m2
        simulation = Simulation(constants, cases, vent_m2, rtol, samples_per_step=samples_per_step)
        for stretch in simulation.run():
            for meter in (doses, water, heat, sensor, *others):
                meter.add(stretch)
        return Findings(
            constants, machine, self.goal, self.circuit, cases, doses, water, heat, phases(constants), sensor
        )

    def keys(self) -> list[str]:
        """Name the requirements that tolerances may touch, in the order of `badness`."""
        nominal = self.run(self.box.nominal[None], SEARCH_RTOL, samples_per_step=SEARCH_SAMPLES)
        return [one.key for one in nominal.judged() if isinstance(one, Judged)]

    def badness(self, points: Array) -> Array:
        """How bad each point is for each requirement that tolerances may touch, for the search.

        After the requirements come the heatings that the sensor ends: how long a sound one may take.
        """
        found = self.run(points, SEARCH_RTOL, samples_per_step=SEARCH_SAMPLES)
        columns = [one.badness for one in found.judged() if isinstance(one, Judged)]
        heatings = () if found.sensor is None else found.sensor.heating_s.values()
        return np.stack([*columns, *heatings], axis=1)


def check(
    constants: Constants,
    machine: Machine,
    goal: Goal,
    circuit: Circuit,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    leave_out: LeftOut = "nothing",
) -> Certificate:
    """Prove a programme on a machine, or show where it fails.

    The worst points of the tolerances are searched for, and run again with finer steps; the same inputs
    give the same certificate. Constants that are not well formed, or not for this kind of machine, raise
    InputError. Where it fails, ``leave_out`` may name ``closeness``, how closely the rest of it holds, or
    ``bounds``: where a point that was run breaks a limit, no bound is worked out, and all stay as they are
    once one of them is out of reach. Without ``nearness`` no bound is nearer than its limit, for who asks
    only whether a programme passes; without ``sharpness`` a bound that does not hold its limit soon is left
    as it is, so that a programme may be refused that would pass. Without the ``proof`` the rows hold the
    worst values found alone, whether it fails or not, and nothing is proven.
    """
    issues = misfits(constants, machine)
    if issues:
        raise InputError(issues)
    runs = Runs(constants, machine, goal, circuit, box_of(machine))
    search = WorstPoints(runs.box, runs.badness)
    swung: list[int] = []
    if any(row.setpoint_dc for row in constants.rounds):
        swung = [which for which, key in enumerate(runs.keys()) if key.startswith(SWUNG)]
    search.find(draws, seed, swung)
    touched = search.touched()
    look_inside(search, (which for which in swung if which in touched))
    ends = [point for which in touched for point in search.worst(which, RUN_AGAIN)]
    limits = goal.limits
    asked = {"ware.drop_k": limits.ware_drop_k, "ware.rise_k": limits.ware_rise_k}
    asked |= {"first_wash.bath_c": limits.first_wash_most_c or None}
    keys = [key for key in AGAIN if asked.get(key, 0.0) is not None]
    starts = [*ends, *runs.box.corners(), runs.box.nominal]
    again, warmer = search_again(constants, machine, runs.box, starts, SEARCH_RTOL, keys)
    ends += [point for which in warmer for point in again.worst(which, RUN_AGAIN)]
    # The nominal point comes last: its run is the one to draw.
    points = np.array([*ends, runs.box.nominal])
    recorder = Recorder(case=len(points) - 1)
    last = LastState()
    findings = runs.run(points, others=(recorder, last))
    judged = judged_twice(findings.judged(), hottest_again(constants, machine, findings.cases, last.state))
    searched = [one for one in judged if isinstance(one, Judged)]
    worst = [points[int(one.badness.argmax())] for one in searched]
    mine = [which for which in touched if which < len(searched)]
    words = search.named([(which, worst[which]) for which in mine])
    named = {searched[which].key: said or NO_QUANTITY for which, said in zip(mine, words, strict=True)}
    places = {one.key: point for one, point in zip(searched, worst, strict=True)}
    words = again.named([(which, places[AGAIN[which]]) for which in warmer])
    named |= {AGAIN[which]: said or NO_QUANTITY for which, said in zip(warmer, words, strict=True)}
    rows = tuple(
        one if isinstance(one, Row) else one.row(int(one.badness.argmax()), named.get(one.key, EVERY_POINT))
        for one in judged
    )
    told: tuple[Told, ...] = ()
    if leave_out != "proof":
        strangers = runs.box.draws(STRANGERS, 0)
        table = runs.box.tables(np.unique([*worst, runs.box.nominal, *strangers], axis=0))
        at = np.stack([table[name] for name in QUANTITIES], axis=1)
        rows, told = _bounded(rows, findings.told(), (constants, machine, goal), at, leave_out)
    trace = recorder.trace()
    earned = earned_doses(goal, constants, trace, machine.wash_pump.mechanics_factor.nominal)
    found = {key: runs.box.table(point) for key, point in places.items()}
    count, restarts = search.count + again.count, constants.restart_after_cut
    on_minutes = goal.plain_minutes
    dosed = dosed_sprays(constants, machine) if goal.detergent else ()
    return Certificate(rows, count, draws, seed, trace, earned, found, restarts, told, on_minutes, dosed)


def _bounded(
    rows: tuple[Row, ...],
    told: tuple[Judged, ...],
    proven: tuple[Constants, Machine, Goal],
    points: Array,
    leave_out: LeftOut,
) -> tuple[tuple[Row, ...], tuple[Told, ...]]:
    """Put beside each worst value found what no point of the tolerances can break.

    What is told without a limit is bounded over the whole box at once, and no closer. ``points`` are some
    of the box, the worst that were found among them.
    """
    failed = not all(row.passed for row in rows)
    if leave_out == "bounds" and failed:
        return rows, ()
    if leave_out == "closeness" and failed:
        leave_out = "nearness"
    # Who runs points alone need not wait for the bounds to load.
    from optimizer.check.bound_aims import Aim
    from optimizer.check.bound_search import guaranteed

    aims = {one.key: Aim(one.sense, one.limit, float(one.values[int(one.badness.argmax())])) for one in told}
    rough = ROUGH.get(leave_out, 0)
    aims |= {
        row.key: Aim(row.sense, row.limit, row.worst, rough=rough) for row in rows if row.guaranteed is None
    }
    # A programme without sense, 18 hours of element say, has no number as its bound, and so fails.
    with np.errstate(over="ignore", invalid="ignore"):
        brief, at_once = leave_out != "nothing", leave_out == "bounds"
        bounds = guaranteed(*proven, aims, points=points, brief=brief, at_once=at_once)
    rows = tuple(replace(row, guaranteed=bounds.get(row.key, row.guaranteed)) for row in rows)
    return rows, tuple(
        # The nominal point comes last.
        Told(
            one.key,
            one.requirement,
            one.unit,
            one.sense,
            float(one.values[-1]),
            bounds.get(one.key, aims[one.key].worst),
        )
        for one in told
    )
