"""Every number of a table to its limits: found by bisection with the check, and written in every form."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product

import numpy as np
from check_cases import exact
from emit_cases import in_every_form
from exploring import TIMES

from optimizer.check.box import box_of
from optimizer.check.certify import Runs, check, misfits
from optimizer.emit.forms import FORMS
from optimizer.emit.limits import limits
from optimizer.emit.meanings import constants_from, numbers
from optimizer.emit.read import read_constants
from optimizer.emit.shared_limits import CHOICES, FIXED, ConstantLimits, is_watchdog
from optimizer.errors import InputError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.machine import Machine
from optimizer.programme.constants import UINT16_MAX, Constants
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan

OUTSIDE = "is outside the range that this file prints beside it"


def plan_without_tolerances(machine: str, goal: str) -> Plan:
    """Plan a shipped pair on the nominal machine, so that one check takes a tenth of a second."""
    inputs = load_inputs(machine, goal)
    nominal = Machine.model_validate(exact(inputs.machine.model_dump(exclude_none=True)))
    return plan_and_prove(replace(inputs, machine=nominal)).plan


@dataclass(frozen=True)
class Judge:
    """A plan whose numbers are changed one at a time, the watchdogs with them."""

    plan: Plan
    known: dict[Constants, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def texts(self) -> dict[str, str]:
        """The plan's file in every form."""
        return in_every_form(self.plan)

    @cached_property
    def ranges(self) -> ConstantLimits:
        """What the plan's files print beside the numbers."""
        return limits(self.plan)

    def with_value(self, name: str, value: int) -> Constants:
        return self.with_values({name: value})

    def with_values(self, changes: Mapping[str, int]) -> Constants:
        constants = self.plan.constants
        return constants_from({**numbers(constants), **changes}, constants.input_sha256)

    def refusal(self, constants: Constants) -> tuple[str, ...]:
        """What the check refuses: keys of rows that fail, or of what is not well formed; empty: it passes."""
        if constants not in self.known:
            self.known[constants] = self._refusal(constants)
        return self.known[constants]

    def _refusal(self, constants: Constants) -> tuple[str, ...]:
        """Run the check at all corners there are, without search and bounds.

        What has no exact value is how wet the machine is at the start and, with a thermostat, how the sensor
        errs: the slowest heating is that of a wet machine whose sensor reads low.
        """
        inputs = self.plan.inputs
        issues = misfits(constants, inputs.machine)
        if issues:
            return tuple(f"bad input: {issue.key}" for issue in issues)
        runs = Runs(constants, inputs.machine, inputs.goal, inputs.circuit, box_of(inputs.machine))
        ends = np.array(list(product((False, True), repeat=runs.box.size)))
        points = runs.box.vertices(ends)
        return tuple(row.key for row in runs.run(points).rows() if not row.passed)

    def refused_by_check(self, constants: Constants) -> bool:
        """Whether the whole check refuses it: by a point, or by the bounds that are looked for if none does.

        With SCULLION_EXPLORE the bounds are looked for either way, as a user's check does.
        """
        inputs, leave_out = self.plan.inputs, "nothing" if TIMES else "bounds"
        rest = (inputs.machine, inputs.goal, inputs.circuit)
        try:
            return not check(constants, *rest, draws=0, leave_out=leave_out).passed
        except InputError:
            return True

    def passes(self, name: str, value: int) -> bool:
        return not self.refusal(self.with_value(name, value))

    def limit(self, name: str, step: int) -> int:
        """The last value that passes, going down (step -1) or up (1)."""
        value = numbers(self.plan.constants)[name]
        end = self.ranges.range_of(name)[step > 0]
        far = -1 if step < 0 else UINT16_MAX + 1
        if self.passes(name, end):
            return self._last(lambda v: self.passes(name, v), end, far, step)
        return self._last(lambda v: self.passes(name, v), value, end, step)

    @staticmethod
    def _last(holds: Callable[[int], bool], good: int, bad: int, step: int) -> int:
        """Go on from a value that holds to the last that does: by 1, 2, 4 …, then by bisection."""
        stride = 1
        while (bad - good) * step > stride and holds(good + step * stride):
            good, stride = good + step * stride, 2 * stride
        if (bad - good) * step > stride:
            bad = good + step * stride
        while abs(bad - good) > 1:
            middle = (good + bad) // 2
            good, bad = (middle, bad) if holds(middle) else (good, middle)
        return good

    def refused_as_text(self, changes: Mapping[str, int]) -> dict[str, tuple[str, ...]]:
        """By form, what is refused of the plan's file with other numbers, edited by hand."""
        found = {}
        for name, text in self.texts.items():
            for changed, value in changes.items():
                text = with_value(name, text, changed, value)
            try:
                found[name] = self.refusal(read_constants(text, "file"))
            except InputError as error:
                found[name] = tuple(issue.rule for issue in error.issues)
        return found

    def refused_in(self, constants: Constants) -> dict[str, tuple[str, ...]]:
        """The same by form and for a plan's own constants, its watchdogs changed along."""
        now, right = numbers(constants), numbers(self.plan.constants)
        changes = {name: value for name, value in now.items() if value != right[name]}
        return {"plan": self.refusal(constants), **self.refused_as_text(changes)}


def with_value(form: str, text: str, name: str, value: int) -> str:
    """Put another number into a file, by its name as it stands there."""
    shown, literal = FORMS[form].shown(name), FORMS[form].literal(name, value)
    if form == "json":
        content = json.loads(text)
        match = re.fullmatch(r"rounds\[(\d+)\]\.(\w+)", shown)
        table, key = (content["rounds"][int(match[1]) - 1], match[2]) if match else (content, shown)
        assert key in table
        table[key] = json.loads(literal)
        return json.dumps(content)
    patterns = {
        "c": rf"^(#define {shown} +)(\w+)",
        "csv": rf"^({shown},[^,]*,)([^,]*)",
        "micropython": rf"^({shown} = const\()([^)]*)",
        "iec": rf"^( *{shown} : \w+ := )([^;]*)",
    }
    text, count = re.subn(patterns[form], rf"\g<1>{literal}", text, flags=re.MULTILINE)
    assert count == 1, (form, name)
    return text


def judged_names(constants: Constants) -> list[str]:
    """Every amount but the watchdogs that follow; of rounds alike in kind and heat those of the last."""
    kept = {}
    for number, row in enumerate(constants.rounds, start=1):
        kept[row.kind, row.heated] = number
    return [
        name
        for name in numbers(constants)
        if not is_watchdog(name)
        and name not in (*FIXED, *CHOICES)
        and not name.endswith("_kind")
        and (not name.startswith("round_") or int(name.split("_")[1]) in kept.values())
    ]
