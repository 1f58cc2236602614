"""A bench run: the programme's phases in the same order, each in seconds, the element never on.

The element's times are 0, so that no controller can switch it on, whether it knows of bench runs or not. A
heat phase is therefore left out, and every heated round gets a rest before its drain in its place: in either
of them no pump or valve is on. What can be seen and heard keeps the order of the programme.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.check.bench_check import LEAST_S, MOST_S
from optimizer.check.controller_numbers import ControllerNumbers, controller_numbers
from optimizer.check.fills import carry_over_l
from optimizer.emit.assertions import (
    Limit,
    Relation,
    RoundLength,
    Term,
    at_least,
    at_most,
    exactly,
    in_c,
    number,
)
from optimizer.emit.meanings import numbers, of_round
from optimizer.emit.shared_limits import ConstantLimits, fact_relations, facts, shape, watchdogs
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Kind, Round
from optimizer.programme.plan import Plan
from optimizer.units import S_PER_MIN

SPRAY_S = REST_S = STAND_S = 4
AFTER_SOAK_S = MOST_S // 2
"""Phases that only have to be seen [s]."""

UNSEEN = "too short to be seen"
NO_BENCH = "too long for a bench run"
NO_ELEMENT = "no element in a bench run"


def bench_run(plan: Plan) -> Plan:
    """Make the bench run of a plan; whether it is harmless is for the check to say."""
    whole = plan.constants
    top_ups_s = LEAST_S * sum(bool(row.top_up_s) for row in whole.rounds)
    fill_s = (_fills_s(plan.inputs.machine) - top_ups_s) // len(whole.rounds)
    fill_s = min(max(fill_s, LEAST_S), MOST_S)
    constants = replace(
        whole,
        start_drain_s=MOST_S,
        gap_s=min(max(whole.gap_s, LEAST_S), MOST_S),
        rounds=tuple(_shortened(row, fill_s) for row in whole.rounds),
        after_soak_s=AFTER_SOAK_S if whole.after_soak_s else 0,
        stand_s=STAND_S if whole.stand_s else 0,
        input_sha256=bench_sha256(whole.input_sha256, [row.kind for row in whole.rounds]),
        bench_run=True,
        restart_after_cut=False,
        lid_open_after_s=0,
    )
    return replace(plan, constants=constants)


def bench_sha256(input_sha256: str, kinds: Sequence[Kind]) -> str:
    """Hash of a bench run of rounds of these kinds: never that of a programme."""
    return hashlib.sha256(f"bench run of {input_sha256}: {', '.join(kinds)}".encode()).hexdigest()


def _shortened(row: Round, fill_s: int) -> Round:
    return Round(
        kind=row.kind,
        fill_s=fill_s,
        heat_s=0,
        spray_s=MOST_S if row.soak_s else SPRAY_S if row.spray_s else 0,
        spray_element_s=0,
        setpoint_dc=0,
        soak_s=REST_S if row.soak_s else 0,
        rest_s=REST_S if row.rest_s or row.heated else 0,
        top_up_s=LEAST_S if row.top_up_s else 0,
        mix_s=REST_S if row.mix_s else 0,
        drain_s=MOST_S,
        detergent_dg=0,
    )


def _fills_s(machine: Machine) -> int:
    """Longest time of all fills together that cannot flood a drained tank, even if no drain works [s]."""
    free_l = max(machine.tank.capacity_l - carry_over_l(machine), 0.0)
    return int(free_l / machine.inlet.flow_l_per_min.high * S_PER_MIN)


def bench_limits(plan: Plan, shared: ControllerNumbers | None = None) -> ConstantLimits:
    """What must hold between the constants of a bench run that was checked; `shared` as in `limits`."""
    constants, inputs = plan.constants, plan.inputs
    known = shared or controller_numbers(inputs.machine, [constants])
    values = numbers(constants) | facts(inputs.machine, inputs.circuit, known)
    relations: list[Limit] = [*shape(constants, values), *_programme(constants)]
    rounds = range(1, len(constants.rounds) + 1)
    for place, row in zip(rounds, constants.rounds, strict=True):
        relations += _round(place, row)
    fills = tuple(Term(of_round(place, name)) for place in rounds for name in ("fill_s", "top_up_s"))
    floods = "all fills together: they flood the tank if nothing drains"
    relations.append(Relation(fills, "<=", number(_fills_s(inputs.machine)), floods))
    relations += fact_relations(values, known, together=False)
    longest = {name: MOST_S if value else 0 for name, value in values.items()}
    total_most_s = 2 * MOST_S + sum(RoundLength(place).value(longest) for place in rounds)
    relations += watchdogs(constants, fill_most_s=MOST_S, drain_least_s=LEAST_S, total_most_s=total_most_s)
    return ConstantLimits(values, tuple(relations))


def _programme(constants: Constants) -> Iterator[Relation]:
    yield from _seconds("start_drain_s", constants.start_drain_s)
    yield from _seconds("gap_s", constants.gap_s)
    yield from _seconds("after_soak_s", constants.after_soak_s)
    yield from _seconds("stand_s", constants.stand_s)
    yield exactly("restart_after_cut", 0, "a bench run is started by a person")
    for name in ("hysteresis_dk", "bath_max_dc", "lid_open_after_s"):
        yield exactly(name, getattr(constants, name), "nothing is heated in a bench run")


def _round(place: int, row: Round) -> Iterator[Relation]:
    for name in ("fill_s", "spray_s", "soak_s", "rest_s", "top_up_s", "mix_s", "drain_s"):
        yield from _seconds(of_round(place, name), getattr(row, name))
    if row.soak_s:
        parts = (Term("after_soak_s"), *number(LEAST_S))
        yield Relation(parts, "<=", (Term(of_round(place, "spray_s")),), f"{in_c('after_soak_s')}: {UNSEEN}")
    for name in ("heat_s", "spray_element_s", "setpoint_dc", "detergent_dg"):
        yield exactly(
            of_round(place, name), 0, NO_ELEMENT if name != "detergent_dg" else "no detergent in a bench run"
        )


def _seconds(name: str, value_s: int) -> Iterator[Relation]:
    """Keep a phase within its few seconds, and at 0 where it is left out."""
    if value_s == 0:
        yield exactly(name, 0, "the programme has no such phase")
        return
    yield from at_least(name, LEAST_S, UNSEEN)
    yield at_most(name, MOST_S, NO_BENCH)
