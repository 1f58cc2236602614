"""How cool tank and ware have to be before a programme that was cut off is started again.

Asked of the programme that is started, not of the one that was cut: tank and ware at so many degrees, or one
of them as cool as the room, it keeps what its goal allows between ware and bath, no drain in its turn is too
hot for its pipe, and its wash is as asked wherever one that is started as cool as the room is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np

from optimizer.check.aim import Asked, Values, aimed, stacked, untold
from optimizer.check.drawn_cases import Spread, spread
from optimizer.check.equations import State
from optimizer.check.faults.past import past_hot_drain, past_steps, past_wash
from optimizer.check.faults.rig import Numbers, Observation, Rig
from optimizer.check.phases import Phase, phases
from optimizer.check.worst_cases import Array, repeated
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

COOLER_BY_K = 5.0
"""Steps in which it is looked for how cool tank and ware have to be [K]."""
STEPS = ("drop_k", "rise_k")
HOTTER, DRAINS, WASH = ("drop_k",), ("hot_drain",), ("wash",)
WAYS = ((True, True), (False, True), (True, False))
"""What is as warm as it may be: tank, ware; the other is as cool as the room."""
FEW = 24
"""So many drawn points go in besides the corners [1]: a form is written in about a second; *no source*."""


@dataclass(frozen=True)
class CoolStart:
    """Whole temperatures of tank and ware, or less, from which a programme may be started again.

    Attributes
    ----------
    steps_c, drains_c, wash_c : float or None
        So that it keeps its steps between ware and bath; so that no drain in its turn is too hot; so that the
        wash misses nothing that it does not miss from the room [°C]. inf: however hot they are left; None:
        only as cool as the room, or not even then.
    """

    steps_c: float | None
    drains_c: float | None
    wash_c: float | None

    @property
    def both_c(self) -> float | None:
        """So that it keeps all; its drains are left out where no cooling helps them [°C]."""
        if self.steps_c is None or self.wash_c is None:
            return None
        drains_c = math.inf if self.drains_c is None else self.drains_c
        return min(self.steps_c, self.wash_c, drains_c)


@dataclass(frozen=True)
class _Asked:
    """What is asked; goals hold lists, so that the key is what is written of them, but their words."""

    constants: Constants
    machine: Machine
    circuit: Circuit
    written: str
    goal: Goal = field(compare=False)


def cool_start(constants: Constants, machine: Machine, goal: Goal, circuit: Circuit) -> CoolStart:
    """Find both temperatures of well-formed constants, in steps of 5 K.

    They keep what is asked at corners and drawn points, and at those that a search from there aims at: no
    bound, but a form has no certificate that knows worst points.
    """
    words = {"title": "", "about": ""}
    return _found(_Asked(constants, machine, circuit, repr(goal.model_copy(update=words)), goal))


@lru_cache(maxsize=16)
def _found(asked_of: _Asked) -> CoolStart:
    """Find them once: a report of faults and every form of a plan ask the same."""
    constants, machine, goal, circuit = asked_of.constants, asked_of.machine, asked_of.goal, asked_of.circuit
    points = spread(machine, None, FEW)
    rig = Rig(constants, machine, goal, circuit, points.cases(), tuple(phases(constants)), spread=points)
    starts = _Starts(rig, rig.observe(rig.asked))
    return CoolStart(starts.coolest(STEPS), starts.coolest(DRAINS), starts.coolest(WASH))


@dataclass
class _Starts:
    """Runs that are started with tank and ware at temperatures; ``sound`` is the run at rest.

    ``rounds`` are those that are repeated, numbered from 0; empty: the programme is started anew.
    """

    rig: Rig
    sound: Observation
    rounds: tuple[int, ...] = ()
    ways: tuple[int, ...] = (0, 1, 2)
    seen: dict[float, dict[int, Values]] = field(default_factory=dict)
    drained_c: dict[float, float] = field(default_factory=dict)

    def coolest(self, keys: Sequence[str]) -> float | None:
        """Halve the span: what holds at a temperature holds of anything cooler; then search below that."""
        tried_c = self.tried_c
        low, high = 0, len(tried_c)
        while low < high:
            at = (low + high) // 2
            low, high = (at + 1, high) if self._missed(tried_c[at], keys) else (low, at)
        while low < len(tried_c) and self.found_missed(tried_c[low], keys):
            low += 1
        if low == len(tried_c):
            return None
        return math.inf if low == 0 else tried_c[low]

    @cached_property
    def tried_c(self) -> list[float]:
        """Give the temperatures from the hottest bath down to over the room [°C]."""
        room_c = self.rig.machine.room.air_c.high
        hottest_c = max(float(self.sound.meter.hottest_c.max()), room_c)
        steps = math.ceil((hottest_c - room_c) / COOLER_BY_K + 1.0)
        top_c = COOLER_BY_K * math.ceil(hottest_c / COOLER_BY_K)
        return [float(at_c) for at_c in top_c - COOLER_BY_K * np.arange(steps) if at_c > room_c]

    def _missed(self, at_c: float, keys: Sequence[str]) -> bool:
        """Whether any case misses what is asked."""
        if at_c not in self.seen:
            self.seen[at_c], self.drained_c[at_c] = {}, -math.inf
            ways = np.repeat(self.ways, self.rig.cases.count)
            for place, number in enumerate(self.rounds or (None,)):
                one = _started(self.rig, self.sound, at_c, ways, number)
                self.drained_c[at_c] = max(self.drained_c[at_c], float(one.meter.drained_c.max()))
                by_way = {key: values.reshape(len(self.ways), -1) for key, values in self._past(one).items()}
                self.seen[at_c] |= {
                    place * len(self.ways) + way: {key: values[way] for key, values in by_way.items()}
                    for way in range(len(self.ways))
                }
        return any(
            (values[key] > 0.0).any() for values in self.seen[at_c].values() for key in keys if key in values
        )

    def drained_at(self, at_c: float) -> float:
        """Give the hottest water that a drain in its turn takes [°C]."""
        self._missed(at_c, DRAINS)
        return self.drained_c[at_c]

    def found_missed(self, at_c: float, keys: Sequence[str]) -> bool:
        """Whether a search finds a point that misses what is asked, or any case does."""
        if self._missed(at_c, keys):
            return True
        if self.rig.spread is None:
            return False
        points = self.rig.spread
        seen = {
            way: {key: each for key, each in values.items() if key in keys}
            for way, values in self.seen[at_c].items()
        }

        def run(asked: Asked) -> list[Values]:
            """Run all that is asked of a round as one batch."""
            found: list[Values] = [{} for _ in asked]
            for place, number in enumerate(self.rounds or (None,)):
                some = [at for at, (course, _) in enumerate(asked) if course // len(self.ways) == place]
                if not some:
                    continue
                courses, batch, where = stacked([asked[at] for at in some])
                ways = np.array(self.ways)[courses % len(self.ways)]
                rig = self.rig.at(Spread.of(points.box, batch))
                past = self._past(_started(rig, rig.observe(rig.asked), at_c, ways, number))
                for at, lies in zip(some, where, strict=True):
                    found[at] = {key: each[lies] for key, each in past.items()}
            return found

        found = aimed(points.box, points.points, seen, untold(seen), run)
        if not len(found):
            return False
        # What is found here is looked at first from now on.
        self.rig = self.rig.at(points.wider(found))
        self.sound = self.rig.observe(self.rig.asked)
        self.seen.clear()
        return True

    def _past(self, one: Observation) -> dict[str, Array]:
        """How far cases are past what is asked; a step as large without a cut is not the cut's doing."""
        found = past_hot_drain(one) | past_steps(self.rig, one, self.sound.heat)
        if not self.rounds:
            wash = list(past_wash(one, self.usual).values())
            found |= {"wash": np.max(wash, axis=0)} if wash else {}
        return found

    @cached_property
    def usual(self) -> set[str]:
        """Name what the wash misses in any case as well where all is as cool as the room."""
        cold = _started(self.rig, self.sound, -math.inf, np.zeros(self.rig.cases.count, dtype=int))
        return {row.key for row in (*self.sound.missed, *cold.missed)}


