"""The plan file: same input same bytes, read back as it was, and never a traceback for what is not one."""

from __future__ import annotations

import copy
import hashlib
import json
from dataclasses import replace
from typing import Any

import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import cold_plan, plan_case, thermostat_plan

from optimizer.errors import InputError
from optimizer.programme.plan import Plan, Prices
from optimizer.programme.planfile import inputs_sha256, plan_from_json, plan_to_json

PLANS = (plan_case(), thermostat_plan(), cold_plan())
TEXT = plan_to_json(PLANS[0])


def issues_of(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        plan_from_json(text, "plan.json")
    assert all(issue.subject == "plan.json" for issue in caught.value.issues)
    return [str(issue) for issue in caught.value.issues]


def edited(*path: str | int, value: Any) -> str:
    """Give the plan file with one value replaced, as a person with an editor would leave it."""
    content = json.loads(TEXT)
    table = content
    for step in path[:-1]:
        table = table[step]
    table[path[-1]] = value
    return json.dumps(content, indent=1)


@pytest.mark.parametrize("plan", PLANS)
def test_reads_back_what_was_written(plan: Plan) -> None:
    text = plan_to_json(plan)
    assert plan_from_json(text, "x") == plan
    assert plan_to_json(plan_from_json(text, "x")) == text


def test_the_text_is_canonical_json() -> None:
    assert TEXT.endswith("}\n")
    content = json.loads(TEXT)
    assert json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False) + "\n" == TEXT
    assert content["format"] == 2
    assert set(content["profiles"]) == {"machine", "goal", "circuit", "tariff"}


def test_hash_is_sha256_of_canonical_json() -> None:
    content = json.loads(TEXT)
    hashed = {"prices": content["prices"], "profiles": content["profiles"]}
    canonical = json.dumps(hashed, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert inputs_sha256(PLANS[0].inputs) == hashlib.sha256(canonical.encode()).hexdigest()


def test_hash_moves_with_profiles_and_prices_but_not_with_names() -> None:
    inputs = PLANS[0].inputs
    renamed = replace(inputs, names=("a", "b", "c", "d"))
    dearer = replace(inputs, prices=Prices(0.31, 0.3, 0.4))
    assert inputs_sha256(renamed) == inputs_sha256(inputs)
    assert len({inputs_sha256(i) for i in (inputs, dearer, PLANS[1].inputs, PLANS[2].inputs)}) == 4


def test_other_format_is_named_and_nothing_else() -> None:
    (issue,) = issues_of(edited("format", value=1))
    assert "format: this version reads plan format 2, found 1" in issue
    assert "scullion plan" in issue


def test_edited_profile_is_found_by_its_hash() -> None:
    (issue,) = issues_of(edited("profiles", "machine", "tank", "limit_c", value=74.0))
    assert "edited by hand" in issue
    assert "make the plan again" in issue


def test_a_hash_that_does_not_fit_blames_no_one_part() -> None:
    """Prices and the hash itself may have been edited as well as a profile."""
    for text in (
        edited("prices", "mean_per_kwh", value=0.31),
        edited("constants", "input_sha256", value="0" * 64),
    ):
        (issue,) = issues_of(text)
        assert "the profiles, the prices or the hash itself were edited by hand" in issue


ROUNDS = json.loads(TEXT)["constants"]["rounds"]


@pytest.mark.parametrize(
    ("path", "value", "key", "fix"),
    [
        (("rounds", 1, "spray_s"), -5, "rounds[2].spray_s", "at least 1"),
        (("rounds", 1, "spray_s"), 65536, "rounds[2].spray_s", "at most 65535"),
        (("rounds", 1, "spray_s"), 1e30, "rounds[2].spray_s", "make the plan again with scullion plan"),
        (("start_drain_s",), 0, "start_drain_s", "at least 1"),
        (("rounds",), [], "rounds", "add a wash round"),
        (("rounds",), [*ROUNDS, *ROUNDS[-1:] * 29], "rounds", "leave out 1 of them"),
        (("rounds",), ROUNDS[::-1], "rounds[3].kind", "every wash before the first rinse"),
    ],
)
def test_edited_constants_get_a_fix(path: tuple[str | int, ...], value: Any, key: str, fix: str) -> None:
    (issue,) = issues_of(edited("constants", *path, value=value))
    assert issue.startswith(f"plan.json: constants.{key}: ")
    assert issue.endswith(f"\n    fix: {fix}")


def test_edited_constants_are_left_to_the_check() -> None:
    plan = plan_from_json(edited("constants", "rounds", 1, "spray_s", value=1100), "x")
    assert plan.constants.rounds[1].spray_s == 1100


@pytest.mark.parametrize(
    "path",
    [
        ("names", "machine"),
        ("names", "tariff"),
        ("profiles", "machine", "title"),
        ("profiles", "goal", "about"),
        ("solver", "name"),
        ("solver", "status"),
        ("scullion",),
    ],
)
@pytest.mark.parametrize("sign", ["\x1b", "\x9b", "\u202e"])
def test_escapes_in_a_plan_never_come_out_of_it(path: tuple[str, ...], sign: str) -> None:
    """JSON keeps them as escapes, so that the file itself looks harmless."""
    issues = issues_of(edited(*path, value=f"a{sign}[2Jb"))
    assert any(".".join(path) in issue for issue in issues)
    assert not any(sign in issue for issue in issues)


def test_a_solver_that_there_is_not_is_refused() -> None:
    (issue,) = issues_of(edited("solver", "name", value="magic"))
    assert "solver.name: must be HiGHS, or CBC with PuLP" in issue


def test_a_plan_is_no_bench_run() -> None:
    (issue,) = issues_of(edited("constants", "bench_run", value=True))
    assert "constants.bench_run: a plan holds a programme" in issue


def test_all_faults_at_once() -> None:
    content = json.loads(TEXT)
    del content["costs"]["money"]
    content["extra"] = 1
    content["constants"]["rounds"][0]["fill_s"] = "90"
    content["constants"]["rounds"][1]["colour"] = 3
    content["constants"]["fill_control"] = "luck"
    content["solver"]["gap"] = True
    content["profiles"]["machine"]["tank"]["limit_c"] = 400.0
    issues = issues_of(json.dumps(content))
    for key in (
        "costs.money: is missing",
        "extra: is not a key of this table",
        'constants.rounds[1].fill_s: must be a whole number, found "90"',
        "constants.rounds[2].colour: is not a key of this table",
        "constants.fill_control: ",
        "solver.gap: must be a number, found true",
        "profiles.machine.tank.limit_c: must lie between",
    ):
        assert any(key in issue for issue in issues), (key, issues)
    assert len(issues) == 7


def test_constants_out_of_range_are_all_named() -> None:
    content = json.loads(TEXT)
    content["constants"]["gap_s"] = 0
    content["constants"]["stand_s"] = 70000
    content["constants"]["rounds"][0]["drain_s"] = -1
    issues = issues_of(json.dumps(content))
    assert [issue.split(":")[1].strip() for issue in issues] == [
        "constants.gap_s",
        "constants.stand_s",
        "constants.rounds[1].drain_s",
    ]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "null",
        "[]",
        "7",
        "{}",
        "plan",
        "[" * 100_000,
        '{"format":' * 5_000,
        '{"format": 1' + "0" * 5_000 + "}",
        '{"format": 1e999}',
        '{"format": "1"}',
        '{"format": true}',
        '{"format": 1.0}',
        '{"format": "\\ud800"}',
        '{"format": 1}\ud800',
        "\x00",
        TEXT[:-3],
        TEXT + "x",
        TEXT.replace("0.7603", "NaN"),
        TEXT.replace("0.7603", "Infinity"),
        TEXT.replace("0.7603", "1e999"),
        TEXT.replace("0.7603", "1" + "0" * 400),
        TEXT.replace("0.7603", '"0.7603"'),
        TEXT.replace("0.7603", "null"),
        TEXT.replace("1200", "1200.5"),
        TEXT.replace("1200", "1" + "0" * 30),
    ],
)
def test_what_is_not_a_plan_is_refused(text: str) -> None:
    issues = issues_of(text)
    assert issues
    assert all(len(issue) < 600 and "nan" not in issue.split(", found")[0] for issue in issues)


