"""An oracle for the planner: every programme of three tiny machines on a coarse grid, tried one by one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from itertools import product
from typing import Any

import numpy as np
import pytest
from planner_cases import tiny

from optimizer.check.certify import check
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.search import choose
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Inputs

PRERINSE, WASH, RINSE = (KINDS.index(name) for name in ("prerinse", "wash", "rinse"))
LEVELS_S = (42.0, 52.0)
"""Inlet open: what covers pump and element with the pump off, and with it on [s]."""
BATCH = 4000

COLD: dict[str, Any] = {
    "machine__element": None,
    "goal__dose__0__floor_c": 5.0,
    "goal__dose__0__minutes": 3.0,
}
THERMOSTAT: dict[str, Any] = {
    "machine__element__control": "thermostat",
    "machine__element__sensor_error_k": 1.0,
}
DEAR_TIME: dict[str, Any] = {"tariff__value_per_min": 0.05}
DEAR_WATER: dict[str, Any] = {"tariff__water_per_m3": 60.0, "goal__rinse__residue_max": 0.003}
SOAKED: dict[str, Any] = {
    "goal__dose__0__kinds": ["prerinse", "wash"],
    "goal__dose__0__bare_share": 0.6,
    "tariff__value_per_min": 0.0,
}
CASES = {
    "timed": {},
    "timed, dear time": DEAR_TIME,
    "timed, dear water, clean rinse": DEAR_WATER,
    "timed, prerinse counts": SOAKED,
    "thermostat": THERMOSTAT,
    "thermostat, dear time": THERMOSTAT | DEAR_TIME,
    "no element": COLD,
    "no element, dear water, clean rinse": COLD | DEAR_WATER,
}


def structures(assessor: Assessor) -> Iterator[Structure]:
    """Up to one prerinse, two washes and three rinses, four rounds in all, the washes heated in every way."""
    modes = [mode for mode in (Mode.UNHEATED, Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) if assessor.heats(mode)]
    for pre, wash, rinse in product(range(2), range(1, 3), range(1, 4)):
        if pre + wash + rinse <= 4:
            for heats in product(modes, repeat=wash):
                kinds = (PRERINSE,) * pre + (WASH,) * wash + (RINSE,) * rinse
                yield Structure(kinds, (Mode.UNHEATED,) * pre + heats + (Mode.UNHEATED,) * rinse)


def every_settings(assessor: Assessor, structure: Structure, coarse: bool) -> Iterator[Settings]:
    """Every programme of a structure, a batch at a time."""
    counts = assessor.simulator.targets.counts
    axes: list[tuple[float, ...]] = []
    for kind, mode in zip(structure.kinds, structure.modes, strict=True):
        least_s = assessor.spray_least_s(kind)
        sprays = tuple(range(120, 3600, 900 if coarse else 360)) if counts(kind) else (least_s,)
        heated = mode is not Mode.UNHEATED
        axes += [
            LEVELS_S,
            tuple(max(spray, least_s) for spray in sprays),
            (600.0, 1200.0, 1800.0) if heated else (0.0,),
            ((45.0, 52.0) if coarse else (42.0, 47.0, 52.0)) if heated and assessor.thermostat else (np.inf,),
        ]
    table = np.array(np.meshgrid(*axes, indexing="ij")).reshape(len(axes), -1).T
    whiles = np.array(structure.modes) == Mode.WHILE_SPRAYING
    for start in range(0, len(table), BATCH):
        rows = table[start : start + BATCH]
        fill_s, spray_s, element_s, setpoint_c = (rows[:, column::4] for column in range(4))
        none = [0.0 * fill_s] * 5  # no soak, no second heating, no rest, no top-up
        yield Settings(fill_s, element_s, spray_s + element_s * whiles, setpoint_c, *none)


def cheapest(assessor: Assessor) -> float:
    """Best cost on the grid of what holds in every corner; inf where nothing does."""
    best = np.inf
    corners = assessor.simulator.corners
    few = tuple(
        sorted({int(np.flatnonzero(corners.cold)[-1]), int(np.flatnonzero(corners.hot)[0]), corners.nominal})
    )
    for structure in structures(assessor):
        coarse = structure.kinds.count(WASH) > 1
        for settings in every_settings(assessor, structure, coarse):
            margins, bill = assessor.run(Programme(structure, settings), few)
            worst = np.concatenate(list(margins.values()), axis=1).min(axis=1)
            for at in np.argsort(bill.objective):
                if bill.objective[at] >= best:
                    break
                if worst[at] >= 0.0 and holds(assessor, structure, settings, int(at)):
                    best = float(bill.objective[at])
    return best


def holds(assessor: Assessor, structure: Structure, settings: Settings, at: int) -> bool:
    one = slice(at, at + 1)
    picked = Settings(*(getattr(settings, field.name)[one] for field in fields(Settings)))
    margins, _ = assessor.run(Programme(structure, picked))
    return all(float(margin.min()) >= 0.0 for margin in margins.values())


SLOW = (
    *("timed, prerinse counts", "timed, dear time"),
    *("timed, dear water, clean rinse", "thermostat, dear time"),
)
"""Other prices, and other rounds that count, of machines that the others have at the usual ones."""


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] if name in SLOW else []) for name in CASES]
)
def test_no_programme_on_the_grid_is_cheaper(name: str) -> None:
    assessor = Assessor(tiny(**CASES[name]))
    best = cheapest(assessor)
    assert np.isfinite(best), "a case without any programme on the grid shows nothing"
    choice = choose(assessor)
    assert choice is not None
    assert choice.trimmed.objective <= best * 1.001
    margins, bill = assessor.run(choice.trimmed.programme)
    assert all(float(margin.min()) >= -1e-9 for margin in margins.values())
    assert float(bill.objective[0]) == pytest.approx(choice.trimmed.objective)


IMPOSSIBLE = {
    "cold water does not melt it": COLD | {"goal__dose__0__floor_c": 30.0},
    "no time to heat": {"goal__limits__duration_min": 16.0},
    "no water to rinse": {"goal__limits__water_l": 7.0},
    "too soft a tank": {"machine__tank__limit_c": 45.0, "goal__dose__0__floor_c": 42.0},
}


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_nothing_on_the_grid(name: str) -> None:
    """Where the grid, its ends generous, holds nothing: no plan, or one that the check passes."""
    inputs: Inputs = tiny(**IMPOSSIBLE[name])
    assessor = Assessor(inputs)
    assert cheapest(assessor) == np.inf
    if choose(assessor) is not None:
        assert check(plan(inputs).constants, inputs.machine, inputs.goal, inputs.circuit).passed
