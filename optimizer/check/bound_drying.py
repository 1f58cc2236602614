"""Bound of the heat with which ware dries: above the room, in the warmest room of a box."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.check.bound_box import Boxes
from optimizer.check.worst_cases import Array
from optimizer.physics.water import latent_heat_kj_per_kg
from optimizer.profile.goal import DRYING_C
from optimizer.units import J_PER_KJ

WATER_VARIES = 0.0035
"""Share by which the specific heat of water differs between two temperatures 25 K apart, 5 to 100 °C [1]."""


def warm_room(boxes: Boxes) -> Boxes:
    """Put boxes where the ware's heat above the room is least.

    Counted from the room's temperature, every temperature falls where inlet and setpoint do: a warm room is
    the bad one, though it warms the ware. So the room is put at its warm end, and inlet and setpoint get the
    room's width on top. Only the specific heat of water knows of temperatures as such; it is given a width.
    """
    least, most = boxes.least, boxes.most
    wide_k = most.room_c - least.room_c
    masses = ("flow_kg_per_s", "level_kg", "residual_kg", "film_kg")
    return Boxes(
        least=replace(
            least,
            room_c=most.room_c,
            sensor_error_k=least.sensor_error_k - wide_k,
            **{name: getattr(least, name) * (1.0 - WATER_VARIES) for name in masses},
        ),
        most=replace(most, **{name: getattr(most, name) * (1.0 + WATER_VARIES) for name in masses}),
        inlet_low_c=boxes.inlet_low_c,
        inlet_high_c=boxes.inlet_high_c + wide_k,
    )


def ware_heat(boxes: Boxes, ware_c: Array) -> Array:
    """Least heat of the ware over what dries all of its film, by its coldest end in a warm room."""
    least, most = boxes.least, boxes.most
    above_k = ware_c - most.room_c
    worst_j_per_k = np.where(above_k >= 0.0, least.ware_j_per_k, most.ware_j_per_k)
    film_kg = np.where(above_k >= 0.0, most.film_kg, least.film_kg)
    film_j = film_kg * latent_heat_kj_per_kg(DRYING_C) * J_PER_KJ
    return worst_j_per_k * above_k / film_j
