"""Boxes of the tolerances: every quantity between two ends, in the units of the equations; how to split them.

A bound holds for every point of a box. Of many small boxes that fill the whole one, the worst bound is closer
to the worst point than the bound of the one box.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from optimizer.check.bound_sides import heaviest_kg_per_l, lightest_kg_per_l
from optimizer.check.worst_cases import QUANTITIES, Array, Cases, cases_at, tolerances
from optimizer.profile.machine import Machine

ONE_BAD_END = ("holdup_l", "drain_lag_s", "mechanics_factor")
"""Quantities with one bad end, whatever the rest does."""

SPLITTABLE = tuple(name for name in QUANTITIES if name not in ONE_BAD_END)
"""Quantities whose halves may give better bounds."""


@dataclass(frozen=True)
class Boxes:
    """Two ends of everything the equations need, one value a box.

    Attributes
    ----------
    least, most : Cases
        Low and high end of each quantity. Litres are turned into mass at the least density of the inlet water
        in ``least`` and at its greatest in ``most``, so that both masses are ends as well.
    inlet_low_c, inlet_high_c : ndarray
        Ends of the inlet water [°C]; ``least.inlet_c`` and ``most.inlet_c`` are the other way round.
    """

    least: Cases
    most: Cases
    inlet_low_c: Array
    inlet_high_c: Array

    @property
    def count(self) -> int:
        """How many boxes there are [1]."""
        return len(self.inlet_low_c)


def ends_of(machine: Machine) -> dict[str, tuple[float, float]]:
    """Low and high end of every measured quantity, by the names of `Tolerances`.

    The voltage acts on a course through the element's power alone (`cases_at`): the two are one quantity
    here, the power that an element has at its rated voltage, and need not be halved both.
    """
    measured = tolerances(machine)
    ends = {name: (getattr(measured, name).low, getattr(measured, name).high) for name in QUANTITIES}
    rated_v = 1.0 if machine.element is None else machine.element.rated_v
    powers = zip(ends["rated_w"], ends["voltage_v"], strict=True)
    low_w, high_w = (rated_w * (voltage_v / rated_v) ** 2 for rated_w, voltage_v in powers)
    return ends | {"voltage_v": (rated_v, rated_v), "rated_w": (low_w, high_w)}


def boxes_at(machine: Machine, ends: Array) -> Boxes:
    """Boxes of given ends: boxes × quantities × (low, high)."""
    low, high = (dict(zip(QUANTITIES, ends[:, :, end].T.copy(), strict=True)) for end in (0, 1))
    names = ("",) * len(ends)
    light, heavy = (end(low["inlet_c"], high["inlet_c"]) for end in (lightest_kg_per_l, heaviest_kg_per_l))
    return Boxes(
        least=cases_at(machine, names, 0, low | {"inlet_c": high["inlet_c"]}, light),
        most=cases_at(machine, names, 0, high | {"inlet_c": low["inlet_c"]}, heavy),
        inlet_low_c=low["inlet_c"],
        inlet_high_c=high["inlet_c"],
    )


def together(one: Boxes, other: Boxes) -> Boxes:
    """All boxes of two sets, to be run at once."""

    def both(first: Cases, second: Cases) -> Cases:
        arrays = {
            field.name: np.concatenate([getattr(first, field.name), getattr(second, field.name)])
            for field in fields(Cases)
            if field.name not in ("names", "corners")
        }
        return Cases(names=first.names + second.names, corners=0, **arrays)

    return Boxes(
        least=both(one.least, other.least),
        most=both(one.most, other.most),
        inlet_low_c=np.concatenate([one.inlet_low_c, other.inlet_low_c]),
        inlet_high_c=np.concatenate([one.inlet_high_c, other.inlet_high_c]),
    )
