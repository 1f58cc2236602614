"""When to start: a plan held against a tariff, or a programme chosen together with its start."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from optimizer.check.certificate import Certificate
from optimizer.errors import InputError, InputIssue, attempt
from optimizer.planner.solver import SolverName
from optimizer.profile.load import load_profile
from optimizer.profile.prices import PriceSeries
from optimizer.profile.tariff import Tariff
from optimizer.programme.plan import Inputs, Plan
from optimizer.starts.hours import Hours, Rules, rules_of, series_of
from optimizer.starts.joint import Joint, choose_together
from optimizer.starts.no_start import no_start
from optimizer.starts.run_cost import Run, power_steps, run_of
from optimizer.starts.scan import Scan, scan
from optimizer.starts.span import Span, SpanRequest, span_of


@dataclass(frozen=True)
class StartRequest:
    """What was asked for, as written.

    Attributes
    ----------
    asked : SpanRequest
        Which starts.
    quiet : sequence of str
        More quiet hours.
    finish_by : str or None
        Finish-by time, over the tariff's.
    """

    asked: SpanRequest = field(default_factory=SpanRequest)
    quiet: Sequence[str] = ()
    finish_by: str | None = None


@dataclass(frozen=True)
class Present:
    """A start now.

    Attributes
    ----------
    time_s : float
        Now, since 1970-01-01 UTC [s].
    cost : float or None
        What a run would cost [currency]; None where there is no price for it.
    obstacle : str
        Why it is not possible; empty where it is.
    """

    time_s: float
    cost: float | None
    obstacle: str


@dataclass(frozen=True)
class Answer:
    """When to start.

    Attributes
    ----------
    names : tuple of str
        Machine, goal, circuit and tariff.
    tariff : Tariff
        The tariff.
    rules : Rules
        Quiet hours and finish-by time.
    span : Span
        The starts looked at.
    scan : Scan
        What the possible ones cost; at least one.
    present : Present
        A start now.
    joint : Joint or None
        How the programme was chosen, where it was chosen together with its start.
    """

    names: tuple[str, str, str, str]
    tariff: Tariff
    rules: Rules
    span: Span
    scan: Scan
    present: Present
    joint: Joint | None = None


def when_to_start(
    plan: Plan, certificate: Certificate, tariff_name: str | None, wish: StartRequest
) -> Answer:
    """Cost a plan at every start.

    Parameters
    ----------
    plan : Plan
        The plan.
    certificate : Certificate
        Its certificate, for the nominal run.
    tariff_name : str or None
        Another tariff than the plan's own: a name or a path.
    wish : StartRequest
        What was asked for.

    Returns
    -------
    Answer
        What the starts cost.

    Raises
    ------
    InputError
        The tariff or what was asked for cannot be read.
    NoPlanError
        No start is possible.
    """
    machine, goal, circuit, own = plan.inputs.names
    tariff = plan.inputs.tariff if tariff_name is None else load_profile("tariff", tariff_name)
    ground = _Ground.of(tariff, (machine, goal, circuit, tariff_name or own), wish)
    run = run_of(plan, power_steps(certificate.trace, plan.inputs.machine), tariff)
    return ground.answer(scan(run, ground.hours, ground.span.starts_s))


def plan_and_start(
    inputs: Inputs, wish: StartRequest, solver: SolverName, report: Callable[[str], None] = lambda _: None
) -> Answer:
    """Choose a programme and its start together.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff.
    wish : StartRequest
        What was asked for.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    report : callable
        Told what is going on, for a progress line.

    Returns
    -------
    Answer
        The programme of the cheapest pair, and what its starts cost.

    Raises
    ------
    InputError
        What was asked for cannot be read.
    NoPlanError
        There is no programme, or none that can be started.
    CheckFailedError
        A programme does not pass its check.
    """
    ground = _Ground.of(inputs.tariff, inputs.names, wish)
    joint = choose_together(inputs, ground.hours, ground.span, solver, report)
    return ground.answer(joint.best.scan, joint)


@dataclass(frozen=True)
class _Ground:
    """What both ways of asking stand on."""

    names: tuple[str, str, str, str]
    tariff: Tariff
    series: PriceSeries | None
    rules: Rules
    span: Span
    hours: Hours

    @classmethod
    def of(cls, tariff: Tariff, names: tuple[str, str, str, str], wish: StartRequest) -> _Ground:
        issues: list[InputIssue] = []
        series = series_of(tariff, names[3])
        rules = attempt(issues, lambda: rules_of(tariff, wish.quiet, wish.finish_by))
        span = attempt(issues, lambda: span_of(wish.asked, tariff, series, rules or Rules()))
        if rules is None or span is None:
            raise InputError(issues)
        hours = Hours.of(tariff, series, rules, span.first_s, span.until_s)
        return cls(names, tariff, series, rules, span, hours)

    def answer(self, found: Scan, joint: Joint | None = None) -> Answer:
        if not found.starts_s.size:
            raise no_start(
                found.run, self.hours, self.rules, self.span, f"{self.names[1]} on {self.names[0]}"
            )
        return Answer(self.names, self.tariff, self.rules, self.span, found, self._present(found.run), joint)

    def _present(self, run: Run) -> Present:
        """Cost a start now, which need not lie near the starts asked for."""
        import numpy as np

        now_s = np.array([self.span.now_s], dtype=float)
        hours = Hours.of(self.tariff, self.series, self.rules, self.span.now_s, self.span.now_s)
        if not hours.priced(run, now_s)[0]:
            return Present(self.span.now_s, None, "the prices do not reach there")
        cost = float(run.costs(hours.price, now_s)[0])
        if not hours.out_of_quiet(run, now_s)[0]:
            return Present(self.span.now_s, cost, "it would run into the quiet hours")
        late = "" if hours.in_time(run, now_s)[0] else f"not ready by {self.rules.finish_by}"
        return Present(self.span.now_s, cost, late)
