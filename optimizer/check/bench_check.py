"""The check of a bench run: the order in seconds, no element, no detergent, no flood even if nothing drains.

A bench run is for watching valves and pumps with the lid open. It begins with a drained tank.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import groupby, zip_longest

from optimizer.check.certificate import Row, exact_row
from optimizer.check.certify import SUBJECT, misfits
from optimizer.check.dosing import TENTHS_PER_G
from optimizer.check.fills import all_fills_l, carry_over_l
from optimizer.check.phases import OFF, Outputs, phases
from optimizer.errors import InputError, InputIssue
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round

LEAST_S, MOST_S = 2, 6
"""A phase of a bench run lasts so long at least and at most [s]: long enough to see, too short to harm."""

Switching = tuple[int, Outputs]
"""Which round (-1 before the first), and what is on."""


def check_bench(
    constants: Constants, machine: Machine, programme: Constants | None = None
) -> tuple[Row, ...]:
    """Prove a bench run, or show where it fails.

    Its order is held against that of the ``programme`` it rehearses. Without one it is held against the
    order that every programme with rounds of these kinds has. Constants that are no bench run, not well
    formed, or not for this kind of machine raise InputError.
    """
    issues = misfits(constants, machine, bench_run=True)
    if not constants.bench_run:
        fix = "write one with scullion constants --bench-run"
        issues.append(InputIssue(SUBJECT, "bench_run", "this is a programme, no bench run", "false", fix))
    if issues:
        raise InputError(issues)
    lengths_s = [float(phase.longest_s) for phase in phases(constants)]
    element_s = float(sum(phase.longest_s for phase in phases(constants) if phase.outputs.element))
    detergent_g = sum(row.detergent_dg for row in constants.rounds) / TENTHS_PER_G
    lid_s = float(constants.lid_open_after_s)
    capacity_l = machine.tank.capacity_l
    level_l = carry_over_l(machine) + all_fills_l(constants, machine)
    point = "fastest inlet, most carry-over, no drain works"
    out_of_order = float(_differences(constants, programme))
    return (
        exact_row("bench.order", "switchings unlike the programme's", "1", ("at most", 0.0), out_of_order),
        exact_row("bench.element_s", "element on", "s", ("at most", 0.0), element_s),
        exact_row("bench.level_l", "water in the tank", "l", ("at most", capacity_l), level_l, point),
        exact_row("bench.least_s", "shortest phase", "s", ("at least", float(LEAST_S)), min(lengths_s)),
        exact_row("bench.most_s", "longest phase", "s", ("at most", float(MOST_S)), max(lengths_s)),
        exact_row("bench.detergent_g", "detergent called for", "g", ("at most", 0.0), detergent_g),
        exact_row("bench.lid_s", "wait before the lid is opened", "s", ("at most", 0.0), lid_s),
    )


def _differences(constants: Constants, programme: Constants | None) -> int:
    """Count the switchings that are not in their place."""
    if programme is None:
        return _count_unlike(_switchings(constants), _usual_order(constants.rounds))
    kinds = [row.kind for row in constants.rounds]
    other = [row.kind for row in programme.rounds]
    return _count_unlike(kinds, other) + _count_unlike(_switchings(constants), _switchings(programme))


def _count_unlike(some: Iterable[object], others: Iterable[object]) -> int:
    return sum(one != other for one, other in zip_longest(some, others))


def _switchings(constants: Constants) -> list[Switching]:
    """List what is on, one after the other, without the element and without the pauses that leaves."""
    steps = ((phase.round, replace(phase.outputs, element=False)) for phase in phases(constants))
    return [step for step, _ in groupby(steps) if step[1] != OFF]


def _usual_order(rounds: Sequence[Round]) -> list[Switching]:
    found = [(-1, Outputs(drain_pump=True))]
    for number, row in enumerate(rounds):
        found.append((number, Outputs(inlet=True)))
        sprays = 0 if row.kind == "steam" else 2 if row.soak_s else 1
        found += [(number, Outputs(wash_pump=True))] * sprays
        found += [(number, Outputs(inlet=True))] * bool(row.top_up_s)
        found += [(number, Outputs(wash_pump=True))] * bool(row.mix_s)
        found.append((number, Outputs(drain_pump=True)))
    return found
