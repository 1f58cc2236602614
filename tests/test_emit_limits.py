"""Headers that refuse a bad edit: a constant at its bound compiles, one past it does not. Compilers judge."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from bisect import bisect
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest
from plan_cases import (
    HOT_RINSE,
    PRERINSE,
    RINSE,
    WASH,
    machine_profile,
    plan_case,
    soaked_plan,
    steam_plan,
    thermostat_plan,
)

from optimizer.emit.bench_run import bench_run
from optimizer.emit.c99 import C99
from optimizer.emit.limits import limits
from optimizer.emit.meanings import constants_from, numbers
from optimizer.emit.shared_limits import is_watchdog
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Certified, Plan

LANGUAGES = {
    "c99": ["cc", "-std=c99", "-x", "c"],
    "c11": ["cc", "-std=c11", "-x", "c"],
    "c++98": ["c++", "-std=c++98", "-x", "c++"],
    "c++11": ["c++", "-std=c++11", "-x", "c++"],
}
STRICT = ["-Wall", "-Wextra", "-Werror", "-pedantic", "-fsyntax-only"]
DEFINE = re.compile(r"^#define (WASH_\w+) +(\w+) /\* (.*) \*/$", re.MULTILINE)
ALLOWED = re.compile(
    r"; (\d+)(?:, allowed (\d+) to (\d+)| and nothing else|, follows from the phases)(?:;|$)"
)

pytestmark = pytest.mark.skipif(
    not all(shutil.which(command) for command, *_ in LANGUAGES.values()), reason="no C or C++ compiler here"
)


def timed() -> Plan:
    return plan_case(PRERINSE, WASH)


def thermostat() -> Plan:
    machine = machine_profile(level=True, thermostat=True)
    hot = replace(HOT_RINSE, setpoint_dc=655, fill_s=150)
    return plan_case(replace(RINSE, kind="prerinse", fill_s=150), hot, machine=machine)


PLANS = {
    "timed": timed,
    "thermostat": thermostat,
    "steam": steam_plan,
    "bench": lambda: bench_run(timed()),
}


@cache
def header_of(plan_name: str) -> str:
    return C99.text(PLANS[plan_name]())


@dataclass(frozen=True)
class Macro:
    """A constant of a header with the range in its comment."""

    name: str
    value: int
    low: int
    high: int


def macros(header: str) -> dict[str, Macro]:
    found = {}
    for name, _, comment in DEFINE.findall(header):
        allowed = ALLOWED.search(comment)
        assert allowed, comment
        value, low, high = (
            int(number) for number in (allowed[1], allowed[2] or allowed[1], allowed[3] or allowed[1])
        )
        found[name] = Macro(name, value, low, high)
    return found


def edited(header: str, changes: Mapping[str, int]) -> str:
    """Give the header with other numbers, as a person with an editor would leave it."""
    for name, value in changes.items():
        word = (
            f"WASH_KIND_{KINDS[value].upper()}"
            if name.endswith("_KIND") and value < len(KINDS)
            else f"{value}U"
        )
        header, count = re.subn(rf"^(#define {name} +)\w+", rf"\g<1>{word}", header, flags=re.MULTILINE)
        assert count == 1, name
    return header


def complained(folder: Path, language: str, name: str) -> str:
    command = [*LANGUAGES[language], *STRICT, name]
    environment = {**os.environ, "LC_ALL": "C"}
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, env=environment)
    return done.stderr


Judged = dict[tuple[str, str], str]
ASSERTIONS = re.compile(r"^WASH_ASSERT.*\n", re.MULTILINE)


def followed(values: Mapping[str, int]) -> dict[str, int]:
    """Values by macro with the watchdogs that follow from them, as a careful person edits a header."""
    plain = {name.removeprefix("WASH_").lower(): value for name, value in values.items()}
    try:
        right = numbers(constants_from(plain, ""))
    except (KeyError, IndexError):  # rounds or kinds that are not there
        return dict(values)
    follow = {f"WASH_{name.upper()}": value for name, value in right.items() if is_watchdog(name)}
    return {**values, **follow}


def edits(known: Mapping[str, Macro]) -> dict[tuple[str, str], dict[str, int]]:
    """Every edit of one constant, the watchdogs with it: to both ends of its range, and one past each."""
    found = {}
    whole = {name: macro.value for name, macro in known.items()}
    for macro in known.values():
        ends = {"low": macro.low, "high": macro.high, "above": macro.high + 1}
        if macro.low > 0:
            ends["below"] = macro.low - 1
        for end, value in ends.items():
            edited = {**whole, macro.name: value}
            if not is_watchdog(macro.name.removeprefix("WASH_").lower()):
                edited = followed(edited)
            changes = {name: number for name, number in edited.items() if number != whole[name]}
            found[macro.name, end] = changes
    return found


@cache
def judged(plan_name: str, language: str, folder: Path) -> Judged:
    """What the compiler says of each edit, in one run.

    The assertions of the header stand once more for every edit, under the edited numbers.
    """
    header = header_of(plan_name)
    known, assertions = macros(header), "".join(ASSERTIONS.findall(header))
    text, starts = [header], []
    for changes in edits(known).values():
        starts.append("".join(text).count("\n") + 1)
        for values in (changes, {name: known[name].value for name in changes}):
            text += [f"#undef {name}\n#define {name} {value}U\n" for name, value in values.items()]
            text += [assertions] if values is changes else []
    (folder / "edits.src").write_text("".join(text), encoding="utf-8")
    said = complained(folder, language, "edits.src")
    found = dict.fromkeys(edits(known), "")
    names = list(found)
    for block in re.split(r"^(?=edits\.src:\d+:\d+: error)", said, flags=re.MULTILINE)[1:]:
        # Where the macro is defined, and where it is used: further down.
        line = max(map(int, re.findall(r"^edits\.src:(\d+):", block, flags=re.MULTILINE)))
        assert line >= starts[0], block
        found[names[bisect(starts, line) - 1]] += block
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("headers")


SLOW = {("c99", "thermostat"), ("c99", "steam"), ("c99", "bench")}
"""C11 judges the same edits of these plans, C99 those of the timed one."""

EDITS = [(plan_name, name) for plan_name in PLANS for name in macros(header_of(plan_name))]
BY_LANGUAGE = [
    pytest.param(language, plan_name, name, marks=[pytest.mark.slow] if (language, plan_name) in SLOW else [])
    for language in LANGUAGES
    for plan_name, name in EDITS
    if language in ("c99", "c11") or plan_name == "timed"
]


@pytest.mark.parametrize(("language", "plan_name", "name"), BY_LANGUAGE)
def test_each_constant_to_its_bound_and_past_it(
    language: str, plan_name: str, name: str, folder: Path
) -> None:
    found = judged(plan_name, language, folder)
    assert found[name, "low"] == ""
    assert found[name, "high"] == ""
    for end in ("below", "above"):
        complaint = found.get((name, end))
        if complaint is None:
            assert macros(header_of(plan_name))[name].low == 0
            continue
        assert "error" in complaint
        assert names_it(complaint, name, language), complaint


def names_it(complaint: str, name: str, language: str) -> bool:
    """Whether what the compiler prints names the constant; an old one prints the line of the assertion."""
    if language in ("c11", "c++11"):
        return re.search(rf"static assertion failed: .*\b{name}\b", complaint) is not None
    return (
        "wash_assert_on_line_" in complaint
        and re.search(rf'WASH_ASSERT\(.*"[^"]*\b{name}\b', complaint) is not None
    )


def refusal(plan: Plan, changes: Mapping[str, int], folder: Path) -> str:
    header = C99.text(plan)
    whole = {name: macro.value for name, macro in macros(header).items()}
    (folder / "one.src").write_text(
        edited(header, {**followed({**whole, **changes}), **changes}), encoding="utf-8"
    )
    return complained(folder, "c11", "one.src")


LIP_S = (
    239  # (28 l / (0.99992 / 0.97486) - 0.8 - 0.2) l at 6.6 l/min: densities at 8 and 75 °C, IAPWS-95 tables
)
COVER_S = 104  # (7.5 + 1.5 - 0.4) l at 5 l/min, later round, hold-up while spraying
PRIME_S = 79  # (5.0 + 1.5) l and a thousandth at 5 l/min, first round, dry machine: 78.1 s


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        # The first fill may grow to the lip if the drain grows too (90 s are 9.9 l, at 12 l/min 50 s), or
        # shrink to the prime.
        ({"WASH_ROUND_1_FILL_S": LIP_S, "WASH_ROUND_1_DRAIN_S": 133}, ""),
        ({"WASH_ROUND_1_FILL_S": LIP_S + 1, "WASH_ROUND_1_DRAIN_S": 170}, "may run over"),
        ({"WASH_ROUND_1_FILL_S": LIP_S, "WASH_ROUND_1_DRAIN_S": 132}, "longer drain"),
        ({"WASH_ROUND_1_FILL_S": LIP_S, "WASH_ROUND_1_DRAIN_S": 133, "WASH_FILL_MAX_S": 120},
         "WASH_FILL_MAX_S"),
        ({"WASH_ROUND_1_FILL_S": PRIME_S}, ""),
        ({"WASH_ROUND_1_FILL_S": PRIME_S - 1}, "not covered under 79 s"),
        # A heated fill may shrink to the cover if the element goes with it: 1980 s for 120 s.
        ({"WASH_ROUND_2_FILL_S": COVER_S, "WASH_ROUND_2_HEAT_S": 1236}, ""),
        ({"WASH_ROUND_2_FILL_S": COVER_S, "WASH_ROUND_2_HEAT_S": 1237}, "hotter than was proven"),
        ({"WASH_ROUND_2_FILL_S": COVER_S - 1, "WASH_ROUND_2_HEAT_S": 900}, "not covered under 104 s"),
        # The watchdogs are what follows from the table: nothing less, and nothing more.
        ({"WASH_ROUND_2_HEAT_S": 900}, ""),
        ({"WASH_ROUND_2_HEAT_S": 900, "WASH_ELEMENT_MAX_S": 1381}, "WASH_ELEMENT_MAX_S"),
        ({"WASH_DRAIN_MIN_S": 29}, "WASH_DRAIN_MIN_S"),
        ({"WASH_TOTAL_MAX_S": 4455}, "WASH_TOTAL_MAX_S"),
        ({"WASH_ROUND_2_ELEMENT_MAX_S": 1979}, "WASH_ROUND_2_ELEMENT_MAX_S"),
        ({"WASH_ELEMENT_MAX_S": 1979}, "WASH_ELEMENT_MAX_S"),
        ({"WASH_ROUND_2_SPRAY_S": 1201, "WASH_TOTAL_MAX_S": 4000}, "WASH_TOTAL_MAX_S"),
        # Two phases within their own bounds are too long together.
        ({"WASH_ROUND_1_SPRAY_S": 3500, "WASH_ROUND_2_SPRAY_S": 5000}, "longer than the goal allows"),
    ],
)  # fmt: skip
def test_relations_between_constants(changes: dict[str, int], message: str, tmp_path: Path) -> None:
    plan = plan_case(PRERINSE, replace(WASH, fill_s=120, drain_s=80))
    found = refusal(plan, changes, tmp_path)
    assert (message in found) if message else found == ""


@pytest.mark.parametrize(
    ("row", "rest_s"),
    [
        (replace(WASH, spray_element_s=1200), 16),  # two pauses of 2 s and 16 s of rest make the 20 s
        (replace(WASH, spray_element_s=1195), 11),
        (replace(WASH, spray_element_s=1182), 0),  # 18 s of spray and one pause
        (replace(WASH, spray_element_s=1183), 1),
        (replace(WASH, spray_element_s=0, spray_s=16), 0),  # heated before the spray: a pause on either side
        (replace(WASH, spray_element_s=0, spray_s=15), 1),
    ],
)
def test_rest_before_the_drain(row: object, rest_s: int) -> None:
    """Seconds added up by hand; the range in the comment is what the compiler was shown to hold."""
    header = C99.text(plan_case(replace(row, rest_s=20)))  # type: ignore[type-var]
    assert macros(header)["WASH_ROUND_1_REST_S"].low == rest_s


def test_bounds_by_hand() -> None:
    found = macros(C99.text(timed()))
    nominal = {name: macro.value for name, macro in found.items()}
    assert found["WASH_ROUND_2_HEAT_S"].high == nominal["WASH_ROUND_2_HEAT_S"] == 1500
    # 10.56 l of 8 °C are 10.83 l at the 75 °C that the tank stands (IAPWS-95 tables): 54.2 s at 12 l/min
    assert (found["WASH_ROUND_2_DRAIN_S"].low, nominal["WASH_ROUND_2_DRAIN_S"]) == (55, 62)
    assert found["WASH_START_DRAIN_S"].low == 30
    assert found["WASH_BATH_MAX_DC"] == Macro("WASH_BATH_MAX_DC", 0, 0, 0), "nothing reads the bath"
    # 30 + (90 + 180 + 60 + 3 pauses of 2) + (96 + 1500 + 1200 + 20 + 62 + 5 pauses of 2) + 1200 of standing
    assert found["WASH_TOTAL_MAX_S"] == Macro("WASH_TOTAL_MAX_S", 4454, 4454, 4454)
    assert found["WASH_ROUND_1_SPRAY_S"].high == 180 + 10200 - 4454
    # Ohm's law: 900 W / 230² V² * 240 V, 85 W / (220 V * 0.6); the circuit leaves 6 A - 0.5 A - 3 W / 220 V
    assert (nominal["WASH_ELEMENT_MA"], nominal["WASH_PUMP_MA"]) == (4083, 643)
    assert (nominal["WASH_CIRCUIT_MA"], nominal["WASH_ELEMENT_REST_S"]) == (5486, 20)
    warm = macros(C99.text(thermostat()))
    # 75 °C of the tank less 1 K of sensor error and 4 K of top over mean, and half a kelvin under the bath's
    # watchdog, which may come down to half a kelvin over the setpoint.
    assert warm["WASH_ROUND_2_SETPOINT_DC"] == Macro("WASH_ROUND_2_SETPOINT_DC", 655, 1, 695)
    assert warm["WASH_BATH_MAX_DC"].low == 660
    # The level switch closes within 9.5 l at 5 l/min; what the planner added is the ceiling.
    assert (warm["WASH_ROUND_2_FILL_S"].low, warm["WASH_ROUND_2_FILL_S"].high) == (114, 150)


def test_bounds_of_a_soak_by_hand() -> None:
    """An hour by the goal, a minute of spray on either side, no heat after it."""
    found = macros(C99.text(soaked_plan()))
    # 30 + 336 + (96 + 1500 + 1200 + 900 + 62 and 6 pauses of 2) + 268 + 1732 + 1200 of standing
    assert found["WASH_TOTAL_MAX_S"] == Macro("WASH_TOTAL_MAX_S", 7336, 7336, 7336)
    assert found["WASH_ROUND_2_SOAK_S"] == Macro("WASH_ROUND_2_SOAK_S", 900, 1, 3600)
    assert found["WASH_AFTER_SOAK_S"] == Macro("WASH_AFTER_SOAK_S", 60, 60, 1200 - 480)
    assert found["WASH_ROUND_2_SPRAY_S"].low == 480 + 60
    assert found["WASH_ROUND_1_SOAK_S"] == Macro("WASH_ROUND_1_SOAK_S", 0, 0, 0)
    assert macros(C99.text(timed()))["WASH_AFTER_SOAK_S"] == Macro("WASH_AFTER_SOAK_S", 0, 0, 0)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"WASH_ROUND_2_SOAK_S": 3600}, ""),
        ({"WASH_ROUND_2_SOAK_S": 3601}, "longer than the goal lets the ware soak"),
        ({"WASH_ROUND_2_SOAK_S": 901, "WASH_TOTAL_MAX_S": 7336}, "WASH_TOTAL_MAX_S"),
        ({"WASH_AFTER_SOAK_S": 59}, "what a soak loosens is not sprayed off"),
        ({"WASH_AFTER_SOAK_S": 721}, "element on after the soak"),
        ({"WASH_AFTER_SOAK_S": 720}, ""),
        ({"WASH_ROUND_2_SPRAY_S": 119, "WASH_ROUND_2_SPRAY_ELEMENT_S": 0}, "wet all over before it soaks"),
        ({"WASH_ROUND_2_SPRAY_S": 120, "WASH_ROUND_2_SPRAY_ELEMENT_S": 0}, ""),
        ({"WASH_ROUND_3_SOAK_S": 1}, "no soak was proven here"),
    ],
)
def test_relations_of_a_soak(changes: dict[str, int], message: str, tmp_path: Path) -> None:
    found = refusal(soaked_plan(), changes, tmp_path)
    assert (message in found) if message else found == ""


def test_a_prerinse_may_not_be_set_above_its_own_ceiling() -> None:
    machine = machine_profile(level=True, thermostat=True)
    warm = replace(PRERINSE, heat_s=300, setpoint_dc=350, rest_s=20)
    assert macros(C99.text(plan_case(warm, machine=machine)))["WASH_ROUND_1_SETPOINT_DC"].high == 388


def test_the_watchdog_may_not_be_lower_than_the_check_guarantees() -> None:
    """The bound of a held bath is looser than its runs: a reading between the two is refused by the check."""
    plan = thermostat_plan()
    bath_max_dc = plan.constants.bath_max_dc
    low_dc, _ = limits(plan).range_of("bath_max_dc")
    assert low_dc < bath_max_dc - 10
    guaranteed = replace(plan, certified=Certified(reading_c=bath_max_dc / 10.0 - 1.0))
    assert limits(guaranteed).range_of("bath_max_dc")[0] == bath_max_dc - 10
