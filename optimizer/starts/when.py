"""When to start a plan, or a programme and its start chosen together; or why no start is possible."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.check.certificate import Certificate
from optimizer.errors import InputError, InputIssue, NoPlanError, Reason, attempt
from optimizer.planner.solver import SolverName
from optimizer.profile.goal import LEAST_DURATION_MIN
from optimizer.profile.load import load_profile
from optimizer.profile.price_series import PriceSeries
from optimizer.profile.tariff import Tariff
from optimizer.programme.plan import Inputs, Plan
from optimizer.starts.clock import clock_text, local
from optimizer.starts.hours import DAY_S, Hours, Rules, rules_of, series_of
from optimizer.starts.joint import Joint, choose_together
from optimizer.starts.run_cost import Run, power_steps, run_of
from optimizer.starts.scan import Scan, scan
from optimizer.starts.span import Span, SpanRequest, span_of, stretches
from optimizer.units import S_PER_MIN

SEARCH_D = 7
"""For so long after the last start asked for, one that works is looked for [d]."""


@dataclass(frozen=True)
class StartRequest:
    """What was asked for, as written.

    Attributes
    ----------
    span : SpanRequest
        Which starts.
    quiet : sequence of str
        More quiet hours.
    finish_by : str or None
        Finish-by time, over the tariff's.
    """

    span: SpanRequest = field(default_factory=SpanRequest)
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
class StartsAnswer:
    """When to start.

    Attributes
    ----------
    names : tuple of str
        Machine, goal, circuit and tariff.
    inputs : Inputs
        The profiles of what is started.
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
    inputs: Inputs
    tariff: Tariff
    rules: Rules
    span: Span
    scan: Scan
    present: Present
    joint: Joint | None = None


def when_to_start(
    plan: Plan, certificate: Certificate, tariff_name: str | None, request: StartRequest
) -> StartsAnswer:
    """Cost a plan at every start; under another tariff than its own where one is named (a name or a path)."""
    machine, goal, circuit, own = plan.inputs.names
    tariff = plan.inputs.tariff if tariff_name is None else load_profile("tariff", tariff_name)
    prepared = _Prepared.of(plan.inputs, tariff, (machine, goal, circuit, tariff_name or own), request)
    run = run_of(plan, power_steps(certificate.trace, plan.inputs.machine), tariff)
    return prepared.answer(scan(run, prepared.hours, prepared.span.starts_s))


def plan_and_start(
    inputs: Inputs, request: StartRequest, solver: SolverName, report: Callable[[str], None] = lambda _: None
) -> StartsAnswer:
    """Choose a programme and its start together.

    `NoPlanError` where there is no programme, or none that can be started.
    """
    prepared = _Prepared.of(inputs, inputs.tariff, inputs.names, request)
    joint = choose_together(inputs, prepared.hours, prepared.span, solver, report)
    return prepared.answer(joint.best.scan, joint)


@dataclass(frozen=True)
class _Prepared:
    """A request made ready: the tariff laid out over time, and the starts to look at."""

    names: tuple[str, str, str, str]
    inputs: Inputs
    tariff: Tariff
    series: PriceSeries | None
    rules: Rules
    span: Span
    hours: Hours

    @classmethod
    def of(
        cls, inputs: Inputs, tariff: Tariff, names: tuple[str, str, str, str], request: StartRequest
    ) -> _Prepared:
        issues: list[InputIssue] = []
        series = series_of(tariff, names[3])
        rules = attempt(issues, lambda: rules_of(tariff, request.quiet, request.finish_by))
        span = attempt(issues, lambda: span_of(request.span, tariff, series, rules or Rules()))
        if rules is None or span is None:
            raise InputError(issues)
        hours = Hours.of(tariff, series, rules, span.first_s, span.until_s)
        return cls(names, inputs, tariff, series, rules, span, hours)

    def answer(self, found: Scan, joint: Joint | None = None) -> StartsAnswer:
        if not found.starts_s.size:
            raise no_start(
                found.run, self.hours, self.rules, self.span, f"{self.names[1]} on {self.names[0]}"
            )
        present = self._present(found.run)
        return StartsAnswer(
            names=self.names,
            inputs=self.inputs,
            tariff=self.tariff,
            rules=self.rules,
            span=self.span,
            scan=found,
            present=present,
            joint=joint,
        )

    def _present(self, run: Run) -> Present:
        """Cost a start now, which need not lie near the starts asked for."""
        now_s = np.array([self.span.now_s], dtype=float)
        hours = Hours.of(self.tariff, self.series, self.rules, self.span.now_s, self.span.now_s)
        if not hours.priced(run, now_s)[0]:
            return Present(self.span.now_s, None, "the prices do not reach there")
        cost = float(run.costs(hours.price, now_s)[0])
        if not hours.out_of_quiet(run, now_s)[0]:
            return Present(self.span.now_s, cost, "it would run into the quiet hours")
        late = "" if hours.in_time(run, now_s)[0] else f"not ready by {self.rules.finish_by}"
        return Present(self.span.now_s, cost, late)


