"""Oracle: on tiny machines, every programme of a coarse grid is tried; the planner must not be dearer."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from planner_cases import tiny

from optimizer.planner.choose import choose
from optimizer.planner.requirements import Assessor
from optimizer.planner.simulate import Mode, Settings, Structure
from optimizer.programme.plan import Inputs

WASH, RINSE = 1, 2
ELEMENT_S = np.arange(600.0, 3001.0, 600.0)
SPRAY_S = np.arange(600.0, 4801.0, 600.0)
FILLS_S = (42.0, 62.0)
SETPOINTS_C = np.array([45.0, 55.0, 65.0])

THERMOSTAT = {"machine__element__control": "thermostat", "machine__element__sensor_error_k": 1.0}
MACHINES = {
    "timed": tiny(),
    "thermostat": tiny(**THERMOSTAT),
    "no element": tiny(machine__element=None, goal__dose__0__floor_c=3.0, goal__limits__duration_min=240.0),
}


def structures(inputs: Inputs) -> list[Structure]:
    modes = [Mode.UNHEATED] if inputs.machine.element is None else list(Mode)[:3]
    found = []
    for washes, rinses in itertools.product((1, 2), (1, 2)):
        for picked in itertools.product(modes, repeat=washes):
            kinds = (WASH,) * washes + (RINSE,) * rinses
            found.append(Structure(kinds, picked + (Mode.UNHEATED,) * rinses))
    return [one for one in found if one.kinds.count(WASH) == 1 or one.modes[0] is Mode.UNHEATED]


def candidates(structure: Structure, thermostat: bool) -> Settings:
    """Every combination of the grid; one element time, spray and set point for all heated washes."""
    heated = any(mode is not Mode.UNHEATED for mode in structure.modes)
    axes = [
        np.array(FILLS_S),
        np.array(FILLS_S),
        ELEMENT_S if heated else np.zeros(1),
        SPRAY_S,
        SETPOINTS_C if heated and thermostat else np.full(1, np.inf),
    ]
    wash_fill, rinse_fill, element, spray, setpoint = (
        part.ravel() for part in np.meshgrid(*axes, indexing="ij")
    )
    washes = np.array(structure.kinds) == WASH
    mode_s = np.array([mode is not Mode.UNHEATED for mode in structure.modes])
    whilst = np.array([mode is Mode.WHILE_SPRAYING for mode in structure.modes])
    return Settings(
        fill_s=np.where(washes, wash_fill[:, None], rinse_fill[:, None]),
        element_s=np.where(mode_s, element[:, None], 0.0),
        spray_s=np.where(washes, spray[:, None] + np.where(whilst, element[:, None], 0.0), 120.0),
        setpoint_c=np.where(mode_s, setpoint[:, None], np.inf),
    )


def brute_force(inputs: Inputs) -> float:
    """Cheapest programme of the grid that holds in every corner."""
    assessor, best = Assessor(inputs), np.inf
    for structure in structures(inputs):
        every = candidates(structure, assessor.thermostat)
        for part in np.array_split(np.arange(len(every.spray_s)), 1 + len(every.spray_s) // 400):
            some = Settings(
                every.fill_s[part], every.element_s[part], every.spray_s[part], every.setpoint_c[part]
            )
            margins, bill = assessor.run(structure, some)
            holds = np.concatenate(list(margins.values()), axis=1).min(axis=1) >= -1e-9
            best = min(best, float(bill.objective[holds].min(initial=np.inf)))
    return best


@pytest.mark.parametrize("name", MACHINES)
def test_no_programme_of_the_grid_is_cheaper(name: str) -> None:
    inputs = MACHINES[name]
    choice, best = choose(Assessor(inputs)), brute_force(inputs)
    assert np.isfinite(best), "a grid without a programme that holds proves nothing"
    assert choice is not None
    assert choice.trimmed.objective <= best * 1.001


def test_the_grid_and_the_planner_agree_that_there_is_nothing() -> None:
    """Without an element the floor of the dose is out of reach, whatever the times."""
    cold = tiny(machine__element=None)
    assert choose(Assessor(cold)) is None
    assert brute_force(cold) == np.inf
