"""Every number of a table, one step past its limit, is refused by the check, in every form alike.

The limits are found by bisection with the check itself. Nothing is listed here but which requirement refuses.
"""

from __future__ import annotations

import re
from dataclasses import fields
from functools import cache

import pytest
from every_number import OUTSIDE, Judge, judged_names, plan_without_tolerances
from exploring import TIMES

from optimizer.emit.forms import FORMS
from optimizer.emit.meanings import FLAGS, WATCHDOGS, numbers
from optimizer.emit.read import read_constants
from optimizer.emit.shared_limits import CHOICES, FIXED, is_watchdog
from optimizer.errors import InputError
from optimizer.programme.constants import KINDS, UINT16_MAX, Constants, Round

CLEAN = ("dose.", "hygiene.", "drying.ware_heat", "rinse.residue", "detergent.bath_c",
         "detergent.drain_c", "first_rinse.bath_c")  # fmt: skip
"""What heat and time are for."""
LONG = ("limits.duration_min", "limits.standing_min")
UNSIGNED = ("bad input",)
"""No number is below 0, and what the machine has no use for is 0."""
STEPS = ("ware.drop_k", "ware.rise_k", "first_wash.bath_c")
"""What a colder or a hotter bath does to the ware."""
NEEDS = (*STEPS, "cover.", "tank.", "watchdog.reading_c", "outputs.conflicts", "circuit.", "bad input")
"""What a phase that was not there, or not so long, would ask for."""

JUDGED_BY = {
    # By name: which requirements refuse what is too little, and what is too much.
    "start_drain_s": (("start_drain.left_l",), (*LONG, "bad input")),
    "gap_s": (("bad input",), (*LONG, *CLEAN)),
    "after_soak_s": (("soak.", *UNSIGNED), ("soak.", *CLEAN, "bad input")),
    "stand_s": (("drying.stand_min", *UNSIGNED), LONG),
    "lid_open_after_s": (("lid.shut_s", *UNSIGNED), ("lid.ajar_s",)),
    "hysteresis_dk": (UNSIGNED, (*CLEAN, "bad input")),
    "bath_max_dc": (("watchdog.reading_c", "bad input"), ("bad input",)),
    "fill_s": (("cover.", "drain.bath_c", "fill.reaches_s", "rinse.residue", "detergent.most_g_per_l",
                "tank.", "steam.", *STEPS),
               ("fill.stuck_s", "overflow.", "drain.", "detergent.least_g_per_l", "limits.water_l", *CLEAN,
                *STEPS)),
    "heat_s": ((*CLEAN, *STEPS, *UNSIGNED), ("heat.cold_sensor_s", "drain.bath_c", "steam.", *NEEDS, *LONG)),
    "spray_s": ((*CLEAN, "drain.bath_c", "prerinse.spray_min", "rinse.spray_min", *UNSIGNED, "soak."),
                (*LONG, *CLEAN, *NEEDS, "drain.bath_c")),
    "spray_element_s": ((*CLEAN, *UNSIGNED), (*NEEDS, "heat.", "drain.bath_c")),
    "setpoint_dc": ((*CLEAN, *STEPS, *UNSIGNED), (*NEEDS, "drain.bath_c")),
    "soak_s": ((*CLEAN, *UNSIGNED), (*LONG, *CLEAN, "soak.", "bad input")),
    "rest_s": (("outputs.conflicts", "drain.bath_c", *CLEAN, *UNSIGNED), ("soak.rest_min", *LONG, *CLEAN)),
    "top_up_s": (
        ("drain.bath_c", *UNSIGNED),
        ("overflow.", "drain.left_l", "drying.top_up_l", "limits.water_l", *LONG, *CLEAN),
    ),
    "mix_s": (("drain.bath_c", *UNSIGNED), (*LONG, *CLEAN, "bad input", "drain.")),
    "drain_s": (("drain.left_l", *CLEAN), (*LONG, *CLEAN, "bad input")),
    "detergent_dg": (("detergent.least_g", *UNSIGNED), ("detergent.most_g_per_l", "detergent.elsewhere_g")),
}  # fmt: skip

QUICK = "clubhouse/everyday"
PAIRS = (QUICK, "narrowboat/everyday", "garage-120v/nursery", "garage-120v/steamed-glasses")

HAS_MORE = {
    "narrowboat/everyday": "whole wash",
    "garage-120v/nursery": "rinse",
    "garage-120v/steamed-glasses": "whole steam",
}
"""What these have that those before have not: a wash that is held warm, a rinse held hot, steam. The rest of
them is tried with SCULLION_EXPLORE."""

PROGRAMME_MISSED = re.compile(
    r"dose\.|hygiene\.|drying\.|rinse\.|prerinse\.|limits\.|soak\.|detergent\.(bath|drain)_c|"
    r"first_wash\.|first_rinse\.|watchdog\."
)
"""Rows that say whether the ware gets clean in time, or a sound run is stopped; a printed range speaks of the
others, of the machine."""

COLD = "heat.cold_sensor_s"
"""Sets the longest heating against a sound one to the setpoint: lower, that asks for a shorter `heat_s` too.

With the proven `heat_s` a sensor that reads cold heats no longer than in the proven table, whatever the
setpoint.
"""


@cache
def judge_of(pair: str) -> Judge:
    return Judge(plan_without_tolerances(*pair.split("/")))


def inner(name: str) -> str:
    return re.sub(r"^round_\d+_", "", name)


