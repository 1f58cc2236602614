"""Run a programme on a machine that does something else than it is asked, and watch what comes of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from optimizer.check.cases import Cases
from optimizer.check.certificate import Row
from optimizer.check.controller import Phase
from optimizer.check.faults.meter import FaultMeter
from optimizer.check.meters import DoseMeter, HeatMeter, Meter, WaterMeter
from optimizer.check.model import State
from optimizer.check.rows import Findings
from optimizer.check.simulate import Simulation
from optimizer.physics.water import density_kg_per_l
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.table import Constants

RTOL = 1e-5
"""Relative tolerance of the integration [1]; a fault needs no more."""

WASH_KEYS = ("dose.", "hygiene.", "rinse.residue", "prerinse.bath_c", "drying.")
SHORT_SHARE = 1e-3
"""A requirement of the wash that is missed by less is met [1]."""


@dataclass(frozen=True)
class Observation:
    """What a run showed.

    Attributes
    ----------
    meter : FaultMeter
        Harm, levels and temperatures.
    heat : HeatMeter
        Times and the prerinse.
    short : tuple of Row
        Requirements of the wash that do not hold.
    """

    meter: FaultMeter
    heat: HeatMeter
    short: tuple[Row, ...]


@dataclass(frozen=True)
class Rig:
    """A programme on a machine, ready to be run with faults.

    Attributes
    ----------
    constants : Constants
        The programme.
    machine : Machine
        The machine.
    goal : Goal
        What must be reached.
    circuit : Circuit
        What feeds the machine.
    cases : Cases
        The cases it runs in.
    asked : tuple of Phase
        The phases that the controller asks for.
    """

    constants: Constants
    machine: Machine
    goal: Goal
    circuit: Circuit
    cases: Cases
    asked: tuple[Phase, ...]

    def observe(
        self, delivered: Iterable[Phase], start: State | None = None, drain_share: float = 1.0
    ) -> Observation:
        """Run what the machine delivers.

        Parameters
        ----------
        delivered : iterable of Phase
            The phases.
        start : State, optional
            Where the cases start, if not at rest.
        drain_share : float
            Flow of the drain pump over what was measured [1].

        Returns
        -------
        Observation
            What it showed.
        """
        machine, constants = self.machine, self.constants
        cases = replace(self.cases, drain_kg_per_s=self.cases.drain_kg_per_s * drain_share)
        meter = FaultMeter(constants, machine, cases)
        doses = DoseMeter(self.goal, constants, cases)
        water = WaterMeter(cases, constants.fill_control == "level", machine.element)
        heat = HeatMeter(constants, cases)
        meters: tuple[Meter, ...] = (meter, doses, water, heat)
        cold_kg_per_l = float(density_kg_per_l(machine.inlet.water_c.nominal))
        simulation = Simulation(
            constants,
            cases,
            machine.tank.vent_m2,
            RTOL,
            machine.ware.steam_share,
            cover_kg=machine.element.cover_l * cold_kg_per_l if machine.element else 0.0,
            lip_kg=machine.tank.capacity_l * cold_kg_per_l,
        )
        for stretch in simulation.run(map(_may_boil, delivered), start):
            for each in meters:
                each.see(stretch)
        findings = Findings(
            constants, machine, self.goal, self.circuit, cases, doses, water, heat, list(self.asked)
        )
        short = tuple(
            row
            for row in findings.rows()
            if row.key.startswith(WASH_KEYS) and row.margin_share < -SHORT_SHARE
        )
        return Observation(meter, heat, short)


def _may_boil(phase: Phase) -> Phase:
    """Let an element that nothing but time switches off bring the bath to the boil, and boil it off."""
    unchecked = phase.outputs.element and phase.end == "time" and not phase.cycles
    stirs = phase.outputs.inlet or phase.name in ("fill", "drain")
    return replace(phase, steam=True) if unchecked and not stirs else phase
