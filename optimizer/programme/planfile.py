"""The plan file: JSON with the profiles in full, so that a plan can be checked wherever it goes.

Keys are sorted and nothing in it depends on when or how fast it was made: same input, same bytes.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from typing import Annotated, Literal

from pydantic import AliasChoices, Field, ValidationError

from optimizer import __version__
from optimizer.errors import InputError, InputIssue
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.measured import ProfileModel
from optimizer.profile.messages import key_path, written
from optimizer.profile.price_series import Prices
from optimizer.profile.shipped import PROFILE_KINDS, shipped_title
from optimizer.profile.tariff import Tariff
from optimizer.programme.constants import Constants
from optimizer.programme.plan import PLAN_FORMAT, Costs, Inputs, Plan, Solve

PLAN_AGAIN = "make the plan again with scullion plan"

SOLVERS = r"^(HiGHS|CBC with PuLP) [0-9][0-9A-Za-z.+-]*$"
"""Names of the solvers that a plan may come from, with their versions."""

_RULES = {
    "missing": "is missing",
    "extra_forbidden": "is not a key of this table",
    "unexpected_keyword_argument": "is not a key of this table",
    "model_type": "must be a table",
    "dataclass_type": "must be a table",
    "tuple_type": "must be a list",
    "int_type": "must be a whole number",
    "float_type": "must be a number",
    "finite_number": "must be a finite number",
    "string_type": "must be text",
    "string_pattern_mismatch": "must be HiGHS, or CBC with PuLP, and its version",
}
"""Rules by pydantic's type of error; for the others its own message is taken."""


class Names(ProfileModel):
    """What the four profiles were asked for by."""

    machine: str
    goal: str
    circuit: str
    tariff: str


class Profiles(ProfileModel, from_attributes=True):
    """The four profiles in full; read off `Inputs` as well."""

    machine: Machine
    goal: Goal
    circuit: Circuit
    tariff: Tariff


class Solver(ProfileModel, from_attributes=True):
    """How the solver ended; read off `Solve` as well."""

    name: Annotated[str, Field(validation_alias=AliasChoices("name", "solver"), pattern=SOLVERS)]
    status: Literal["optimal", "search budget"]
    objective: float
    bound: float
    gap: float


class PlanFile(ProfileModel):
    """A plan as it is stored: one key a table of it, each validated and written by its own type."""

    format: Literal[2]
    scullion: str
    names: Names
    profiles: Profiles
    prices: Prices
    costs: Costs
    constants: Constants
    solver: Solver


class _Head(ProfileModel, extra="ignore"):
    """What is read before anything else, so that another format is named as such."""

    format: int


def inputs_sha256(inputs: Inputs) -> str:
    """Hash what a plan was made from.

    Parameters
    ----------
    inputs : Inputs
        Profiles and prices; the names they were asked for by do not count.

    Returns
    -------
    str
        SHA-256 over their canonical JSON, 64 hexadecimal digits.
    """
    content = {
        "profiles": Profiles.model_validate(inputs).model_dump(mode="json"),
        "prices": asdict(inputs.prices),
    }
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def plan_to_json(plan: Plan) -> str:
    """Write a plan as JSON.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        JSON with sorted keys and a newline at its end.
    """
    inputs = plan.inputs
    content = PlanFile(
        format=2,
        scullion=__version__,
        names=Names(**dict(zip(Names.model_fields, inputs.names, strict=True))),
        profiles=Profiles.model_validate(inputs),
        prices=inputs.prices,
        costs=plan.costs,
        constants=plan.constants,
        solver=Solver.model_validate(plan.solve),
    ).model_dump(mode="json")
    return json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"


def plan_from_json(text: str, subject: str) -> Plan:
    """Read a plan back.

    Parameters
    ----------
    text : str
        What the file holds.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Plan
        The plan.

    Raises
    ------
    InputError
        With every issue found: not JSON, another format, a key missing, unknown or of another type, a
        profile no longer valid, profiles edited by hand, a constant out of range, the name of another
        shipped profile.
    """
    try:
        found_format = _Head.model_validate_json(text).format
        if found_format != PLAN_FORMAT:
            raise InputError([_other_format(subject, found_format)])
        stored = PlanFile.model_validate_json(text)
    except ValidationError as error:
        raise InputError(_invalid(error, subject)) from error
    plan = _plan(stored)
    issues = [replace(issue, key=f"constants.{issue.key}") for issue in plan.constants.issues(subject)]
    if plan.constants.bench_run:
        rule = "a plan holds a programme, and this is a bench run"
        issues.append(InputIssue(subject, "constants.bench_run", rule, "true", PLAN_AGAIN))
    if plan.constants.input_sha256 != inputs_sha256(plan.inputs):
        rule = "the hash does not fit: the profiles, the prices or the hash itself were edited by hand"
        found = written(plan.constants.input_sha256)
        issues.append(InputIssue(subject, "constants.input_sha256", rule, found, PLAN_AGAIN))
    issues += _misnamed(plan.inputs, subject)
    if issues:
        raise InputError(issues)
    return plan


def _misnamed(inputs: Inputs, subject: str) -> Iterator[InputIssue]:
    """Refuse the name of a shipped profile for another one: verdicts are told by these names.

    None is told of a tariff.
    """
    for kind, name in zip(PROFILE_KINDS[:3], inputs.names[:3], strict=True):
        title, shipped = getattr(inputs, kind).title, shipped_title(kind, name)
        if shipped not in (None, title):
            rule = f"is the name of another {kind} than the one in it ({written(title)})"
            yield InputIssue(subject, f"names.{kind}", rule, written(name), PLAN_AGAIN)


def _other_format(subject: str, found: int) -> InputIssue:
    rule = f"this version reads plan format {PLAN_FORMAT}"
    return InputIssue(subject, "format", rule, written(found), PLAN_AGAIN)


def _invalid(error: ValidationError, subject: str) -> list[InputIssue]:
    found = []
    for at in error.errors(include_url=False):
        hidden = at["type"] in ("missing", "json_invalid", "string_unicode") or not at["loc"]
        shown = "" if hidden else written(at["input"])
        rule = _RULES.get(at["type"], at["msg"].replace("Invalid JSON:", "is not JSON:"))
        found.append(InputIssue(subject, key_path(at["loc"]), rule, shown, PLAN_AGAIN))
    return found


def _plan(stored: PlanFile) -> Plan:
    machine, goal, circuit, tariff = dict(stored.names).values()
    inputs = Inputs(**dict(stored.profiles), names=(machine, goal, circuit, tariff), prices=stored.prices)
    end = stored.solver
    solve = Solve(end.name, end.status, end.objective, end.bound, end.gap)
    return Plan(inputs, stored.constants, stored.costs, solve)
