"""Whether a table of constants belongs to this kind of machine at all."""

from __future__ import annotations

from optimizer.errors import Fault
from optimizer.profile.machine import Machine
from optimizer.programme.table import Constants
from optimizer.units import whole_tenths

SUBJECT = "constants"


def misfits(constants: Constants, machine: Machine, *, bench_run: bool = False) -> list[Fault]:
    """Find what makes a table of constants impossible to run on a machine.

    Parameters
    ----------
    constants : Constants
        The programme.
    machine : Machine
        The machine.
    bench_run : bool
        Whether a bench run may stand in for a programme.

    Returns
    -------
    list of Fault
        Empty where it can be run.
    """
    found = constants.faults(SUBJECT)
    if constants.bench_run and not bench_run:
        rule, fix = "a bench run rehearses a programme and washes nothing", "the plan it came from"
        found.append(Fault(SUBJECT, "bench_run", rule, "true", fix))
    element = machine.element
    control = "timed" if element is None else element.control
    if constants.control != control:
        rule = f"the machine's element is {control}" if element else "a machine without an element is timed"
        found.append(Fault(SUBJECT, "control", rule, constants.control, control))
    if constants.fill_control != machine.inlet.control:
        rule = (
            f"the machine's inlet is controlled by {'time' if machine.inlet.control == 'timed' else 'level'}"
        )
        found.append(Fault(SUBJECT, "fill_control", rule, constants.fill_control, machine.inlet.control))
    if constants.control == "thermostat" and constants.hysteresis_dk < 1:
        rule = "a thermostat needs a gap between off and on again"
        found.append(Fault(SUBJECT, "hysteresis_dk", rule, str(constants.hysteresis_dk), "at least 1"))
    limit_dc = whole_tenths(machine.tank.limit_c)
    if constants.bath_max_dc > limit_dc:
        rule, fix = f"the tank stands {machine.tank.limit_c:g} °C", f"at most {limit_dc}"
        found.append(Fault(SUBJECT, "bath_max_dc", rule, str(constants.bath_max_dc), fix))
    for number, row in enumerate(constants.rounds, start=1):
        if row.heated and element is None:
            key = f"rounds[{number}]"
            found.append(
                Fault(SUBJECT, key, "the machine has no element", "a heated round", "0 s of element")
            )
        if row.setpoint_dc and constants.control == "timed":
            key, fix = f"rounds[{number}].setpoint_dc", "0"
            found.append(Fault(SUBJECT, key, "a timed element has no setpoint", str(row.setpoint_dc), fix))
    return found
