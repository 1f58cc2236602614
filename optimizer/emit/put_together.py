"""Which plans go into one file: all of one machine, each with a name of its own."""

from __future__ import annotations

import re
from collections.abc import Mapping

from optimizer.emit.read import NAME, NAME_RULE
from optimizer.emit.several import NAME_MOST, PROGRAMMES_MAX, REHEARSAL, WASHES
from optimizer.errors import InputError, InputIssue
from optimizer.profile.messages import written
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.plan import Plan

BREAKS = re.compile(r"\*/|/\*|\*\)|\(\*|\"|\\|\?\?|'''")
"""What ends a comment or a string, or joins lines, in one of the forms."""
SHOWN = 5
"""Keys that are named at most where two profiles differ [1]."""


def short_name(name: str) -> str:
    """Shorten a name to what a small display shows."""
    return name[:NAME_MOST].rstrip()


def named_programmes(plans: Mapping[str, Plan]) -> dict[str, Plan]:
    """Shorten the names of plans that go into one file together.

    Raises `InputError` with everything that stands against it: names that are the same once they are short,
    or that a display does not show, or a wash with the name of the rehearsal; more programmes than a byte
    counts; plans of different machines, or of
    one machine that was measured again; titles that would end a comment or a string.
    """
    issues: list[InputIssue] = []
    if len(plans) > PROGRAMMES_MAX:
        rule, fix = (
            f"a file holds {PROGRAMMES_MAX} programmes at most",
            f"leave out {len(plans) - PROGRAMMES_MAX}",
        )
        issues.append(InputIssue("programmes", "", rule, str(len(plans)), fix))
    names: dict[str, str] = {}
    for name, plan in plans.items():
        short = short_name(name)
        if NAME.fullmatch(short) is None:
            fix = "give the plan file another name"
            issues.append(InputIssue(name, "name", NAME_RULE, written(short), fix))
        elif short.casefold() == REHEARSAL and not plan.constants.bench_run:
            fix = "give the plan file another name"
            issues.append(InputIssue(name, "name", WASHES, written(short), fix))
        elif short.casefold() in names:
            other = names[short.casefold()]
            rule = f"is the name of {other} too, once it is shortened to {NAME_MOST} letters"
            issues.append(InputIssue(name, "name", rule, written(short), "give one plan file another name"))
        names.setdefault(short.casefold(), name)
        issues += _titles(name, plan)
    first, *others = plans.items()
    for name, plan in others:
        issues += _another_place(first, (name, plan))
    if issues:
        raise InputError(issues)
    return {short_name(name): plan for name, plan in plans.items()}


def _titles(name: str, plan: Plan) -> list[InputIssue]:
    titles = {kind: getattr(plan.inputs, kind).title for kind in PROFILE_KINDS}
    rule, fix = "would end a comment or a string", "letters, digits and plain punctuation"
    return [
        InputIssue(name, f"{kind}.title", rule, written(title), fix)
        for kind, title in titles.items()
        if BREAKS.search(title) or not title.isprintable()
    ]


def _another_place(first: tuple[str, Plan], other: tuple[str, Plan]) -> list[InputIssue]:
    """Say where a plan is for another machine or circuit than the first, or for one measured again."""
    (first_name, one), (name, two) = first, other
    found = []
    for kind in ("machine", "circuit"):
        mine, its = (getattr(plan.inputs, kind) for plan in (one, two))
        if mine == its:
            continue
        apart = sorted(_leaves(mine.model_dump()) ^ _leaves(its.model_dump()))
        keys = list(dict.fromkeys(key for key, _ in apart))
        more = f" and {len(keys) - SHOWN} more" if len(keys) > SHOWN else ""
        which = f"{', '.join(keys[:SHOWN])}{more}"
        if mine.title == its.title:
            rule = f"is for the same {kind} as {first_name}, but measured again: it differs in {which}"
            fix = f"plan {first_name} and {name} with one {kind} profile"
        else:
            rule = f"is for another {kind} than {first_name}"
            fix = f"a file for each {kind}"
        found.append(InputIssue(name, kind, rule, written(its.title), fix))
    return found


def _leaves(table: Mapping[str, object], within: str = "") -> set[tuple[str, str]]:
    found: set[tuple[str, str]] = set()
    for key, value in table.items():
        if isinstance(value, Mapping) and not {"nominal", "low", "high"} <= value.keys():
            found |= _leaves(value, f"{within}{key}.")
        else:
            found.add((f"{within}{key}", repr(value)))
    return found
