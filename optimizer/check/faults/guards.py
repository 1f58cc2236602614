"""The kinds of harm, and the guards that stand against each beside the controller."""

from __future__ import annotations

from typing import Literal

from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine

HarmKind = Literal["dry", "hot", "overflow", "pump_dry", "locked", "hot_element", "wash"]

FLOAT_SWITCH = "float switch in series with the element"
CUT_OUT = "thermal cut-out with manual reset in series with the element"
RCD = "RCD (30 mA, ground-fault protection) ahead of the machine"
PUMP_CUT_OUT = "thermal cut-out with manual reset in series with the wash pump, which alone warms the bath"
SECOND_VALVE = "overflow switch under the lip that closes a second valve, at the tap"
STOPS_UNFILLED = "controller that stops where the level switch has not closed within the longest fill"

Guards = dict[HarmKind, tuple[str, ...]]


def guards_against(fault: str, machine: Machine) -> Guards:
    """Name what stands against each kind of harm that a fault (by its key) may do."""
    guards = _usual_guards(machine)
    if fault == "inlet.open":
        # Closing the valve that sticks does not help.
        guards["overflow"] = (SECOND_VALVE,)
    if machine.inlet.level_l is not None:
        stopped: dict[str, tuple[HarmKind, ...]] = {
            "inlet.shut": ("dry", "pump_dry"),
            "level.open": ("overflow",),
        }
        guards |= {kind: (*guards[kind], STOPS_UNFILLED) for kind in stopped.get(fault, ())}
    return guards


def _usual_guards(machine: Machine) -> Guards:
    """Name what stands against each kind of harm, whatever the fault; without an element, nothing for one."""
    element = machine.element is not None
    return {
        "dry": (FLOAT_SWITCH, CUT_OUT) if element else (),
        "hot": (CUT_OUT,) if element else (PUMP_CUT_OUT,),
        "overflow": ("overflow switch under the lip that closes the inlet valve",),
        "pump_dry": ("level or flow switch without which nothing sprays",),
        "locked": ("thermal protector in the motor of the wash pump",),
        "hot_element": (
            "controller that waits with all off, for the rest of the element, before its first drain",
        ),
        "wash": (),
    }


def not_optional(machine: Machine, circuit: Circuit) -> tuple[str, ...]:
    """Name the guards that a machine has whatever its programme: the RCD, and two for an element."""
    rcd = RCD if circuit.rcd else f"{RCD}: its circuit has none"
    return (rcd,) if machine.element is None else (FLOAT_SWITCH, CUT_OUT, rcd)