def unsafe_in(refused: tuple[str, ...]) -> list[str]:
    return [key for key in refused if not PROGRAMME_MISSED.match(key)]


def lower_setpoint(judge: Judge, name: str, value: int) -> bool:
    return inner(name) == "setpoint_dc" and value < numbers(judge.plan.constants)[name]


def cases() -> list[object]:
    """The wash and the programme as a whole of one pair; the others, and all rounds, are long."""
    found: list[object] = [pytest.param(QUICK, quick, id=f"{QUICK} {quick}") for quick in ("whole", "wash")]
    found += [pytest.param(QUICK, "other", id=f"{QUICK} other", marks=pytest.mark.slow)]
    for pair in PAIRS[1:]:
        part = "every" if TIMES else HAS_MORE[pair]
        found.append(pytest.param(pair, part, id=pair, marks=pytest.mark.slow))
    return found


def names_of(judge: Judge, part: str) -> list[str]:
    constants = judge.plan.constants

    def belongs(name: str) -> bool:
        if not name.startswith("round_"):
            return part.startswith(("whole", "every"))
        kind = constants.rounds[int(name.split("_")[1]) - 1].kind
        return part == "every" or kind in part.split() or (part == "other" and kind != "wash")

    return [name for name in judged_names(constants) if belongs(name)]


def test_every_number_has_its_judges() -> None:
    """A new constant is none until it is said here what refuses it."""
    table = {field.name for field in fields(Constants) if field.type == "int"}
    rounds = {field.name for field in fields(Round) if field.type == "int"}
    assert table | rounds == set(JUDGED_BY)
    constants = judge_of(QUICK).plan.constants
    others = {inner(name) for name in numbers(constants) if not is_watchdog(name)} - set(JUDGED_BY)
    assert others == {*FIXED, *CHOICES, "kind"}


@pytest.mark.parametrize(("pair", "part"), cases())
def test_one_step_past_its_limit_every_form_is_refused(pair: str, part: str) -> None:
    judge = judge_of(pair)
    for name in names_of(judge, part):
        for step, judges in zip((-1, 1), JUDGED_BY[inner(name)], strict=True):
            limit = judge.limit(name, step)
            assert judge.passes(name, limit), (name, limit)
            assert -1 <= limit + step <= UINT16_MAX + 1, (name, limit)
            found = judge.refused_in(judge.with_value(name, limit + step))
            assert set(found) == {"plan", *FORMS}
            assert all(found.values()), (name, limit + step, found)
            assert any(key.startswith(judges) for key in found["plan"]), (name, limit + step, found["plan"])
            if part != "wash":  # its numbers are many
                assert judge.refused_by_check(judge.with_value(name, limit + step)), (name, limit + step)


@pytest.mark.parametrize(("pair", "part"), cases())
def test_what_a_file_prints_beside_a_number_agrees_with_the_check(pair: str, part: str) -> None:
    """In its range the machine is safe; past it the file is refused, whatever the programme might do."""
    judge = judge_of(pair)
    found = judge.ranges
    for name in names_of(judge, part):
        low, high = found.range_of(name)
        assert low <= numbers(judge.plan.constants)[name] <= high
        for value in (low, high):
            refused = judge.refusal(judge.with_value(name, value))
            unsafe = unsafe_in(refused)
            if unsafe == [COLD] and lower_setpoint(judge, name, value):
                shorter = {name: value, name.replace("setpoint_dc", "heat_s"): 1}
                unsafe = unsafe_in(judge.refusal(judge.with_values(shorter)))
            assert not unsafe, (name, value, refused)
            in_json = judge.refused_in(judge.with_value(name, value))["json"]
            assert in_json == refused
        for value in (low - 1, high + 1):
            refused_in = judge.refused_in(judge.with_value(name, value))
            for form in ("c", "csv", "micropython", "iec"):
                rules = refused_in[form]
                assert any(OUTSIDE in rule or "whole number" in rule for rule in rules), (name, value, rules)


@pytest.mark.parametrize("name", [*FIXED, "round_1_kind", "round_2_kind", "round_3_kind"])
def test_another_shape_is_refused_in_every_form(name: str) -> None:
    judge = judge_of(QUICK)
    value = numbers(judge.plan.constants)[name]
    others = {1 - value} if name in FLAGS else {value - 1, value + 1}
    if name.endswith("_kind"):
        others = set(range(len(KINDS))) - {value}
    for other in others:
        found = judge.refused_as_text({name: other})
        if name == "rounds":
            del found["json"]  # the list says it
        assert all(found.values()), (name, other, found)


@pytest.mark.parametrize("name", [*WATCHDOGS, "round_1_element_max_s", "round_2_element_max_s"])
def test_a_watchdog_by_itself_is_refused_in_every_form(name: str) -> None:
    judge = judge_of(QUICK)
    value = numbers(judge.plan.constants)[name]
    for other in (value - 1, value + 1):
        assert all(judge.refused_as_text({name: other}).values()), (name, other)


@pytest.mark.parametrize("form", [form for form in FORMS if form != "json"])
def test_names_are_read_with_their_case(form: str) -> None:
    """Another case is another name, which no controller would find."""
    text = FORMS[form].text(judge_of(QUICK).plan)
    for name in ("total_max_s", "round_2_heat_s"):
        shown = FORMS[form].shown(name)
        with pytest.raises(InputError) as caught:
            read_constants(text.replace(shown, shown.swapcase()), "file")
        assert any(issue.key.endswith(shown) and issue.rule == "is missing" for issue in caught.value.issues)
