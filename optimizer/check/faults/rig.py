"""A rig for faults: run what the machine delivers in place of the programme, and observe what comes of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.check.certificate import Row
from optimizer.check.drawn_cases import Spread
from optimizer.check.equations import State
from optimizer.check.faults.guards import Protection
from optimizer.check.faults.harm_meter import FaultMeter
from optimizer.check.faults.spray_meter import SHORT_SHARE, Film, SprayMeter
from optimizer.check.integrate import Simulation
from optimizer.check.meters import HeatMeter, Meter, WaterMeter
from optimizer.check.phases import Phase
from optimizer.check.requirements import Findings, Judged
from optimizer.check.residue import Rinsing
from optimizer.check.worst_cases import Array, Cases
from optimizer.physics.water import density_kg_per_l
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.programme.plan import UNCHECKED, Certified

Numbers = NDArray[np.int_]

RTOL = 1e-5
"""Relative tolerance of the integration [1]; what a fault does need not be known more closely."""

WASH_KEYS = (
    "dose.",
    "hygiene.",
    "rinse.residue",
    "rinse.soil",
    "rinse.film_mg_per_l",
    "prerinse.bath_c",
    "first_wash.bath_c",
    "detergent.bath_c",
    "detergent.drain_c",
    "first_rinse.bath_c",
    "drying.",
)
"""Requirements of the wash: what a fault may spoil."""


@dataclass(frozen=True)
class Observation:
    """What a run showed: harm, levels and temperatures; times; requirements of the wash, judged.

    ``names`` are those of its cases; ``over`` is the detergent on the ware over the most that the goal lets
    it, of each case [1].
    """

    meter: FaultMeter
    heat: HeatMeter
    judged: tuple[Judged | Row, ...]
    names: tuple[str, ...]
    over: Array

    @property
    def detergent_over(self) -> float:
        """Detergent on the ware over the most that the goal lets it, of the worst case [1]."""
        return float(self.over.max())

    @property
    def missed(self) -> tuple[Row, ...]:
        """Requirements of the wash that the worst case misses."""
        return self.missed_in(np.arange(len(self.names)))

    def missed_in(self, cases: Numbers) -> tuple[Row, ...]:
        """Requirements of the wash that the worst of some cases misses."""
        rows = (
            one
            if isinstance(one, Row)
            else one.row(at := int(cases[one.badness[cases].argmax()]), self.names[at])
            for one in self.judged
        )
        return tuple(row for row in rows if row.margin_share < -SHORT_SHARE)


@dataclass(frozen=True)
class Rig:
    """A programme on a machine, ready to be run with faults; ``asked`` is what the controller asks for."""

    constants: Constants
    machine: Machine
    goal: Goal
    circuit: Circuit
    cases: Cases
    asked: tuple[Phase, ...]
    known: Certified = UNCHECKED
    """What a certificate says, if there is one."""
    spread: Spread | None = None
    """The points of the cases: where there are none, no others are looked for."""

    def at(self, spread: Spread) -> Rig:
        """The same at other points."""
        return replace(self, cases=spread.cases(), spread=spread)

    @property
    def protection(self) -> Protection:
        """What protects the machine whatever happens."""
        return Protection.of(self.constants, self.machine, self.circuit, self.known)

    def observe(
        self, delivered: Iterable[Phase], start: State | None = None, drain_share: float = 1.0
    ) -> Observation:
        """Run the phases that the machine delivers, from a given start or at rest.

        ``drain_share`` is the flow of the drain pump over what was measured [1].
        """
        machine, constants = self.machine, self.constants
        cases = replace(self.cases, drain_l_per_s=self.cases.drain_l_per_s * drain_share)
        meter = FaultMeter(constants, machine, cases)
        doses = SprayMeter(self.goal, constants, cases, meter.tallies["pump_dry"])
        water = WaterMeter(cases, machine.element)
        heat = HeatMeter(constants, cases)
        meters: tuple[Meter, ...] = (meter, doses, water, heat)
        simulation = self._simulation(cases)
        for stretch in simulation.run(map(_may_boil, delivered), start):
            for each in meters:
                each.add(stretch)
        findings = Findings(
            constants, machine, self.goal, self.circuit, cases, doses, water, heat, list(self.asked)
        )
        judged = tuple(one for one in findings.judged() if one.key.startswith(WASH_KEYS))
        film = Film.of(constants, doses.wet_s, Rinsing.of(constants, water.full_kg, water.left_kg))
        return Observation(meter, heat, judged, cases.names, film.each_over(self.goal.rinse))

    def watch(self, delivered: Iterable[Phase]) -> FaultMeter:
        """Run phases from rest for the harm they do: of a run that ends early no wash can be judged."""
        meter = FaultMeter(self.constants, self.machine, self.cases)
        for stretch in self._simulation(self.cases).run(map(_may_boil, delivered)):
            meter.add(stretch)
        return meter

    def _simulation(self, cases: Cases) -> Simulation:
        machine = self.machine
        cold_kg_per_l = float(density_kg_per_l(machine.inlet.water_c.nominal))
        return Simulation(
            self.constants,
            cases,
            machine.tank.vent_m2,
            RTOL,
            cover_kg=machine.element.cover_l * cold_kg_per_l if machine.element else 0.0,
            lip_kg=machine.tank.capacity_l * cold_kg_per_l,
        )


def _may_boil(phase: Phase) -> Phase:
    """Let an element that only time switches off bring the bath to the boil, and boil the water away."""
    unchecked = phase.outputs.element and phase.end == "time" and not phase.cycles
    stirs = phase.outputs.inlet or phase.name in ("fill", "top_up", "drain")
    return replace(phase, steam=True) if unchecked and not stirs else phase
