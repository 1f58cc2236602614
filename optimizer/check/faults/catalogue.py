"""Which faults a machine can have, and what stands against each.

The list follows the parts; it is common practice, not a standard's. IEC 60335-2-5, on the safety of
dish-washing machines, tests abnormal operation (of that part only the titles were read). That a plastic tank
needs a level control and besides it a cut-out with manual reset, and that an element is never dry, is
industrial guidance for tank heaters.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from optimizer.check.faults.outcome import CUT_OUT, FLOAT_SWITCH, RCD, HarmKind
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine

Guards = dict[HarmKind, tuple[str, ...]]

USUAL_GUARDS: Guards = {
    "dry": (FLOAT_SWITCH, CUT_OUT),
    "hot": (CUT_OUT,),
    "overflow": ("overflow switch under the lip that closes the inlet valve",),
    "pump_dry": ("level or flow switch without which nothing sprays",),
    "locked": ("thermal protector in the motor of the wash pump",),
    "hot_element": (
        "controller that waits with all off, for the rest of the element, before its first drain",
    ),
    "wash": (),
}
"""What stands against a harm, whatever the fault."""

SECOND_VALVE = "overflow switch under the lip that closes a second valve, at the tap"
STOPS_UNFILLED = "controller that stops where the level switch has not closed within the longest fill"


@dataclass(frozen=True)
class SingleFault:
    """A fault of one part, in words.

    Attributes
    ----------
    key : str
        Machine-readable name.
    fault : str
        The fault.
    head : str
        Sentence that opens what happens.
    since : str
        What the times count from, after "after the …".
    guards : dict
        Guards by kind of harm that are not the usual ones.
    """

    key: str
    fault: str
    head: str
    since: str
    guards: Guards = field(default_factory=dict)


def catalogue(machine: Machine) -> tuple[SingleFault, ...]:
    """List the single faults of a machine, but for a cut of the power.

    Parameters
    ----------
    machine : Machine
        The machine.

    Returns
    -------
    tuple of SingleFault
        In the order of its parts; only of parts that it has.
    """
    still = " The bath is not stirred, and hotter at the element than said here." if machine.element else ""
    since = "first spray should have begun"
    pump = SingleFault("pump.seized", "wash pump seized", f"Nothing is sprayed.{still}", since)
    water = [*_water_faults(machine), *_level_faults(machine)]
    return (*water, pump, *_sensor_faults(machine), *_element_faults(machine))


def _water_faults(machine: Machine) -> list[SingleFault]:
    by_level = machine.inlet.level_l is not None
    unfilled: Guards = {}
    if by_level:
        unfilled = {kind: (*USUAL_GUARDS[kind], STOPS_UNFILLED) for kind in ("dry", "pump_dry")}
    in_l, out_l = machine.inlet.flow_l_per_min.high, machine.drain_pump.flow_l_per_min.low
    match = "takes more than comes in" if out_l > in_l else "does NOT take what comes in"
    flows = f"{out_l:.3g} l/min against {in_l:.3g}"
    stacks = "The level switch keeps the tank from filling again." if by_level else "Water stacks up."
    return [
        SingleFault("inlet.shut", "inlet stays shut", "No water comes in.", "first fill begins", unfilled),
        SingleFault("inlet.open", "inlet does not close",
                    f"Water runs until someone shuts the tap. The drain pump {match}: {flows}.",
                    "fill should have ended",
                    {"overflow": (SECOND_VALVE,)}),
        SingleFault("drain.dead", "drain pump dead", f"No water leaves. {stacks}", "start"),
        SingleFault("drain.slow", "drain at half its low flow", "A clogged sieve, a kinked hose.", "start"),
    ]  # fmt: skip


def _level_faults(machine: Machine) -> list[SingleFault]:
    if machine.inlet.level_l is None:
        return []
    return [
        SingleFault("level.open", "level switch never closes", "Every fill lasts its longest.",
                    "first fill begins",
                    {"overflow": (*USUAL_GUARDS["overflow"], STOPS_UNFILLED)}),
        SingleFault("level.closed", "level switch closed always", "Every fill ends at once: no water.",
                    "first fill should have begun"),
    ]  # fmt: skip


def _sensor_faults(machine: Machine) -> list[SingleFault]:
    if machine.element is None or machine.element.control != "thermostat":
        return []
    return [
        SingleFault("sensor.cold", "sensor reads cold", "The thermostat heats for the longest time it has.",
                    "first heating begins"),
        SingleFault("sensor.hot", "sensor reads hot", "The thermostat does not heat.",
                    "first heating should have begun"),
    ]  # fmt: skip


def _element_faults(machine: Machine) -> list[SingleFault]:
    if machine.element is None:
        return []
    for_good = "after the programme too, until someone pulls the plug"
    return [
        SingleFault("element.dead", "element does not heat", "The bath stays cold.",
                    "first heating should have begun"),
        SingleFault("element.on", "element on from the start", f"It is on {for_good}.", "start"),
        SingleFault("element.stays_on", "element does not go off", f"It stays on {for_good}.",
                    "element should have gone off"),
    ]  # fmt: skip


def not_optional(machine: Machine, circuit: Circuit) -> tuple[str, ...]:
    """Name the guards that a machine has whatever its programme.

    Parameters
    ----------
    machine : Machine
        The machine.
    circuit : Circuit
        What feeds it.

    Returns
    -------
    tuple of str
        Float switch and cut-out where there is an element; the RCD always.
    """
    rcd = RCD if circuit.rcd else f"{RCD}: its circuit has none"
    return (rcd,) if machine.element is None else (FLOAT_SWITCH, CUT_OUT, rcd)
