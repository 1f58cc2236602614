"""What the assertions of a header need to know of machine and circuit, beside the constants."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.check.currents import controller_a, element_a, motor_a
from optimizer.emit.relations import WIDE, Relation, Term, Values, at_least, at_most, in_c
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine
from optimizer.programme.constants import UINT16_MAX


def facts(machine: Machine, circuit: Circuit) -> dict[str, int]:
    """Value by name [mA, s].

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
    }


def fact_relations(values: Values, *, together: bool) -> Iterator[Relation]:
    """Let facts be made stricter by hand, never laxer, and keep what runs at a time within the circuit.

    `together`: element and wash pump may be on at the same time.
    """
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


def _milli(value_a: float) -> int:
    # 0.0005 A + 0.0005 A may come out just under 0.001 A in binary: rounded before it is rounded down.
    return max(math.floor(round(value_a * 1000.0, 6)), 0)
