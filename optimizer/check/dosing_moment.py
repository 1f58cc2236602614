"""When, and on how hot a bath, the sprays begin that detergent goes into: for whoever puts it in by hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from optimizer.check.aim import Values, furthest
from optimizer.check.drawn_cases import spread
from optimizer.check.equations import State
from optimizer.check.integrate import Simulation
from optimizer.check.phases import phases
from optimizer.check.worst_cases import Array, Cases
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import DISPENSER_ONLY, NEVER_DOSED, WhenDosed, of_a_bench_run
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan
from optimizer.units import S_PER_MIN

SPARE_SHARE = 0.05
"""Share of its span by which a window is widened either way, for points that no case has [1]; *no source*."""
WINDOW_RTOL = 1e-5
"""Relative tolerance of these runs [1]: a window is told in minutes."""
HAND_C = 55.0
"""A bath this hot is no place to put detergent in by hand: from 60 °C on steam and hot lye leave an open
funnel, and little ware, or a run begun again at once, makes it some kelvin hotter [°C]; *no source*."""
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
        When it begins, from the beginning of the drain at the start, at points that a search has found, each
        at rest and straight after a run [s].
    hottest_c : float
        Hottest bath as it begins, of the same points [°C].
    """

    round: int
    kind: str
    start: int
    least_s: float
    most_s: float
    hottest_c: float

    @property
    def by_dispenser(self) -> bool:
        """Whether no hand may put it in."""
        return self.hottest_c >= HAND_C

    @property
    def words(self) -> str:
        """Say which spray it is and when it begins, in ASCII: ``the spray of round 2 (wash), …``."""
        spare_s = SPARE_SHARE * (self.most_s - self.least_s)
        first = math.floor((self.least_s - spare_s) / S_PER_MIN)
        last = math.ceil((self.most_s + spare_s) / S_PER_MIN)
        time = ORDINALS.get(self.start, f"{self.start}th")
        return (
            f"the spray of round {self.round} ({self.kind}), the {time} time that the wash pump starts, "
            f"about {first} to {last} min after the first drain began"
        )


@lru_cache(maxsize=16)
def dosed_sprays(constants: Constants, machine: Machine) -> tuple[DosedSpray, ...]:
    """Find the sprays that detergent goes into, in their order; none where no round has any.

    When each begins is looked for at corners and drawn points, and from there by a search; no bound.
    """
    if not any(row.detergent_dg for row in constants.rounds):
        return ()
    known = spread(machine)
    sprays = _sprays(constants)
    seen = _spans(constants, known.cases(), machine.tank.vent_m2)

    def run(points: Array) -> Values:
        return _spans(constants, known.box.cases(points), machine.tank.vent_m2)

    found = furthest(known.box, known.points, seen, run)
    return tuple(
        replace(
            one,
            least_s=-found[f"{number} sooner"],
            most_s=found[f"{number} later"],
            hottest_c=found[f"{number} hotter"],
        )
        for number, one in enumerate(sprays)
    )


def _sprays(constants: Constants) -> list[DosedSpray]:
    """Name the sprays that detergent goes into, their times left open."""
    dosed = {number for number, row in enumerate(constants.rounds) if row.detergent_dg}
    found, starts, sprays = list[DosedSpray](), 0, False
    for phase in phases(constants):
        starts += phase.outputs.wash_pump and not sprays
        sprays = phase.outputs.wash_pump
        if phase.name == "spray" and phase.round in dosed:
            dosed.remove(phase.round)
            found.append(
                DosedSpray(phase.round + 1, constants.rounds[phase.round].kind, starts, 0.0, 0.0, 0.0)
            )
    return found


def _spans(constants: Constants, cases: Cases, vent_m2: float) -> Values:
    """Run cases at rest and straight after that run: when each dosed spray begins, the sooner and the later.

    "sooner" is less than nothing: the larger, the sooner [s]. "hotter" is the hotter bath of the two [°C].
    """
    at_rest, end = _begins(constants, cases, vent_m2, None)
    wet = replace(cases, start_share=np.ones(cases.count))
    # Ware taken out and in between: as warm as the room; the tank is as the run has left it.
    left = State(end.bath_c, cases.room_c, end.water_kg, cases.film_kg)
    after_another, _ = _begins(constants, wet, vent_m2, left)
    found: dict[str, Array] = {}
    for number, ((one_s, one_c), (two_s, two_c)) in enumerate(zip(at_rest, after_another, strict=True)):
        found[f"{number} hotter"] = np.maximum(one_c, two_c)
        found[f"{number} sooner"] = -np.minimum(one_s, two_s)
        found[f"{number} later"] = np.maximum(one_s, two_s)
    return found


def _begins(
    constants: Constants, cases: Cases, vent_m2: float, start: State | None
) -> tuple[list[tuple[Array, Array]], State]:
    """Run once: when each dosed spray begins [s], its bath [°C], and how the last drain leaves the cases."""
    dosed = {number for number, row in enumerate(constants.rounds) if row.detergent_dg}
    begins_s, found = np.zeros(cases.count), list[tuple[Array, Array]]()
    asked = [phase for phase in phases(constants) if phase.name != "stand"]
    for stretch in Simulation(constants, cases, vent_m2, WINDOW_RTOL).run(asked, start):
        if stretch.phase.name == "spray" and stretch.phase.round in dosed:
            dosed.remove(stretch.phase.round)
            found.append((begins_s, stretch.samples.bath_c[:, 0]))
            if not dosed and start is not None:
                break
        begins_s = begins_s + stretch.samples.lasted_s
    return found, stretch.samples.end


def when_dosed(plan: Plan) -> WhenDosed:
    """Say of each spray with detergent when it goes in, and if by hand; of a bench run that none does."""
    if plan.constants.bench_run:
        return of_a_bench_run(plan.inputs)
    if plan.inputs.goal.detergent is None:
        return NEVER_DOSED
    return when_sprays_are_dosed(dosed_sprays(plan.constants, plan.inputs.machine))


def when_sprays_are_dosed(sprays: Sequence[DosedSpray]) -> WhenDosed:
    """Say the same of sprays that are known."""
    said = tuple(
        f"{DISPENSER_ONLY}: into {one.words}; its bath may have {math.ceil(one.hottest_c)} C by then."
        if one.by_dispenser
        else f"Detergent by hand: in {one.words} (bath up to {math.ceil(one.hottest_c)} C); in no other."
        for one in sprays
    )
    return WhenDosed(said, by_hand=not said or not all(one.by_dispenser for one in sprays))
