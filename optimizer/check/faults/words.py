"""What a fault does, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.check.certificate import Row
from optimizer.check.faults.report import HarmKind
from optimizer.units import S_PER_MIN

SHORT_S = 100.0


@dataclass(frozen=True)
class Harm:
    """A harm that a fault does.

    Attributes
    ----------
    kind : str
        Its kind.
    after_s : float
        From the onset of the fault to the beginning of the harm, at the earliest [s].
    round : int
        Round in which it begins [1], from 0; -1 before the first.
    total_s : float
        How long it lasts at the longest [s].
    """

    kind: HarmKind
    after_s: float
    round: int
    total_s: float


def lasting(seconds: float) -> str:
    """Write a time for a sentence.

    Parameters
    ----------
    seconds : float
        The time, rounded to whole seconds [s].

    Returns
    -------
    str
        Seconds, or minutes and seconds.

    Examples
    --------
    >>> lasting(0.2), lasting(99.4), lasting(432.0)
    ('0 s', '99 s', '7 min 12 s')
    """
    if seconds < SHORT_S:
        return f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), int(S_PER_MIN))
    return f"{minutes} min {rest} s"


def harm_sentence(harm: Harm, since: str, kinds: Sequence[str], stands: str) -> str:
    """Say what a harm is, where and when it begins and how long it lasts.

    Parameters
    ----------
    harm : Harm
        The harm.
    since : str
        What its time counts from.
    kinds : sequence of str
        Kind of each round.
    stands : str
        What is too hot for the tank, for a bath that is.

    Returns
    -------
    str
        A sentence.
    """
    where = f"round {harm.round + 1} ({kinds[harm.round]})" if harm.round >= 0 else "the drain at the start"
    when = f"{lasting(harm.after_s)} after the {since}" if harm.after_s >= 0.5 else "at once"
    total = lasting(harm.total_s)
    match harm.kind:
        case "dry":
            return f"Element on and not covered from {where}, {when}, for {total} in all: it burns."
        case "hot":
            return f"Bath {stands} in {where}, {when}."
        case "overflow":
            return f"The tank runs over in {where}, {when}."
        case "pump_dry":
            return f"The wash pump runs dry from {where}, {when}, for {total} in all."
        case "hot_element":
            return f"The water leaves the element {lasting(harm.after_s)} after it was on, hot."
        case "locked" | "wash":
            return ""


def wash_sentence(rows: Sequence[Row]) -> str:
    """Say what the ware lacks.

    Parameters
    ----------
    rows : sequence of Row
        Requirements that do not hold, at least one.

    Returns
    -------
    str
        A sentence on the one that misses most, and how many others there are.
    """
    row = min(rows, key=lambda row: row.margin_share)
    unit = "" if row.unit == "1" else f" {row.unit}"
    others = f"; {len(rows) - 1} more missed" if len(rows) > 1 else ""
    asked = f"{row.sense} {row.limit:.3g}{unit} asked"
    return f"Not as asked: {row.requirement} {row.worst:.3g}{unit}, {asked}{others}."
