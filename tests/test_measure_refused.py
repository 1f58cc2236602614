"""Bench books that are refused: what is wrong, where, and what to do about it."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from measure_cases import HEAD, PLAIN, THERMAL, book, cooling, issues, log_text, one_issue

from optimizer.measure.measurement import measure
from optimizer.profile.shipped import bench_path

COOLING = log_text(cooling)

WET = "[ware.glass]\ndry_kg = [{}]\nwet_kg = [{}]\n"
OTHER = "[ware.porcelain]\ndry_kg = [6]\nwet_kg = [6.1, 6.1]"
DATE = '[temperatures]\nroom = [{ on = "2026-03-01", c = 20 }]'
VOLTS = """[voltages]
idle = [
    {{ v = 231, hour = 1, on = {}-01-15 }},
    {{ v = 232, hour = 2, on = 2025-01-15 }},
    {{ v = 233, hour = 3, on = 2025-02-15 }},
]"""
RUN = "[fills]\nruns = [{{ kg = {}, s = {} }}]"
TWICE = PLAIN.replace("{ kg = 6.03,", "{ kg = 6.03, l = 6,")
WRONG = {
    "grams": (
        PLAIN.replace("0.58", "580"),
        "sponge.kg[1]",
        "must lie between",
        "did you mean 0.58 kg (580 g)?",
    ),
    "negative": (PLAIN.replace("6.03", "-6.03"), "fills.runs[1].kg", "must lie between", "kitchen scales"),
    "both units": (TWICE, "fills.runs[1]", "has both kg and l", "one of"),
    "no unit": (PLAIN.replace("{ kg = 6.03, ", "{ "), "fills.runs[1]", "has neither kg nor l", "one of them"),
    "no readings": (HEAD + "[sponge]\nkg = []", "sponge.kg", "must hold one reading", "leave the table out"),
    "a key": (HEAD + "[sponge]\ngk = [1]", "sponge.gk", "is not a key", "the keys here are kg, l"),
    "text": (HEAD + '[sponge]\nkg = ["0.6"]', "sponge.kg[1]", "must be a number", "for example"),
    "date": (HEAD + DATE, "temperatures.room[1].on", "must be a date", "without quotes"),
    "a century ago": (
        HEAD + VOLTS.format(1926),
        "voltages.idle[1].on",
        "must lie in 2000 to 2099",
        "its year",
    ),
    "to come": (HEAD + VOLTS.format(2100), "voltages.idle[1].on", "must lie in 2000 to 2099", "its year"),
    "far apart": (
        HEAD + VOLTS.format(2036),
        "voltages.idle[1].on",
        "over 10 years from most readings",
        "year",
    ),
    "kind": ('kind = "machine"\ntitle = "x"', "kind", 'must be "bench"', "first line"),
    "wet is dry": (HEAD + WET.format(1.5, 1.4), "ware.glass.wet_kg", "no more wet than dry", "after a drain"),
    "counts": (HEAD + WET.format(1, 1.1) + OTHER, "ware.glass.wet_kg", "as many weights", "each drain"),
    "stated": (HEAD + '[stated.tank]\nmaterial = "wood"', "stated.tank.material", 'must be "PP"', "one of"),
    "stated flat": (HEAD + "[stated]\ntank = 5", "stated.tank", "must be a table", "[tank]"),
    "stated key": (
        HEAD + "[stated.tank]\nlid = 5",
        "stated.tank.lid",
        "is not a key",
        "the keys",
    ),
    "no flow": (HEAD + RUN.format(0.003, 60), "fills", "what no machine has", "look at each reading"),
    "litres an hour": (HEAD + RUN.format(6, 3600), "fills", "what no machine has", "did you mean 6 l/min?"),
}


@pytest.mark.parametrize("name", WRONG)
def test_books_that_are_refused(tmp_path: Path, name: str) -> None:
    text, key, rule, fix = WRONG[name]
    one = one_issue(lambda: measure(str(book(tmp_path / "b", text)), "clubhouse"))
    assert one.subject.endswith("bench.toml")
    assert one.key == key
    assert rule in one.rule
    assert fix in one.fix


def test_everything_wrong_is_told_at_once(tmp_path: Path) -> None:
    text = PLAIN.replace("0.58", "580").replace("60.2", "-1") + THERMAL
    told = issues(lambda: measure(str(book(tmp_path / "b", text, cooling="time_s,bath\n1,2")), "no-such"))
    assert [one.subject.rsplit("/", 1)[-1] for one in told] == [
        "bench.toml",
        "bench.toml",
        "cooling.csv",
        "machine",
    ]


def test_a_log_stays_in_the_folder_of_its_book(tmp_path: Path) -> None:
    (tmp_path / "secret.csv").write_text("password,1\n", encoding="utf-8")
    text = PLAIN + THERMAL.replace("cooling.csv", "../secret.csv")
    one = one_issue(lambda: measure(str(book(tmp_path / "b", text)), "clubhouse"))
    assert "password" not in str(one)
    assert "beside its book" in one.rule


CONTRADICTIONS = {
    "spits above the lip": (
        PLAIN.replace("lip =", "spits = { kg = [29, 29.1, 29] }\nlip ="),
        "buckets.spits",
        "buckets.lip",
    ),
    "covers above the lip": (
        PLAIN.replace("lip =", "covers = { kg = [29, 29.1, 29] }\nlip ="),
        "buckets.covers",
        "buckets.lip",
    ),
    "a drain of more than the tank": (
        PLAIN + "[drains]\nruns = [{ kg = 40, s = 200 }]",
        "drains.runs[1]",
        "buckets.lip",
    ),
    "a load that raises the voltage": (
        PLAIN + "[voltages]\nidle = [{ hour = 8, v = 225 }, { hour = 18, v = 226 }]\n"
        "loaded = [{ hour = 8, v = 236 }, { hour = 18, v = 235 }]",
        "voltages.loaded",
        "voltages.idle",
    ),
    "two elements": (
        PLAIN + "[element]\nrated_v = 230\nohm = [40, 40.1]\n[meter]\nelement = [{ w = 880, v = 230 }]",
        "meter.element",
        "element.ohm",
    ),
}


@pytest.mark.parametrize("name", CONTRADICTIONS)
def test_two_tests_that_cannot_both_be_true(tmp_path: Path, name: str) -> None:
    text, first, second = CONTRADICTIONS[name]
    one = one_issue(lambda: measure(str(book(tmp_path / "b", text)), "clubhouse"))
    assert one.key == first
    assert f"contradicts {second}" in one.rule
    assert one.found


def thermal(tmp_path: Path, log: str, **keys: object) -> Any:
    """The issue of a book with one thermal test."""
    lines = "\n".join(f"{key} = {value}" for key, value in keys.items())
    base = "\n".join(line for line in THERMAL.splitlines() if line.split(" =")[0] not in keys)
    return one_issue(
        lambda: measure(str(book(tmp_path / "b", f"{PLAIN}{base}\n{lines}\n", cooling=log)), "clubhouse")
    )


@pytest.mark.parametrize(
    ("keys", "log", "key", "rule", "fix"),
    [
        ({"water_kg": 5000}, COOLING, "water_kg", "must lie between", "did you mean 5 kg (5000 g)?"),
        ({"water_kg": 40}, COOLING, "water_kg", "contradicts buckets.lip", "weigh the water"),
        ({}, log_text(cooling, rows=20), "log", "too short for a cooling with the pump off: 8 min", "longer"),
        ({"stood_at_room": "true"}, COOLING, "stood_at_room", "begins 39.8 K from room_c", "leave"),
        ({"element_from_s": 60, "element_until_s": 30}, COOLING, "element_until_s", "after", "seconds"),
        ({"element_from_s": 5000}, COOLING, "element_from_s", "after the end of the log", "seconds"),
        ({"element_from_s": 0}, COOLING, "log", "element on with no warming", "cut-out"),
        ({"ware_in": "true", "water_kg": 1}, COOLING, "water_kg", "heavier than its bath", "weigh"),
        ({"poured_c": 50}, COOLING, "poured_c", "begins hotter than what was poured", "just before"),
        (
            {"drained_kg": 7.5},
            COOLING,
            "drained_kg",
            "contradicts water_kg of cooling: 0.5 kg less",
            "sponge",
        ),
        ({"drained_kg": 8.4}, COOLING, "drained_kg", "0.4 kg more came out", "dry tank"),
        ({"room_end_c": 23}, COOLING, "room_end_c", "another by 3.0 K as the test ended", "steady"),
        ({"follows": '"x"'}, COOLING, "follows", "must name a test that stands before", "none"),
        ({}, log_text(lambda at: 50.0 + at / 60.0), "pump_on", "warms by", "element_from_s"),
        (
            {"stood_at_room": "true", "pump_on": "true"},
            log_text(lambda at: 68.0 + at / 3000.0),
            "stood_at_room",
            "begins 48.0 K",
            "did you mean °F",
        ),
        (
            {"meter": "[{ s = 10, kwh = 40 }, { s = 590, kwh = 190 }]"},
            COOLING,
            "meter",
            "more than a socket gives",
            "did you mean Wh?",
        ),
        (
            {"meter": "[{ s = 10, kwh = 0.2 }, { s = 20, kwh = 0.1 }]"},
            COOLING,
            "meter",
            "must rise",
            "after each flip",
        ),
    ],
)
def test_conditions_that_a_log_does_not_bear_out(
    tmp_path: Path, keys: dict[str, object], log: str, key: str, rule: str, fix: str
) -> None:
    found = thermal(tmp_path, log, **keys)
    assert found.key == f"thermal[1].{key}"
    assert rule in found.rule
    assert fix in found.fix


DEMO = Path(str(bench_path("clubhouse"))).parent


def test_two_logs_that_cannot_both_be_true(tmp_path: Path) -> None:
    """The demo with more water said to be in one test than there was."""
    folder = tmp_path / "b"
    shutil.copytree(DEMO, folder)
    text = (folder / "bench.toml").read_text(encoding="utf-8")
    assert "water_kg = 9.5" in text
    text = re.sub(r"\ndrained_kg = .*", "", text)
    (folder / "bench.toml").write_text(text.replace("water_kg = 9.5", "water_kg = 12.5", 1), encoding="utf-8")
    one = one_issue(lambda: measure(str(folder), "clubhouse"))
    assert one.subject.endswith("bench.toml")
    assert one.key == "thermal[1].log"
    assert "contradict each other" in one.rule
    assert '"hot pour"' in one.rule


def test_a_number_needs_what_its_log_rests_on(tmp_path: Path) -> None:
    """Without ware, pump and element in the book, and nothing to be like."""
    text = PLAIN + THERMAL.replace("pump_on = false", "pump_on = true\nware_in = true\nelement_from_s = 0")
    warm = log_text(lambda at: 20.0 + at / 60.0)
    told = issues(lambda: measure(str(book(tmp_path / "b", text, cooling=warm))))
    assert [one.key for one in told] == [
        f"thermal[1].{key}" for key in ("element_from_s", "pump_on", "ware_in")
    ]
