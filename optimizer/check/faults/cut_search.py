"""Look for what a run that was cut off and is started again does at other points than its cases."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.aim import Asked, Target, Values, aimed, stacked, untold
from optimizer.check.drawn_cases import Spread
from optimizer.check.equations import State
from optimizer.check.faults.past import SAME, past_harm, past_hot_drain, past_steps, past_wash
from optimizer.check.faults.rig import Numbers, Observation, Rig
from optimizer.check.faults.started_again import states_at
from optimizer.check.phases import Phase
from optimizer.check.worst_cases import Array, Cases

PRERINSE_NOISE_K = 0.1
"""A prerinse that is warmer than its limit by less counts as within it [K]."""
TOLD_APART = "prerinse.bath_c"
"""Requirement whose miss has a sentence of its own."""
AGAIN, WAITED, COLD = range(3)
"""How a run is started again: at once; cooled to what the drain pipe stands; as cool as the room."""


def left_at(rig: Rig, cases: Cases) -> tuple[Array, Array, Array]:
    """How warm bath and ware are at the most as a run is started again, at once, waited, cold [°C]."""
    pipe_c = rig.machine.drain_pump.drain_limit_c
    return np.full(cases.count, np.inf), np.full(cases.count, pipe_c), cases.room_c


def cooled(start: State, most_c: float | Array) -> State:
    """Leave bath and ware to cool to a temperature [°C]."""
    return replace(start, bath_c=np.minimum(start.bath_c, most_c), ware_c=np.minimum(start.ware_c, most_c))


def off_s(asked: Sequence[Phase]) -> Array:
    """How long the element has been off at the end of each phase [s]; inf before it was ever on."""
    found, so_far_s = [], np.inf
    for phase in asked:
        so_far_s = 0.0 if phase.outputs.element else so_far_s + phase.longest_s
        found.append(so_far_s)
    return np.array(found)


@dataclass(frozen=True)
class SecondRuns:
    """Runs that are started again: a course is one cut and one way of starting.

    Attributes
    ----------
    rig : Rig
        What was run.
    sound : Observation
        The first run.
    cuts : ndarray
        Phases at whose ends the power is cut [1], from 0.
    runs : tuple of Observation
        The second runs, by how they are started: the cases of the first cut, then those of the next.
    """

    rig: Rig
    sound: Observation
    cuts: Numbers
    runs: tuple[Observation, ...]

    def points(self, rows: Iterable[Numbers]) -> Array:
        """Find points at which a row tells more; a row is some of the cuts, by their place in ``cuts``."""
        if self.rig.spread is None:
            return np.empty((0, 0))
        seen = self._seen()
        targets: dict[Target, None] = {}
        for chosen in rows:
            courses = [way * len(self.cuts) + int(cut) for way in range(len(self.runs)) for cut in chosen]
            targets |= dict.fromkeys(untold({course: seen[course] for course in courses}))
        return aimed(self.rig.spread.box, self.rig.spread.points, seen, targets, self._run)

    def _seen(self) -> dict[int, Values]:
        """Give the values of all courses that a cut makes worse in any case."""
        count = self.rig.cases.count
        usual = self._past(AGAIN, self.sound, np.zeros(count, dtype=int))
        found: dict[int, Values] = {}
        for way, one in enumerate(self.runs):
            past = self._past(way, one, np.repeat(self.cuts, count))
            by_cut = {key: values.reshape(len(self.cuts), count) for key, values in past.items()}
            worse = {
                key: values.max(axis=1) > usual.get(key, np.full(1, -np.inf)).max() + SAME
                for key, values in by_cut.items()
            }
            for cut in range(len(self.cuts)):
                found[way * len(self.cuts) + cut] = {
                    key: values[cut] for key, values in by_cut.items() if worse[key][cut]
                }
        return found

    def _run(self, asked: Asked) -> list[Values]:
        """Run all that is asked as one batch: first runs up to their cuts, then second ones."""
        courses, batch, where = stacked(asked)
        ways, cuts = courses // len(self.cuts), self.cuts[courses % len(self.cuts)]
        assert self.rig.spread is not None
        rig = self.rig.at(Spread.of(self.rig.spread.box, batch))
        cases, start = states_at(rig, rig.observe(rig.asked), cuts)
        most_c = np.choose(ways, left_at(rig, cases))
        seen = replace(rig, cases=cases).observe(rig.asked, cooled(start, most_c))
        by_way = [self._past(way, seen, cuts) for way in range(len(self.runs))]
        return [
            {key: values[lies] for key, values in by_way[course // len(self.cuts)].items()}
            for (course, _), lies in zip(asked, where, strict=True)
        ]

    def _past(self, way: int, one: Observation, cuts: Numbers) -> dict[str, Array]:
        """How far cases that are cut as numbered are past what is told of a way of starting."""
        usual = {TOLD_APART, *(row.key for row in self.sound.missed)}
        found = past_wash(one, usual)
        if way == WAITED:
            found["waited"] = past_hot_drain(one)["hot_drain"]
        if way == AGAIN:
            limit_c = self.rig.goal.prerinse.limit_c + PRERINSE_NOISE_K
            found |= past_harm(one) | past_steps(self.rig, one)
            found |= {"prerinse": one.heat.prerinse_c - limit_c}
            if self.rig.machine.element is not None:
                hot_s = off_s(self.rig.asked)[cuts] + one.meter.tallies["hot_element"].first_s
                found["hot_element"] = self.rig.machine.element.rest_s - hot_s
        return found