def repeats(asked: Sequence[Phase], number: int) -> tuple[Phase, ...]:
    """Lay out a run that is held in a round, numbered from 0: it drains, and goes on from its beginning."""
    first = next(at for at, phase in enumerate(asked) if phase.round == number)
    return (asked[0], asked[first - 1], *asked[first:])


def _started(
    rig: Rig, sound: Observation, at_c: float, ways: Numbers, number: int | None = None
) -> Observation:
    """Start cases, of each way once or set after set, at a temperature or as cool as the room; all wet.

    With a ``number`` that round is repeated: tank and ware are no hotter than it leaves them anywhere.
    """
    times = len(ways) // rig.cases.count
    cases = repeated(rig.cases, times)
    hot_c: Array = np.maximum(cases.room_c, at_c)
    tank, ware = np.array(WAYS)[ways].T
    fullest_kg = np.max([end.water_kg for end in sound.meter.ends], axis=0)
    bath_c, ware_c, asked = hot_c, hot_c, rig.asked
    if number is not None:
        # The pause before its fill belongs to the round before it.
        of_round = [at for at, phase in enumerate(asked) if phase.round == number]
        ends = [sound.meter.ends[at] for at in (of_round[0] - 1, *of_round)]
        bath_c = np.minimum(hot_c, np.tile(np.max([end.bath_c for end in ends], axis=0), times))
        ware_c = np.minimum(hot_c, np.tile(np.max([end.ware_c for end in ends], axis=0), times))
        asked = repeats(asked, number)
    start = State(
        np.where(tank, bath_c, cases.room_c),
        np.where(ware, ware_c, cases.room_c),
        np.tile(fullest_kg, times),
        cases.film_kg,
    )
    wet = replace(cases, start_share=np.ones(cases.count))
    return replace(rig, cases=wet).observe(asked, start)


