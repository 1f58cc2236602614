"""All that a log says of a run: what was done, the machine that did it, and what its drift breaks."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.check.certificate import Row
from optimizer.programme.plan import Plan
from optimizer.review.consequences import broken
from optimizer.review.delivered import Delivered, delivered
from optimizer.review.machine_now import MachineNow, machine_now
from optimizer.review.run_log import RunLog
from optimizer.review.what_it_did import DoseDone, RoundDone, doses_done, rounds_done


@dataclass(frozen=True)
class Reviewed:
    """A log held against its plan.

    Attributes
    ----------
    log : RunLog
        The log.
    done : Delivered
        The phases that were done.
    rounds : tuple of RoundDone
        Each round, asked and done.
    doses : tuple of DoseDone
        Each dose; none where the bath was not logged.
    now : MachineNow or None
        The machine of the run; None where the bath was not logged.
    breaks : tuple of Row
        Requirements that the plan does not meet on a machine that has left its profile.
    """

    log: RunLog
    done: Delivered
    rounds: tuple[RoundDone, ...]
    doses: tuple[DoseDone, ...]
    now: MachineNow | None
    breaks: tuple[Row, ...]


def reviewed(plan: Plan, log: RunLog) -> Reviewed:
    """Hold a log against its plan."""
    done = delivered(plan.constants, log)
    rounds = rounds_done(plan, log, done)
    if log.bath_c is None or not rounds:
        return Reviewed(log, done, rounds, (), None, ())
    now = machine_now(plan, log, done)
    breaks = broken(plan, now.outside) if now.outside else []
    return Reviewed(log, done, rounds, doses_done(plan, done, now), now, tuple(breaks))
