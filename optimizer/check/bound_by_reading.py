"""Boxes counted from what the sensor reads: one that reads low makes a whole run so much hotter.

The courses of a box lose much where its thermostats are known badly: the bath at a switching, and the bath
that a heating starts from, are then each of some width, though one error makes both. So each point's
temperatures are lowered by the same, by what its sensor reads lower than any of the box might: then all
sensors read as high, and switch at one temperature. Heat flows hang on differences; so these are the
temperatures of a run in a room and with an inlet lowered as far. As the true ones are no lower, what is least
of the lowered ones (a dose, a bath) bounds them.

Of water three things hang on temperatures as such. Specific heat and density vary by a share of next to
nothing in a kelvin: all masses are given that width. The water of the true run evaporates as hotter water
does: the driest air is put drier by as much. A boiling pool does not come along: programmes with steam are
left out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.check.bound_box import Boxes
from optimizer.check.bound_doses import DOSE
from optimizer.physics.water import BOILING_C, saturation_pressure_kpa
from optimizer.profile.goal import Goal
from optimizer.programme.constants import Constants

VARIES_PER_K = 8e-4
"""Share by which specific heat or density of water differ between two temperatures 1 K apart at the most, 0
to 100 °C: 7.8e-4 at 0 °C, 7.5e-4 at 100 °C (IAPWS-IF97) [1/K]."""

PRESSURE_PER_K = 0.075
"""Share by which a saturation pressure rises in 1 K at the most, above 0 °C: 0.0726 at 0 °C [1/K]."""


def by_reading(boxes: Boxes) -> Boxes:
    """Put boxes where every sensor reads as high as any: lower courses are below those of all points."""
    least, most = boxes.least, boxes.most
    wide_k = most.sensor_error_k - least.sensor_error_k
    masses = ("flow_kg_per_s", "level_kg", "residual_kg", "film_kg", "drain_l_per_s")
    varies = VARIES_PER_K * wide_k
    room_c = least.room_c - wide_k
    more_kpa = np.expm1(PRESSURE_PER_K * wide_k) * saturation_pressure_kpa(BOILING_C)
    air_kpa = least.humidity * saturation_pressure_kpa(least.room_c) - more_kpa
    return Boxes(
        least=replace(
            least,
            room_c=room_c,
            sensor_error_k=most.sensor_error_k,
            humidity=air_kpa / saturation_pressure_kpa(room_c),
            **{name: getattr(least, name) * (1.0 - varies) for name in masses},
        ),
        most=replace(most, **{name: getattr(most, name) * (1.0 + varies) for name in masses}),
        inlet_low_c=boxes.inlet_low_c - wide_k,
        inlet_high_c=boxes.inlet_high_c,
    )


def hang_on_reading(constants: Constants, goal: Goal, boxes: Boxes) -> frozenset[str]:
    """Name what is least of temperatures that set points make; nothing where the sensor's error is known."""
    rows = constants.rounds
    wide_k = boxes.most.sensor_error_k - boxes.least.sensor_error_k
    if not wide_k.any() or any(row.kind == "steam" for row in rows):
        return frozenset()
    heated = {row.kind for row in rows if row.setpoint_dc}
    keys = {DOSE + dose.name for dose in goal.dose if heated.intersection(dose.kinds)}
    if "rinse" in heated:
        keys.add(f"hygiene.{goal.hygiene.method}")
    return frozenset(keys)
