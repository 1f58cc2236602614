"""Doctests of every module, and the docstring check with a check of its own."""

from __future__ import annotations

import doctest
import importlib
import importlib.util
import pkgutil
from pathlib import Path
from types import ModuleType

import pytest

import optimizer

ROOT = Path(__file__).resolve().parent.parent
MODULES = [found.name for found in pkgutil.walk_packages(optimizer.__path__, "optimizer.")]


def load_docstring_check() -> ModuleType:
    spec = importlib.util.spec_from_file_location("docstring_check", ROOT / ".ci" / "docstrings.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", MODULES)
def test_doctests(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_doctests() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = finder.find(importlib.import_module("optimizer.physics.dose"))
    assert sum(len(test.examples) for test in found) >= 6


def test_docstrings_match_their_signatures() -> None:
    check = load_docstring_check()
    assert check.find_faults(ROOT / "optimizer", check.IN_FULL) == []


FAULTY = '''"""A module."""
from dataclasses import dataclass
import numpy as np


def undocumented(a: float) -> float:
    return a


def wrong(power_w: float, name: str, gone: int) -> float:
    """Do.

    Parameters
    ----------
    power_w : float
        Power.
    name : str
        Name.
    extra : int
        Extra [1].
    """
    return power_w


def unit_of_return(a: str) -> np.ndarray:
    """Do.

    Parameters
    ----------
    a : str
        Text.

    Returns
    -------
    ndarray
        Power.
    """


@dataclass
class Fields:
    """Fields.

    Attributes
    ----------
    a_w : float
        Power.
    """

    a_w: float
    b: str

    @property
    def c_w(self) -> float:
        """Power."""
        return self.a_w


class Profile(ProfileModel):
    """Fields carry their unit in the annotation."""

    a_w: float
'''

SOUND = '''"""A module."""


def both(low_c: float, high_c: float, name: str = "") -> float | None:
    """Do.

    Parameters
    ----------
    low_c, high_c : float
        Temperatures [°C].
    name : str
        Name.

    Returns
    -------
    float or None
        Temperature [°C].
    """


def _private(a: float) -> float:
    return a
'''


def test_the_docstring_check_finds_each_kind_of_fault(tmp_path: Path) -> None:
    (tmp_path / "faulty.py").write_text(FAULTY, encoding="utf-8")
    (tmp_path / "sound.py").write_text(SOUND, encoding="utf-8")
    found = load_docstring_check().find_faults(tmp_path)
    assert [issue.split(": ", 1)[1] for issue in found] == [
        "undocumented has no docstring",
        "wrong: parameter gone is not documented",
        "wrong: documents extra, which it does not have",
        "wrong: parameter power_w is a number without its unit in square brackets",
        "wrong: has no Returns section",
        "unit_of_return: returns a number without its unit in square brackets",
        "Fields.c_w: property is a number without its unit in square brackets",
        "Fields: parameter b is not documented",
        "Fields: parameter a_w is a number without its unit in square brackets",
    ]
    assert all(issue.startswith(f"{tmp_path.name}/faulty.py:") for issue in found)


def test_outside_of_what_is_documented_in_full_only_what_is_untrue_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "faulty.py").write_text(FAULTY, encoding="utf-8")
    check = load_docstring_check()
    (untrue,) = check.find_faults(tmp_path, ("physics",))
    assert "wrong: documents extra, which it does not have" in untrue
    assert len(check.find_faults(tmp_path, ("faulty.py",))) == 9
