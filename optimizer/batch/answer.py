"""The answer to a case as text, as workers, a cluster and the cache pass it on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, ValidationError

from optimizer.batch.cases import Case
from optimizer.check.certificate import Certificate, Row
from optimizer.errors import CheckFailedError, InputError, InputIssue, NoPlanError, Reason
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_from_json, plan_to_json
from optimizer.starts.run_cost import power_steps
from optimizer.starts.step_function import Steps

Status = Literal["planned", "no plan", "check failed", "failed"]


class Power(NamedTuple):
    """Power of a nominal run over the time since its start.

    Attributes
    ----------
    edges_s : tuple of float
        Where the steps begin, and where the last one ends [s].
    watts : tuple of float
        Power of each step [W].
    """

    edges_s: tuple[float, ...]
    watts: tuple[float, ...]


class Answer(BaseModel):
    """The answer to a case: plain data, the same bytes wherever it was found."""

    model_config = ConfigDict(extra="forbid", frozen=True, ser_json_inf_nan="constants")

    key: str
    status: Status
    plan: str | None = None
    rows: tuple[Row, ...] = ()
    power: Power | None = None
    reasons: tuple[Reason, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class CaseResult:
    """The answer to a case.

    Attributes
    ----------
    case : Case
        The case.
    status : str
        ``planned``, ``no plan``, ``check failed`` or ``failed``.
    plan : Plan or None
        The plan, under the names of the case.
    rows : tuple of Row
        Rows of its certificate.
    power : Steps or None
        Nominal power [W] over the time since the start [s].
    why : tuple of str
        Why there is no plan, a sentence each.
    """

    case: Case
    status: Status
    plan: Plan | None = None
    rows: tuple[Row, ...] = ()
    power: Steps | None = None
    why: tuple[str, ...] = ()


def proven_answer(key: str, plan: Plan, certificate: Certificate) -> str:
    """Write down a plan and what proves it; of the nominal run only the power is kept."""
    steps = power_steps(certificate.trace, plan.inputs.machine)
    power = Power(tuple(steps.edges_s.tolist()), tuple(steps.values.tolist()))
    text = plan_to_json(plan)
    return Answer(key=key, status="planned", plan=text, rows=certificate.rows, power=power).model_dump_json()


def refused_answer(key: str, error: NoPlanError | CheckFailedError) -> str:
    """Write down that there is no programme, or none that is proven."""
    if isinstance(error, NoPlanError):
        answer = Answer(key=key, status="no plan", reasons=error.reasons)
    else:
        answer = Answer(key=key, status="check failed", notes=(error.headline, *error.failures))
    return answer.model_dump_json()


def failed_answer(key: str, *notes: str) -> str:
    """Write down that a case could not be answered, and why, a sentence each."""
    return Answer(key=key, status="failed", notes=notes).model_dump_json()


def one_line(error: Exception) -> str:
    """Name an unforeseen error by its kind and the first line of what it says."""
    return f"{type(error).__name__}: {(str(error).splitlines() or [''])[0]}"


def read_answer(text: str, case: Case) -> CaseResult:
    """Read an answer, trusting nothing in it.

    `InputError` where it is not whole, does not answer this case, or holds a plan that is not proven.
    """
    try:
        answer = Answer.model_validate_json(text)
    except ValidationError as error:
        raise InputError([_unsound("is not an answer")]) from error
    if answer.key != case.key:
        raise InputError([_unsound("answers another case, or is from another version")])
    if answer.status != "planned":
        why = [reason.sentence for reason in answer.reasons]
        return CaseResult(case, answer.status, why=(*why, *answer.notes))
    if answer.plan is None or answer.power is None or not all(row.passed for row in answer.rows):
        raise InputError([_unsound("holds no proven plan")])
    plan = plan_from_json(answer.plan, "answer")
    # The key covers profiles and prices; the names they go by may be others than when it was planned.
    return CaseResult(case, "planned", replace(plan, inputs=case.inputs), answer.rows, _steps(answer.power))


def _unsound(rule: str) -> InputIssue:
    return InputIssue("answer", "", rule)


def _steps(power: Power) -> Steps:
    try:
        return Steps.of(power.edges_s, power.watts)
    except ValueError as error:
        raise InputError([_unsound("holds no power over time")]) from error
