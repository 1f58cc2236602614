"""What the single faults do: one row a fault."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from optimizer.check.certificate import Row
from optimizer.units import S_PER_MIN

Severity = Literal["harmless", "spoils the wash", "damage", "danger"]
SEVERITIES: tuple[Severity, ...] = ("harmless", "spoils the wash", "damage", "danger")
"""From the least to the worst."""

HarmKind = Literal["dry", "hot", "overflow", "pump_dry", "locked", "hot_element", "wash"]

SEVERITY_OF: dict[HarmKind, Severity] = {
    "dry": "danger",
    "hot": "danger",
    "overflow": "damage",
    "pump_dry": "damage",
    "locked": "damage",
    "hot_element": "damage",
    "wash": "spoils the wash",
}
"""An element on and not covered, a bath hotter than the tank stands; water over the lip, a pump without
water or with its rotor locked, an element that is hot when the water leaves it; ware not clean."""

FLOAT_SWITCH = "float switch in series with the element"
CUT_OUT = "thermal cut-out with manual reset in series with the element"
RCD = "RCD (30 mA, ground-fault protection) ahead of the machine"


@dataclass(frozen=True)
class FaultRow:
    """One fault and what it does where nothing but the constants stands against it.

    Attributes
    ----------
    key : str
        Machine-readable name: ``inlet.shut``, ``drain.dead``, ``power.spray`` …
    fault : str
        The fault in words.
    happens : str
        What it does, in words.
    severity : str
        ``harmless``, ``spoils the wash``, ``damage`` or ``danger``.
    after_s : float or None
        From the first second in which the machine does not do as it is told to the worst harm, at the
        earliest [s]: the time a guard has. None where nothing comes to harm, or only the wash.
    round : int or None
        Round in which that harm begins [1], from 1; 0 before the first, None where there is none.
    bath_c : float
        Hottest bath [°C]; water does not get hotter than it boils.
    level_l : float
        Most water in the tank [l], its capacity where it runs over.
    overflows : bool
        Whether it runs over.
    uncovered_s : float
        Longest time for which the element is on and not covered, within the programme [s].
    guards : tuple of str
        What has to stand against it beside the constants; empty where they are safe alone.
    """

    key: str
    fault: str
    happens: str
    severity: Severity
    after_s: float | None
    round: int | None
    bath_c: float
    level_l: float
    overflows: bool
    uncovered_s: float
    guards: tuple[str, ...]

    @property
    def guard(self) -> str:
        """The guards in one line, empty where none is needed."""
        return "; ".join(self.guards)


@dataclass(frozen=True)
class FaultReport:
    """The single faults of a programme on a machine.

    Attributes
    ----------
    sound : FaultRow
        The run without a fault, to compare with.
    rows : tuple of FaultRow
        One a fault, in the order of the parts of the machine.
    not_optional : tuple of str
        Guards that such a machine has whatever its programme.
    corners : tuple of str
        The cases that every fault was run in.
    """

    sound: FaultRow
    rows: tuple[FaultRow, ...]
    not_optional: tuple[str, ...]
    corners: tuple[str, ...]


def guards_needed(report: FaultReport) -> list[str]:
    """List the guards that the faults ask for.

    Parameters
    ----------
    report : FaultReport
        The faults.

    Returns
    -------
    list of str
        First those that are not optional, then the others, those against the worst faults first.
    """
    worst_first = sorted(report.rows, key=lambda row: -SEVERITIES.index(row.severity))
    named = [*report.not_optional, *(guard for row in worst_first for guard in row.guards)]
    return list(dict.fromkeys(named))


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
