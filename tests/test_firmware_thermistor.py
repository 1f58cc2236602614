"""How the example programs read a thermistor: its table, another one's, and the two-point calibration."""

from __future__ import annotations

import math
import re
import subprocess

import pytest
from controller_micropython import needs_micropython
from controller_rig import SOURCES, needs_cc
from firmware_boards import DRY, in_c, scripted, text_of

from optimizer.emit.thermistor import (
    COLDEST_DC,
    HOTTEST_DC,
    STEPS,
    USUAL,
    fitted,
    of_two_points,
    read_thermistor,
    table_dc,
)
from optimizer.errors import InputError


def table_in(text: str) -> list[int]:
    block = re.search(r"(?:thermistor_dc\[65\] = \{|THERMISTOR_DC = \()(.*?)[})]", text, re.S)
    assert block is not None
    return [int(number) for number in re.findall(r"-?\d+", block[1])]


@pytest.mark.parametrize("name", ["wash_main.c", "wash_main.py"])
def test_thermistor_table_is_that_of_the_b_equation(name: str) -> None:
    """R = R25 exp(B (1/T - 1/T25)), put in here the other way round (IEC 60539-1, from memory)."""
    text = (SOURCES / name).read_text(encoding="utf-8")
    found = table_in(text)
    assert found == table_dc(10_000.0, 3950.0, 10_000.0)
    assert (found[0], found[-1], len(found)) == (HOTTEST_DC, COLDEST_DC, STEPS + 1)
    for tenths in range(50, 900, 7):
        kelvin = tenths / 10.0 + 273.15
        ohm = 10_000.0 * math.exp(3950.0 * (1.0 / kelvin - 1.0 / 298.15))
        counts = int(1024.0 * ohm / (ohm + 10_000.0))
        part, rest = divmod(counts, 16)
        read_dc = found[part] + (found[part + 1] - found[part]) * rest / 16
        assert abs(read_dc - tenths) <= 6, "a count is up to 0.4 K, the straight line 0.2 K"


@pytest.mark.parametrize(
    "words",
    ["10000,3435,10000", "32650@0,2490@60,4700", "100000,4250,47000", "2252,3892,1000", "1000,2000,1000000"],
)
def test_the_table_of_another_thermistor_reads_it(words: str) -> None:
    """Within a line's error where the converter sees it well: R of a temperature, put in the other way."""
    found = read_thermistor(words)
    for name in ("wash_main.c", "wash_main.py"):
        text = fitted({name: (SOURCES / name).read_text(encoding="utf-8")}, found)[name]
        assert found.words in text
        assert USUAL.words not in text
        table = table_in(text)
        assert len(table) == STEPS + 1
        assert table == sorted(table, reverse=True)
        for tenths in range(100, 900, 7):
            kelvin = tenths / 10.0 + 273.15
            ohm = found.ohm_at_25_c * math.exp(found.beta_k * (1.0 / kelvin - 1.0 / 298.15))
            share = ohm / (ohm + found.series_ohm)
            if 0.05 < share < 0.95:
                part = int(STEPS * share)
                read_dc = table[part] + (table[part + 1] - table[part]) * (STEPS * share - part)
                assert abs(read_dc - tenths) <= 25, "a straight line over a 64th of the range"


def test_two_readings_of_an_ohm_meter_give_back_the_thermistor() -> None:
    """R25 and B of a made-up one come back from what it has in ice water and in hot water."""
    for ohm, beta_k in ((10_000.0, 3950.0), (2_252.0, 3892.0), (100_000.0, 4250.0)):
        cold, hot = ((ohm * math.exp(beta_k * (1.0 / (c + 273.15) - 1.0 / 298.15)), c) for c in (0.0, 60.0))
        found = of_two_points(cold, hot, 10_000.0)
        assert found.ohm_at_25_c == pytest.approx(ohm)
        assert found.beta_k == pytest.approx(beta_k)


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        ("0,3950,10000", "its resistance at 25 °C must be 100 to 1e+06 Ω"),
        ("10000,0,10000", "its B must be 2000 to 6000 K"),
        ("10000,3950,0", "the resistor in series must be"),
        ("32650@0,2490@19,10000", "two readings at least 20 K apart"),
        ("2490@60,32650@0,10000", "two readings at least 20 K apart"),
        ("2490@0,32650@60,10000", "its B must be"),
        ("0@0,2490@60,10000", "the first resistance must be"),
        ("32650@0,0@60,10000", "the second resistance must be"),
        ("32650@-300,2490@60,10000", "the first temperature must be"),
        ("", "must be ohms at 25 °C, B and ohms in series"),
        ("10k,3950,10k", "must be ohms at 25 °C, B and ohms in series"),
        ("1e999,3950,1", "must be ohms at 25 °C, B and ohms in series"),
        ("9" * 400 + ",3950,10000", "its resistance at 25 °C must be"),
        ("1.2.3,3950,10000", "must be ohms at 25 °C, B and ohms in series"),
    ],
)
def test_what_is_no_thermistor(words: str, rule: str) -> None:
    with pytest.raises(InputError) as caught:
        read_thermistor(words)
    assert rule in str(caught.value)


