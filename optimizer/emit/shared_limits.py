"""Limits that a programme and a bench run share: shape of the table, length, watchdogs, currents.

The assertions of a header need a few facts about machine and circuit for them, beside the constants.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property

from optimizer.check.controller_numbers import ControllerNumbers
from optimizer.check.currents import controller_a, element_a, motor_a
from optimizer.check.drain_wait import WAIT_MOST_S
from optimizer.emit.assertions import (
    WIDE,
    Limit,
    OneOf,
    Operator,
    Relation,
    RoundLength,
    Side,
    Term,
    Values,
    at_least,
    at_most,
    exactly,
    in_c,
    span,
)
from optimizer.emit.meanings import MEANING_OF_FACT, WATCHDOGS, of_round, parted
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine
from optimizer.programme.constants import UINT16_MAX, Constants

UINT32_MAX = 2**32 - 1
FIXED = ("format", "bench_run", "rounds", "fill_by_level", "has_thermostat")
CHOICES = ("restart_after_cut",)
"""What a person may choose, either way: a caution says what it means."""

OTHER_SHAPE = "the controller would take the table for another, plan again"
FOLLOWS = "follows from the phases, change it with them"
LONG_ON = "element on for longer than was proven"
HOT_TANK = "the drain pipe does not stand what may be in the tank"
HOT_IN_TURN = "the pipe's limit plus what the sensor may err; below it a sound run would be stopped"


@dataclass(frozen=True)
class ConstantLimits:
    """What must hold between constants, and the values, facts included, at which it does."""

    values: Values
    relations: tuple[Limit, ...]

    def range_of(self, name: str) -> tuple[int, int]:
        """Find the least and greatest value of one constant while the others stay.

        The watchdogs that watch it are left out: they are changed together with it.
        """
        counted = self.relations if is_watchdog(name) else self._unwatched
        return span(name, self.values, counted, UINT32_MAX)

    @cached_property
    def _unwatched(self) -> tuple[Limit, ...]:
        return tuple(r for r in self.relations if not any(map(is_watchdog, r.names)))

    def stops(self, name: str) -> str:
        """Say what is wrong with one constant just above its range, while the others stay."""
        past = {**self.values, name: self.range_of(name)[1] + 1}
        broken = next(one for one in self.relations if name in one.names and not one.holds(past))
        return broken.message.partition(": ")[2]

    def widest_range_of(self, name: str) -> tuple[int, int]:
        """Find the least and greatest value of one constant by its own limits alone."""
        return span(name, self.values, [r for r in self.relations if r.names == {name}], UINT32_MAX)


@cache
def is_watchdog(name: str) -> bool:
    """Whether a number is a watchdog, which follows from the table.

    Examples
    --------
    >>> is_watchdog("round_3_element_max_s"), is_watchdog("bath_max_dc")
    (True, False)
    """
    return parted(name)[1] in WATCHDOGS or name.endswith("_element_max_s")


def shape(constants: Constants, values: Values) -> Iterator[Relation]:
    """Allow no other rounds, kinds or controls: they would make it another programme."""
    for name in FIXED:
        yield exactly(name, values[name], OTHER_SHAPE)
    for number in range(1, len(constants.rounds) + 1):
        name = of_round(number, "kind")
        yield exactly(name, values[name], "another kind of round has other limits, plan again")


def length(constants: Constants) -> Side:
    """Sum of all phases at their longest, with the pauses between them."""
    rounds = (RoundLength(number) for number in range(1, len(constants.rounds) + 1))
    return Term("start_drain_s"), *rounds, Term("stand_s")


def watchdogs(
    constants: Constants, *, fill_most_s: int, drain_least_s: int, total_most_s: int
) -> Iterator[Limit]:
    """Let every watchdog be what follows from the table, and no more than was proven."""
    drains, fills, elements = ["start_drain_s"], [], []
    for number, row in enumerate(constants.rounds, start=1):
        fill, drain, on = (of_round(number, name) for name in ("fill_s", "drain_s", "element_max_s"))
        heat, spray = of_round(number, "heat_s"), of_round(number, "spray_element_s")
        yield at_most(on, row.element_max_s, LONG_ON)
        yield Relation((Term(heat), Term(spray)), "==", (Term(on),), f"{in_c(on)}: {FOLLOWS}")
        elements.append(on)
        fills += [fill, of_round(number, "top_up_s")]
        drains.append(drain)
    yield at_most("element_max_s", constants.element_max_s, LONG_ON)
    yield at_most("fill_max_s", fill_most_s, "the inlet may be open for too long")
    yield from at_least("drain_min_s", drain_least_s, "a drain may not be so short")
    yield from _follows("element_max_s", elements, "<=")
    yield from _follows("fill_max_s", fills, "<=")
    yield from _follows("drain_min_s", drains, ">=")
    whole = f"{in_c('total_max_s')}: {FOLLOWS}"
    yield Relation(length(constants), "==", (Term("total_max_s"),), whole)
    yield at_most("total_max_s", total_most_s, "longer than it may take")


def _follows(watchdog: str, phases: list[str], operator: Operator) -> Iterator[Limit]:
    """Let a watchdog be the longest or the shortest of several phases: past none of them, equal to one."""
    message = f"{in_c(watchdog)}: {FOLLOWS}"
    for phase in phases:
        yield Relation((Term(phase),), operator, (Term(watchdog),), message)
    yield OneOf(watchdog, tuple(phases), message)


def facts(machine: Machine, circuit: Circuit, known: ControllerNumbers) -> dict[str, int]:
    """Value by name [unit of the name].

    Currents are rounded down, each by less than 1 mA, so that no programme that was proven is refused for a
    fraction of one.
    """
    low_v = machine.supply.voltage_v.low
    return {
        "element_rest_s": 0 if machine.element is None else machine.element.rest_s,
        "element_ma": _milli(element_a(machine)),
        "pump_ma": _milli(motor_a(machine.wash_pump, low_v)),
        "drain_ma": _milli(motor_a(machine.drain_pump, low_v)),
        "circuit_ma": _milli(circuit.available_a - controller_a(machine)),
        **{name: value for name, value in known._asdict().items() if name in MEANING_OF_FACT},
    }


def fact_relations(values: Values, known: ControllerNumbers, *, together: bool) -> Iterator[Relation]:
    """Let facts be made stricter by hand, never laxer, and keep what runs at a time within the circuit.

    `together`: element and wash pump may be on at the same time.
    """
    yield from at_least("drain_wait_s", known.drain_wait_s, HOT_TANK)
    yield at_most("drain_wait_s", WAIT_MOST_S, "milliseconds of so long a wait overrun a controller's clock")
    yield at_most("drain_max_dc", known.drain_max_dc, HOT_TANK)
    yield exactly("drain_stop_dc", known.drain_stop_dc, HOT_IN_TURN)
    yield at_most("fill_is_cold", known.fill_is_cold, "the inlet scalds, or is too hot for the drain pipe")
    yield from at_least("sensor_moves_s", known.moves_least_s, "a sound sensor would count as stuck")
    yield at_most("sensor_moves_s", known.sensor_moves_s, "a sensor that is stuck would not be found")
    why = "not what was measured, plan again"
    for name in ("element_rest_s", "element_ma", "pump_ma", "drain_ma"):
        yield from at_least(name, values[name], why)
    yield at_most("element_rest_s", UINT16_MAX, WIDE)
    yield at_most("circuit_ma", values["circuit_ma"], why)
    loads = [("element_ma", "pump_ma")] if together else [("element_ma",), ("pump_ma",)]
    for load in (*loads, ("drain_ma",)):
        names = " and ".join(in_c(name) for name in load)
        message = f"{names}: more than the circuit leaves, {in_c('circuit_ma')}"
        yield Relation(tuple(Term(name) for name in load), "<=", (Term("circuit_ma"),), message)


def heats_while_spraying(constants: Constants) -> bool:
    """Whether element and wash pump may be on at the same time."""
    return any(row.spray_element_s for row in constants.rounds)


def _milli(value_a: float) -> int:
    # 0.0005 A + 0.0005 A may come out just under 0.001 A in binary: rounded before it is rounded down.
    return max(math.floor(round(value_a * 1000.0, 6)), 0)
