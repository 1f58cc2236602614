"""Which requirements bind a plan, their margin being next to nothing, and each of them relaxed by a step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.check.certificate import Row
from optimizer.plan_and_prove import Proven
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.machine_limits import CURRENT
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode
from optimizer.profile.goal import SOAK_MOST_MIN
from optimizer.profile.machine_loads import DRAIN_STANDS_C
from optimizer.programme.plan import Inputs
from optimizer.units import S_PER_MIN
from optimizer.whatif.possible_changes import Change, changed, one_ampere, tank_limit

BINDS_BELOW = 0.01
"""Margin below which a requirement binds, as a share of its limit [1]."""

COOLER_K = 5.0
"""Step of the least spray temperature with detergent [K]."""

COUNTED = ("prerinse.rounds", "prerinse.spray_min", "rinse.rounds", "rinse.spray_min", "soak.min")
"""Rows that bind where they are met exactly: a programme has no more of these than it is asked for."""

LESS, MORE, TWICE = 0.9, 1.1, 2.0
"""Steps as a share of the value [1]: of what must be reached, of a limit, and of a residue."""

WARMER_K = 5.0
"""Step of the prerinse's limit [K]."""

MEASURED_NOTE = "what the machine needs, not a wish: only where it was measured too high"


def binding(proven: Proven) -> list[Row]:
    """Find the requirements that bind a plan.

    The planner has a backoff from the check's limits, and counts the water over the element more cautiously
    than the check does; so a requirement binds as well where the planner's margin is nothing. The current
    binds where a way to heat is not allowed because of it.
    """
    shares = least_margins(proven)
    found = [
        (row.key in COUNTED, shares[row.key], row)
        for row in proven.certificate.rows
        if shares.get(row.key, 1.0) < BINDS_BELOW
    ]
    return [row for _, _, row in sorted(found, key=lambda one: one[:2])]


def least_margins(proven: Proven) -> dict[str, float]:
    """Find the margin of each requirement, as a share of its limit [1].

    It is the check's or the planner's, whichever is less; for levels, less what a second of the inlet gives.
    """
    inputs = proven.plan.inputs
    margins, _ = Assessor(inputs, proven.kept).run(programme_of(proven.plan.constants, inputs.machine))
    planned = {key: float(margin.min()) for key, margin in margins.items()}
    shares = {}
    for row in proven.certificate.rows:
        if row.key in COUNTED:
            shares[row.key] = row.margin_share if row.limit > 0.0 else 1.0
        elif row.key == CURRENT:
            shares[row.key] = 0.0 if blocked(inputs) else 1.0
        elif row.key in planned:
            shares[row.key] = min(row.margin_share, planned[row.key]) - _second_share(inputs, row)
    return shares


def _second_share(inputs: Inputs, row: Row) -> float:
    """Share of a level that a second of a timed inlet gives: no fill comes nearer to its limit [1]."""
    inlet = inputs.machine.inlet
    if not row.key.startswith("cover.") or inlet.control == "level":
        return 0.0
    return inlet.flow_l_per_min.low / S_PER_MIN / row.limit


def blocked(inputs: Inputs) -> list[Mode]:
    """List the ways to heat a spray round that the circuit does not carry."""
    if inputs.machine.element is None:
        return []
    assessor = Assessor(inputs)
    return [mode for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) if not assessor.heats(mode)]


@dataclass(frozen=True)
class _Step:
    """A value of the profiles and where it goes."""

    path: str
    now: float
    then: float
    unit: str = ""
    note: str = ""
    written: object = None
    """What stands in the profile instead of the number ``then``; None where it does."""


def relaxed(inputs: Inputs, key: str, requirement: str) -> Change | None:
    """Relax a requirement by a step, or say why that cannot be; None where there is no step to make."""
    if key == CURRENT:
        return one_ampere(inputs)
    if key == "tank.bath_c":
        return tank_limit(inputs)
    step = next((step for name, step in _steps(inputs) if name == key), None)
    if step is None:
        return None
    unit = f" {step.unit}" if step.unit else ""
    written = step.then if step.written is None else step.written
    words = f"{step.then:.4g}{unit} instead of {step.now:.4g}{unit}"
    return changed(inputs, key, f"{requirement}: {words}", {step.path: written}, step.note)