CALIBRATED = {"READ_COLD_DC": 20, "TRUE_COLD_DC": 0, "READ_HOT_DC": 580, "TRUE_HOT_DC": 600}


@pytest.mark.parametrize(("counts", "plain", "calibrated"), [(512, "25.0", "24.6"), (800, "-1.1", "-3.4")])
@needs_cc
def test_two_point_calibration_in_c(counts: int, plain: str, calibrated: str) -> None:
    """A line through both points, worked out by hand: (25.0 - 2.0) · 60.0/56.0 = 24.64, rounded down."""
    options = [f"-D{name}={value}" for name, value in CALIBRATED.items()]
    for words, wanted in (([], plain), (options, calibrated)):
        assert f", {wanted} C" in text_of(in_c([*DRY, (1, "adc", counts)], 3000, *words))


@needs_micropython
def test_two_point_calibration_in_micropython() -> None:
    """The same counts, of 16 bits here; a short circuit and a broken wire are no temperature."""
    lines = ["t = wash_main.temperature_dc", "print(0, t(512 * 64), t(800 * 64), t(1023), t(63 * 1024))"]
    lines += [f"wash_main.{name} = {value}" for name, value in CALIBRATED.items()]
    plain, calibrated = scripted("\n".join([*lines, lines[1]]))
    assert (plain.what, plain.rest) == ("250", "-11 None None")
    assert (calibrated.what, calibrated.rest) == ("246", "-34 None None")


@needs_micropython
def test_a_calibration_that_is_none_does_not_run() -> None:
    """Nor does a program that was not filled in; the watchdog has not begun, no pin is touched."""
    lines = ["def begin():", "    try:", "        wash_main.main()", "    except RuntimeError as error:"]
    lines += ["        print(0, error)", "begin()", "wash_main.FILLED_IN = True"]
    for name, value in (
        ("READ_HOT_DC", 199),
        ("READ_HOT_DC", 701),
        ("READ_HOT_DC", 600),
        ("TRUE_COLD_DC", -101),
    ):
        lines += [f"wash_main.{name} = {value}", *(["begin()"] if value != 600 else [])]
    first, *others = (f"{one.what} {one.rest}" for one in scripted("\n".join(lines)))
    assert "fill in pins" in first
    assert len(others) == 3
    assert all(text.startswith("calibration: two readings 20 K apart") for text in others)


@pytest.mark.slow
@needs_cc
@needs_micropython
def test_both_read_the_same() -> None:
    counts = range(17, 1007, 11)
    options = [f"-D{name}={value}" for name, value in CALIBRATED.items()]
    events = [(1000 * place + 500, "adc", count) for place, count in enumerate(counts)]
    said = in_c([*DRY, *events], 1000 * len(counts) + 900, *options)
    notes = [
        re.search(r"(-?[0-9]+)\.([0-9]) C(?:, HOT: not drained)?$", one.rest)
        for one in said
        if "idle" in one.rest
    ]
    read_dc = [int(note[1] + note[2]) for note in notes if note is not None]
    lines = [f"wash_main.{name} = {value}" for name, value in CALIBRATED.items()]
    lines += [f"for n in {list(counts)}:", "    print(n, wash_main.temperature_dc(64 * n))"]
    every_dc = [int(one.what) for one in scripted("\n".join(lines))]
    wanted_dc = [dc for dc in every_dc if -50 <= dc <= 1200]
    assert len(wanted_dc) > 60, "what no bath can have is not shown"
    assert read_dc[-len(wanted_dc) :] == wanted_dc


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"READ_HOT_DC": 20}, "two readings at least 20 K apart"),
        ({"READ_HOT_DC": 219, "TRUE_HOT_DC": 219}, "two readings at least 20 K apart"),
        ({"TRUE_HOT_DC": 700}, "another thermistor than the table's"),
        ({"TRUE_COLD_DC": 121}, "another thermistor than the table's"),
    ],
)
@needs_cc
def test_a_calibration_that_is_none_is_not_compiled(changes: dict[str, int], rule: str) -> None:
    options = [f"-D{name}={value}" for name, value in (CALIBRATED | changes).items()]
    command = ["cc", "-E", "-DWASH_BOARD_FILLED_IN", *options, f"-I{SOURCES}", str(SOURCES / "wash_main.c")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert rule in done.stderr
