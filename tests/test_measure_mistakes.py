"""Mistakes of somebody who fills in a bench book for the first time: each is told, with what to do."""

from __future__ import annotations

from pathlib import Path

import pytest
from measure_cases import HEAD, PLAIN, THERMAL, book, cooling, issues, log_text, one_issue
from thermal_cases import KNOWN

from optimizer.measure.conditions import condition_issues
from optimizer.measure.measurement import measure, measure_book
from optimizer.measure.read_book import load_book, make_book, validate_bench
from optimizer.profile.load import load_profile, parse_toml

COOLING = log_text(cooling)


def columns(log: str) -> list[list[str]]:
    return [line.split(",") for line in log.strip().split("\n")]


def joined(rows: list[list[str]], sign: str = ",") -> str:
    return "\n".join(sign.join(row) for row in rows) + "\n"


def times(factor: float) -> str:
    head, *rows = columns(COOLING)
    return joined([head, *([f"{float(at) * factor:.6f}", bath] for at, bath in rows)])


def baths(change: float) -> str:
    head, *rows = columns(COOLING)
    return joined([head, *([at, f"{float(bath) * change:.1f}"] for at, bath in rows)])


LOGS = {
    "days of a spreadsheet": (
        times(1 / 86_400),
        "time_s",
        "lasts 30 s at least",
        "Multiply the times by 86400",
    ),
    "hours": (times(1 / 3600), "time_s", "lasts 30 s at least", "did you mean hours?"),
    "minutes": (times(1 / 60), "time_s", "lasts 30 s at least", "did you mean minutes?"),
    "time and bath exchanged": (
        COOLING.replace("time_s,bath_c", "bath_c,time_s"),
        "bath_c",
        "rises in even steps, as time does",
        "exchange the two names",
    ),
    "tenths": (baths(10.0), "bath_c", "most of it does not", "tenths of a degree"),
    "wires exchanged": (baths(-1.0), "bath_c", "most of it does not", "wiring"),
    "a comma at the end": (
        COOLING.replace("\n", ",\n").replace("bath_c,", "bath_c", 1),
        "line 2",
        "must hold 2 cells",
        'take the "," at the end of the lines off',
    ),
    "a comma at the end of all": (
        COOLING.replace("\n", ",\n"),
        "line 1",
        "is no column of a log",
        "off the end of every line",
    ),
}


@pytest.mark.parametrize("name", LOGS)
def test_logs(tmp_path: Path, name: str) -> None:
    log, key, rule, fix = LOGS[name]
    told = issues(lambda: measure(str(book(tmp_path / "b", PLAIN + THERMAL, cooling=log)), "clubhouse"))[0]
    assert (told.subject.rsplit("/", 1)[-1], told.key) == ("cooling.csv", key)
    assert rule in told.rule
    assert fix in told.fix


def test_the_note_of_a_spreadsheet_is_read_over(tmp_path: Path) -> None:
    from optimizer.measure.bench_log import read_log

    path = tmp_path / "a.csv"
    path.write_text("sep=;\n" + COOLING.replace(",", ";"), encoding="utf-8")
    assert read_log(path).bath_c.size == 90


METER = "[meter]\ncontroller = [{ w = 3, v = 230 }]\nwash_pump = [{ w = 0.088, v = 230 }]\n"
CALIBRATION = "[calibration]\nice_c = [0.2]\nboiling_c = [99.1]\nheight_m = 120\n"
SEASONS = ", ".join(f"{{ on = 2026-{month:02d}-15, c = 12 }}" for month in range(1, 13))
FOLLOWS = THERMAL.replace('"cooling"', '"more"').replace("cooling.csv", "more.csv") + 'follows = "cooling"\n'
FLAT = log_text(lambda at: 53.5 - at / 300.0)
PUMP = "[meter]\nwash_pump = [{ w = 88, v = 230 }]\n"
SPRAYED = THERMAL.replace("pump_on = false", "pump_on = true")
HEATED = log_text(lambda at: 20.0 + 18.0 * min(at, 600.0) / 600.0)

