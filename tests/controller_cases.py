"""Programmes for the reference controller: those of the shipped machines, and small ones made by hand."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import planner_cases
import pytest
from check_cases import sample_cases
from controller_plant import Run, Scenario, run
from controller_rig import Hook, compiled
from numpy.typing import NDArray
from plan_cases import MACHINE, plan_case

from optimizer.emit.forms import FORMS
from optimizer.emit.several import Several
from optimizer.plan_and_prove import Proven
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round
from optimizer.programme.plan import Plan

SHIPPED = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
"""Timed; thermostat and level switch; thermostat; no element."""
STEAMED = "garage-120v, steamed"
"""Thermostat, and a last round that boils."""
INSTEAD = {STEAMED: ("garage-120v", "steamed-glasses"), "cold-shed": ("cold-shed", "fresh-cups")}
"""The machine and goal planned for, where it is not everyday: the shed has no heat, so no plan for that."""

QUICK_TO_TEST = ("clubhouse",)
"""The others are long cases, one with every sensor and switch among them."""


def by_machine(cases: Iterable[Any]) -> list[Any]:
    """Mark the cases of the other machines as slow; a case is a machine, or begins with one."""
    found = []
    for case in cases:
        values = (case,) if isinstance(case, str) else case
        found.append(pytest.param(*values, marks=[pytest.mark.slow] * (values[0] not in QUICK_TO_TEST)))
    return found


_FOLDER = Path(tempfile.mkdtemp(prefix="controller-"))
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)


def built(plan: Plan, *options: str, source: Path | None = None) -> Path:
    """Compile the controller for a plan, in a folder of its own."""
    folder = Path(tempfile.mkdtemp(dir=_FOLDER))
    (folder / "wash_timing.h").write_text(FORMS["c"].text(plan), encoding="utf-8")
    return compiled(folder, *options, source=source)


def built_several(plans: Mapping[str, Plan], *options: str) -> Path:
    """Compile the controller for several programmes, in a folder of its own."""
    folder = Path(tempfile.mkdtemp(dir=_FOLDER))
    (folder / "wash_timing.h").write_text(FORMS["c"].write_several(Several.of_plans(plans)), encoding="utf-8")
    return compiled(folder, *options)


def proven(machine: str) -> Proven:
    """Plan and prove the everyday goal on a shipped machine, or what it can do in its place."""
    return planner_cases.proven(*INSTEAD.get(machine, (machine, "everyday")))


@cache
def program(machine: str) -> Path:
    """Compile the controller for a shipped machine."""
    return built(proven(machine).plan)


def least_hooks(machine: Machine) -> Hook:
    """Give only the hooks that the programme cannot do without."""
    thermostat = machine.element is not None and machine.element.control == "thermostat"
    level = machine.inlet.control == "level"
    return (Hook.BATH if thermostat else Hook(0)) | (Hook.FULL if level else Hook(0))


def all_hooks(machine: Machine) -> Hook:
    """Give every hook that the machine can serve."""
    element = Hook.BATH | Hook.COVERED if machine.element is not None else Hook(0)
    return least_hooks(machine) | element | Hook.OVERFLOW | Hook.FLAG | Hook.DETERGENT


@cache
def sound_run(machine: str) -> Run:
    """Run a shipped machine's programme: the nominal case first, then balanced ends of its tolerances."""
    found = proven(machine)
    inputs, constants = found.plan.inputs, found.plan.constants
    hooks = all_hooks(inputs.machine)
    corners = range(sample_cases(inputs.machine).corners)
    scenarios = [Scenario("nominal", hooks), *(Scenario(f"corner {n}", hooks, case=n) for n in corners)]
    return run(inputs.machine, program(machine), scenarios, constants.total_max_s + 60)


QUICK_MACHINE = Machine.model_validate(
    MACHINE
    | {
        "title": "Quick rig",
        "inlet": {"water_c": 12.0, "flow_l_per_min": 40.0, "valve_w": 6.0, "control": "timed"},
        "tank": {**MACHINE["tank"], "residual_l": 0.3},
        "wash_pump": {**MACHINE["wash_pump"], "prime_l": 0.5, "holdup_l": 0.2},
        "drain_pump": {**MACHINE["drain_pump"], "flow_l_per_min": 40.0},
        "element": {**MACHINE["element"], "cover_l": 0.5, "rest_s": 5},
    }
)
"""A rig that fills, heats and empties in seconds, so that short phases stand up to the header's limits."""
QUICK = (
    Round("prerinse", 4, 0, 5, 0, 0, 0, 7, 0),
    Round("wash", 5, 6, 9, 4, 0, 3, 8, 21, soak_s=6, top_up_s=2, mix_s=3),
    Round("rinse", 4, 5, 4, 0, 0, 0, 7, 0),
    Round("rinse", 4, 0, 6, 6, 0, 2, 8, 0),
    Round("steam", 3, 9, 0, 0, 0, 4, 7, 0),
)


SWITCHED = (
    Round("wash", 9, 30, 40, 25, 400, 0, 7, 0, soak_s=5, top_up_s=2, mix_s=3),
    Round("rinse", 9, 0, 30, 30, 500, 2, 7, 0),
    Round("steam", 9, 9, 0, 0, 0, 4, 7, 0, top_up_s=3),
)
"""Heat to the setpoint and hold; hold only; boil."""


def quick_plan(rows: Sequence[Round] = QUICK, **numbers: object) -> Plan:
    """Make a plan of short phases."""
    # A timed machine whose owner fitted a sensor and states its limit.
    usual = {"bath_max_dc": 750, "start_drain_s": 9, "stand_s": 6}
    usual["after_soak_s"] = 3 if any(row.soak_s for row in rows) else 0
    return plan_case(*rows, machine=QUICK_MACHINE, **(usual | numbers))


def switched_plan() -> Plan:
    """Make a plan of short phases for the quick rig with a thermostat and a level switch."""
    element = {**QUICK_MACHINE.model_dump()["element"], "control": "thermostat", "sensor_error_k": 1.0}
    inlet = {**QUICK_MACHINE.model_dump()["inlet"], "control": "level", "level_l": 1.5}
    machine = Machine.model_validate({**QUICK_MACHINE.model_dump(), "element": element, "inlet": inlet})
    return plan_case(*SWITCHED, machine=machine, start_drain_s=9, stand_s=6, after_soak_s=3)


def outputs_of(constants: Constants) -> NDArray[np.uint8]:
    """List the outputs of a timed programme, one number a second, from the phases of the check."""
    from optimizer.check.phases import phases

    seconds: list[int] = []
    for phase in phases(constants):
        on = phase.outputs
        both = on.inlet * 1 + on.element * 2 + on.wash_pump * 4 + on.drain_pump * 8
        seconds += [both] * phase.longest_s
    return np.array(seconds, np.uint8)
