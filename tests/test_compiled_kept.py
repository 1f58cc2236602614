"""What is compiled is kept on disk as long as no source of it changes, and loads no more than it needs."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numba
import pytest

from optimizer.compiled import compiled, is_ready, keep_under, kept_under

LOADED = """
import sys, numba
from optimizer.check import equations_kernel
equations_kernel._saturation_kpa(50.0)
assert "scipy.linalg" not in sys.modules
import numpy as np, scipy.linalg
assert numba.njit(lambda a: np.linalg.inv(a) @ a)(2.0 * np.eye(2)).tolist() == [[1.0, 0.0], [0.0, 1.0]]
"""


def test_linear_algebra_is_not_loaded_and_can_be_later() -> None:
    """It takes longer than a plan's runs; whoever compiles something that needs it still may."""
    subprocess.run([sys.executable, "-c", LOADED], check=True, timeout=300)


def test_where_nothing_can_be_kept_it_is_compiled_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    real = numba.njit

    def refuses(function: Any, *, cache: bool = False, **settings: Any) -> Any:
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return real(function, **settings)

    monkeypatch.setattr(numba, "njit", refuses)

    def doubled(value: float) -> float:
        return 2.0 * value

    assert compiled(doubled)(1.5) == 3.0


def test_what_is_still_to_be_compiled_is_known() -> None:
    def tripled(value: float) -> float:
        return 3.0 * value

    function = compiled(tripled)
    for kept in Path(str(function.stats.cache_path)).glob("*.tripled-*"):  # type: ignore[attr-defined]
        kept.unlink()
    assert not is_ready(function)
    assert function(1.5) == 4.5
    assert is_ready(function)
    assert is_ready(compiled(tripled))


def test_what_is_kept_goes_by_all_that_it_is_made_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A formula changes in a file that another file's compiled function calls: the function does as well."""
    for name in ("check", "physics", "planner", "programme", "report"):
        (tmp_path / name).mkdir()
    (tmp_path / "units.py").write_text("S_PER_MIN = 60.0\n")
    formula = tmp_path / "check" / "formula.py"
    formula.write_text("def formula(value):\n    return 2.0 * value\n")
    before = kept_under(tmp_path)
    assert kept_under(tmp_path) == before
    (tmp_path / "report" / "words.py").write_text("WORDS = 1\n")
    assert kept_under(tmp_path) == before
    formula.write_text("def formula(value):\n    return 20. * value\n")
    changed = kept_under(tmp_path)
    assert changed != before
    (tmp_path / "units.py").write_text("S_PER_MIN = 61.0\n")
    assert kept_under(tmp_path) not in (before, changed)

    monkeypatch.setattr(numba.config, "CACHE_DIR", "")
    kept = [tmp_path / "__pycache__" / f"compiled-{number}" for number in range(6)]
    for number, folder in enumerate(kept):
        folder.mkdir(parents=True)
        os.utime(folder, (number, number))
    keep_under(tmp_path)
    assert Path(numba.config.CACHE_DIR) == tmp_path / "__pycache__" / kept_under(tmp_path)
    assert [folder for folder in kept if folder.exists()] == kept[3:]
    keep_under(Path("elsewhere"))  # told where already
    assert Path(numba.config.CACHE_DIR).is_relative_to(tmp_path)


DOUBLED = """
import numpy as np
from optimizer.compiled import compiled

@compiled
def doubled(values):
    to = np.empty_like(values)
    for place in range(len(values)):
        to[place] = 2.0 * values[place]
    return to

def said(values):
    return doubled.py_func(values).tolist() == doubled(values).tolist() == [2.0 * value for value in values]
"""

TWICE = """
import numpy as np
from numba.core.registry import cpu_target
from doubled import doubled, said
seen = []
refresh = type(cpu_target.target_context).refresh
def counted(context):
    seen.append(context)
    refresh(context)
type(cpu_target.target_context).refresh = counted
assert said(np.array([1.5, -0.25]))
before = len(seen)
assert said(np.array([3, 4]))
print(before > 0, len(seen) > before, sum(doubled.stats.cache_hits.values()))
"""
"""Doubles decimals, then whole numbers, which a kept function of decimals has to be compiled for."""


@pytest.mark.slow
def test_what_is_kept_loads_without_what_it_takes_to_compile(tmp_path: Path) -> None:
    """It allocates an array, gives what its text gives, and can still be compiled for another kind of number.

    Numba's own road is the oracle: there all operations are made known before it looks what is kept.
    """
    (tmp_path / "doubled.py").write_text(DOUBLED)
    here = Path(__file__).resolve().parents[1]
    env = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / "kept")}
    env |= {"PYTHONPATH": os.pathsep.join((str(tmp_path), str(here)))}
    env.pop("PYTHONDONTWRITEBYTECODE", None)

    def said(program: str) -> str:
        run = subprocess.run(
            [sys.executable, "-c", program], env=env, check=True, timeout=300, capture_output=True, text=True
        )
        return run.stdout.strip()

    plainly = TWICE.replace("seen = []", "del doubled._cache.load_overload; seen = []")
    assert said(TWICE) == "True True 0"
    assert said(TWICE) == "False False 2"
    assert said(plainly) == "True True 2"
