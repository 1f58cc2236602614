"""Helpers of the profile tests: shipped files with a change in them, and the command line run in place."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import pytest
from calling import call

from optimizer.errors import InputError, InputIssue
from optimizer.profile.load import parse_profile
from optimizer.profile.shipped import PROFILE_KINDS, ProfileKind, profile_path

ROOT = Path(__file__).resolve().parent.parent
NOBODY = 65534

SHIPPED: dict[ProfileKind, list[str]] = {
    "machine": ["clubhouse", "cold-shed", "garage-120v", "narrowboat"],
    "goal": [
        "eco-everyday",
        "everyday",
        "fresh-cups",
        "glasses",
        "nursery",
        "roasting-tins",
        "steamed-glasses",
    ],
    "circuit": ["branch-15a-120v", "inverter-10a", "plug-10a", "plug-13a-fused", "shared-6a"],
    "tariff": ["flat", "generator", "half-hourly", "three-rate", "two-rate"],
}
EVERY = [(kind, name) for kind, names in SHIPPED.items() for name in names]

every_shipped = pytest.mark.parametrize(("kind", "name"), EVERY)
every_kind = pytest.mark.parametrize("kind", PROFILE_KINDS)


class Ended(NamedTuple):
    """How a command ended."""

    code: int
    out: str
    err: str


def scullion(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Ended:
    """Run the command line in this process."""
    code = call(*words)
    return Ended(code, *capsys.readouterr())


OWN_GOAL = """\
kind = "goal"
title = "Invented for the tests, so that the shipped minutes may be tuned"

[[dose]]
name = "grease"
reference_c = 50
z_k = 33
ceiling_c = 75
minutes = 8
kinds = ["wash"]
bare_floor_c = 42

[[dose]]
name = "egg"
reference_c = 40
z_k = 27
minutes = 8
kinds = ["prerinse", "wash"]

[rinse]
residue_max = 0.001

[prerinse]
limit_c = 40

[hygiene]
method = "a0"
target_s = 60

[limits]
duration_min = 150
"""


def shipped_text(kind: ProfileKind, name: str) -> str:
    """The text of a shipped profile."""
    return profile_path(kind, name).read_text(encoding="utf-8")


def changed(kind: ProfileKind, name: str, *changes: tuple[str, str]) -> str:
    """A shipped profile's text, or that of our `own` goal, with every occurrence of some pieces replaced."""
    text = OWN_GOAL if name == "own" else shipped_text(kind, name)
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def issues_in(kind: ProfileKind, text: str) -> list[InputIssue]:
    """Every issue of a profile's text; empty where it is sound."""
    try:
        parse_profile(kind, text, "my.toml")
    except InputError as error:
        return list(error.issues)
    return []


@contextmanager
def as_nobody() -> Iterator[None]:
    """Root may do anything, so leave that behind for a while; other users stay who they are."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)
