"""A requirement that rules out a plan, in words: what is asked, the nearest value, and what would help."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from optimizer.errors import Reason
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode
from optimizer.planner.targets import UNDISSOLVED
from optimizer.profile.goal import Goal
from optimizer.units import S_PER_MIN

LEFT_OUT = "leave the dose out"
"""What is said for a dose of which no minutes are within reach."""

LEAST_DOSE_MIN, LEAST_HYGIENE_S, LEAST_DRYING = 0.05, 1.0, 0.1
"""The least that a goal may ask for: minutes of a dose, seconds of hygiene, heat of the ware over that to dry
its film [1]."""


def reason_of(assessor: Assessor, key: str, margin: float) -> Reason:
    """Put a requirement's best margin into words; the margin is 0 or less [1]."""
    return replace(_worded(assessor, key, margin), key=key)


def unmet(assessor: Assessor, key: str) -> Reason:
    """Name a requirement without a nearest value."""
    return replace(reason_of(assessor, key, 0.0), nearest="")


def all_at_once(assessor: Assessor, *, gave_up: bool) -> Reason:
    """Say that no programme was found for all requirements, where none was found to rule it out."""
    wanted = f"all that {assessor.inputs.names[1]} asks, at once"
    nearest_value = "no programme found, and no nearest value for any one of them"
    if gave_up:
        nearest_value = "no programme found; the search for reasons gave up at its budget"
    advice = "ask for a little less: a longer duration, a larger residue, fewer minutes of a dose"
    element = assessor.inputs.machine.element
    if element is not None and element.control == "timed":
        advice += f"; or {assessor.inputs.machine.open_loop_advice}"
    return Reason("requirements together", wanted, nearest_value, advice)


def _worded(assessor: Assessor, key: str, margin: float) -> Reason:
    goal = assessor.inputs.goal
    reached = (margin + 1.0 + assessor.backoff(key)) / (1.0 + assessor.backoff(key))
    if key in assessor.simulator.targets.keys:
        return _dose_reason(assessor, key, reached)
    if key == "limits.duration_min":
        least_min = math.ceil(goal.limits.duration_min * (1.0 - margin) + 0.1)
        element = "an element" if assessor.inputs.machine.element is None else "a stronger element"
        advice = f"allow more time, or {element} where the circuit carries it"
        return Reason("longest duration", f"{goal.limits.duration_min:g} min", f"{least_min} min", advice)
    if key == "limits.water_l":
        asked_l = goal.limits.water_l or 0.0
        least_l = math.ceil(asked_l * (1.0 - margin) * 10.0 + 0.5) / 10.0
        advice = "spare more water, or leave less behind after a drain"
        return Reason("water of a run", f"{asked_l:g} l", f"{least_l:g} l", advice)
    if key in COLD_ENDS:
        return cold_end_reason(assessor, key, spray_leasts_c(goal)[key] * reached, "within reach")
    if key == "first_wash.bath_c":
        least_c = math.ceil(goal.limits.first_wash_most_c * (1.0 - margin) * 10.0) / 10.0
        what, asked = "hottest first wash", f"{goal.limits.first_wash_most_c:g} °C as its spray begins"
        advice = "heating while it sprays where the circuit carries it, or a cooler feed: hotter, egg sets"
        return Reason(what, asked, f"{least_c:g} °C within reach", advice)
    if key.startswith("rinse."):
        return _rinse_reason(assessor, key, margin, reached)
    if key in assessor.step_limits_k:
        return step_reason(assessor, key, assessor.step_limits_k[key] * (1.0 - margin))
    asked = f"ware heat {goal.drying.heat_factor:g} of the film's"
    factor = _down(max(goal.drying.heat_factor * reached, 0.0))
    factor = factor if factor >= LEAST_DRYING else 0.0
    return Reason("drying by a hot rinse", asked, _reached(factor), "a hotter last rinse, or less film")


