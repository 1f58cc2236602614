"""A thermostat's sensor that sticks at a cold reading: what it lets pass, and who finds it when."""

from __future__ import annotations

import math
from dataclasses import replace

from optimizer.check.drain_wait import hottest_left
from optimizer.check.faults.guard_words import PIPE_OF_A_STUCK_SENSOR
from optimizer.check.faults.harm_meter import Extremes
from optimizer.check.faults.outcome import UNSEEN_HARM, FaultRow, lasting, make_row
from optimizer.check.faults.rig import Rig
from optimizer.check.sensor_meter import moves_s

KEY = "sensor.sticks"
FOUND = (
    "While the element is on a controller finds it (WASH_ERROR_SENSOR_STUCK) once the reading has stood "
    "still for {}, and waits before it drains. Before that, and with the element off, nothing finds it: the "
    "reading is believed."
)
NOT_IN_STEAM = "In a round of steam nothing finds it either: a pool at the boil reads the same."
DRAINED = (
    "A bath of up to {:.0f} °C may go down the drain pipe: after a stop, a held lid or a cut, or in its turn "
    "where the sensor stuck shortly before."
)
READ_IT = (
    "Before you start again read the bath with another thermometer, the lid opened away from your face, or "
    "wait for WASH_DRAIN_WAIT_S with all off. Never put a hand in the bath or on the tank to feel it: it may "
    "scald."
)


def sticking_sensor(rig: Rig, sound: Extremes) -> list[FaultRow]:
    """Say what a reading that has stuck lets pass: the drain of what was never proven to be cool enough."""
    element, pipe = rig.machine.element, rig.machine.drain_pump
    if element is None or element.control != "thermostat":
        return []
    found_s = moves_s(rig.constants, rig.machine)
    # Hotter than any sound bath: the element stays on until then. In whole degrees, as the words have it.
    left_c = hottest_left(rig.constants, rig.machine, found_s).hottest_c
    hottest_c = float(math.ceil(max(sound.bath_c, left_c)))
    guards = rig.protection.against(KEY)
    tested, besides = guards["unseen"], list[str]()
    sentences = [FOUND.format(lasting(found_s))]
    if any(row.kind == "steam" for row in rig.constants.rounds):
        sentences.append(NOT_IN_STEAM)
    if pipe.stands_the_boil:
        sentences.append("The drain pipe stands the boil: nothing comes of that.")
    else:
        sentences += [DRAINED.format(hottest_c), f"The pipe stands {pipe.drain_limit_c:g} °C."]
        if hottest_c > pipe.drain_limit_c:
            sentences.append(READ_IT)
            besides.append(PIPE_OF_A_STUCK_SENSOR)
    limit_c = rig.machine.tank.limit_c
    if hottest_c > limit_c:
        sentences.append(f"The tank stands {limit_c:g} °C.")
        besides += guards["hot"]
    met, guards = replace(sound, bath_c=hottest_c), {"unseen": (*tested, *besides)}
    return [
        make_row((KEY, "sensor sticks at a cold reading"), " ".join(sentences), [UNSEEN_HARM], met, guards)
    ]