BOOKS = {
    "kilowatts": (HEAD + METER, "meter.wash_pump[1].w", "shows less than with every output off", "kilowatts"),
    "ice and boil exchanged": (
        HEAD + CALIBRATION.replace("0.2", "99.2"),
        "calibration.ice_c",
        "+99.2 K off in melting ice",
        "not exchanged",
    ),
    "one reading far off, which the other hides in the mean": (
        HEAD + CALIBRATION.replace("0.2", "-9, 0.2"),
        "calibration.ice_c",
        "-9.0 K off in melting ice",
        "readings in °C",
    ),
    "feet": (
        HEAD + CALIBRATION.replace("120", "3000"),
        "calibration.boiling_c",
        "boiling water at 3000 m, which is at 90.0 °C",
        "1000 feet are 305 m",
    ),
    "a log that is not there": (
        PLAIN + THERMAL.replace("cooling.csv", "Coolng.csv"),
        "thermal[1].log",
        "names a file that is not there",
        "did you mean cooling.csv?",
    ),
    "other water": (
        f"{HEAD}[temperatures]\ninlet = [{SEASONS.replace('= 12 }', '= 53 }')}]\n"
        "[fills]\nwater_c = 12\nruns = [{ kg = 6, s = 60 }]\n",
        "fills.water_c",
        "contradicts temperatures.inlet",
        "°F",
    ),
    "a test twice": (
        PLAIN + THERMAL + THERMAL.replace('"cooling"', '"again"'),
        "thermal[2].log",
        "has readings that cooling has",
        "begins_s",
    ),
    "nothing was switched": (
        PLAIN + THERMAL + FOLLOWS,
        "thermal[2].pump_on",
        "nothing was switched",
        "pump_on",
    ),
    "an element that nobody wrote down": (
        PLAIN + PUMP + SPRAYED.replace("cooling.csv", "heated.csv"),
        "thermal[1].element_from_s",
        "warms by 17.1 K while the element is said to be off",
        "element_from_s",
    ),
    "an element off too soon": (
        PLAIN
        + PUMP
        + SPRAYED.replace("cooling.csv", "heated.csv")
        + "element_from_s = 0\nelement_until_s = 100\n",
        "thermal[1].element_until_s",
        "while the element is said to be off",
        "seconds of the log",
    ),
}


@pytest.mark.parametrize("name", BOOKS)
def test_books(tmp_path: Path, name: str) -> None:
    text, key, rule, fix = BOOKS[name]
    folder = book(tmp_path / "b", text, cooling=COOLING, more=FLAT, heated=HEATED)
    one = one_issue(lambda: measure(str(folder), "clubhouse"))
    assert one.key == key
    assert rule in one.rule
    assert "(line " in one.rule
    assert fix in one.fix


def test_a_hot_load_may_warm_the_bath(tmp_path: Path) -> None:
    """Nobody forgot an element there."""
    hot = "ware_in = true\nware_at_room = false\n"
    text = PLAIN + PUMP + SPRAYED.replace("cooling.csv", "heated.csv") + hot
    folder = book(tmp_path / "b", text, heated=HEATED)
    assert condition_issues(load_book(str(folder)).tests, KNOWN, "b") == []


def test_a_plate_and_a_bath_that_were_exchanged(tmp_path: Path) -> None:
    rows = [f"{10 * at},{20 + at / 20:.1f},{50 - at / 20:.1f}" for at in range(60)]
    text = PLAIN + THERMAL + "ware_in = true\npoured_c = 52\n"
    log = "\n".join(["time_s,bath_c,ware_c", *rows])
    told = issues(lambda: measure(str(book(tmp_path / "b", text, cooling=log)), "clubhouse"))
    assert any("bath_c and ware_c are exchanged" in one.fix for one in told)


@pytest.mark.parametrize(
    ("line", "fix"),
    [
        ("[sponge]", "each table once"),
        ("[[sponge]]", "two brackets each time"),
    ],
)
def test_a_table_twice(tmp_path: Path, line: str, fix: str) -> None:
    one = one_issue(lambda: measure(str(book(tmp_path / "b", f"{PLAIN}{line}\nkg = [1]\n")), "clubhouse"))
    assert fix in one.fix


def remarks(text: str) -> dict[str, tuple[str, ...]]:
    bench = validate_bench(parse_toml(HEAD + text, "b"), "b")
    like = load_profile("machine", "clubhouse")
    return {
        one.key: one.remarks for one in measure_book(make_book(bench, {}, "b"), like, "clubhouse").estimates
    }


def test_readings_in_two_units_are_asked_about() -> None:
    runs = "{ kg = 6, s = 60 }, { kg = 6.1, s = 60 }, { kg = 6, s = 3600 }"
    (first, *_) = remarks(f"[fills]\nruns = [{runs}]")["inlet.flow_l_per_min"]
    assert first == "readings from 0.1 to 6.11: are all of them in one unit"


def test_a_temperature_far_from_its_season_is_asked_about() -> None:
    text = f"[temperatures]\ninlet = [{SEASONS.replace('2026-05-15, c = 12', '2026-05-15, c = 24')}]"
    assert "the reading of 15 May (24.0 °C) is far from the others" in remarks(text)["inlet.water_c"][0]
    assert remarks(f"[temperatures]\ninlet = [{SEASONS}]")["inlet.water_c"] == ()


def test_one_day_is_called_one_day() -> None:
    text = "[temperatures]\nroom = [{ on = 2026-05-15, c = 20 }, { on = 2026-05-15, c = 21 }]"
    assert remarks(text)["room.air_c"][-1].startswith("read on one day: ± 5.2 K")
