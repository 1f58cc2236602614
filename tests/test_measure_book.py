"""Bench books: what is written in them, and what comes of it."""

from __future__ import annotations

import tomllib
from math import cos, hypot, pi
from typing import Any

import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from measure_cases import HEAD, book, without_marks
from test_bad_input_fuzz import check, places_in, values

from optimizer.measure.measurement import measure, measure_book
from optimizer.measure.new_book import new_book_text
from optimizer.measure.plain_tests import plain_estimates
from optimizer.measure.read_book import make_book, validate_bench
from optimizer.profile.load import load_profile

LIKE = load_profile("machine", "clubhouse")


def found(text: str) -> dict[str, Any]:
    """Estimates of a book without logs, by key."""
    bench = validate_bench(tomllib.loads(text), "bench.toml")
    return {
        one.key: one for one in measure_book(make_book(bench, {}, "bench.toml"), LIKE, "clubhouse").estimates
    }


def test_a_new_book_is_valid_and_measures_nothing() -> None:
    assert found(new_book_text()) == {}


def test_the_readings_of_a_new_book_are_valid_behind_their_marks() -> None:
    tables = tomllib.loads(without_marks(new_book_text()))
    bench = validate_bench(tables, "bench.toml")
    assert [test.name for test in bench.thermal] == [
        "pump alone",
        "element and pump",
        "hot pour",
        "cooling",
        "ware, still",
        "ware, spraying",
    ]
    del tables["thermal"]
    numbers = measure_book(make_book(validate_bench(tables, "b"), {}, "b"), LIKE, "clubhouse").estimates
    assert len(numbers) == 22


TABLES = tomllib.loads(without_marks(new_book_text()))


@pytest.mark.parametrize("name", [name for name in TABLES if name not in ("kind", "title", "thermal")])
def test_every_test_is_optional(name: str) -> None:
    """Each table of the new book by itself, and all of them without it."""
    head = {key: TABLES[key] for key in ("kind", "title")}
    others = {key: table for key, table in TABLES.items() if key not in (name, "thermal")}
    for some in (head | {name: TABLES[name]}, others | head):
        made = measure_book(make_book(validate_bench(some, "b"), {}, "b"), LIKE, "clubhouse")
        assert made.machine is not None


def test_a_new_book_names_every_key_that_a_test_settles() -> None:
    text = new_book_text()
    numbers = found(without_marks(text).split("[[thermal]]")[0])
    keys = [key.split(".")[1] for key in numbers if not key.startswith("meter")]
    told = ("controller_w", "valve_w", "porcelain_kg", "glass_kg", "stainless_kg", "power_w", "power_factor")
    assert [key for key in keys if key not in told and key not in text] == []


def test_flow_by_hand() -> None:
    """Litres at 12 °C are kilograms over 0.9995 (Kell 1975), and a minute has 60 s."""
    one = found(HEAD + "[fills]\nwater_c = 12\nruns = [{ kg = 5.997, s = 60 }]")["inlet.flow_l_per_min"]
    assert one.nominal == pytest.approx(6.0, abs=1e-3)
    always, anew = 0.3 / 60.0, 0.3 / 3**0.5 / 60.0
    assert one.high == pytest.approx(6.0 * (1.15 + hypot(0.005 / 5.997, always) + 2.0 * anew), rel=1e-4)
    by_jug = found(HEAD + "[fills]\nruns = [{ l = 6, s = 60 }]")["inlet.flow_l_per_min"]
    assert by_jug.high - by_jug.nominal == pytest.approx(
        6.0 * (0.15 + hypot(0.02, always) + 2.0 * anew), rel=1e-4
    )


def test_readings_that_were_rounded_do_not_agree() -> None:
    """Two litres of 0.6 may have been 0.56 and 0.64: never narrower than the stated half of one reading."""
    rounded = found(HEAD + "[sponge]\nkg = [0.6, 0.6]")["tank.residual_l"]
    assert rounded.high - rounded.nominal > 0.5 * 0.6
    weighed = found(HEAD + "[sponge]\nkg = [0.601, 0.602]")["tank.residual_l"]
    assert weighed.high - weighed.nominal < 0.1


