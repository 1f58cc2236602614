"""Profiles from TOML files: one model, or every issue of the file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal, overload

from pydantic import ValidationError

from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.profile.circuit import Circuit
from optimizer.profile.did_you_mean import toml_meant
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.messages import issues_of, written
from optimizer.profile.shipped import PROFILE_KINDS, ProfileKind, is_path, profile_path, shipped_kind
from optimizer.profile.tariff import Tariff

Profile = Machine | Goal | Circuit | Tariff
MODELS: dict[ProfileKind, type[Profile]] = {
    "machine": Machine,
    "goal": Goal,
    "circuit": Circuit,
    "tariff": Tariff,
}

LONGEST_LINE = 2000
"""Memory for a dotted key grows with the square of its length, and a key stands on one line [1]."""

BOOKS = {
    "bench": (
        "a bench book",
        "scullion measure FILE --like MACHINE.toml --out MINE.toml makes a machine of it",
    ),
    "trials": ("a trial book", "scullion trial fit FILE learns the minutes of a goal from it"),
}
"""Files of other commands, by their kind: what each is, and what is done with it."""
_KINDS = "|".join((*PROFILE_KINDS, *BOOKS))
SAYS_ITS_KIND = re.compile(rf"^\s*kind\s*=\s*\W?({_KINDS})", re.MULTILINE)
"""Found in every file that is meant to be a profile or a book; one without it was given by mistake."""


@overload
def load_profile(kind: Literal["machine"], name: str) -> Machine: ...
@overload
def load_profile(kind: Literal["goal"], name: str) -> Goal: ...
@overload
def load_profile(kind: Literal["circuit"], name: str) -> Circuit: ...
@overload
def load_profile(kind: Literal["tariff"], name: str) -> Tariff: ...
@overload
def load_profile(kind: ProfileKind, name: str) -> Profile: ...
def load_profile(kind: ProfileKind, name: str) -> Profile:
    """Load a profile.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.
    name : str
        Name of a shipped profile, or a path (it has a slash or ends in ``.toml``).

    Returns
    -------
    Machine, Goal, Circuit or Tariff
        The profile.

    Raises
    ------
    InputError
        With every issue of the file.

    Examples
    --------
    >>> load_profile("circuit", "shared-6a").rating_a
    6.0
    """
    path = profile_path(kind, name)
    return parse_profile(kind, read_text(path, f"{kind} profile"), str(path))


def kind_of(name: str) -> ProfileKind:
    """Find out what kind of profile a name or a path stands for.

    Parameters
    ----------
    name : str
        Name of a shipped profile, or a path.

    Returns
    -------
    str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.

    Raises
    ------
    InputError
        If no shipped profile has the name or several have, or the file does not say its kind.

    Examples
    --------
    >>> kind_of("everyday")
    'goal'
    """
    if not is_path(name):
        return shipped_kind(name)
    said = parse_toml(read_text(Path(name), "profile"), name).get("kind")
    for kind in PROFILE_KINDS:
        if kind == said:
            return kind
    rule, fix = f"must be one of {', '.join(PROFILE_KINDS)}", 'kind = "machine", on the first line'
    raise InputError([InputIssue(name, "kind", rule, written(said), fix)])


def parse_profile(kind: ProfileKind, text: str, subject: str) -> Profile:
    """Read a profile from the text of its file.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.
    text : str
        TOML.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Machine, Goal, Circuit or Tariff
        The profile.

    Raises
    ------
    InputError
        With every issue of the text.
    """
    return validate_profile(kind, parse_toml(text, subject), subject)


def validate_profile(kind: ProfileKind, data: Mapping[str, Any], subject: str) -> Profile:
    """Make a profile from the tables of a TOML or JSON file.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.
    data : mapping
        The tables.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Machine, Goal, Circuit or Tariff
        The profile.

    Raises
    ------
    InputError
        With every issue of the data.
    """
    said = data.get("kind")
    if said in PROFILE_KINDS and said != kind:
        rule = f"must be a {kind} profile here, and this is a {said} profile"
        raise InputError([InputIssue(subject, "kind", rule, written(said), f"give a {kind} profile")])
    if isinstance(said, str) and said in BOOKS:
        book, fix = BOOKS[said]
        rule = f"must be a {kind} profile here, and this is {book}"
        raise InputError([InputIssue(subject, "kind", rule, written(said), fix)])
    model = MODELS[kind]
    if said is None and not set(data) & set(model.model_fields):
        fix = f'kind = "{kind}" as the first line, or give the file of a {kind} profile'
        raise InputError([InputIssue(subject, "kind", "is missing", "", fix)])
    try:
        return model.model_validate(data, context={"currency": data.get("currency")})
    except ValidationError as error:
        issues = issues_of(error, model, subject)
        if said is None:  # another file, given by mistake, may hold secrets
            issues = [replace(issue, found="") for issue in issues]
        raise InputError(issues) from error


def parse_toml(text: str, subject: str) -> dict[str, Any]:
    """Read TOML.

    Parameters
    ----------
    text : str
        TOML.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    dict
        Its tables.

    Raises
    ------
    InputError
        It is none; the line is shown of a profile, a bench book or a trial book only.
    """
    if max(map(len, text.split("\n"))) > LONGEST_LINE:
        rule = f"has a line of more than {LONGEST_LINE} characters"
        raise InputError([InputIssue(subject, "", rule, "", "compare with a shipped profile")])
    try:
        # A mistake on a last line without its end would be placed at the end of the text.
        return tomllib.loads(f"{text}\n")
    except tomllib.TOMLDecodeError as error:
        raise InputError([_not_toml(str(error), text, subject)]) from error
    except RecursionError as error:
        issue = InputIssue(
            subject, "", "is nested too deeply for a profile", "", "compare with a shipped profile"
        )
        raise InputError([issue]) from error
    except ValueError as error:  # a whole number longer than the interpreter converts
        issue = InputIssue(
            subject, "", "holds a number with too many digits", "", "compare with a shipped profile"
        )
        raise InputError([issue]) from error


def _not_toml(message: str, text: str, subject: str) -> InputIssue:
    """Say on which line the TOML breaks off, and what is often wrong there.

    The line itself is shown of a profile only: another file, given by mistake, may hold secrets.
    """
    place = re.search(r" \(at line (\d+), column (\d+)\)$", message)
    if place is None:
        reason = message.removesuffix(" (at end of document)")
        fix = "close the last bracket or quote"
        return InputIssue(subject, "", f"is not TOML, at its end: {reason}", "", fix)
    number, column = int(place[1]), int(place[2])
    line = text.replace("\r\n", "\n").split("\n")[number - 1]
    rule = f"is not TOML, line {number} column {column}: {message[: place.start()]}"
    fix = toml_meant(line)
    if message.startswith("Cannot "):  # declare a table twice, overwrite a value
        fix = "write each key and each table once; a table of a list has two brackets each time: [[dose]]"
    if not SAYS_ITS_KIND.search(text):
        return InputIssue(subject, "", rule, "", f"give the file of a profile, or in this one: {fix}")
    return InputIssue(subject, "", rule, written(line.strip()), fix)