def walk(table: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    items = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    return [path, *(inner for key, value in items for inner in walk(value, (*path, key)))]


PATHS = walk(json.loads(TEXT))[1:]
JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


def reads_or_refuses(text: str) -> None:
    """A text is a sound plan or has issues, never anything else."""
    try:
        plan = plan_from_json(text, "plan.json")
    except InputError as error:
        refused = error
    else:
        assert plan.constants.issues("x") == []
        assert plan.constants.input_sha256 == inputs_sha256(plan.inputs)
        assert plan_from_json(plan_to_json(plan), "x") == plan
        return
    assert refused.issues
    assert all(issue.rule for issue in refused.issues)


@cases(300)
@given(st.sampled_from(PATHS), JSON_VALUES)
def test_fuzz_any_value_in_any_place(path: tuple[str | int, ...], value: Any) -> None:
    reads_or_refuses(edited(*path, value=value))


@cases(100)
@given(st.sampled_from(PATHS))
def test_fuzz_any_key_left_out(path: tuple[str | int, ...]) -> None:
    content = copy.deepcopy(json.loads(TEXT))
    table = content
    for step in path[:-1]:
        table = table[step]
    del table[path[-1]]
    reads_or_refuses(json.dumps(content))


@cases(300)
@given(st.integers(0, 8 * len(TEXT.encode()) - 1))
def test_fuzz_any_bit_flipped(bit: int) -> None:
    data = bytearray(TEXT.encode())
    data[bit // 8] ^= 1 << bit % 8
    reads_or_refuses(data.decode("utf-8", errors="replace"))


@cases(100)
@given(st.integers(0, len(TEXT) - 2))
def test_fuzz_any_truncation(end: int) -> None:
    assert issues_of(TEXT[:end])


@pytest.mark.parametrize(
    ("kind", "name"), [("machine", "clubhouse"), ("goal", "everyday"), ("circuit", "plug-13a-fused")]
)
def test_the_name_of_another_shipped_profile_is_refused(kind: str, name: str) -> None:
    """A verdict is told by these names; those of one's own files say nothing of what is in them."""
    content = json.loads(plan_to_json(plan_case()))
    content["names"][kind] = f"./{name}.toml"
    plan_from_json(json.dumps(content), "x")
    content["names"][kind] = name
    with pytest.raises(InputError) as caught:
        plan_from_json(json.dumps(content), "x")
    (issue,) = caught.value.issues
    assert (issue.key, issue.found) == (f"names.{kind}", f'"{name}"')