def _steps(inputs: Inputs) -> Iterator[tuple[str, _Step]]:
    """Every requirement that is one value of the profiles."""
    goal, machine = inputs.goal, inputs.machine
    for number, dose in enumerate(goal.dose):
        now = dose.minutes.high
        path, less = f"goal.dose.{number}.minutes", {e: LESS * v for e, v in dose.minutes}
        yield f"dose.{dose.name}", _Step(path, now, LESS * now, "min", written=less)
    if goal.hygiene.target_s is not None:
        now = goal.hygiene.target_s
        yield f"hygiene.{goal.hygiene.method}", _Step("goal.hygiene.target_s", now, LESS * now, "s")
    now = goal.rinse.residue_max
    yield "rinse.residue", _Step("goal.rinse.residue_max", now, TWICE * now)
    if goal.rinse.soil_max is not None:
        now = goal.rinse.soil_max
        yield "rinse.soil", _Step("goal.rinse.soil_max", now, TWICE * now)
    if goal.rinse.film_mg_per_l is not None:
        now = goal.rinse.film_mg_per_l
        yield "rinse.film_mg_per_l", _Step("goal.rinse.film_mg_per_l", now, TWICE * now, "mg/l")
    if goal.detergent is not None:
        now = goal.detergent.most_g_per_l
        yield "detergent.most_g_per_l", _Step("goal.detergent.most_g_per_l", now, MORE * now, "g/l")
    now = machine.tank.ware_begins_l
    higher_l = min(MORE * now, machine.tank.capacity_l)
    yield "drying.top_up_l", _Step("machine.tank.ware_from_l", now, higher_l, "l", "ware that sits higher")
    now = goal.drying.heat_factor
    yield "drying.ware_heat", _Step("goal.drying.heat_factor", now, LESS * now)
    for kind in ("prerinse", "rinse"):
        asked = getattr(goal, kind)
        now = asked.rounds_min
        if now:
            yield f"{kind}.rounds", _Step(f"goal.{kind}.rounds_min", now, now - 1)
        now = asked.spray_least_min
        yield f"{kind}.spray_min", _Step(f"goal.{kind}.spray_least_min", now, LESS * now, "min")
    now = machine.drain_pump.drain_limit_c
    if not machine.drain_pump.stands_the_boil:
        then = min(now + WARMER_K, DRAIN_STANDS_C)
        yield "drain.bath_c", _Step("machine.drain_pump.drain_limit_c", now, then, "°C")
    now = goal.prerinse.limit_c
    yield "prerinse.bath_c", _Step("goal.prerinse.limit_c", now, now + WARMER_K, "°C")
    if goal.limits.first_wash_most_c > 0.0:
        now = goal.limits.first_wash_most_c
        yield "first_wash.bath_c", _Step("goal.limits.first_wash_most_c", now, now + WARMER_K, "°C")
    if goal.spray_least_c > 0.0:
        now = goal.spray_least_c
        less_c = max(now - COOLER_K, 0.0)
        yield "detergent.bath_c", _Step("goal.detergent.spray_least_c", now, less_c, "°C")
    if goal.drain_least_c > 0.0:
        now = goal.drain_least_c
        less_c = max(now - COOLER_K, 0.0)
        yield "detergent.drain_c", _Step("goal.detergent.drain_least_c", now, less_c, "°C")
    if goal.rinse.first_least_c > 0.0:
        now = goal.rinse.first_least_c
        less_c = max(now - COOLER_K, 0.0)
        yield "first_rinse.bath_c", _Step("goal.rinse.first_least_c", now, less_c, "°C")
    now = goal.limits.duration_min
    yield "limits.duration_min", _Step("goal.limits.duration_min", now, MORE * now, "min")
    for name in ("ware_drop_k", "ware_rise_k"):
        most_k = getattr(goal.limits, name)
        if most_k is not None:
            step = _Step(f"goal.limits.{name}", most_k, MORE * most_k, "K")
            yield name.replace("ware_", "ware."), step
    now = goal.limits.soak_min
    if now < SOAK_MOST_MIN:
        yield "soak.min", _Step("goal.limits.soak_min", now, min(TWICE * now, SOAK_MOST_MIN), "min")
    if goal.limits.water_l is not None:
        now = goal.limits.water_l
        yield "limits.water_l", _Step("goal.limits.water_l", now, MORE * now, "l")
    if machine.element is not None:
        now = machine.element.cover_l
        yield "cover.element_l", _Step("machine.element.cover_l", now, LESS * now, "l", MEASURED_NOTE)
    now = machine.wash_pump.prime_l
    yield "cover.suction_l", _Step("machine.wash_pump.prime_l", now, LESS * now, "l", MEASURED_NOTE)
    now = machine.tank.capacity_l
    yield "overflow.level_l", _Step("machine.tank.capacity_l", now, MORE * now, "l", "a bigger tank")
