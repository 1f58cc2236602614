"""What a broken part leads to: the harm, the guards against it, the sentence that says it, a row a fault."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from optimizer.check.certificate import Row
from optimizer.check.faults.guard_words import STANDS_IT
from optimizer.check.faults.guards import Guards
from optimizer.check.faults.harm_meter import Extremes, HarmKind
from optimizer.programme.constants import Constants
from optimizer.units import S_PER_MIN

Severity = Literal["harmless", "spoils the wash", "latent", "damage", "danger"]
SEVERITIES: tuple[Severity, ...] = ("harmless", "spoils the wash", "latent", "damage", "danger")
"""From the least to the worst. latent: a guard is dead, which nobody sees until it is needed."""

SEVERITY_OF: dict[HarmKind, Severity] = {
    "dry": "danger",
    "hot": "danger",
    "overflow": "damage",
    "overflow_hot": "danger",
    "pump_dry": "damage",
    "locked": "danger",
    "hot_element": "damage",
    "hot_drain": "damage",
    "unseen": "latent",
    "wash": "spoils the wash",
    "starts": "danger",
    "scalds": "danger",
    "sprays_out": "danger",
    "breaks": "damage",
    "breaks_cold": "damage",
    "unrinsed": "damage",
}
"""dry: the element is on and not covered. hot: the bath is hotter than the tank stands. overflow: water over
the lip. overflow_hot: the same, of water that scalds. pump_dry: the wash pump runs without water. locked: its
rotor is locked, so that its motor may burn, and pump and hoses with it. hot_element: the element is still hot
when the water leaves it. hot_drain: a drain takes water hotter than its pipe stands. unseen: a guard is dead,
and nothing shows it. wash: the ware is not clean. starts: it starts by itself. scalds: hot water or steam
comes out at a person. sprays_out: water that does not scald comes out, at a person and over mains parts.
breaks, breaks_cold: a spray meets ware hotter, or colder, than the goal lets it. unrinsed: the ware comes out
with detergent on it."""

UNHYGIENIC = {
    "a0": "A0 not reached: treat the ware as unwashed.",
    "hue": "Heat-unit equivalents not reached: treat the ware as unwashed.",
}
"""Said where a hygiene value is asked for and missed, by its method."""

KEEP_AWAY = "keep away, shut the tap, pull the plug"

SHORT_S = 100.0
"""Times below this are written in seconds alone [s]."""


@dataclass(frozen=True)
class Harm:
    """A harm that a fault does.

    Attributes
    ----------
    after_s : float
        From the onset of the fault to the beginning of the harm, at the earliest [s].
    round : int
        Round in which it begins [1], from 0; -1 before the first.
    total_s : float
        How long it lasts at the longest [s].
    most_c : float
        The hottest water that scalds [°C], where that is the harm.
    """

    kind: HarmKind
    after_s: float
    round: int
    total_s: float
    most_c: float = 0.0


SPOILED = Harm("wash", np.inf, -1, 0.0)
"""The ware is not clean, at no moment of its own."""

UNSEEN_HARM = Harm("unseen", np.inf, -1, 0.0)
"""A guard is dead, and nothing shows it."""


@dataclass(frozen=True)
class FaultRow:
    """One fault and what it does where nothing but the constants stands against it.

    Attributes
    ----------
    key : str
        Machine-readable name: ``inlet.shut``, ``drain.dead``, ``power.spray`` …
    fault, happens : str
        The fault, and what it does, in words.
    after_s : float or None
        From the first second in which the machine does not do as it is told to the worst harm, at the
        earliest [s]: the time a guard has. None where nothing comes to harm, or only the wash.
    round : int or None
        Round in which that harm begins [1], from 1; 0 before the first, None where there is none.
    bath_c : float
        Hottest bath [°C]; water does not get hotter than it boils.
    level_l : float
        Most water in the tank [l], its capacity where it runs over.
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
        The cases that every fault was run in, but for cuts of the power.
    cut_cases : int
        How many of them those were run in [1]; 0: in all.
    has_element : bool
        Whether the machine has an element.
    """

    sound: FaultRow
    rows: tuple[FaultRow, ...]
    not_optional: tuple[str, ...]
    corners: tuple[str, ...]
    has_element: bool = True
    cut_cases: int = 0


def guards_needed(report: FaultReport) -> list[str]:
    """List the guards: those that are not optional, then those that faults ask for, the worst first.

    What the first ones name as well is left out of the second, by the first of what a guard offers; so is
    what says that none is needed.
    """
    worst_first = sorted(report.rows, key=lambda row: -SEVERITIES.index(row.severity))
    asked = (guard for row in worst_first for guard in row.guards)
    others = (
        guard
        for guard in asked
        if not guard.startswith(STANDS_IT)
        and not any(guard.split(", or ")[0] in must for must in report.not_optional)
    )
    return list(dict.fromkeys([*report.not_optional, *others]))


def make_row(
    name: tuple[str, str], happens: str, harms: Sequence[Harm], met: Extremes, guards: Guards
) -> FaultRow:
    """Sum a fault up: its key and words, what happens, the harm it does, the worst of its runs."""
    severity = max((SEVERITY_OF[harm.kind] for harm in harms), key=SEVERITIES.index, default=SEVERITIES[0])
    worst = [harm for harm in harms if SEVERITY_OF[harm.kind] == severity and np.isfinite(harm.after_s)]
    first = min(worst, key=lambda harm: harm.after_s, default=None)
    named = [guard for harm in harms for guard in guards[harm.kind]]
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
        # Summed up of many pieces; rounded to the microsecond it is no longer than the phases themselves.
        uncovered_s=round(met.uncovered_s, 6),
        guards=tuple(dict.fromkeys(named)),
    )


def lasting(seconds: float) -> str:
    """Write a time for a sentence, in whole seconds or in minutes and seconds.

    Examples
    --------
    >>> lasting(0.2), lasting(99.4), lasting(432.0)
    ('0 s', '99 s', '7 min 12 s')
    """
    if seconds < SHORT_S:
        return f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), int(S_PER_MIN))
    return f"{minutes} min {rest} s"


def harm_sentence(harm: Harm, counted_from: str, kinds: Sequence[str], too_hot: str) -> str:
    """Say what a harm is, where and when it begins and how long it lasts.

    It was met in cases that were run: elsewhere it may come sooner and last longer. Its time counts from
    ``counted_from`` ("start", "first fill begins"); ``kinds`` are those of the rounds, and ``too_hot``
    says what a bath does that is too hot.
    """
    where = f"round {harm.round + 1} ({kinds[harm.round]})" if harm.round >= 0 else "the drain at the start"
    when = f"{lasting(harm.after_s)} or sooner after the {counted_from}" if harm.after_s >= 0.5 else "at once"
    total = f"{lasting(harm.total_s)} or more"
    match harm.kind:
        case "dry":
            return f"Element on and not covered from {where}, {when}, for {total} in all: it burns."
        case "hot":
            return f"Bath {too_hot} in {where}, {when}."
        case "overflow":
            return f"The tank runs over in {where}, {when}."
        case "overflow_hot":
            return f"Hot water of up to {math.ceil(harm.most_c)} °C runs over, {when}: {KEEP_AWAY}."
        case "pump_dry":
            return f"The wash pump runs dry from {where}, {when}, for {total} in all."
        case "hot_drain":
            return f"Water too hot for the drain pipe goes down it in {where}, {when}, for {total} in all."
        case _:
            # The others have sentences of their own, where they are found.
            return ""


def wash_sentence(missed: Sequence[Row]) -> str:
    """Say which requirement misses most, and how many others are missed (at least one is)."""
    row = min(missed, key=lambda row: row.margin_share)
    more = f"; {len(missed) - 1} more missed" if len(missed) > 1 else ""
    return f"Not as asked: {row.requirement} {row.against_limit(digits=3)}{more}."


def missed_words(missed: Sequence[Row]) -> str:
    """Say all that is missed, the worst first, with what is asked; at least one is."""
    worst_first = sorted(missed, key=lambda row: row.margin_share)
    return "; ".join(f"{row.requirement} {row.against_limit()}" for row in worst_first)


def unfinished_words(constants: Constants) -> str:
    """Say what ware is that stands in a machine whose run has ended before its last rinse."""
    dosed = any(row.detergent_dg for row in constants.rounds)
    return f"treat the ware as unwashed{', with detergent on it' * dosed}"
