"""Every shipped profile loads, fits its partners, and is started, listed, shown and described as promised."""

from __future__ import annotations

import json
import re
import tomllib
from itertools import pairwise
from pathlib import Path
from typing import get_args

import pytest
from profile_cases import Ended, changed, issues_in, scullion, shipped_text
from pydantic import BaseModel

from optimizer.errors import InputError
from optimizer.profile.goal import Goal
from optimizer.profile.load import MODELS, kind_of, load_profile, parse_profile, validate_profile
from optimizer.profile.machine import MATERIAL_LIMIT_C, Machine
from optimizer.profile.measured import Measured, ProfileModel
from optimizer.profile.shipped import (
    PROFILE_KINDS,
    ProfileKind,
    profile_path,
    shipped_names,
    shipped_profiles,
    starting_text,
)
from optimizer.profile.tariff import Tariff
from optimizer.programme.inputs import load_inputs

SHIPPED: dict[ProfileKind, list[str]] = {
    "machine": ["clubhouse", "cold-shed", "garage-120v", "narrowboat"],
    "goal": ["eco-everyday", "everyday", "glasses", "nursery", "roasting-tins", "steamed-glasses"],
    "circuit": ["branch-15a-120v", "plug-10a", "plug-13a-fused", "shared-6a"],
    "tariff": ["flat", "generator", "half-hourly", "three-rate", "two-rate"],
}
EVERY = [(kind, name) for kind, names in SHIPPED.items() for name in names]

every_shipped = pytest.mark.parametrize(("kind", "name"), EVERY)
every_kind = pytest.mark.parametrize("kind", PROFILE_KINDS)


def test_these_are_shipped() -> None:
    assert {kind: shipped_names(kind) for kind in PROFILE_KINDS} == SHIPPED
    assert [(one.kind, one.name) for one in shipped_profiles()] == EVERY


@every_shipped
def test_shipped_profile_loads_and_says_it_is_invented(kind: ProfileKind, name: str) -> None:
    profile = load_profile(kind, name)
    assert profile.about.strip().startswith("Invented.")
    assert shipped_text(kind, name).startswith("# Invented ")


@every_shipped
def test_shipped_profile_fits_a_terminal_and_comments_every_value(kind: ProfileKind, name: str) -> None:
    """Only what a profile is called, and what a heading before it explains, goes without a comment."""
    lines = shipped_text(kind, name).splitlines()
    assert max(map(len, lines)) <= 80
    plain = {"kind", "title", "about", "name", "form", "start", "until", "days"}
    for before, line in pairwise(lines):
        key = re.match(r"([a-z0-9_]+) = ", line)
        if key and key[1] not in plain:
            assert before.startswith("# "), line


@every_shipped
def test_profile_survives_being_stored_as_json(kind: ProfileKind, name: str) -> None:
    profile = load_profile(kind, name)
    stored = json.loads(json.dumps(profile.model_dump(mode="json")))
    assert validate_profile(kind, stored, "stored") == profile


@pytest.mark.parametrize("machine", SHIPPED["machine"])
@pytest.mark.parametrize("goal", SHIPPED["goal"])
def test_shipped_machine_fits_its_usual_circuit(machine: str, goal: str) -> None:
    inputs = load_inputs(machine, goal)
    assert inputs.names == (machine, goal, inputs.machine.usual_circuit, inputs.machine.usual_tariff)
    assert inputs.prices.least_per_kwh <= inputs.prices.mean_per_kwh <= inputs.prices.most_per_kwh


def test_eco_differs_from_everyday_in_time_alone() -> None:
    eco, everyday = load_profile("goal", "eco-everyday"), load_profile("goal", "everyday")
    unlike = {key for key, value in eco if value != getattr(everyday, key)}
    assert unlike == {"title", "about", "limits"}
    assert eco.limits.duration_min > everyday.limits.duration_min
    assert eco.limits.time_weight == 0.0


def test_nursery_says_what_it_is_not() -> None:
    about = " ".join(load_profile("goal", "nursery").about.split())
    for words in ("not sterilisation", "no medical device", "no proof of disinfection"):
        assert words in about


def test_oily_ware_needs_heat_or_detergent_in_every_washing_goal() -> None:
    """Common practice, no source: without detergent nothing fatty counts until fat melts.

    Melting ranges of fats (food-chemistry textbooks): butter 32–35 °C, lard 28–40, beef tallow 40–50.
    """
    fatty = {"grease": 40.0, "fat": 40.0, "lips": 32.0, "butterfat": 32.0}
    for name in SHIPPED["goal"]:
        doses = [dose for dose in load_profile("goal", name).dose if dose.name in fatty]
        assert doses
        for dose in doses:
            assert dose.bare_floor_c >= fatty[dose.name]
            assert dose.bare_share < 1.0


def test_material_limits_allow_each_shipped_tank() -> None:
    """Long-term limits, Crawford, Plastics Engineering, Table 1.8: PP 100 °C, HDPE 55–75 °C."""
    most_c = {"PP": 100.0, "HDPE": 75.0}
    for name in SHIPPED["machine"]:
        tank = load_profile("machine", name).tank
        # A steel tank has no such limit; its hoses and pump have theirs.
        assert tank.limit_c <= most_c.get(tank.material, 110.0)