@dataclass(frozen=True)
class HeldStart:
    """How cool tank and ware have to be before a run that its lid has held goes on.

    Attributes
    ----------
    steps_c : float or None
        As `CoolStart.steps_c`, of ware that is hotter than the spray [°C].
    drains_c : float or None
        As `CoolStart.drains_c`; inf where what the drain pipe stands is cool enough [°C].
    drained_c : float
        Hottest water that is drained in its turn after tank and ware are as cool as the pipe stands [°C].
    """

    steps_c: float | None
    drains_c: float | None
    drained_c: float

    @property
    def both_c(self) -> float | None:
        """So that it keeps both [°C]; None where nothing is known of the steps, or no cooling helps."""
        if self.steps_c is None or self.drains_c is None:
            return None
        return min(self.steps_c, self.drains_c)


def held_start(rig: Rig, sound: Observation, *, steps: bool) -> HeldStart:
    """Find how cool is cool enough in whatever round a run was held; of steps where they are asked for."""
    rounds = tuple(range(len(rig.constants.rounds)))
    # The warmer all is, the warmer its drains; the colder a tank beside hot ware, the larger the step.
    starts, wares = _Starts(rig, sound, rounds, (0,)), _Starts(rig, sound, rounds, (0, 1))
    pipe_c, drained_c = rig.machine.drain_pump.drain_limit_c, -math.inf
    drains_c: float | None = math.inf
    if not rig.machine.drain_pump.stands_the_boil and starts.found_missed(pipe_c, DRAINS):
        drained_c, drains_c = starts.drained_at(pipe_c), starts.coolest(DRAINS)
    return HeldStart(wares.coolest(HOTTER) if steps else None, drains_c, drained_c)