def no_start(run: Run, hours: Hours, rules: Rules, span: Span, name: str) -> NoPlanError:
    """Say why no start is possible, and which is the first that works."""
    minutes_s = np.arange(span.first_s, span.until_s + SEARCH_D * DAY_S, S_PER_MIN)
    out_of_quiet = hours.out_of_quiet(run, minutes_s)
    priced = out_of_quiet & hours.priced(run, minutes_s)
    works = priced & hours.in_time(run, minutes_s)
    reasons: list[Reason] = []
    if not out_of_quiet.any():
        reasons.append(_too_quiet(run, hours, rules, span))
    elif not priced.any():
        reasons.append(_too_few_prices(run, hours))
    elif rules.finish_by is not None and (priced[minutes_s < span.until_s].any() or not works.any()):
        reasons.append(_too_late(run, hours, rules.finish_by, float(minutes_s[priced][0])))
    if works.any():
        reasons.append(_other_start(hours, span, float(minutes_s[works][0])))
    return NoPlanError(f"{name} can start at none of the times asked for", reasons)


def _minutes(seconds: float) -> str:
    return f"{math.ceil(seconds / S_PER_MIN)} min"


def _too_quiet(run: Run, hours: Hours, rules: Rules, span: Span) -> Reason:
    found = stretches(hours, span.first_s, span.until_s + SEARCH_D * DAY_S)
    longest_s = max((b - a for a, b in found), default=0.0)
    minutes = int(longest_s / S_PER_MIN)
    or_shorter = ""
    if minutes >= LEAST_DURATION_MIN:
        or_shorter = f", or a plan with limits.duration_min = {minutes} in its goal"
    return Reason(
        requirement="quiet hours",
        asked=f"{' and '.join(f'{quiet.start} to {quiet.until}' for quiet in rules.quiet)}; "
        f"a run takes up to {_minutes(run.longest_s)}",
        nearest=f"the longest stretch without quiet hours is {minutes} min, "
        f"{_minutes(run.longest_s - longest_s)} too short",
        advice=f"quiet hours shorter by {_minutes(run.longest_s - longest_s)}{or_shorter}",
    )


def _too_few_prices(run: Run, hours: Hours) -> Reason:
    return Reason(
        requirement="prices",
        asked=f"a run takes {_minutes(run.power.last_s)}",
        nearest=f"the prices end {clock_text(hours.price.last_s, hours.zone)}",
        advice="a longer price series, or an earlier start",
    )


def _too_late(run: Run, hours: Hours, finish_by: str, start_s: float) -> Reason:
    ready_s = start_s + S_PER_MIN * math.ceil(run.ready_s / S_PER_MIN)
    return Reason(
        requirement="finish by",
        asked=f"ready by {finish_by}; a run takes up to {_minutes(run.ready_s)}",
        nearest=f"started {clock_text(start_s, hours.zone)} it is ready by {clock_text(ready_s, hours.zone)}",
        advice=f"finish by {local(ready_s, hours.zone):%H:%M}, or a plan that takes less time",
    )


def _other_start(hours: Hours, span: Span, start_s: float) -> Reason:
    asked = f"from {clock_text(span.first_s, hours.zone)}, before {clock_text(span.until_s, hours.zone)}"
    nearest = f"{clock_text(start_s, hours.zone)} is the first that works"
    return Reason("start", f"{asked}, every {span.every_s // 60} min", nearest)
