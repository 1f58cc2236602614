"""Corners: the points of the tolerances that the planner counts with; a cold set, a hot set, the nominal one.

Which end is the bad one is known for most quantities. It is not for the level and the carry-over (more water
is slower to heat, but keeps more heat for the next round), nor for masses and losses (a room warmer than the
water heats it), so both ends are tried. Quantities move together here, which no check allows: the worst
points that a check finds join the corners.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Literal

import numpy as np

from optimizer.physics import Array
from optimizer.planner.corner_arrays import Corners, CornerSets, corners_at
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured

End = Literal["low", "nominal", "high"]

BOTH_ENDS: tuple[End, End] = ("low", "high")


@dataclass(frozen=True)
class _Ends:
    """Which end each group of quantities takes in a corner."""

    warmth: Literal["cold", "hot", "nominal"]
    heat: End
    supply: End
    level: End
    carry_over: End
    mass: End
    loss: End


@dataclass(frozen=True)
class WorstPoint:
    """A point of the tolerances that a check found to be the worst for a requirement.

    Attributes
    ----------
    key : str
        The requirement.
    at : mapping
        Value of each measured quantity, by the check's names and in its units.
    """

    key: str
    at: Mapping[str, float]

    @property
    def cold(self) -> bool:
        """Whether it belongs to the cold set: too little heat there is what hurts."""
        return self.key.startswith(("dose.", "hygiene.", "drying.", "detergent."))

    @property
    def hot(self) -> bool:
        """Whether it belongs to the hot set."""
        return self.key.startswith(("tank.", "prerinse.", "drain."))

    @property
    def stepped(self) -> bool:
        """Whether the step between ware and bath is looked at there."""
        return self.key.startswith("ware.")


def corners_of(machine: Machine, points: Sequence[WorstPoint] = ()) -> Corners:
    """Set up the corners of a machine: the cold ones, the hot ones, the nominal one last.

    Points that a check found come before the usual corners, the hot ones after them.
    """
    cold, hot, nominal = _usual(machine)
    before = [point for point in points if not point.hot]
    after = [point.at for point in points if point.hot]
    tables = [*(point.at for point in before), *cold, *hot, *after, nominal]
    in_cold = [*(point.cold for point in before), *[True] * len(cold), *[False] * (len(hot) + len(after) + 1)]
    in_hot = [False] * (len(before) + len(cold)) + [True] * (len(hot) + len(after)) + [False]
    stepped = [point.stepped for point in before] + [False] * (len(tables) - len(before))
    sets = CornerSets(np.array(in_cold), np.array(in_hot), np.array(stepped))
    return corners_at(machine, _columns(tables), sets)


def step_points(machine: Machine) -> tuple[WorstPoint, ...]:
    """Where the steps between ware and bath are about largest, by the planner's own guess.

    A drop: hot in all but the inlet's water, which is cold, with little water and with much, on ware that a
    spray cools slowly; where a thermostat has made it as hot, a weak element leaves the first rinse the
    coldest. A rise: a strong
    element and little water, and a cold room; the inlet's water cold or warm.
    """
    cold_inlet = {"inlet_c": machine.inlet.water_c.low}
    cold_room = {"room_c": machine.room.air_c.low, "response_still_s": machine.ware.response_still_s.high}
    chilled = cold_inlet | {"response_spraying_s": machine.ware.response_spraying_s.high}
    little, much = (
        _table(machine, _Ends("hot", "high", "high", level, "low", "low", "low")) for level in BOTH_ENDS
    )
    weak = _table(machine, _Ends("hot", "low", "high", "high", "low", "low", "low"))
    return (
        *([WorstPoint("ware.drop_k", weak | chilled)] if machine.thermostat else []),
        WorstPoint("ware.drop_k", little | chilled),
        WorstPoint("ware.drop_k", much | chilled),
        WorstPoint("ware.rise_k", little | cold_inlet | cold_room),
        WorstPoint("ware.rise_k", little | cold_room),
    )


def corners_of_electricity(machine: Machine) -> Corners:
    """Set up the usual corners, and those in which a programme takes least and most electricity.

    A thermostat ends a heating early in the cold corners and late in the hot ones, which is bad for a dose or
    a tank. Most electricity goes into cold water that is heated late, least into warm water heated early.
    """
    element = machine.element
    if element is None or element.control == "timed":
        return corners_of(machine)
    error_k, over_mean_k = element.sensor_error_k, element.sensor_over_mean_k
    late = {"sensor_error_k": -error_k, "sensor_over_mean_k": over_mean_k.low}
    early = {"sensor_error_k": error_k, "sensor_over_mean_k": over_mean_k.high}
    ends: tuple[End, End] = ("low", "high")
    points = []
    for heat, carry_over in product(ends, ends):
        most = _Ends("cold", heat, "low", "high", carry_over, "high", "high")
        least = _Ends("hot", heat, "high", "low", carry_over, "low", "low")
        points += [_table(machine, most) | late, _table(machine, least) | early]
    return corners_of(machine, [WorstPoint("electricity", point) for point in points])


def corners_beside(machine: Machine, table: Mapping[str, Array]) -> Corners:
    """Set up any points, one value a point by the check's names, and the usual corners after them."""
    cold, hot, nominal = _usual(machine)
    usual = _columns([*cold, *hot, nominal])
    columns = {name: np.concatenate([table[name], values]) for name, values in usual.items()}
    none = np.zeros(len(columns["room_c"]), dtype=bool)
    return corners_at(machine, columns, CornerSets(none, none, none))


