"""Every shipped profile loads, fits its partners and says what it is; names and paths find profiles."""

from __future__ import annotations

import json
import re
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from profile_cases import EVERY, SHIPPED, changed, every_shipped, issues_in, shipped_text

from optimizer.errors import InputError
from optimizer.profile.load import MODELS, kind_of, load_profile, validate_profile
from optimizer.profile.measured import Measured
from optimizer.profile.shipped import (
    PROFILE_KINDS,
    ProfileKind,
    profile_path,
    shipped_names,
    shipped_profiles,
)
from optimizer.programme.inputs import load_inputs


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


def test_eco_differs_from_everyday_in_time_and_in_a_first_rinse_that_may_be_cold() -> None:
    eco, everyday = load_profile("goal", "eco-everyday"), load_profile("goal", "everyday")
    unlike = {key for key, value in eco if value != getattr(everyday, key)}
    assert unlike == {"title", "about", "limits", "rinse"}
    assert {key for key, value in eco.rinse if value != getattr(everyday.rinse, key)} == {"first_least_c"}
    assert (eco.rinse.first_least_c, everyday.rinse.first_least_c) == (0.0, 32.0)
    assert eco.limits.duration_min > everyday.limits.duration_min
    assert eco.limits.time_weight == 0.0


def test_nursery_says_what_it_is_not() -> None:
    about = " ".join(load_profile("goal", "nursery").about.split())
    for words in ("not sterilisation", "no medical device", "no proof of disinfection"):
        assert words in about


FATTY = {"grease": (32.0, 40.0), "fat": (40.0, 40.0), "lips": (32.0, 32.0), "butterfat": (32.0, 32.0)}
"""Least floor of each fatty dose with detergent and without [°C]; see below."""

NO_WASH = "fresh-cups"
"""The goal for a machine without heat: no detergent, nothing fatty."""


@pytest.mark.parametrize("name", [name for name in SHIPPED["goal"] if name != NO_WASH])
def test_nothing_fatty_counts_below_its_melting_range(name: str) -> None:
    """Melting ranges of fats (food-chemistry textbooks): butter 32–35 °C, lard 28–40, beef tallow 40–50.

    That a spray with detergent wants about 35 °C, for fat as for protein foam, is common practice, no source.
    """
    goal = load_profile("goal", name)
    doses = [dose for dose in goal.dose if dose.name in FATTY]
    assert doses
    for dose in doses:
        with_detergent_c, bare_c = FATTY[dose.name]
        assert dose.floor_c >= with_detergent_c
        assert dose.bare_floor_c >= bare_c
        assert dose.bare_share < 1.0
    assert goal.spray_least_c >= 35.0


def test_the_goal_without_heat_has_neither_detergent_nor_fat() -> None:
    goal = load_profile("goal", NO_WASH)
    assert goal.detergent is None
    assert not {dose.name for dose in goal.dose} & {*FATTY, "starch", "tea"}


def test_everyday_has_the_standard_soils() -> None:
    """IEC 60436 / EN 50242 (secondary page): egg, milk, tea, minced meat, oat flakes, spinach, margarine.

    Fat of meat and margarine is grease, oat flakes are starch. Amylase at 50–60 °C, bleach at 60–70 °C (trade
    articles): starch has no gain above the one, tea none above the other. Minutes are ours.
    """
    by_name = {dose.name: dose for dose in load_profile("goal", "everyday").dose}
    assert set(by_name) == {"grease", "egg", "milk", "starch", "tea"}
    assert 50.0 <= by_name["starch"].reference_c <= by_name["starch"].ceiling_c <= 60.0
    assert 60.0 <= by_name["tea"].reference_c <= by_name["tea"].ceiling_c <= 70.0
    # Without detergent there is neither enzyme nor bleach.
    assert max(by_name["starch"].bare_share, by_name["tea"].bare_share) <= 0.2


def test_minutes_of_shipped_goals_are_plain_and_said_to_be_ours() -> None:
    for name in SHIPPED["goal"]:
        goal = load_profile("goal", name)
        assert goal.plain_minutes == tuple(dose.name for dose in goal.dose)
        assert shipped_text("goal", name).count("# ours to set") == len(goal.dose)


