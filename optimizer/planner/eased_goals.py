"""A goal with some of its requirements eased to the values that a reason names."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Any

from pydantic import ValidationError

from optimizer.errors import Reason
from optimizer.planner.reasons import LEAST_DOSE_MIN, LEFT_OUT
from optimizer.profile.goal import Dose, Goal
from optimizer.profile.measured import Measured, ProfileModel

PLACES = {
    "limits.duration_min": ("limits", "duration_min"),
    "limits.water_l": ("limits", "water_l"),
    "prerinse.bath_c": ("prerinse", "limit_c"),
    "first_wash.bath_c": ("limits", "first_wash_most_c"),
    "ware.drop_k": ("limits", "ware_drop_k"),
    "ware.rise_k": ("limits", "ware_rise_k"),
    "rinse.residue": ("rinse", "residue_max"),
    "rinse.soil": ("rinse", "soil_max"),
    "rinse.film_mg_per_l": ("rinse", "film_mg_per_l"),
    "hygiene.a0": ("hygiene", "target_s"),
    "hygiene.heat_units": ("hygiene", "target_s"),
    "detergent.bath_c": ("detergent", "spray_least_c"),
    "detergent.most_g_per_l": ("detergent", "most_g_per_l"),
    "first_rinse.bath_c": ("rinse", "first_least_c"),
    "drying.ware_heat": ("drying", "heat_factor"),
}
"""Section and key of a goal, by the requirement that they set; doses are found by their names."""

ASKS_NOTHING: dict[str, float | None] = {
    "limits.duration_min": 900.0,
    "limits.water_l": None,
    "first_wash.bath_c": 0.0,
    "ware.drop_k": None,
    "ware.rise_k": None,
    "rinse.residue": 0.5,
    "rinse.soil": None,
    "rinse.film_mg_per_l": None,
    "detergent.bath_c": 0.0,
    "first_rinse.bath_c": 0.0,
}
"""What a goal says that asks for nothing, or for as little as a goal may."""


def printed_value(reason: Reason) -> float:
    """The number that a reason names as nearest, to the digits that are printed; 0 for a dose left out."""
    if reason.nearest == LEFT_OUT:
        return 0.0
    found = re.match(r"[0-9.]+(e-?[0-9]+)?", reason.nearest)
    assert found is not None, reason.nearest
    return float(found.group())


def eased(goal: Goal, values: Mapping[str, float | None]) -> Goal:
    """Ask for these values instead, by the keys of their requirements, in the units of the goal."""
    doses = [_eased_dose(dose, values.get(f"dose.{dose.name}")) for dose in goal.dose]
    sections: dict[str, ProfileModel] = {}
    for key, value in values.items():
        if key in PLACES:
            section, name = PLACES[key]
            there: ProfileModel = sections.get(section, getattr(goal, section))
            sections[section] = there.model_copy(update={name: value})
    return goal.model_copy(update={"dose": doses, **sections})


def may_be_asked(goal: Goal) -> bool:
    """Whether a goal file may say this: each number between the ends that its key takes."""
    try:
        Goal.model_validate(goal.model_dump())
    except ValidationError:
        return False
    return True


def _eased_dose(dose: Dose, most_min: float | None) -> Dose:
    """A dose of fewer minutes, its ends in proportion: a run must reach the high one."""
    if most_min is None:
        return dose
    old, share = dose.minutes, most_min / dose.minutes.high
    # Rounding must not put a lower end over a higher one.
    nominal = min(old.nominal * share, most_min)
    minutes = Measured(nominal=nominal, low=min(old.low * share, nominal), high=most_min)
    return dose.model_copy(update={"minutes": minutes})


def without(goal: Goal, keys: Collection[str]) -> Goal:
    """Leave doses, hygiene and drying out that are among these keys; some dose stays."""
    names = {key.partition(".")[2] for key in keys if key.startswith("dose.")}
    doses = [dose for dose in goal.dose if dose.name not in names] or goal.dose
    changes: dict[str, Any] = {"dose": doses}
    if any(key.startswith("hygiene.") for key in keys):
        changes["hygiene"] = goal.hygiene.model_copy(update={"method": "none", "target_s": None})
    if "drying.ware_heat" in keys:
        changes["drying"] = goal.drying.model_copy(update={"method": "none"})
    return goal.model_copy(update=changes)


def left_out(goal: Goal, keys: Collection[str]) -> Goal:
    """Leave all requirements out that are among these keys; of doses alone one asks for next to nothing."""
    values = {key: ASKS_NOTHING[key] for key in keys if key in ASKS_NOTHING}
    bare = without(goal, keys)
    if all(f"dose.{dose.name}" in keys for dose in bare.dose):
        coolest = min(bare.dose, key=lambda dose: max(dose.floor_c, dose.bare_floor_c))
        bare = bare.model_copy(update={"dose": [coolest]})
        values[f"dose.{coolest.name}"] = min(LEAST_DOSE_MIN, coolest.minutes.high)
    if bare.detergent is not None and "detergent.bath_c" in keys:
        # A spray that may end colder does not ask for a warmer drain.
        colder = bare.detergent.model_copy(update={"drain_least_c": bare.drain_least_c})
        bare = bare.model_copy(update={"detergent": colder})
    return eased(bare, values)
