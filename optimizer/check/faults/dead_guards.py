"""Guards that may be dead: nothing shows it until they are needed, so that they have to be tested."""

from __future__ import annotations

from optimizer.check.faults.outcome import UNSEEN_HARM, FaultRow, make_row
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.stuck_sensor import sticking_sensor
from optimizer.programme.cautions import gets_hot

UNSEEN = "Nothing shows it until it is needed: then"
FLOAT_DEAD = (
    "float.closed",
    "float switch stuck or welded shut",
    f"{UNSEEN} nothing stops the element at once when the water is gone. A controller that reads it sees it "
    "after every drain (WASH_ERROR_FLOAT_CLOSED).",
)
CUT_OUT_DEAD = (
    "cut_out.closed",
    "thermal cut-out welded shut, or its feeler come loose",
    f"{UNSEEN} a dry element, or a bath too hot, goes on being heated.",
)
OVERFLOW_DEAD = (
    "overflow.dead",
    "overflow switch stuck, or the valve that it closes",
    f"{UNSEEN} nothing shuts the water off behind an inlet that sticks or a drain that fails, and it "
    "comes over the rim{}. In a sound run that float never moves.",
)
LID_BRIDGED = (
    "lid.bridged",
    "lid switch welded or bridged",
    f"{UNSEEN} all runs on under an open lid, and water comes out{{}}.",
)
EARTH_BROKEN = (
    "earth.broken",
    "protective earth broken, or come off",
    f"{UNSEEN} a live part that touches metal makes all of it live, until someone touches that; then the RCD "
    "or GFCI alone has to trip.",
)
EARTH_FAULT_DEAD = (
    "earth_fault.dead",
    "RCD or GFCI does not trip any more",
    f"{UNSEEN} whoever touches a live part in water may die.",
)
"""Guards that may be dead: key, fault, what happens."""


def dead_guards(rig: Rig, sound: Observation) -> list[FaultRow]:
    """Say of guards that do not act any more that nothing shows it, and what does."""
    of_element = (FLOAT_DEAD, CUT_OUT_DEAD) if rig.machine.element is not None else ()
    met = sound.meter.extremes()
    hot = ", however hot it is" * gets_hot(rig.machine)

    def row(key: str, fault: str, happens: str) -> FaultRow:
        return make_row((key, fault), happens.format(hot), [UNSEEN_HARM], met, rig.protection.against(key))

    return [
        *(row(*dead) for dead in of_element),
        *sticking_sensor(rig, met),
        *(row(*dead) for dead in (OVERFLOW_DEAD, LID_BRIDGED, EARTH_BROKEN, EARTH_FAULT_DEAD)),
    ]
