"""Checks of what the library's functions are given, before any work is done."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from optimizer.errors import InputError, InputIssue
from optimizer.profile.messages import written


def require(*found: InputIssue | None) -> None:
    """Raise `InputError` with all issues; None stands for an argument that is right."""
    issues = [issue for issue in found if issue is not None]
    if issues:
        raise InputError(issues)


def not_whole(parameter: str, value: object, least: int) -> InputIssue | None:
    """Say what is wrong with a number that has to be whole and no less than `least`."""
    # numpy's whole numbers have this method too; a truth value does as well, and is none.
    if hasattr(value, "__index__") and not isinstance(value, bool) and value.__index__() >= least:
        return None
    return InputIssue(parameter, "", f"must be a whole number, {least} or more", _found(value), str(least))


def not_one_of(parameter: str, value: object, choices: Collection[str]) -> InputIssue | None:
    """Say what is wrong with a word that has to be one of the choices."""
    if isinstance(value, str) and value in choices:
        return None
    return InputIssue(parameter, "", f"must be one of {_listed(choices)}", _found(value), next(iter(choices)))


def none_given(plans: object) -> InputIssue | None:
    """Say so where no plan is given by a name."""
    if isinstance(plans, Mapping) and plans and all(isinstance(name, str) for name in plans):
        return None
    return InputIssue("plans", "", "must name at least one plan", _found(plans), '{"eco": plan}')


def not_two_of(parameter: str, value: object, choices: Collection[str]) -> InputIssue | None:
    """Say what is wrong with a pair that has to be two different ones of the choices."""
    pair = list(value) if isinstance(value, tuple | list) else []
    if len(pair) == len([one for one in choices if one in pair]) == 2:
        return None
    first, second = list(choices)[:2]
    rule = f"must be two different ones of {_listed(choices)}"
    return InputIssue(parameter, "", rule, _found(value), f'("{first}", "{second}")')


def not_names(parameter: str, value: Any, example: str, *, least: int = 0) -> InputIssue | None:
    """Say what is wrong with a list of names or paths; a single text is none."""
    fix = f'["{example}"]'
    if isinstance(value, str):
        rule = "must be a list of names, not one text"
        return InputIssue(parameter, "", rule, _found(value), f"[{_found(value)}]")
    try:
        names = list(value)
    except TypeError:
        return InputIssue(parameter, "", "must be a list of names", _found(value), fix)
    if not all(isinstance(name, str) for name in names):
        return InputIssue(parameter, "", "must be a list of names, each a text", _found(names), fix)
    if len(names) < least:
        return InputIssue(parameter, "", "must name at least one profile", "an empty list", fix)
    return None


def not_a_plan(text: str, subject: str) -> InputIssue | None:
    """Say so where a file holds constants and not a plan."""
    from optimizer.emit.forms import form_of
    from optimizer.emit.json_form import holds_constants

    form = form_of(text)
    if form is None or (form == "json" and not holds_constants(text)):
        return None
    fix = f"give the plan file; to prove these constants: scullion check {subject} --machine ... --goal ..."
    return InputIssue(subject, "", "is a file of constants, not a plan", "", fix)


def _found(value: object) -> str:
    return "None" if value is None else written(list(value) if isinstance(value, tuple) else value)


def _listed(choices: Collection[str]) -> str:
    return ", ".join(choices)
