"""A second run, begun as the first one ends: the machine is warm, the load new and at room temperature."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

import numpy as np

from optimizer.check.box import Box
from optimizer.check.certificate import Row
from optimizer.check.equations import RTOL, State
from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.meters import HeatMeter, Meter
from optimizer.check.requirements import Judged
from optimizer.check.worst_cases import Array, Cases
from optimizer.check.worst_inside import look_inside
from optimizer.check.worst_points import SAME_SHARE, WorstPoints
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

AGAIN = ("tank.bath_c", "prerinse.bath_c", "drain.bath_c", "ware.drop_k", "ware.rise_k", "first_wash.bath_c")
"""Requirements that hold in a second run as well."""

NEAR_SHARE = 5e-3
"""A second run's step of temperature that is less than the first's by no more than this share [1] may be more
where a thermostat's wave stands elsewhere: it is looked for inside the tolerances."""


class LastState(Meter):
    """Keeps where the cases stand as the last drain ends; nobody has to wait for the standing."""

    state: State

    def add(self, stretch: Stretch) -> None:
        """Keep the end of a stretch."""
        if stretch.phase.name != "stand":
            self.state = stretch.samples.end


def hottest_again(
    constants: Constants, machine: Machine, cases: Cases, end: State, rtol: float = RTOL
) -> dict[str, Array]:
    """Run a programme from where it ended: by requirement its temperature or step in every case [°C, K].

    Tank and what the drain left are as warm as they were; the load is at room temperature, and as wet.
    """
    wet = replace(cases, start_share=np.ones(cases.count))
    heat = HeatMeter(constants, wet)
    start = replace(end, ware_c=cases.room_c, film_kg=cases.film_kg)
    for stretch in Simulation(constants, wet, machine.tank.vent_m2, rtol).run(start=start):
        heat.add(stretch)
    return _counted(heat)


def _counted(heat: HeatMeter) -> dict[str, Array]:
    """What a meter holds of the requirements of `AGAIN`."""
    values = (heat.hottest_c, heat.prerinse_c, heat.drained_c, heat.drop_k, heat.rise_k, heat.first_wash_c)
    return dict(zip(AGAIN, values, strict=True))


def search_again(
    constants: Constants,
    machine: Machine,
    box: Box,
    starts: Iterable[Array],
    rtol: float,
    keys: Collection[str] = AGAIN,
) -> tuple[WorstPoints, list[int]]:
    """Search the worst second runs, in the order of `AGAIN`, and say which of them beat every first run.

    The starts are what is worst for some requirement in a first run; where no second run from there is
    worse than all first ones, none is looked for, but for steps of temperature that a thermostat's wave may
    make worse. Nor is it for requirements that are not in ``keys``.
    """

    def badness(points: Array) -> Array:
        cases, last = box.cases(points), LastState()
        heat = HeatMeter(constants, cases)
        for stretch in Simulation(constants, cases, machine.tank.vent_m2, rtol).run():
            last.add(stretch)
            heat.add(stretch)
        again = hottest_again(constants, machine, cases, last.state, rtol)
        return np.stack([*again.values(), *_counted(heat).values()], axis=1)

    search = WorstPoints(box, badness)
    search.run(starts)
    asked = [
        which
        for which, key in enumerate(AGAIN)
        if key in keys and not (key == "drain.bath_c" and machine.drain_pump.stands_the_boil)
    ]

    def worse(share: float) -> list[int]:
        """Which are so much worse in a second run than in all first ones."""
        return [
            which
            for which in asked
            if search.worst_value(which) > search.worst_value(which + len(AGAIN)) * (1.0 + share)
        ]

    warmer = worse(SAME_SHARE)
    search.climb(warmer)
    if any(row.setpoint_dc for row in constants.rounds):
        look_inside(search, (which for which in worse(-NEAR_SHARE) if AGAIN[which].startswith("ware.")))
        found = [which for which in worse(SAME_SHARE) if which not in warmer]
        search.climb(found)
        warmer = sorted([*warmer, *found])
    return search, warmer


def judged_twice(judged: tuple[Judged | Row, ...], again: dict[str, Array]) -> tuple[Judged | Row, ...]:
    """Judge each temperature by the hotter of both runs."""
    return tuple(
        replace(one, values=np.maximum(one.values, again[one.key]))
        if isinstance(one, Judged) and one.key in again
        else one
        for one in judged
    )
