"""A second run, begun as the first one ends: the machine is warm, the load new and at room temperature."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.check.certificate import Row
from optimizer.check.equations import State
from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.meters import HeatMeter, Meter
from optimizer.check.requirements import Judged
from optimizer.check.worst_cases import Array, Cases
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants


class LastState(Meter):
    """Keeps where the cases stand as the last drain ends; nobody has to wait for the standing."""

    state: State

    def add(self, stretch: Stretch) -> None:
        """Keep the end of a stretch."""
        if stretch.phase.name != "stand":
            self.state = stretch.samples.end


def hottest_again(constants: Constants, machine: Machine, cases: Cases, end: State) -> dict[str, Array]:
    """Run a programme from where it ended: by requirement its temperature in every case [°C].

    Tank and what the drain left are as warm as they were; the load is at room temperature, and as wet.
    """
    wet = replace(cases, start_share=np.ones(cases.count))
    heat = HeatMeter(constants, wet)
    start = replace(end, ware_c=cases.room_c, film_kg=cases.film_kg)
    for stretch in Simulation(constants, wet, machine.tank.vent_m2).run(start=start):
        heat.add(stretch)
    return {"tank.bath_c": heat.hottest_c, "prerinse.bath_c": heat.prerinse_c}


def judged_twice(judged: tuple[Judged | Row, ...], again: dict[str, Array]) -> tuple[Judged | Row, ...]:
    """Judge each temperature by the hotter of both runs."""
    return tuple(
        replace(one, values=np.maximum(one.values, again[one.key]))
        if isinstance(one, Judged) and one.key in again
        else one
        for one in judged
    )
