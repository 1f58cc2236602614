"""What the cases of a comparison are called: what all share is said once, what differs names each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.output.layout import wrapped
from optimizer.profile.shipped import is_path

KINDS = ("machine", "goal", "circuit", "tariff")
WIDEST = 38
"""Columns of the terminal that names may take; where they are longer the cases go by number [1]."""


@dataclass(frozen=True)
class CaseNames:
    """Names of cases.

    Attributes
    ----------
    shared : tuple of str
        Names of the profiles that all cases have in common.
    heads : tuple of str
        What the parts of a case's name are.
    names : tuple of tuple of str
        The parts, a case each.
    legend : str
        What the names do not say, a line each; empty where they say all.
    """

    shared: tuple[str, ...]
    heads: tuple[str, ...]
    names: tuple[tuple[str, ...], ...]
    legend: str


def case_names(cases: Sequence[dict[str, Any]]) -> CaseNames:
    """Name cases.

    Parameters
    ----------
    cases : sequence of dict
        At least one, each with the name or path of its four profiles.

    Returns
    -------
    CaseNames
        Their names; a path is cut down to its stem where that is enough.
    """
    columns = {kind: _brief([case[kind] for case in cases]) for kind in KINDS}
    heads = _telling(columns)
    shared = [columns[kind][0] for kind in KINDS if kind not in heads and len(set(columns[kind])) == 1]
    # What is left follows from the machine: its usual circuit and tariff.
    rest = [kind for kind in KINDS if kind not in heads and len(set(columns[kind])) > 1]
    follows = dict(zip(columns["machine"], _rows(columns, rest), strict=True)) if rest else {}
    lines = [f"{machine}: {', '.join(parts)}" for machine, parts in follows.items()]
    names = _rows(columns, heads)
    if sum(max(map(len, (kind, *columns[kind]))) + 2 for kind in heads) > WIDEST:
        lines = [f"{number}: {', '.join(parts)}" for number, parts in enumerate(names, start=1)] + lines
        heads, names = ["case"], [(str(number),) for number in range(1, len(cases) + 1)]
    return CaseNames(tuple(shared), tuple(heads), tuple(names), "\n".join(wrapped(x, "- ") for x in lines))


def _telling(columns: dict[str, list[str]]) -> list[str]:
    """Kinds that tell the cases apart; the goal where there is only one case."""
    telling: list[str] = []
    for kind in KINDS:
        before = len(set(_rows(columns, telling))) if telling else 1
        if len(set(_rows(columns, [*telling, kind]))) > before:
            telling.append(kind)
    return telling or ["goal"]


def _rows(columns: dict[str, list[str]], kinds: Sequence[str]) -> list[tuple[str, ...]]:
    return list(zip(*(columns[kind] for kind in kinds), strict=True))


def _brief(names: Sequence[str]) -> list[str]:
    stems = {name: Path(name).stem if is_path(name) else name for name in names}
    return [stems[name] if list(stems.values()).count(stems[name]) == 1 else name for name in names]
