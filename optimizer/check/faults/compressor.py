"""A compressor on the same circuit starts: a fridge, a freezer, a heat pump beside the machine.

What it takes as it runs is part of the circuit's background, so that the machine is only planned where it
fits beside it. What it takes as it starts is a key of the circuit of its own: a breaker opens at once from 3,
5 or 10 times its rating on (IEC 60898-1, secondary page); a fuse has no such step. An inverter or a generator
that is asked for more than its surge power shuts off or sags (common practice, no source).
"""

from __future__ import annotations

from optimizer.check.currents import peaks_a
from optimizer.check.faults.outcome import SPOILED, FaultRow, make_row
from optimizer.check.faults.rig import Observation, Rig
from optimizer.programme.circuit_device import device_words


def compressor_row(rig: Rig, sound: Observation) -> FaultRow:
    """Say whether the circuit's device opens as one starts, the machine and all else at their highest."""
    what = ("circuit.compressor", "a compressor on the same circuit starts")
    circuit, (running_a, _) = rig.circuit, peaks_a(list(rig.asked), rig.machine)
    on_a, most_a = running_a + circuit.background_a.high, circuit.start_most_a
    start_a = on_a + circuit.compressor_start_a.high
    if start_a == on_a:
        words = "The profile of the circuit says that there is none (compressor_start_a = 0)."
    elif most_a is None or start_a <= most_a:
        words = f"The {circuit.rating_a:g} A device holds: {start_a:.1f} A for a moment, then {on_a:.1f} A."
    else:
        gives_out = f"the device ({device_words(circuit)}) may open at once from {most_a:g} A on"
        if circuit.supply_gives_out:
            gives_out = f"the inverter or the generator gives {most_a:g} A for a moment and may shut off"
        words = (
            f"For a moment {start_a:.1f} A flow: {gives_out}. The power is cut in mid-programme (see there); "
            "give the machine a circuit of its own."
        )
        return make_row(what, words, [SPOILED], sound.meter.extremes(), {"wash": ()})
    return make_row(what, words, (), sound.meter.extremes(), {})
