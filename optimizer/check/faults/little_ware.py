"""A run with little or no ware: what is proven is proven for the ware of the machine's profile.

Ware takes up heat. Without it a bath that is heated by time alone ends hotter, and steam boils a pool off
sooner. That half loads are run is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

from optimizer.check.faults.harms_met import harms_met
from optimizer.check.faults.outcome import FaultRow, make_row
from optimizer.check.faults.rig import Observation, Rig

LITTLE_SHARE = 0.01
"""Heat capacity of the ware that goes in over that of the profile [1]; of none nothing could be said."""

KEY = "ware.little"
FULL_LOADS = "full loads only, or a plan for the ware that goes in (ware of the machine's profile)"


def little_ware(rig: Rig, sound: Observation) -> FaultRow:
    """Give one row: the whole programme, with next to no ware; ``sound`` is the run with all of it."""
    light = replace(rig, cases=replace(rig.cases, ware_j_per_k=LITTLE_SHARE * rig.cases.ware_j_per_k))
    run = light.observe(light.asked)
    met, usual = run.meter.extremes(), rig.protection.against(KEY)
    guards = {kind: (FULL_LOADS, *named) for kind, named in usual.items()}
    harms, sentences = harms_met(light, [run], "start")
    words = (
        f"The numbers are for the ware of the profile. With next to none the bath reaches {met.bath_c:.0f} "
        f"°C, with all of it {sound.meter.extremes().bath_c:.0f} °C here."
    )
    return make_row((KEY, "run with little or no ware"), " ".join([words, *sentences]), harms, met, guards)
