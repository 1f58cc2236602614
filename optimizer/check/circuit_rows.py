"""Requirements of the circuit: what a programme takes as it runs, and as a pump starts."""

from __future__ import annotations

from optimizer.check.certificate import Row, exact_row
from optimizer.check.currents import peaks_a
from optimizer.check.phases import Phase
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine

CURRENT_POINT = "high voltage at the element, low voltage at the motors"
MOTOR_POINT = "low voltage"
"""The same for a machine without an element."""


def circuit_rows(sequence: list[Phase], machine: Machine, circuit: Circuit) -> list[Row]:
    """Judge the currents of the phases, each at the worst end of the voltage for each load."""
    point = MOTOR_POINT if machine.element is None else CURRENT_POINT
    running_a, starting_a = peaks_a(sequence, machine)
    limit_a, what = circuit.available_a, "highest running current"
    rows = [exact_row("circuit.running_a", what, "A", ("at most", limit_a), running_a, point)]
    if circuit.start_most_a is not None:
        worst_a, limit_a = starting_a + circuit.background_a.high, circuit.start_most_a
        what = "highest current as a pump starts, with all else on the circuit"
        rows.append(exact_row("circuit.inrush_a", what, "A", ("at most", limit_a), worst_a, point))
    return rows
