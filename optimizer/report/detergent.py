"""Where the grams of detergent come from: by the load, or by the litre of the fullest bath."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from optimizer.check.dosing import TENTHS_PER_G, bath_span_l, by_litres_dg, harder, load_g
from optimizer.programme.plan import Plan
from optimizer.units import short


@dataclass(frozen=True)
class Dosed:
    """Detergent of a wash, and the two that ask for it.

    Attributes
    ----------
    round : int
        Number of the wash in the programme, from 1 on [1].
    dosed_g : float
        What the table has [g].
    by_load_g, by_litres_g : float
        What the place settings and the fullest bath ask for [g].
    fullest_l : float
        The fullest bath as the fill ends [l].
    hardness_factor : float
        What the hardest water makes of a dose [1].
    """

    round: int
    dosed_g: float
    by_load_g: float
    by_litres_g: float
    fullest_l: float
    hardness_factor: float

    @property
    def by_litres(self) -> bool:
        """Whether the fullest bath asks for more than the load."""
        return self.by_litres_g > self.by_load_g


def doses(plan: Plan) -> list[Dosed]:
    """Work out what asks for the detergent of each wash; none where the goal has none."""
    machine, goal = plan.inputs.machine, plan.inputs.goal
    if goal.detergent is None:
        return []
    return [
        Dosed(
            number,
            row.detergent_dg / TENTHS_PER_G,
            load_g(machine, goal),
            by_litres_dg(machine, goal, row, first=number == 1) / TENTHS_PER_G,
            bath_span_l(machine, row, first=number == 1)[1],
            harder(machine, goal),
        )
        for number, row in enumerate(plan.constants.rounds, start=1)
        if row.kind == "wash"
    ]


def detergent_line(plan: Plan) -> str:
    """Give the grams of a run and what asks for them; washes of which the same is asked share the words."""
    told: dict[str, list[int]] = {}
    for one in doses(plan):
        told.setdefault(_asked(plan, one), []).append(one.round)
    total = f"{plan.costs.detergent_g:.1f} g"
    if not told:
        return total
    if len(told) == 1:
        each = "; in each wash" if len(doses(plan)) > 1 else ";"
        return f"{total}{each} {next(iter(told))}"
    parts = (f"in round {' and '.join(map(str, rounds))} {words}" for words, rounds in told.items())
    return f"{total}; {'; '.join(parts)}"


def _asked(plan: Plan, one: Dosed) -> str:
    detergent, settings = plan.inputs.goal.detergent, plan.inputs.machine.ware.settings
    assert detergent is not None
    hard = f" × {short(one.hardness_factor)} (hardest water)" if one.hardness_factor > 1.0 else ""
    bath = (
        f"{short(detergent.least_g_per_l)} g/l{hard} in {short(one.fullest_l, 4)} l, its fullest bath: "
        f"{one.by_litres_g:.1f} g"
    )
    load = f"{short(detergent.g_per_setting)} g{hard} for each of {settings} settings: {one.by_load_g:.1f} g"
    if one.by_litres:
        return f"asked for by the litre: {bath}; {settings} settings alone ask for {one.by_load_g:.1f} g"
    return f"asked for by the load: {load}; its fullest bath alone asks for {one.by_litres_g:.1f} g"


def doses_to_list(plan: Plan) -> list[dict[str, Any]]:
    """Give the same as plain data."""
    return [asdict(one) | {"by": "litres" if one.by_litres else "load"} for one in doses(plan)]
