"""What is compiled does what its Python text says: seeded inputs through both.

The right sides and integrals themselves are held by published and hand-worked values elsewhere; here a
compiled function kept on disk that is older than a formula it takes from another file comes to light.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import numpy as np
import pytest

from optimizer.check import bound_kernel, bound_kernel_batch, equations_kernel, lethality_kernel
from optimizer.compiled import compiled

BOXES, STEPS = 5, 7
Arguments = tuple[Any, ...]


def uncompiled(function: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """The Python text of a compiled function, with that of all compiled ones that it calls."""
    modules = (bound_kernel, bound_kernel_batch, equations_kernel, lethality_kernel)
    for module in modules:
        for name, value in vars(module).items():
            if hasattr(value, "py_func"):
                monkeypatch.setattr(module, name, value.py_func)
    return function.py_func  # type: ignore[attr-defined, no-any-return]


def boxes(random: np.random.Generator) -> np.ndarray:
    """Boxes of a usual machine, both courses, tolerances of a tenth."""
    usual = {
        bound_kernel.LOSS: 8.0, bound_kernel.LAG: 60.0, bound_kernel.QUICK: 40.0, bound_kernel.PASSES: 70.0,
        bound_kernel.WARE_FILM: 4000.0, bound_kernel.TANK: 4500.0, bound_kernel.WARE: 3500.0,
        bound_kernel.ROOM: 20.0, bound_kernel.INLET: 12.0, bound_kernel.INLET_J: 50_000.0,
        bound_kernel.INLET_BEND: 300.0, bound_kernel.AIR: 1.2, bound_kernel.HEAT: 80.0,
        bound_kernel.SWITCHED: 1900.0, bound_kernel.APART: 0.2,
    }  # fmt: skip
    assert sorted(usual) == list(range(bound_kernel.QUANTITIES))
    middle = np.array([usual[number] for number in range(bound_kernel.QUANTITIES)])[None, :, None]
    return middle * random.uniform(0.9, 1.1, (BOXES, bound_kernel.QUANTITIES, 2))


def states(random: np.random.Generator) -> np.ndarray:
    low, high = np.array([15.0, 10.0, 15.0, 6.0]), np.array([70.0, 70.0, 104.0, 9.0])
    return random.uniform(low[:, None, None], high[:, None, None], (4, 2, BOXES))


def flows(random: np.random.Generator) -> np.ndarray:
    found = random.uniform(0.0, 0.1, (STEPS, BOXES, bound_kernel.FLOWS, 2))
    found[:, :, bound_kernel.BEFORE] += 3.0
    return found


def slopes_arguments(random: np.random.Generator, switched: int) -> Arguments:
    below_c = random.uniform(30.0, 60.0, BOXES)
    return boxes(random), flows(random)[0], states(random), 1.5, 3e-4, switched, below_c


def steps_arguments(random: np.random.Generator, holds: bool, drains: bool) -> Arguments:
    times_s = np.cumsum(random.uniform(1.0, 20.0, STEPS + 1))
    left_kg = np.sort(random.uniform(0.5, 9.0, (STEPS + 1, BOXES, 2)), axis=0)[::-1].copy()
    flowing = np.zeros((1, BOXES, bound_kernel.FLOWS, 2)) if holds else flows(random)
    switched = bound_kernel.BELOW if holds else bound_kernel.NEVER
    below_c, cap_c = random.uniform(40.0, 60.0, BOXES), random.uniform(60.0, 65.0, BOXES)
    return (
        times_s, boxes(random), flowing, left_kg if drains else left_kg[:0], states(random),
        holds, 3e-4, switched, below_c, cap_c if holds else cap_c[:0],
    )  # fmt: skip


def drive_arguments(random: np.random.Generator) -> Arguments:
    drive = random.uniform(0.5, 1.5, (equations_kernel.ROWS, BOXES)) * 10.0
    drive[equations_kernel.TANK] *= 400.0
    drive[equations_kernel.FILM] = random.uniform(0.0, 0.3, BOXES)
    return drive, random.uniform(0.0, 900.0, BOXES), states(random)[:3, 0]


CASES: dict[str, tuple[Callable[..., Any], Callable[[np.random.Generator], Arguments]]] = {
    "slopes, no thermostat": (bound_kernel_batch.all_slopes, lambda random: slopes_arguments(random, 0)),
    "slopes, on below": (bound_kernel_batch.all_slopes, lambda random: slopes_arguments(random, 1)),
    "slopes, on": (bound_kernel_batch.all_slopes, lambda random: slopes_arguments(random, 2)),
    "edges": (bound_kernel_batch.all_edges, lambda random: (boxes(random), states(random))),
    "mixed": (bound_kernel_batch.all_mixed, lambda random: (boxes(random), states(random))),
    "evaporate": (
        bound_kernel_batch.all_evaporate,
        lambda random: (states(random)[2], random.uniform(0.5, 3.0, (2, BOXES)), 3e-4),
    ),
    "steps of a fill": (bound_kernel_batch.all_steps, lambda random: steps_arguments(random, False, False)),
    "steps of a drain": (bound_kernel_batch.all_steps, lambda random: steps_arguments(random, False, True)),
    "steps of a hold": (bound_kernel_batch.all_steps, lambda random: steps_arguments(random, True, False)),
    "two nodes": (equations_kernel.two_nodes, lambda random: (*drive_arguments(random), True, 3e-4)),
    "boiling": (
        equations_kernel.boiling,
        lambda random: (*drive_arguments(random), random.uniform(0.1, 0.9, BOXES)),
    ),
    "integral": (
        lethality_kernel.integrals_s,
        lambda random: (
            np.cumsum(random.uniform(0.0, 9.0, (BOXES, STEPS)), axis=1),
            random.uniform(20.0, 90.0, (BOXES, STEPS)).round(-1),
            *(-9.0, 0.11, 35.0, 80.0),
        ),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_it_does_what_its_text_says(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    function, made = CASES[name]
    arguments = made(np.random.default_rng(7))
    found = function(*arguments)
    expected = uncompiled(function, monkeypatch)(*arguments)
    for one, other in zip(np.atleast_1d(found), np.atleast_1d(expected), strict=True):
        assert one == pytest.approx(other, rel=1e-10)
        assert np.isfinite(one).all()


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


def test_each_inner_loop_is_looked_at() -> None:
    """A loop over all boxes or cases that no case above runs."""
    folder = Path(bound_kernel.__file__).parent
    named = {
        line.split("(")[0].removeprefix("def ")
        for name in ("bound_kernel_batch", "equations_kernel", "lethality_kernel")
        for line in (folder / f"{name}.py").read_text(encoding="utf-8").splitlines()
        if line.startswith("def ") and not line.startswith("def _")
    }
    looked_at = {function.__name__ for function, _ in CASES.values()}
    assert named - looked_at == {"all_held"}, "all_held is held by the steps of a hold"