def _columns(tables: Sequence[Mapping[str, float]]) -> dict[str, Array]:
    return {name: np.array([table[name] for table in tables]) for name in tables[-1]}


def _usual(machine: Machine) -> tuple[list[dict[str, float]], list[dict[str, float]], dict[str, float]]:
    """Give the cold corners, the hot ones and the nominal one."""
    both: tuple[End, End] = ("low", "high")
    # A strong element ends a thermostat's heating early, while the ware is still cold: both may be bad.
    heats: tuple[End, ...] = both[::-1] if machine.thermostat else ("low",)
    cold = [_Ends("cold", heat, "low", *rest) for heat in heats for rest in product(both, both, both, both)]
    hot = [_Ends("hot", "high", "high", level, carry, "low", "low") for level, carry in product(both, both)]
    middle: End = "nominal"
    nominal = _Ends("nominal", middle, middle, middle, middle, middle, middle)
    return (
        [_table(machine, ends) for ends in cold],
        [_table(machine, ends) for ends in hot],
        _table(machine, nominal),
    )


def _table(machine: Machine, ends: _Ends) -> dict[str, float]:
    """Give the measured quantities their values in a corner, by the check's names."""

    def end(value: Measured, which: End) -> float:
        return float(getattr(value, which))

    inlet, tank, ware, element = machine.inlet, machine.tank, machine.ware, machine.element
    inlet_c, room_c = end(inlet.water_c, ends.supply), end(machine.room.air_c, ends.supply)
    chilled = inlet.water_c.low < machine.room.air_c.high
    # Water that stood in the pipe chills a hot feed and warms a cold one.
    chills = room_c < inlet_c
    pipe: dict[str, End] = {"cold": "high" if chills else "low", "hot": "low" if chills else "high"}
    steam: dict[str, End] = {"cold": "low", "nominal": "nominal", "hot": "high"}
    # A switch sets the level, whatever the flow; a slow one takes longest.
    flow_end: End = ends.level if inlet.level_l is None or ends.level == "nominal" else "low"
    rated_w, error_k, sensor_over_mean_k, top_over_mean_k = 0.0, 0.0, 0.0, 0.0
    if element is not None:
        rated_w = end(element.rated_w, ends.heat)
        error_k = {"cold": 1.0, "nominal": 0.0, "hot": -1.0}[ends.warmth] * element.sensor_error_k
        late: dict[str, End] = {"cold": "high", "nominal": "nominal", "hot": "low"}
        sensor_over_mean_k = end(element.sensor_over_mean_k, late[ends.warmth])
        early: dict[str, End] = {"cold": "low", "nominal": "nominal", "hot": "high"}
        top_over_mean_k = end(element.top_over_mean_k, early[ends.warmth])
    return {
        "voltage_v": end(machine.supply.voltage_v, ends.heat),
        "rated_w": rated_w,
        "wash_pump_w": end(machine.wash_pump.power_w, ends.supply),
        "inlet_c": inlet_c,
        "room_c": room_c,
        "flow_l_per_min": end(inlet.flow_l_per_min, flow_end),
        "drain_l_per_min": end(machine.drain_pump.flow_l_per_min, ends.loss),
        "steam_share": end(ware.steam_share, steam[ends.warmth]),
        "pipe_l": end(inlet.pipe_l, pipe.get(ends.warmth, "nominal")),
        "mechanics_factor": end(machine.wash_pump.mechanics_factor, steam[ends.warmth]),
        "level_l": end(inlet.level_l, ends.level) if inlet.level_l else float("nan"),
        "residual_l": end(tank.residual_l, ends.carry_over),
        "film_l": end(ware.film_l, ends.carry_over),
        "start_share": 0.0 if ends.carry_over == "low" else 1.0,
        "start_chill_share": 1.0 if ends.warmth == "cold" and chilled else 0.0,
        "ware_kj_per_k": end(ware.heat_capacity_kj_per_k, ends.mass),
        "tank_kj_per_k": end(tank.heat_capacity_kj_per_k, ends.mass),
        "loss_still_w_per_k": end(tank.loss_still_w_per_k, ends.loss),
        "loss_spraying_w_per_k": end(tank.loss_spraying_w_per_k, ends.loss),
        "response_spraying_s": end(ware.response_spraying_s, ends.loss),
        "response_still_s": end(ware.response_still_s, ends.loss),
        "sensor_error_k": error_k,
        "sensor_over_mean_k": sensor_over_mean_k,
        "top_over_mean_k": top_over_mean_k,
    }


@dataclass(frozen=True)
class KeptBack:
    """What checks of earlier plans taught.

    Attributes
    ----------
    backoff : mapping of str to float
        What to keep back beyond the usual, by requirement key: shares of the limits [1].
    points : tuple of WorstPoint
        Points to count with beside the usual corners.
    """

    backoff: Mapping[str, float] = field(default_factory=dict)
    points: tuple[WorstPoint, ...] = ()


NOTHING_KEPT = KeptBack()
