"""A row of the certificate at its limit: on machines without tolerances, in which nothing ever changes.

Without tolerances the worst value found is exact, and is judged at the limit itself. The guaranteed value
beside it is never better; it may be worse by what docs/guarantee.md takes off for the steps of the courses,
0.2 % and 0.05 K, and no more.
"""

from __future__ import annotations

from typing import Any

from check_cases import a_round, circuit, goal, machine, programme, row_of

from optimizer.check.certificate import Row
from optimizer.physics.water import density_kg_per_l
from optimizer.programme.constants import Constants

# Water, room and ware at one temperature, a pump that warms nothing, no vent: nothing ever changes.
STEADY: dict[str, Any] = {
    "room.air_c": 40.0,
    "inlet.water_c": 40.0,
    "wash_pump.heat_share": 0.0,
    "tank.vent_m2": 0.0,
}


def row(
    key: str,
    constants: Constants,
    *,
    rig: dict[str, Any] | None = None,
    aim: dict[str, Any] | None = None,
    feed: dict[str, Any] | None = None,
) -> Row:
    """The row of a requirement, on a machine without tolerances."""
    return row_of(key, constants, machine(STEADY | (rig or {}), tolerances=False), goal(aim), circuit(feed))


def worst(
    key: str, constants: Constants, *, rig: dict[str, Any] | None = None, aim: dict[str, Any] | None = None
) -> float:
    """The worst value of it that is found."""
    exact = machine(STEADY | (rig or {}), tolerances=False)
    return row_of(key, constants, exact, goal(aim), circuit(), bounded=False).worst


STEPS_SHARE, STEPS_K = 0.002, 0.05
"""What docs/guarantee.md takes off a bound for the steps of a course [1, K]."""

ROUNDING = 1e-6
"""What the integration of the check itself may be off [unit of the row]."""

LITRES_SHARE = 0.05 * 4e-4
"""Share by which 0.05 K change the litres of water at 40 °C: its density falls by 0.39 g/l a kelvin, from
992.22 kg/m³ at 40 °C to 988.03 at 50 (IAPWS-IF97) [1]."""

WARM_KG_PER_L = 0.99222
"""Water at 40 °C (IAPWS-IF97)."""


def holds(found: Row, put_off: float) -> bool:
    """Whether the worst found holds its limit; the bound is on the safe side, and put off by so much."""
    sign = 1.0 if found.sense == "at least" else -1.0
    assert found.guaranteed is not None
    assert 0.0 <= sign * (found.worst - found.guaranteed) <= put_off + ROUNDING
    return sign * (found.worst - found.limit) >= 0.0


def of_weighed_l(litres: float) -> float:
    """Litres at 40 °C of litres that were weighed, as kilograms at 20 °C: 0.998 kg/l (DEVELOPERS.md)."""
    return litres * 0.998 / float(density_kg_per_l(40.0))


def wash_of(**numbers: int) -> Constants:
    return programme(a_round("prerinse"), a_round("wash", **numbers), a_round("rinse"))