def test_element_by_meter_and_by_ohms() -> None:
    """P = V² / R, and watts at another voltage go with its square (Ohm's law)."""
    text = HEAD + "[meter]\ncontroller = [{ w = 3, v = 230 }]\nelement = [{ w = 830.7, v = 220 }]\n"
    one = found(text + "[element]\nrated_v = 230")["element.rated_w"]
    assert one.nominal == pytest.approx(827.7 * (230 / 220) ** 2)
    both = found(text + "[element]\nrated_v = 230\nohm = [58]")["element.rated_w"]
    assert both.test == "element.ohm", "the narrower of the two"
    assert "by meter.element" in both.remarks[-1]
    assert both.low < 230**2 / 58 < both.high, "cold wire"
    assert both.low < 230**2 / (58 * 1.03) < both.high, "hot wire"


def test_the_controller_is_taken_off() -> None:
    text = HEAD + "[meter]\nwash_pump = [{ w = 88, v = 230, pf = 0.6 }]\n"
    alone = found(text)["wash_pump.power_w"]
    assert (alone.nominal, alone.remarks[-1]) == (88.0, "what the controller takes is in it")
    assert found(text + "controller = [{ w = 3, v = 230 }]")["wash_pump.power_w"].nominal == 85.0


def test_film_is_of_one_load() -> None:
    """Of several loads each wet weight goes with its dry one: 100 g at 20 °C are 0.1002 l."""
    loads = "[ware.porcelain]\ndry_kg = [6.002, 6.503, 7.001]\nwet_kg = [6.102, 6.603, 7.101]\n"
    one = found(HEAD + loads)["ware.film_l"]
    assert one.nominal == pytest.approx(0.1 / 0.9982, rel=1e-3)
    assert one.high - one.nominal < 0.1
    two = found(HEAD + loads + "[ware.glass]\ndry_kg = [1.001]\nwet_kg = [1.051, 1.051, 1.051]\n")[
        "ware.film_l"
    ]
    assert two.nominal == pytest.approx(0.15 / 0.9982, rel=1e-3)


def volts(v: float, days: list[str]) -> str:
    """Eight readings, at eight hours, of a day each that is given."""
    given = [f"on = {days[at]}, " if days else "" for at in range(8)]
    return ", ".join(f"{{ {on}hour = {3 * at}, v = {v + at % 2} }}" for at, on in enumerate(given))


YEAR = [f"2026-{month:02d}-15" for month in (1, 2, 4, 6, 8, 9, 10, 12)]


def test_voltages_idle_give_the_high_end_and_loaded_the_low() -> None:
    idle, loaded = volts(235, YEAR), volts(228, YEAR)
    both = found(f"{HEAD}[voltages]\nidle = [{idle}]\nloaded = [{loaded}]")["supply.voltage_v"]
    assert (both.nominal, both.readings) == (228.5, 16)
    assert both.low < 228 - 2.3
    assert both.high > 236 + 2.3, "the meter's 1 % on top of the scatter"
    assert (both.method, both.remarks) == ("95 % of runs", ())
    assert both.high - both.low < 0.07 * both.nominal
    alone = found(f"{HEAD}[voltages]\nidle = [{idle}]")["supply.voltage_v"]
    assert alone.low < 235 * 0.95
    assert "no loaded voltages" in " ".join(alone.remarks)


@pytest.mark.parametrize(
    ("days", "why"),
    [
        ([], "no days are given"),
        (["2026-01-15", "2026-01-16"] * 4, "read on 2 days only"),
        ([f"2026-01-{15 + at}" for at in range(8)], "no reading from 22 January to 15 January"),
    ],
)
def test_voltages_of_a_few_days_count_with_what_a_supplier_may_deliver(days: list[str], why: str) -> None:
    """EN 50160: 95 % of the ten-minute means of a week within ± 10 % of the nominal one (secondary page)."""
    idle, loaded = volts(235, days), volts(228, days)
    one = found(f"{HEAD}[voltages]\nidle = [{idle}]\nloaded = [{loaded}]")["supply.voltage_v"]
    assert (one.low, one.high) == (pytest.approx(0.9 * 228.5), pytest.approx(1.1 * 228.5))
    assert one.method == "few days"
    assert one.remarks[-1] == f"{why}: ± 10% is counted, what a supplier may deliver (EN 50160)"


