"""Which requirements bind a plan: those with next to nothing to spare."""

from __future__ import annotations

from optimizer.check.certificate import Row
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode
from optimizer.programme.plan import Inputs
from optimizer.prove import Proven
from optimizer.units import S_PER_MIN

NOTHING_TO_SPARE = 0.01
"""Margin below which a requirement binds, as a share of its limit [1]."""

COUNTED = ("prerinse.rounds", "prerinse.spray_min", "rinse.rounds", "rinse.spray_min")
"""Rows that bind where they are met exactly: a programme has no more of these than it is asked for."""

CURRENT = "circuit.running_a"


def binding(proven: Proven) -> list[Row]:
    """Find the requirements that bind a plan.

    The planner keeps a little back from the check's limits, and counts the water over the element more
    cautiously than the check does; so a requirement binds as well where the planner has nothing to spare. The
    current binds where it keeps a way to heat out of the choice.
    """
    shares = spare(proven)
    found = [
        (row.key in COUNTED, shares[row.key], row)
        for row in proven.certificate.rows
        if shares.get(row.key, 1.0) < NOTHING_TO_SPARE
    ]
    return [row for _, _, row in sorted(found, key=lambda one: one[:2])]


def spare(proven: Proven) -> dict[str, float]:
    """Find what each requirement has to spare."""
    inputs = proven.plan.inputs
    margins, _ = Assessor(inputs).run(programme_of(proven.plan.constants))
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
    judge = Assessor(inputs)
    return [mode for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) if not judge.heats(mode)]
