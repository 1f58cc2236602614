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
WITH_EXAMPLES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for path in sorted((ROOT / "optimizer").rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


def load_docstring_check() -> ModuleType:
    spec = importlib.util.spec_from_file_location("docstring_check", ROOT / ".ci" / "docstrings.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_module_loads() -> None:
    assert [name for name in MODULES if importlib.import_module(name) is None] == []
    assert set(WITH_EXAMPLES) <= {"optimizer", *MODULES}


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_doctests(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_doctests() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = finder.find(importlib.import_module("optimizer.physics.dose"))
    assert sum(len(test.examples) for test in found) >= 3


@pytest.mark.slow
def test_docstrings_match_their_signatures() -> None:
    """Of all modules; the tests below hold what it asks."""
    assert load_docstring_check().find_issues(ROOT / "optimizer") == []


LACKING = '''"""A module."""
from dataclasses import dataclass
import numpy as np

MOST = 3
"""How many there may be."""


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

    Notes
    -----
    A choice of our own.
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
    raise ValueError(a)


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

MOST_W = 3.0
"""Highest power [W]."""


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

    Raises
    ------
    ValueError
        Where there is no name.

    References
    ----------
    Some handbook.
    """
    raise ValueError(name)


def _private(a: float) -> float:
    return a
'''

IN_FULL = [
    "MOST: a number without a string below it that says its unit",
    "undocumented has no docstring",
    "wrong: parameter gone is not documented",
    "wrong: documents extra, which it does not have",
    "wrong: parameter power_w is a number without its unit in square brackets",
    "wrong: has no Returns section",
    "unit_of_return: returns a number without its unit in square brackets",
    "unit_of_return: returns an array without its shape",
    "unit_of_return: raises ValueError, which it does not say",
    "unit_of_return: gives no source, equation or choice of our own (Notes or References)",
    "Fields.c_w: property is a number without its unit in square brackets",
    "Fields: parameter b is not documented",
    "Fields: parameter a_w is a number without its unit in square brackets",
]


@pytest.mark.parametrize(
    ("folder", "expected"),
    [
        ("physics", IN_FULL),
        ("profile", [issue for issue in IN_FULL if "source" not in issue]),
        ("planner", ["undocumented has no docstring", "wrong: documents extra, which it does not have"]),
    ],
)
def test_the_docstring_check_finds_each_kind_of_issue(
    folder: str, expected: list[str], tmp_path: Path
) -> None:
    (tmp_path / folder).mkdir()
    (tmp_path / folder / "lacking.py").write_text(LACKING, encoding="utf-8")
    (tmp_path / folder / "sound.py").write_text(SOUND, encoding="utf-8")
    found = load_docstring_check().find_issues(tmp_path)
    assert [issue.split(": ", 1)[1] for issue in found] == expected
    assert all(issue.startswith(f"{tmp_path.name}/{folder}/lacking.py:") for issue in found)


def test_what_the_package_gives_out_is_documented_in_full(tmp_path: Path) -> None:
    package = tmp_path / "optimizer"
    (package / "planner").mkdir(parents=True)
    (package / "planner" / "lacking.py").write_text(LACKING, encoding="utf-8")
    (package / "__init__.py").write_text(
        '"""The package."""\nfrom optimizer.planner.lacking import wrong\n', encoding="utf-8"
    )
    found = [issue.split(": ", 1)[1] for issue in load_docstring_check().find_issues(package)]
    assert found == ["undocumented has no docstring", *(i for i in IN_FULL if i.startswith("wrong"))]