def test_material_limits_allow_each_shipped_tank() -> None:
    """Long-term limits, Crawford, Plastics Engineering, Table 1.8: PP 100 °C, HDPE 55–75 °C."""
    most_c = {"PP": 100.0, "HDPE": 75.0}
    for name in SHIPPED["machine"]:
        tank = load_profile("machine", name).tank
        # A steel tank has no such limit; its hoses and pump have theirs.
        assert tank.limit_c <= most_c.get(tank.material, 110.0)


@pytest.mark.parametrize("name", SHIPPED["machine"])
def test_supply_lies_within_the_published_range(name: str) -> None:
    """230 V ± 10 % (EN 50160, secondary page; Regulation (EU) 2019/2022 Art. 2).

    120 V: 114–126 V at the service (ANSI C84.1 range A, from memory), and 5 % less of it where the wiring of
    the house takes its share (secondary page). Narrower only where it was logged for a year.
    """
    volts = load_profile("machine", name).supply.voltage_v
    low, high = (207.0, 253.0) if volts.nominal > 200.0 else (108.0, 126.0)
    assert low <= volts.low < volts.high <= high
    logged = re.search(r"logged at the [^#]*for a year", comment_at("machine", name, "voltage_v")) is not None
    assert logged == ((volts.low, volts.high) != (low, high))


@pytest.mark.parametrize("name", SHIPPED["machine"])
def test_tolerances_are_those_of_a_year(name: str) -> None:
    """A name-plate's element: +5 / -10 % (IEC 60335-1 clause 10, from memory); an inlet without a regulator:
    15 % (common practice, no source); with one: 10 % (from memory)."""
    rig = load_profile("machine", name)
    flow = rig.inlet.flow_l_per_min
    share = 0.1 if "behind a flow regulator" in comment_at("machine", name, "flow_l_per_min") else 0.15
    assert (flow.low, flow.high) == pytest.approx(
        ((1.0 - share) * flow.nominal, (1.0 + share) * flow.nominal)
    )
    if rig.element is not None:
        watts, comment = rig.element.rated_w, comment_at("machine", name, "rated_w")
        by_plate = (watts.low, watts.high) == pytest.approx((0.9 * watts.nominal, 1.05 * watts.nominal))
        assert by_plate != comment.startswith("ohm-meter, unplugged")
        assert comment.startswith("name-plate: ") == by_plate


@pytest.mark.parametrize("name", SHIPPED["circuit"])
def test_a_compressor_is_counted_as_it_runs_and_as_it_starts(name: str) -> None:
    """A small one runs on 1.2 A (common practice, no source), and starts on 3 to 8 times that."""
    circuit = load_profile("circuit", name)
    start_a = circuit.compressor_start_a
    if start_a.high > 0.0:
        assert circuit.background_a.high >= 1.2
        assert 3.0 * 1.2 <= start_a.low < start_a.high == pytest.approx(8.0 * 1.2)


def comment_at(kind: ProfileKind, name: str, key: str) -> str:
    """The comment above a key of a shipped profile, as one line."""
    lines = shipped_text(kind, name).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith(f"{key} = "))
    first = next(number for number in range(at - 1, -1, -1) if not lines[number].startswith("# "))
    return " ".join(line.removeprefix("# ") for line in lines[first + 1 : at])


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


@every_shipped
def test_schema_accepts_what_is_shipped_and_refuses_an_unknown_key(kind: ProfileKind, name: str) -> None:
    """The schema is held against a validator from outside the project."""
    jsonschema = pytest.importorskip("jsonschema")
    validator = jsonschema.Draft202012Validator(MODELS[kind].model_json_schema())
    data = tomllib.loads(shipped_text(kind, name))
    assert list(validator.iter_errors(data)) == []
    assert len(list(validator.iter_errors(data | {"colour": "red"}))) == 1


def test_swapped_names_are_recognised() -> None:
    with pytest.raises(InputError) as caught:
        load_inputs("everyday", "clubhouse")
    assert [issue.subject for issue in caught.value.issues] == ["machine", "goal"]
    assert caught.value.issues[0].fix.startswith("everyday is a goal. Shipped: clubhouse, cold-shed, ")
    assert caught.value.issues[1].fix.startswith("clubhouse is a machine. Shipped: eco-everyday, ")


def test_path_of_a_shipped_profile(tmp_path: Path) -> None:
    assert issues_in("goal", profile_path("goal", "everyday").read_text(encoding="utf-8")) == []
    assert profile_path("goal", "mine.toml") == Path("mine.toml")
