"""When the sprays begin that detergent goes into: for whoever puts it in by hand, and hears a pump before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optimizer.check.integrate import Simulation
from optimizer.check.phases import phases
from optimizer.check.worst_cases import fault_cases
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan
from optimizer.units import S_PER_MIN

ORDINALS = {1: "first", 2: "second", 3: "third"}


@dataclass(frozen=True)
class DosedSpray:
    """A spray that detergent goes into as it begins.

    Attributes
    ----------
    round : int
        Its round [1], from 1.
    kind : str
        Kind of that round.
    start : int
        Which start of the wash pump it is [1], from 1.
    least_s, most_s : float
        When it begins, from the beginning of the drain at the start, at a few ends of the tolerances [s].
    """

    round: int
    kind: str
    start: int
    least_s: float
    most_s: float

    @property
    def words(self) -> str:
        """Say which spray it is and when it begins, in ASCII: ``the spray of round 2 (wash), …``."""
        first, last = (clock(one) for one in (self.least_s, self.most_s))
        about = first if first == last else f"{first} to {last}"
        time = ORDINALS.get(self.start, f"{self.start}th")
        return (
            f"the spray of round {self.round} ({self.kind}), the {time} time that the wash pump starts, "
            f"about {about} (min:s) after the first drain began"
        )


def clock(seconds: float) -> str:
    """Write a time as minutes and seconds.

    Examples
    --------
    >>> clock(59.6), clock(3725.0)
    ('1:00', '62:05')
    """
    minutes, rest = divmod(round(seconds), int(S_PER_MIN))
    return f"{minutes}:{rest:02d}"


@lru_cache(maxsize=16)
def dosed_sprays(constants: Constants, machine: Machine) -> tuple[DosedSpray, ...]:
    """Find the sprays that detergent goes into, in their order; none where no round has any."""
    dosed = {number for number, row in enumerate(constants.rounds) if row.detergent_dg}
    cases = fault_cases(machine)
    begins_s, starts, sprays = np.zeros(cases.count), 0, False
    found: list[DosedSpray] = []
    asked = phases(constants) if dosed else []
    for stretch in Simulation(constants, cases, machine.tank.vent_m2).run(asked):
        phase = stretch.phase
        starts += phase.outputs.wash_pump and not sprays
        sprays = phase.outputs.wash_pump
        if phase.name == "spray" and phase.round in dosed:
            dosed.remove(phase.round)
            kind = constants.rounds[phase.round].kind
            span_s = float(begins_s.min()), float(begins_s.max())
            found.append(DosedSpray(phase.round + 1, kind, starts, *span_s))
            if not dosed:
                break
        begins_s = begins_s + stretch.samples.lasted_s
    return tuple(found)


def by_hand(plan: Plan) -> tuple[str, ...]:
    """Say for each spray with detergent when it goes in by hand; nothing of a bench run."""
    if plan.constants.bench_run or plan.inputs.goal.detergent is None:
        return ()
    return when_by_hand(dosed_sprays(plan.constants, plan.inputs.machine))


def when_by_hand(sprays: Sequence[DosedSpray]) -> tuple[str, ...]:
    """Say the same of sprays that are known."""
    return tuple(f"Detergent by hand: in {one.words}; in no other spray." for one in sprays)