@pytest.mark.parametrize("name", SHIPPED["machine"])
def test_supply_lies_within_the_published_range(name: str) -> None:
    """230 V ± 10 % (Regulation (EU) 2019/2022 Art. 2); 114–126 V (ANSI C84.1 range A, from memory)."""
    volts = load_profile("machine", name).supply.voltage_v
    low, high = (207.0, 253.0) if volts.nominal > 200.0 else (114.0, 126.0)
    assert low <= volts.low < volts.high <= high


def test_three_ways_to_write_a_measured_value() -> None:
    forms = {
        "12": (12.0, 12.0, 12.0),
        "{ nominal = 12, low = 8, high = 16.5 }": (12.0, 8.0, 16.5),
        "{ nominal = 12, tolerance_pct = 25 }": (12.0, 9.0, 15.0),
    }
    for written, (nominal, low, high) in forms.items():
        value = tomllib.loads(f"x = {written}")["x"]
        assert Measured.model_validate(value) == Measured(nominal=nominal, low=low, high=high)


def test_tolerance_of_a_negative_value_still_runs_from_low_to_high() -> None:
    value = Measured.model_validate({"nominal": -4, "tolerance_pct": 50})
    assert (value.low, value.nominal, value.high) == (-6.0, -4.0, -2.0)


def test_names_and_paths(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    text = changed("machine", "clubhouse", ("rowing clubhouse", "shed"))
    Path("clubhouse").write_text(text, encoding="utf-8")
    Path("clubhouse.toml").write_text(text, encoding="utf-8")
    assert "rowing" in load_profile("machine", "clubhouse").title
    for path in ("clubhouse.toml", "./clubhouse", str(tmp_path / "clubhouse")):
        assert "shed" in load_profile("machine", path).title
        assert kind_of(path) == "machine"


def test_usual_profiles_lie_beside_the_machine(tmp_path: Path) -> None:
    machine = changed("machine", "clubhouse", ("shared-6a", "ours.toml"), ("two-rate", "./bill.toml"))
    (tmp_path / "m.toml").write_text(machine, encoding="utf-8")
    (tmp_path / "ours.toml").write_text(changed("circuit", "plug-10a", ("= 10", "= 8")), encoding="utf-8")
    (tmp_path / "bill.toml").write_text(
        changed("tariff", "half-hourly", ("half-hourly.csv", "p.csv")), encoding="utf-8"
    )
    (tmp_path / "p.csv").write_text(
        "start_utc,price_per_kwh\n2025-01-01T00:00Z,0.1\n2025-01-01T01:00Z,0.3\n", encoding="utf-8"
    )
    inputs = load_inputs(str(tmp_path / "m.toml"), "everyday")
    assert inputs.names[2:] == (str(tmp_path / "ours.toml"), str(tmp_path / "bill.toml"))
    assert inputs.circuit.rating_a == 8.0
    assert inputs.prices.mean_per_kwh == pytest.approx(0.2)
    assert load_inputs(str(tmp_path / "m.toml"), "everyday", "shared-6a", "flat").circuit.rating_a == 6.0


def test_profiles_cannot_be_changed() -> None:
    machine = load_profile("machine", "clubhouse")
    with pytest.raises(ValueError, match="frozen"):
        machine.title = "Another"  # type: ignore[misc]


# --- the command line


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
    ]


def test_list_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    ended = scullion(capsys, "profiles", "--json")
    assert [(one["kind"], one["name"]) for one in json.loads(ended.out)] == EVERY


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
        *("level_l", "surge_a", "stall_a", "sensor_error_k", "sensor_over_mean_k"),
        *("plastic_kg", "steam_share", "splash_l"),
    }
    more = uncommented(text, "plastic_kg", "steam_share", "splash_l", "sensor_over_mean_k")
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


def test_new_machine_can_be_planned_for(tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text(starting_text("machine"), encoding="utf-8")
    assert isinstance(load_inputs(str(path), "everyday").machine, Machine)


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


@every_shipped
def test_schema_accepts_what_is_shipped_and_refuses_an_unknown_key(kind: ProfileKind, name: str) -> None:
    """The schema is held against a validator from outside the project."""
    jsonschema = pytest.importorskip("jsonschema")
    validator = jsonschema.Draft202012Validator(MODELS[kind].model_json_schema())
    data = tomllib.loads(shipped_text(kind, name))
    assert list(validator.iter_errors(data)) == []
    assert len(list(validator.iter_errors(data | {"colour": "red"}))) == 1


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


def test_swapped_names_are_recognised() -> None:
    with pytest.raises(InputError) as caught:
        load_inputs("everyday", "clubhouse")
    assert [issue.subject for issue in caught.value.issues] == ["machine", "goal"]
    assert caught.value.issues[0].fix.startswith("everyday is a goal. Shipped: clubhouse, cold-shed, ")
    assert caught.value.issues[1].fix.startswith("clubhouse is a machine. Shipped: eco-everyday, ")


def test_path_of_a_shipped_profile(tmp_path: Path) -> None:
    assert issues_in("goal", profile_path("goal", "everyday").read_text(encoding="utf-8")) == []
    assert profile_path("goal", "mine.toml") == Path("mine.toml")
