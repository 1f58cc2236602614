"""All that a log says of a run: what was done, the machine that did it, and what its drift breaks."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.bench_check import MOST_S
from optimizer.check.certificate import Row
from optimizer.check.phases import OFF
from optimizer.errors import InputError, InputIssue
from optimizer.profile.price_series import PriceSeries
from optimizer.programme.plan import Plan
from optimizer.review.consequences import broken, worst_doses, worst_found
from optimizer.review.delivered import Delivered, delivered
from optimizer.review.drawn import Drew, as_drawn
from optimizer.review.log_doubts import doubts
from optimizer.review.logged_cost import Cost, cost_of
from optimizer.review.machine_now import MachineNow, machine_now
from optimizer.review.phases_found import Sureness, with_phases
from optimizer.review.run_log import RunLog
from optimizer.review.what_it_did import (
    DoseDone,
    RoundDone,
    doses_done,
    rounds_done,
    rounds_planned,
)


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
        Each dose; none where neither bath nor ware was logged, or the phases are a guess by the bath alone.
    now : MachineNow or None
        The machine of the run; None where neither bath nor ware was logged, or its phases are a guess by
        the bath alone.
    breaks : tuple of Row
        Requirements that the plan does not meet on a machine that has left its profile.
    sureness : Sureness or None
        How sure the phases are, where they had to be found; None where the outputs are logged.
    cost : Cost or None
        What the run's electricity cost; None where no watts are logged.
    beyond : bool
        Whether a quantity is beyond what a profile may hold, so that nothing was checked.
    """

    log: RunLog
    done: Delivered
    rounds: tuple[RoundDone, ...]
    doses: tuple[DoseDone, ...]
    now: MachineNow | None
    breaks: tuple[Row, ...]
    sureness: Sureness | None = None
    cost: Cost | None = None
    beyond: bool = False


def reviewed(
    plan: Plan, log: RunLog, *, consequences: bool = True, prices: PriceSeries | None = None
) -> Reviewed:
    """Hold a log against its plan.

    Parameters
    ----------
    plan : Plan
        The plan that ran.
    log : RunLog
        Its log.
    consequences : bool
        Whether to check the plan, for its rounds and its doses in the worst corner, and on a machine that has
        left its profile: some seconds of work.
    prices : PriceSeries, optional
        Prices of that day, for a tariff that is a file of prices.

    Raises
    ------
    InputError
        The log holds nothing of the plan, is one of its bench run,
        no run of it can have written it, or ``prices`` do not hold its time.
    """
    sureness: Sureness | None = None
    drew: tuple[Drew, ...] = ()
    if not log.segments:
        log, sureness = with_phases(plan, log)
    else:
        log, drew = as_drawn(plan.inputs.machine, log)
    done = replace(delivered(plan.constants, log), drew=drew)
    _refuse_another(log, done)
    if (sureness is None or sureness.by == "watts") and (issues := doubts(plan, log, done)):
        raise InputError(issues)
    certificate = worst_found(plan) if consequences else None
    planned = rounds_planned(plan, certificate.trace) if certificate is not None else ()
    rounds = rounds_done(plan, log, done, planned)
    cost = cost_of(plan, log, np.inf if done.again is None else done.again.start_s, prices)
    # A sequence that may be off by many seconds looks like another machine, and gives other doses.
    guessed = sureness is not None and sureness.by == "bath"
    if (log.bath_c is None and log.ware_c is None) or not rounds or guessed:
        return Reviewed(log, done, rounds, (), None, (), sureness, cost)
    now = machine_now(plan, log, done)
    breaks = broken(plan, now.outside) if now.outside and consequences else []
    beyond = breaks is None
    worst = worst_doses(certificate) if certificate is not None else {}
    doses = tuple(replace(one, worst=worst.get(one.key)) for one in doses_done(plan, done, now))
    return Reviewed(log, done, rounds, doses, now, tuple(breaks or ()), sureness, cost, beyond)


def _refuse_another(log: RunLog, done: Delivered) -> None:
    """Refuse what is no run of the plan at all."""
    on = [one for one in log.segments if one.outputs != OFF]
    inner = on[1:-1]  # a log may begin and end within a phase
    if (
        len(inner) > 2
        and max(one.lasts_s for one in inner) <= MOST_S + 1.0
        and not any(one.outputs.element for one in on)
    ):
        rule = "is the log of a bench run: phases of seconds, the element never on"
        fix = "review the log of a whole run; what a bench run shows is seen and heard"
        raise InputError([InputIssue(log.subject, "", rule, "", fix)])
    if not on:
        fix = "log from the start of a run to its end"
        raise InputError(
            [InputIssue(log.subject, "", "holds no run: every output is off throughout", "", fix)]
        )
    if not done.steps:
        rule = "is the log of another plan, or one that was begun after the run was: it begins otherwise"
        fix = "give the plan that ran, and log from before its start"
        raise InputError([InputIssue(log.subject, "", rule, "", fix)])
