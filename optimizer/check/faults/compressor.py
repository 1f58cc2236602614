"""A compressor on the same circuit starts: a fridge, a freezer, a heat pump beside the machine.

Motors take 3 to 8 times their running current as they start (secondary pages); a small compressor runs on
some 1.2 A of 230 V (no source). A breaker opens at once from 3, 5 or 10 times its rating on, and holds 1.13
times it for an hour (IEC 60898-1, secondary page).
"""

from __future__ import annotations

import numpy as np

from optimizer.check.currents import peaks_a
from optimizer.check.faults.outcome import FaultRow, Harm, make_row
from optimizer.check.faults.rig import Observation, Rig

COMPRESSOR_VA = 1.2 * 230.0
"""Apparent power of a small compressor as it runs [VA]; *no source*."""

STARTS_AT = 8.0
"""Its current as it starts over the running one [1]: the high end of 3 to 8."""

HOLDS_SHARE = 1.13
"""Share of its rating that a breaker holds for an hour (IEC 60898-1, secondary page) [1]."""


def compressor_row(rig: Rig, sound: Observation) -> FaultRow:
    """Say whether the circuit's device opens as one starts, the machine at its highest current."""
    what = ("circuit.compressor", "a compressor on the same circuit starts")
    circuit, (running_a, _) = rig.circuit, peaks_a(list(rig.asked), rig.machine)
    runs_a = COMPRESSOR_VA / circuit.voltage_v
    on_a = running_a + circuit.background_a.high
    start_a, together_a, trips_a = on_a + STARTS_AT * runs_a, on_a + runs_a, circuit.instant_trip_a
    cut = "The power is cut in mid-programme (see there); give the machine a circuit of its own."
    if trips_a is not None and start_a > trips_a:
        words = (
            f"For a moment {start_a:.1f} A flow: the {circuit.rating_a:g} A breaker may open at once from "
            f"{trips_a:g} A on. {cut}"
        )
    elif together_a > HOLDS_SHARE * circuit.rating_a:
        late = f"{together_a:.1f} A flow while it runs: the {circuit.rating_a:g} A device opens late."
        words = f"{late} {cut}"
    else:
        held = f"{start_a:.1f} A for a moment, {together_a:.1f} A while it runs"
        return make_row(
            what, f"The {circuit.rating_a:g} A device holds: {held}.", (), sound.meter.extremes(), {}
        )
    harm = Harm("wash", np.inf, -1, 0.0)
    return make_row(what, words, [harm], sound.meter.extremes(), {"wash": ()})
