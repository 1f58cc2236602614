"""Preprocessor guards: a constant edited by hand past a limit stops the compiler.

They are necessary conditions, cheap enough for any preprocessor; passing them proves nothing more.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.profile.machine import Element, Machine
from optimizer.programme.table import Constants, Round
from optimizer.units import S_PER_MIN

Guard = tuple[str, str]


def guards(constants: Constants, machine: Machine) -> str:
    """Write the guards of a header.

    Parameters
    ----------
    constants : Constants
        The constants in the header.
    machine : Machine
        The machine they are for.

    Returns
    -------
    str
        Lines of C preprocessor.
    """
    found = [("WASH_GAP_S < 1U", "WASH_GAP_S: two motors would start together")]
    for number, row in enumerate(constants.rounds, start=1):
        found += _round_guards(f"WASH_ROUND_{number}", row, constants, machine)
    head = "/* Edited by hand? What breaks one of these must not run. Passing them proves nothing. */"
    return "\n".join([head, *(f'#if {broken}\n#error "{text}"\n#endif' for broken, text in found)])


def _round_guards(name: str, row: Round, constants: Constants, machine: Machine) -> Iterator[Guard]:
    if constants.fill_control == "timed":
        lip_s = _lip_s(machine)
        yield f"{name}_FILL_S > {lip_s}U", f"{name}_FILL_S: the tank may run over after {lip_s} s"
    for key, most_s in (("HEAT_S", row.heat_s), ("SPRAY_ELEMENT_S", row.spray_element_s)):
        yield f"{name}_{key} > {most_s}U", f"{name}_{key}: element on for longer than was proven"
    if not row.heated or machine.element is None:
        return
    if constants.fill_control == "timed":
        cover_s = _cover_s(machine, machine.element)
        yield f"{name}_FILL_S < {cover_s}U", f"{name}_FILL_S: under {cover_s} s the element is not covered"
    yield f"{name}_SPRAY_ELEMENT_S > {name}_SPRAY_S", f"{name}_SPRAY_ELEMENT_S: element on after the spray"
    off = f"{name}_SPRAY_S - {name}_SPRAY_ELEMENT_S + {name}_REST_S + 2U * WASH_GAP_S"
    yield f"{off} < {machine.element.rest_s}U", f"{name}: the element would be hot when the water leaves"


def _lip_s(machine: Machine) -> int:
    """Give the longest fill that cannot run over: fastest inlet, most water left by the drain [s]."""
    free_l = machine.tank.capacity_l - machine.tank.residual_l.high
    return math.floor(free_l / machine.inlet.flow_l_per_min.high * S_PER_MIN)


def _cover_s(machine: Machine, element: Element) -> int:
    """Give the fill below which the slowest inlet leaves the element bare, whatever the drain left [s]."""
    missing_l = max(element.cover_l - machine.tank.residual_l.high, 0.0)
    return math.ceil(missing_l / machine.inlet.flow_l_per_min.low * S_PER_MIN)
