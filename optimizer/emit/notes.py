"""Every number of a set of constants with what stands beside it: unit, range, meaning."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.emit.bench_run import bench_limits
from optimizer.emit.facts import MEANING_OF_FACT
from optimizer.emit.limits import limits
from optimizer.emit.numbers import MEANING, MEANING_OF_ROUND, names, unit_of
from optimizer.emit.watchdogs import Limits
from optimizer.programme.constants import Round
from optimizer.programme.plan import Plan


@dataclass(frozen=True)
class Note:
    """A number and what a reader wants to know about it.

    Attributes
    ----------
    name : str
        Its name.
    value : int
        Its value [unit of the name].
    low, high : int
        How far it may be edited while the others stay [unit of the name].
    meaning : str
        What it does.
    aside : str
        Which limit stands behind it; empty where that is plain.
    """

    name: str
    value: int
    low: int
    high: int
    meaning: str
    aside: str = ""

    @property
    def unit(self) -> str:
        """Unit of the number."""
        return unit_of(self.name)

    @property
    def comment(self) -> str:
        """Unit, meaning, value and range in one line."""
        unit = "" if self.unit == "1" else f"[{self.unit}] "
        only = f"{self.value} and nothing else"
        allowed = only if self.low == self.high else f"{self.value}, allowed {self.low} to {self.high}"
        return "; ".join(filter(None, (f"{unit}{self.meaning}", allowed, self.aside)))


def limits_of(plan: Plan) -> Limits:
    """Collect the relations of a set of constants, a bench run or a programme.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Limits
        The relations.
    """
    return bench_limits(plan) if plan.constants.bench_run else limits(plan)


def notes(plan: Plan, found: Limits) -> dict[str, Note]:
    """Write a note to every number.

    Parameters
    ----------
    plan : Plan
        The plan.
    found : Limits
        Its relations.

    Returns
    -------
    dict of str to Note
        By name: the constants in their order, then the facts.
    """
    wanted = [*names(len(plan.constants.rounds)), *MEANING_OF_FACT]
    return {name: _note(name, plan, found) for name in wanted}


def _note(name: str, plan: Plan, found: Limits) -> Note:
    value, (low, high) = found.values[name], found.range_of(name)
    if not name.startswith("round_"):
        return Note(name, value, low, high, MEANING_OF_FACT.get(name) or MEANING[name])
    _, place, inner = name.split("_", 2)
    row = plan.constants.rounds[int(place) - 1]
    kind = f", {row.kind}" if inner == "kind" else ""
    aside = "" if plan.constants.bench_run else _aside(name, inner, row, plan, found)
    return Note(name, value, low, high, MEANING_OF_ROUND[inner] + kind, aside)


def _aside(name: str, inner: str, row: Round, plan: Plan, found: Limits) -> str:
    """Say which limit stands behind a number of a round of a programme."""
    machine, constants = plan.inputs.machine, plan.constants
    if inner == "fill_s":
        holds = f"the tank holds {machine.tank.capacity_l:g} l"
        if constants.fill_control == "level":
            return f"at most, {holds}"
        low, high = found.widest_range_of(name)
        return f"{low} to {high} with drain and element in proportion, {holds}"
    if inner in ("heat_s", "spray_element_s", "setpoint_dc") and getattr(row, inner):
        at_most = "at most, " if constants.control == "thermostat" and inner != "setpoint_dc" else ""
        return f"{at_most}ceiling {_ceiling(row, plan)}"
    return ""


def _ceiling(row: Round, plan: Plan) -> str:
    tank_c, prerinse_c = plan.inputs.machine.tank.limit_c, plan.inputs.goal.prerinse.limit_c
    if row.kind == "prerinse" and prerinse_c < tank_c:
        return f"{prerinse_c:g} C (prerinse)"
    return f"{tank_c:g} C (tank)"
