"""The cautions that travel with everything a person may act on."""

from __future__ import annotations

from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine

SCALDING_C = 45.0
"""Water from here on scalds within minutes [°C]; *no source*, well on the safe side."""

MAINS = (
    "Mains voltage and water kill together. Wiring, protective earth and a 30 mA RCD (ground-fault "
    "protection) are work for a licensed electrician, by the local code."
)
ELEMENT = (
    "The element must never be on dry. Whatever the controller says, a float switch in series with it and a "
    "thermal cut-out with manual reset have to stop it."
)
HOT = (
    "Hot water and steam scald. Keep the lid shut while the machine runs, and let it cool before you reach "
    "in."
)
MEASURED = (
    "The numbers hold for the machine as it was measured. After any change, or where a measured value was a "
    "guess: measure, plan and check again."
)
HYGIENE = (
    "The hygiene value (A0 or heat units) is calculated, not measured: it is no sterilisation, it proves no "
    "disinfection, and the machine is no medical device."
)
LOCAL = "Local codes and licensed practice come first wherever they say otherwise."


def cautions(*machines: Machine, goal: Goal | None = None) -> tuple[str, ...]:
    """List the cautions for what is there: none about an element where no machine has one.

    Parameters
    ----------
    machines : Machine
        The machines that an answer is about. Where none is named, every caution about machines is given.
    goal : Goal, optional
        The goal that it is about; one that asks for hygiene has a caution of its own.

    Returns
    -------
    tuple of str
        Plain sentences in ASCII, so that a header for any compiler can carry them. Every supply of a machine
        profile is mains voltage (90 V or more).
    """
    element = not machines or any(machine.element is not None for machine in machines)
    hot = element or any(machine.inlet.water_c.high >= SCALDING_C for machine in machines)
    hygiene = goal is not None and goal.hygiene.method != "none"
    found = (MAINS, ELEMENT * element, HOT * hot, MEASURED, LOCAL, HYGIENE * hygiene)
    return tuple(caution for caution in found if caution)