def _rinse_reason(assessor: Assessor, key: str, margin: float, reached: float) -> Reason:
    rinse = assessor.inputs.goal.rinse
    advice = "leave less behind after a drain, fill higher, or allow more water"
    if key == "rinse.film_mg_per_l":
        most = rinse.film_mg_per_l or 0.0
        return Reason(
            "detergent in the last film",
            f"{most:g} mg/l",
            f"{_up(most * (1.0 - margin)):.3g} mg/l",
            advice,
        )
    limit = rinse.residue_max if key == "rinse.residue" else rinse.soil_max or 1.0
    what = "rinse residue" if key == "rinse.residue" else "share of the soil that stays"
    return Reason(what, f"{limit:g}", f"{_up(limit**reached):.3g}", advice)


def spray_leasts_c(goal: Goal) -> dict[str, float]:
    """Give the least bath that a spray may end at, by requirement; 0 where none is asked [°C]."""
    return {"detergent.bath_c": goal.spray_least_c, "first_rinse.bath_c": goal.rinse.first_least_c}


COLD_ENDS = {
    "detergent.bath_c": ("least spray temperature with detergent", "fat stays solid and protein foams"),
    "first_rinse.bath_c": ("least temperature of the first rinse", "fat sets"),
}
"""What is asked of a spray as it ends, and what a colder one does."""


def cold_end_reason(assessor: Assessor, key: str, most_c: float, how_far: str) -> Reason:
    """Say that a spray ends too cold."""
    what, colder = COLD_ENDS[key]
    asked = f"{spray_leasts_c(assessor.inputs.goal)[key]:g} °C as it ends"
    nearest = f"{math.floor(most_c * 10.0) / 10.0:g} °C {how_far}"
    return Reason(what, asked, nearest, f"{_bath_advice(assessor)}: colder, {colder}", key=key)


def _bath_advice(assessor: Assessor) -> str:
    no_element = assessor.inputs.machine.element is None
    return "fit an element, or fill with hot water" if no_element else _heat_advice(assessor)


def step_reason(assessor: Assessor, key: str, least_k: float) -> Reason:
    """Say how far a step between ware and bath must be let go, as a spray begins."""
    asked, nearest = f"{assessor.step_limits_k[key]:g} K", f"{math.ceil(least_k + 0.1):g} K"
    if key == "ware.drop_k":
        heats = assessor.heats(Mode.THEN_SPRAY)
        warmer = "a warmer feed" if heats else "an element that warms the first rinse, or a warmer feed"
        advice = f"a cooler wash for longer, or {warmer}"
        return Reason("drop from ware to bath", asked, nearest, advice, key=key)
    advice = "a cooler feed"
    if assessor.inputs.machine.element is not None:
        advice += ", or heating while it sprays where the circuit carries it"
    return Reason("rise from ware to bath", asked, nearest, advice, key=key)


def _dose_reason(assessor: Assessor, key: str, reached: float) -> Reason:
    targets = assessor.simulator.targets
    target = targets.keys.index(key)
    target_s = float(targets.target_s[target])
    most_s = _down(target_s * reached) if reached > 1e-3 else 0.0
    if key.startswith("hygiene."):
        name = "A0" if key.endswith("a0") else "heat units"
        most_s = most_s if most_s >= LEAST_HYGIENE_S else 0.0
        # In the warm corner a timed element nears the tank's limit while the cold corner is still far off.
        advice = _heat_advice(assessor)
        if most_s == 0.0:
            floor_c = targets.floor_c[-1, target]
            advice = f"the rinse stays under {floor_c:.0f} °C, below which nothing counts: {advice}"
        cold = never_counts(assessor, target)
        return Reason(f"hygiene, {name}", f"{target_s:g} s", _reached(most_s, "s", cold=cold), advice)
    advice = "; ".join(_dose_advice(assessor, target, reached_nothing=most_s == 0.0))
    most_min = _down(most_s / S_PER_MIN)
    most_min = most_min if most_min >= LEAST_DOSE_MIN else 0.0
    asked = f"{target_s / S_PER_MIN:g} min at {targets.reference_c[target]:g} °C"
    cold = never_counts(assessor, target)
    nearest = _reached(most_min, "min", cold=cold)
    if most_min == 0.0 and not cold and len(assessor.inputs.goal.dose) > 1:
        # A goal has no dose of no minutes, and some dose.
        nearest = LEFT_OUT
    return Reason(f"dose {key.partition('.')[2]}", asked, nearest, advice)