def test_voltages_of_a_few_days_at_120_v() -> None:
    """ANSI C84.1, range A: 114 to 126 V at the service (from memory), 5 % less in the wiring."""
    readings = [{"hour": 3 * at, "v": 119 + at % 3} for at in range(8)]
    tables = {"kind": "bench", "title": "x", "voltages": {"idle": readings, "loaded": readings}}
    (one,) = plain_estimates(make_book(validate_bench(tables, "b"), {}, "b"))
    assert (one.low, one.high) == (pytest.approx(108.0, abs=1.0), pytest.approx(126.0, abs=1.0))
    assert "ANSI C84.1" in one.remarks[-1]


def test_hours_without_a_voltage_are_named() -> None:
    readings = ", ".join(f"{{ hour = {at}, v = 230 }}" for at in (8, 10, 12, 14, 16))
    remarks = found(f"{HEAD}[voltages]\nidle = [{readings}]\nloaded = [{readings}]")[
        "supply.voltage_v"
    ].remarks
    assert "no reading between 16:00 and 8:00" in remarks


def test_a_year_of_temperatures_is_a_curve() -> None:
    """Mains of 12 °C that swing by 5 K, so: 7 to 17 °C, and the thermometer's 0.5 K."""
    days = [f"2026-{month:02d}-15" for month in range(1, 13)]
    celsius = [12.0 - 5.0 * cos(2 * pi * (30.4 * month - 25) / 365.25) for month in range(12)]
    readings = ", ".join(f"{{ on = {day}, c = {c:.1f} }}" for day, c in zip(days, celsius, strict=True))
    one = found(f"{HEAD}[temperatures]\ninlet = [{readings}]")["inlet.water_c"]
    assert one.method == "curve of the year"
    assert (one.nominal, one.low, one.high) == (
        pytest.approx(12.0, abs=0.1),
        pytest.approx(6.4, abs=0.2),
        pytest.approx(17.6, abs=0.2),
    )
    summer = ", ".join(readings.split(", ")[8:16])
    part = found(f"{HEAD}[temperatures]\ninlet = [{summer}]")["inlet.water_c"]
    assert part.low < part.nominal - 8.0
    assert "no reading from 15 August to 15 May" in " ".join(part.remarks)


def test_a_calibrated_thermometer_is_corrected() -> None:
    text = "[calibration]\nice_c = [1]\nboiling_c = [101]\nheight_m = 0\nsea_level_hpa = 1013.25\n"
    one = found(f"{HEAD}{text}[temperatures]\nroom = [{{ on = 2026-03-01, c = 21 }}]")["room.air_c"]
    assert one.nominal == pytest.approx(20.0, abs=0.01)


@cases(200)
@given(values, st.data())
def test_books_with_one_value_replaced(value: Any, data: st.DataObject) -> None:
    tables = tomllib.loads(without_marks(new_book_text()))
    places = list(places_in(tables))
    table, key = data.draw(st.sampled_from(range(len(places))).map(places.__getitem__))
    table[key] = value
    check(lambda: validate_bench(tables, "bench.toml"))


readings = st.floats(0.0, 100.0).map(lambda value: float(f"{value:.3g}")) | st.floats(0.001, 10.0)


@cases(150)
@given(st.lists(readings, min_size=1, max_size=8), st.sampled_from(["sponge", "level_drop"]), st.booleans())
def test_books_of_any_readings(values: list[float], table: str, by_jug: bool) -> None:
    """Whatever was weighed: numbers in order with low ≤ nominal ≤ high, a profile that loads, or issues."""

    def step() -> None:
        tables = {"kind": "bench", "title": "x", table: {"l" if by_jug else "kg": values}}
        made = measure_book(make_book(validate_bench(tables, "b"), {}, "b"), LIKE, "clubhouse")
        from optimizer.profile.load import parse_profile

        for one in made.estimates:
            assert one.low <= one.nominal <= one.high
        assert parse_profile("machine", made.text(), "out.toml") == made.machine

    check(step)


@cases(100)
@given(st.text(alphabet=st.sampled_from("abz_09.,-+=\"'[]{}#\n \t°:einfTZ"), max_size=80))
def test_books_of_any_text(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    folder = tmp_path_factory.getbasetemp() / "books_of_any_text"
    check(lambda: measure(str(book(folder, text)), "clubhouse"))
