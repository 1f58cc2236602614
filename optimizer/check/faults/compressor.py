"""A compressor on the same circuit starts: a fridge, a freezer, a heat pump beside the machine.

What it takes as it runs is part of the circuit's background, so that the machine is only planned where it
fits beside it. What it takes as it starts is a key of the circuit of its own: a breaker opens at once from 3,
5 or 10 times its rating on (IEC 60898-1, secondary page); a fuse has no such step.
"""

from __future__ import annotations

import numpy as np

from optimizer.check.currents import peaks_a
from optimizer.check.faults.outcome import FaultRow, Harm, make_row
from optimizer.check.faults.rig import Observation, Rig
from optimizer.programme.circuit_device import device_words


def compressor_row(rig: Rig, sound: Observation) -> FaultRow:
    """Say whether the circuit's device opens as one starts, the machine and all else at their highest."""
    what = ("circuit.compressor", "a compressor on the same circuit starts")
    circuit, (running_a, _) = rig.circuit, peaks_a(list(rig.asked), rig.machine)
    on_a, trips_a = running_a + circuit.background_a.high, circuit.instant_trip_a
    start_a = on_a + circuit.compressor_start_a.high
    if start_a == on_a:
        words = "The profile of the circuit says that there is none (compressor_start_a = 0)."
    elif trips_a is None or start_a <= trips_a:
        words = f"The {circuit.rating_a:g} A device holds: {start_a:.1f} A for a moment, then {on_a:.1f} A."
    else:
        words = (
            f"For a moment {start_a:.1f} A flow: the device ({device_words(circuit)}) may open at once from "
            f"{trips_a:g} A on. The power is cut in mid-programme (see there); give the machine a circuit of "
            "its own."
        )
        harm = Harm("wash", np.inf, -1, 0.0)
        return make_row(what, words, [harm], sound.meter.extremes(), {"wash": ()})
    return make_row(what, words, (), sound.meter.extremes(), {})