def _reached(most: float, unit: str = "", *, cold: bool = False) -> str:
    """A value that a plan was found for: no proof that none goes further, but where all stays too cold."""
    amount = f"{most:g} {unit}".rstrip()
    return f"{amount} at the most" if cold and most == 0.0 else f"{amount} within reach"


def never_counts(assessor: Assessor, target: int) -> bool:
    """Whether nothing in the machine is ever warm enough for a dose to count, whatever the times.

    Water is no warmer than it comes in, than the pump or the room makes it, or than the element may make it.
    """
    targets = assessor.simulator.targets
    counting = targets.floor_c[targets.share[:, target] > 0.0, target]
    return bool(not len(counting) or warmest_c(assessor) < counting.min())


def warmest_c(assessor: Assessor) -> float:
    """Warmest that anything gets in the cold corner where it stays coolest [°C].

    Without an element ``max(T_inlet, T_room + P_pump / UA)``, the pump's heat over the loss.
    """
    corners = assessor.simulator.corners
    by_pump_c = corners.room_c + corners.pump_heat_w / corners.loss_spraying_w_per_k
    unheated_c = float(np.maximum(corners.inlet_c, by_pump_c)[corners.cold].min())
    if assessor.inputs.machine.element is None:
        return unheated_c
    steams = assessor.inputs.goal.drying.method == "steam"
    heated_c = assessor.bath_limit_c * (1.0 - assessor.backoff("tank.bath_c"))
    return max(unheated_c, assessor.simulator.boils_c if steams else heated_c)


def _heat_advice(assessor: Assessor) -> str:
    element = assessor.inputs.machine.element
    if element is not None and element.control == "timed":
        return f"more time, or a higher tank limit; {assessor.inputs.machine.open_loop_advice}"
    needed = "an element" if element is None else "a stronger element"
    return f"more time, a higher tank limit, or {needed}"


def _dose_advice(assessor: Assessor, target: int, *, reached_nothing: bool) -> list[str]:
    targets, machine, bare = (
        assessor.simulator.targets,
        assessor.inputs.machine,
        assessor.inputs.goal.detergent is None,
    )
    by_kind = targets.floor_c, targets.share
    counting = [
        float(floor)
        # What plain water does until the detergent has dissolved is over in a minute or so.
        for floor, share in zip(*(rows[:UNDISSOLVED, target] for rows in by_kind), strict=True)
        if share
    ]
    advice = (
        [f"the ware stays under {min(counting):.0f} °C, below which nothing counts"]
        if reached_nothing and min(counting, default=0.0) > 0.0
        else []
    )
    if bare:
        advice.append("wash with detergent")
    if machine.element is None:
        advice.append("fit an element, or fill with hot water")
    elif reached_nothing and machine.element.control == "timed":
        by_then = f"its warm end is {machine.bath_room_k:g} K under the tank's limit by then"
        advice.append(f"{machine.open_loop_advice}: {by_then}")
    return [*advice, "allow more time"] if not reached_nothing else advice


def _down(value: float) -> float:
    """Round down to three figures."""
    step = 10.0 ** (math.floor(math.log10(max(value, 1e-9))) - 2)
    return math.floor(value / step) * step


def _up(value: float) -> float:
    """Round up to three figures."""
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return math.ceil(value / step - 1e-9) * step
