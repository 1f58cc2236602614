"""`scullion profiles`: what is shipped is listed, shown, described, and started from."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from planner_cases import PLAINLY
from profile_cases import EVERY, Ended, every_kind, every_shipped, scullion, shipped_text
from pydantic import BaseModel

from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.goal import Goal
from optimizer.profile.load import MODELS, load_profile, parse_profile, validate_profile
from optimizer.profile.machine import MATERIAL_LIMIT_C, Machine
from optimizer.profile.measured import Measured, ProfileModel
from optimizer.profile.shipped import ProfileKind, shipped_profiles
from optimizer.profile.starting_text import starting_text
from optimizer.profile.tariff import Tariff
from optimizer.programme.inputs import load_inputs


def test_list(capsys: pytest.CaptureFixture[str]) -> None:
    ended = scullion(capsys, "profiles")
    assert (ended.code, ended.err) == (0, "")
    assert max(map(len, ended.out.splitlines())) <= 80
    for one in shipped_profiles():
        assert re.search(rf"^  {one.name} +{re.escape(one.title)}$", ended.out, re.MULTILINE)
    assert [line for line in ended.out.splitlines() if line and line[0] != " "] == [
        "machines",
        "goals",
        "circuits",
        "tariffs",
        "bench books",
    ]


def test_list_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    ended = scullion(capsys, "profiles", "--json")
    assert [(one["kind"], one["name"]) for one in json.loads(ended.out)] == [*EVERY, ("bench", "clubhouse")]


@every_shipped
def test_show_prints_the_file_as_it_is(
    capsys: pytest.CaptureFixture[str], kind: ProfileKind, name: str
) -> None:
    assert scullion(capsys, "profiles", "show", name) == Ended(0, shipped_text(kind, name), "")


@every_shipped
def test_show_as_json(capsys: pytest.CaptureFixture[str], kind: ProfileKind, name: str) -> None:
    shown = json.loads(scullion(capsys, "profiles", "show", name, "--json").out)
    assert validate_profile(kind, shown, "shown") == load_profile(kind, name)


def test_show_a_path(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text(shipped_text("goal", "glasses"), encoding="utf-8")
    assert scullion(capsys, "profiles", "show", path).out == shipped_text("goal", "glasses")
    assert json.loads(scullion(capsys, "profiles", "show", path, "--json").out)["kind"] == "goal"


def test_name_in_two_kinds_asks_for_the_kind(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for kind, name in (("machine", "clubhouse"), ("tariff", "flat")):
        folder = tmp_path / "profiles" / f"{kind}s"
        folder.mkdir(parents=True)
        (folder / "same.toml").write_text(shipped_text(kind, name), encoding="utf-8")  # type: ignore[arg-type]
    monkeypatch.setattr("optimizer.profile.shipped.resources.files", lambda _: tmp_path)
    ended = scullion(capsys, "profiles", "show", "same")
    assert ended.code == 3
    assert "several kinds have one of this name" in ended.err
    assert "--kind machine or --kind tariff" in ended.err
    shown = scullion(capsys, "profiles", "show", "same", "--kind", "tariff", "--json")
    assert json.loads(shown.out)["kind"] == "tariff"


@every_kind
def test_new_file_is_valid_and_commented(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: ProfileKind
) -> None:
    path = tmp_path / "my.toml"
    ended = scullion(capsys, "profiles", "new", kind, path)
    assert (ended.code, ended.out) == (0, "")
    profile = load_profile(kind, str(path))
    assert profile.title == f"My {kind}"
    assert profile.about == ""
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith(f"# A {kind} to fill in.")
    assert sum(line.startswith("# ") for line in lines) > 8
    assert max(map(len, lines)) <= 80


def test_new_machine_carries_the_caution() -> None:
    for words in ("mains voltage", "licensed electrician", "local codes"):
        assert words in " ".join(starting_text("machine").replace("#", " ").split())


COMMENTED = re.compile(r"^# (\[\w+\]|\w+ = .*)$", re.MULTILINE)
"""A line of a profile that stands in a comment, to be taken out of it."""


def uncommented(text: str, *names: str) -> str:
    """Take the marks off some lines, or off all of them where none is named."""
    return COMMENTED.sub(lambda m: m[1] if not names or m[1].split()[0] in names else m[0], text)


def test_new_machine_shows_its_alternatives() -> None:
    text = starting_text("machine")
    names = {found.split()[0] for found in COMMENTED.findall(text)}
    assert names == {
        *("level_l", "surge_a", "stall_a", "sensor_over_mean_k", "drain_line"),
        *("plastic_kg", "steam_share", "splash_l", "pipe_l", "dry_most_s"),
    }
    more = uncommented(
        text, "plastic_kg", "steam_share", "splash_l", "sensor_over_mean_k", "pipe_l", "dry_most_s"
    )
    machine = parse_profile("machine", more, "my.toml")
    assert isinstance(machine, Machine)
    assert machine.ware.plastic_kg.nominal == 0.5
    assert all(f'"{material}"' in text for material in MATERIAL_LIMIT_C)
    level = uncommented(text, "level_l").replace('control = "timed"', 'control = "level"', 1)
    machine = parse_profile("machine", level, "my.toml")
    assert isinstance(machine, Machine)
    assert machine.inlet.level_l is not None
    supplied = uncommented(text, "surge_a", "stall_a").replace("inrush_multiple = 5\n", "", 1)
    machine = parse_profile("machine", supplied, "my.toml")
    assert isinstance(machine, Machine)
    assert machine.wash_pump.stall_a is not None


def test_new_goal_shows_its_optional_tables() -> None:
    """Every table of a goal stands in the file, as it is or in a comment."""
    text = starting_text("goal")
    assert [found for found in COMMENTED.findall(text) if found[0] == "["] == ["[hygiene]", "[drying]"]
    goal = parse_profile("goal", uncommented(text), "my.toml")
    assert isinstance(goal, Goal)
    assert (goal.hygiene.method, goal.drying.method, goal.limits.water_l) == ("a0", "hot_rinse", 60.0)
    tables = {line.strip("[]") for line in uncommented(text).splitlines() if line.startswith("[")}
    assert tables == {key for key in Goal.model_fields if key not in ("kind", "title", "about")}


@every_kind
def test_new_profile_shows_every_key(kind: ProfileKind) -> None:
    """Each key of each table stands in the file, as it is or in a comment."""
    text = starting_text(kind)
    tables: list[type[BaseModel]] = [MODELS[kind]]
    keys = set()
    for table in tables:
        for key, field in table.model_fields.items():
            keys.add(key)
            inner = [field.annotation, *get_args(field.annotation)]
            tables += [one for one in inner if isinstance(one, type) and issubclass(one, ProfileModel)]
    absent = {key for key in keys - set(Measured.model_fields) if not re.search(rf"\b{key}\b", text)}
    assert absent == set()
    assert len(tables) > 1


def test_new_tariff_shows_the_other_forms() -> None:
    text = starting_text("tariff")
    top, _, rest = text.partition("\n[electricity]\n")
    assert rest
    more = parse_profile("tariff", uncommented(top) + "\n[electricity]\n" + rest, "my.toml")
    assert isinstance(more, Tariff)
    assert (more.co2_kg_per_kwh, more.finish_by, len(more.quiet)) == (0.3, "07:00", 1)
    block = rest[rest.index("# [electricity]\n") :]
    series = parse_profile("tariff", f"{top}\n{uncommented(block)}", "my.toml")
    assert isinstance(series, Tariff)
    assert (series.electricity.form, series.electricity.series_csv) == ("series", "my-prices.csv")


def test_new_machine_has_the_tolerances_of_a_year() -> None:
    """230 V ± 10 % (EN 50160, secondary page); a name-plate's element +5 / -10 % (IEC 60335-1 clause 10, from
    memory); an inlet without a regulator ± 15 % (common practice, no source); a sensor reads the bath."""
    found = parse_profile("machine", starting_text("machine"), "my.toml")
    assert isinstance(found, Machine)
    assert found.element is not None
    volts, watts, flow = found.supply.voltage_v, found.element.rated_w, found.inlet.flow_l_per_min
    assert (volts.low, volts.high) == pytest.approx((207.0, 253.0))
    assert (watts.low, watts.high) == pytest.approx((0.9 * watts.nominal, 1.05 * watts.nominal))
    assert (flow.low, flow.high) == pytest.approx((0.85 * flow.nominal, 1.15 * flow.nominal))
    assert found.element.control == "thermostat"
    assert "logged at the machine" not in starting_text("machine")


@pytest.mark.slow
@pytest.mark.parametrize("goal", ["everyday", "glasses", "roasting-tins"])
def test_new_machine_can_be_planned_for(tmp_path: Path, goal: str) -> None:
    """At 207 V an element of 0.9 times its name-plate gives 0.9 · 0.81 = 73 %: tins need over 210 min."""
    path = tmp_path / "my.toml"
    path.write_text(starting_text("machine"), encoding="utf-8")
    inputs = load_inputs(str(path), goal)
    if goal == "roasting-tins":
        longer = inputs.goal.limits.model_copy(update={"duration_min": 240.0})
        inputs = replace(inputs, goal=inputs.goal.model_copy(update={"limits": longer}))
    assert plan_and_prove(inputs, search=PLAINLY).certificate.passed


def test_timed_is_written_by_leaving_two_keys_out() -> None:
    lines = starting_text("machine").splitlines(keepends=True)
    kept = "".join(line for line in lines if not line.startswith(("sensor_error_k", "hysteresis_k")))
    timed = parse_profile("machine", kept.replace('"thermostat"\n', '"timed"\n'), "my.toml")
    assert isinstance(timed, Machine)
    assert timed.element is not None
    assert timed.element.control == "timed"


def test_new_keeps_a_file_that_is_there(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text("mine")
    ended = scullion(capsys, "profiles", "new", "goal", path)
    assert (ended.code, ended.out) == (3, "")
    assert "is already there" in ended.err
    assert "--force" in ended.err
    assert path.read_text() == "mine"
    assert scullion(capsys, "profiles", "new", "goal", path, "--force").code == 0
    assert load_profile("goal", str(path)).title == "My goal"
    assert list(tmp_path.iterdir()) == [path]


@every_kind
def test_schema(capsys: pytest.CaptureFixture[str], kind: ProfileKind) -> None:
    ended = scullion(capsys, "profiles", "schema", kind)
    schema = json.loads(ended.out)
    assert (ended.code, ended.err) == (0, "")
    assert set(schema["properties"]) == set(MODELS[kind].model_fields)
    assert schema["additionalProperties"] is False


@every_kind
def test_schema_describes_each_quantity_with_its_unit(kind: ProfileKind) -> None:
    def leaves(node: object) -> list[dict[str, object]]:
        if isinstance(node, list):
            return [leaf for item in node for leaf in leaves(item)]
        if not isinstance(node, dict):
            return []
        own = [node] if "examples" in node and "minimum" in node else []
        return own + [leaf for item in node.values() for leaf in leaves(item)]

    found = leaves(MODELS[kind].model_json_schema())
    assert found
    assert all(re.match(r"\[[^]]+\] \S", str(leaf["description"])) for leaf in found)


@pytest.mark.parametrize("command", [[], ["profiles"], *[["profiles", c] for c in ("show", "new", "schema")]])
def test_help(capsys: pytest.CaptureFixture[str], command: list[str]) -> None:
    ended = scullion(capsys, *command, "--help")
    assert (ended.code, ended.err) == (0, "")
    assert f"Usage: scullion {' '.join(command)}".strip() in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80


@pytest.mark.parametrize(
    "words",
    [["profiles", "neu"], ["profiles", "schema", "recipe"], ["profiles", "new", "goal"], ["--colour"]],
)
def test_usage_errors(capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    ended = scullion(capsys, *words)
    assert (ended.code, ended.out) == (2, "")
    assert "Usage: scullion" in ended.err


def test_unknown_name_lists_close_ones(capsys: pytest.CaptureFixture[str]) -> None:
    ended = scullion(capsys, "profiles", "show", "clubhose")
    assert (ended.code, ended.out) == (3, "")
    assert "did you mean clubhouse?" in ended.err
