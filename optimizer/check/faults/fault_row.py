"""Sum up what a fault does as one row."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.check.faults.catalogue import USUAL_GUARDS, Guards
from optimizer.check.faults.harm_meter import Extremes
from optimizer.check.faults.outcome import SEVERITIES, SEVERITY_OF, FaultRow, Harm

NO_GUARDS: Guards = {}


def make_row(
    name: tuple[str, str], happens: str, harms: Sequence[Harm], met: Extremes, guards: Guards = NO_GUARDS
) -> FaultRow:
    """Sum a fault up.

    Parameters
    ----------
    name : tuple of str
        Key of the fault, and the fault in words.
    happens : str
        What it does, in words.
    harms : sequence of Harm
        The harm it does.
    met : Extremes
        The worst of its runs.
    guards : dict
        Guards by kind of harm that are not the usual ones.

    Returns
    -------
    FaultRow
        The row.
    """
    severity = max((SEVERITY_OF[harm.kind] for harm in harms), key=SEVERITIES.index, default=SEVERITIES[0])
    worst = [harm for harm in harms if SEVERITY_OF[harm.kind] == severity and np.isfinite(harm.after_s)]
    first = min(worst, key=lambda harm: harm.after_s, default=None)
    named = [guard for harm in harms for guard in guards.get(harm.kind, USUAL_GUARDS[harm.kind])]
    return FaultRow(
        key=name[0],
        fault=name[1],
        happens=happens,
        severity=severity,
        after_s=None if first is None else first.after_s,
        round=None if first is None else first.round + 1,
        bath_c=met.bath_c,
        level_l=met.level_l,
        overflows=any(harm.kind == "overflow" for harm in harms),
        # A sum of pieces, to the microsecond: no more than the phases that it is made of.
        uncovered_s=round(met.uncovered_s, 6),
        guards=tuple(dict.fromkeys(named)),
    )
