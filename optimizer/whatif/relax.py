"""One requirement relaxed by a step, as the profiles it leads to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.programme.plan import Inputs
from optimizer.whatif.changes import Change, changed, one_ampere, tank_limit

LESS, MORE, TWICE = 0.9, 1.1, 2.0
"""Steps as a share of the value: of a least, of a most, and of a residue, which goes by decades [1]."""

WARMER_K = 5.0
"""Step of the prerinse's limit [K]."""

MEASURED = "what the machine needs, not a wish: only where it was measured too high"


@dataclass(frozen=True)
class _Step:
    """A value of the profiles and where it goes."""

    path: str
    now: float
    then: float
    unit: str = ""
    note: str = ""


def relaxed(inputs: Inputs, key: str, requirement: str) -> Change | None:
    """Relax a requirement by a step."""
    if key == "circuit.running_a":
        return one_ampere(inputs)
    if key == "tank.bath_c":
        return tank_limit(inputs)
    step = next((step for name, step in _steps(inputs) if name == key), None)
    if step is None:
        return None
    unit = f" {step.unit}" if step.unit else ""
    words = f"{step.then:.4g}{unit} instead of {step.now:.4g}{unit}"
    return changed(inputs, key, f"{requirement}: {words}", {step.path: step.then}, step.note)


def _steps(inputs: Inputs) -> Iterator[tuple[str, _Step]]:
    """Every requirement that is one value of the profiles."""
    goal, machine = inputs.goal, inputs.machine
    for number, dose in enumerate(goal.dose):
        now = dose.minutes
        yield f"dose.{dose.name}", _Step(f"goal.dose.{number}.minutes", now, LESS * now, "min")
    if goal.hygiene.target_s is not None:
        now = goal.hygiene.target_s
        yield f"hygiene.{goal.hygiene.method}", _Step("goal.hygiene.target_s", now, LESS * now, "s")
    now = goal.rinse.residue_max
    yield "rinse.residue", _Step("goal.rinse.residue_max", now, TWICE * now)
    now = goal.drying.heat_factor
    yield "drying.ware_heat", _Step("goal.drying.heat_factor", now, LESS * now)
    for kind in ("prerinse", "rinse"):
        asked = getattr(goal, kind)
        now = asked.rounds_min
        if now:
            yield f"{kind}.rounds", _Step(f"goal.{kind}.rounds_min", now, now - 1)
        now = asked.spray_least_min
        yield f"{kind}.spray_min", _Step(f"goal.{kind}.spray_least_min", now, LESS * now, "min")
    now = goal.prerinse.limit_c
    yield "prerinse.bath_c", _Step("goal.prerinse.limit_c", now, now + WARMER_K, "°C")
    now = goal.limits.duration_min
    yield "limits.duration_min", _Step("goal.limits.duration_min", now, MORE * now, "min")
    if goal.limits.water_l is not None:
        now = goal.limits.water_l
        yield "limits.water_l", _Step("goal.limits.water_l", now, MORE * now, "l")
    if machine.element is not None:
        now = machine.element.cover_l
        yield "cover.element_l", _Step("machine.element.cover_l", now, LESS * now, "l", MEASURED)
    now = machine.wash_pump.prime_l
    yield "cover.suction_l", _Step("machine.wash_pump.prime_l", now, LESS * now, "l", MEASURED)
    now = machine.tank.capacity_l
    yield "overflow.level_l", _Step("machine.tank.capacity_l", now, MORE * now, "l", "a bigger tank")
