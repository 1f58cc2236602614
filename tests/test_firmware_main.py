"""The example programs around the controllers, on boards that are not there: what they do with their pins.

What counts as safe here are rules of our own (no source): every relay at its off level first of all, any
press stops a run, a clock that stops lets the watchdog reset the board.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
import several_cases
from controller_cases import built_several, outputs_of
from controller_rig import SOURCES, STRICT, TESTS, needs_cc
from firmware_boards import (
    ANY_MACHINE,
    BOTH,
    BUTTON,
    DRAIN_PUMP,
    DRY,
    ELEMENT,
    INLET,
    OVERFLOW,
    REHEARSAL,
    STATED,
    WASH_PUMP,
    Event,
    Said,
    c_program,
    in_c,
    in_python,
    press,
    writes,
)


@pytest.mark.parametrize("board", BOTH)
def test_short_presses_choose_and_a_long_one_starts(board: type[object]) -> None:
    """Over the whole rehearsal: outputs in the order of the table, each for its seconds, all off at last."""
    bench = several_cases.quick()["rehearsal"].constants
    said = board(REHEARSAL, 12_000 + 1000 * bench.total_max_s + 20_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    pins = {INLET: 1, ELEMENT: 2, WASH_PUMP: 4, DRAIN_PUMP: 8}
    # First of all every relay at its off level.
    assert [(one.what, one.rest) for one in said[:4]] == [("output", f"{pin} 0") for pin in pins]
    logs = [one for one in said if "log" in one.what or ":" in one.what]
    text = "\n".join(f"{one.what} {one.rest}" for one in logs)
    for name in ("first", "second", "cold", "rehearsal"):
        assert f"{name}: idle" in text
    assert "STOPPED" not in text
    assert re.search(r"rehearsal: spray, round 2, rounds left 4, \d+ s left, 35\.\d C", text)
    on, spells = 0, []
    for ms, pin, level in writes(said):
        spells.append([on, ms])
        on = on | pins[pin] if level else on & ~pins[pin]
    assert on == 0
    ends = zip(spells[1:], spells, strict=False)
    durations = [(was, end - start) for (was, end), (_, start) in ends if was]
    wanted: list[list[int]] = []
    for value in outputs_of(bench).tolist():
        if wanted and wanted[-1][0] == value:
            wanted[-1][1] += 1000
        else:
            wanted.append([value, 1000])
    wanted = [spell for spell in wanted if spell[0]]
    assert [was for was, _ in durations] == [was for was, _ in wanted]
    for (_, lasted_ms), (_, asked_ms) in zip(durations, wanted, strict=True):
        assert 0 <= lasted_ms - asked_ms <= 100


@pytest.mark.parametrize("board", BOTH)
def test_any_press_in_a_run_stops_it_at_once_and_starts_nothing(board: type[object]) -> None:
    events = [*DRY, *press(12_000, long=True), *press(20_000, long=True)]
    said = board(events, 60_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    stopped = [ms for ms, pin, level in writes(said) if not level and ms >= 20_000]
    assert 20_000 < stopped[0] <= 20_150
    text = "\n".join(f"{one.what} {one.rest}" for one in said)
    assert "STOPPED: stopped" in text
    after = [(pin, level) for ms, pin, level in writes(said) if ms > stopped[0]]
    assert after == [(DRAIN_PUMP, 1), (DRAIN_PUMP, 0)]


@pytest.mark.parametrize("board", BOTH)
@pytest.mark.parametrize("long", [False, True])
def test_while_a_start_waits_a_short_press_ends_it_and_a_long_one_does_not(
    board: type[object], long: bool
) -> None:
    """What ran before power-up is not known: an element may have to cool first, whatever somebody says."""
    said = board([*DRY, *press(1_000, long=True), *press(4_000, long=long)], 40_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    text = "\n".join(f"{one.what} {one.rest}" for one in said)
    assert "cool" in text
    assert ("STOPPED: stopped" in text) is not long
    drains = [ms for ms, pin, level in writes(said) if pin == DRAIN_PUMP and level]
    assert bool(drains)
    assert (INLET in {pin for ms, pin, level in writes(said) if level}) == long


PINS = ("PIN_INLET=2U", "PIN_ELEMENT=3U", "PIN_WASH_PUMP=4U", "PIN_DRAIN_PUMP=5U", "PIN_BUTTON=6U")
OTHER_PINS = ("PIN_FLOAT=7U", "PIN_LEVEL=NONE", "PIN_OVERFLOW=8U", "PIN_LID=9U")


def without_sensor(board: type[object], events: list[Event], until_ms: int) -> list[Said]:
    """Nothing reads the bath, and no memory says that the tank is cool: a start waits for hours."""
    if board is in_python:
        return in_python(events, until_ms, "wash_main.PIN_THERMISTOR = None", numbers=ANY_MACHINE)
    pins = (*PINS, *OTHER_PINS, "PIN_SKIP=NONE", "PIN_THERMISTOR=NONE")
    return in_c(events, until_ms, *(f"-D{pin}" for pin in pins))


def held_for(at_ms: int, ms: int) -> list[Event]:
    """Hold the button for so long."""
    return [(at_ms, BUTTON, 0), (at_ms + ms, BUTTON, 1)]


@pytest.mark.parametrize("board", BOTH)
@pytest.mark.parametrize(
    ("presses", "drains"),
    [
        pytest.param(held_for(1_000, 2_000), False, id="start"),
        pytest.param(held_for(1_000, 20_000), False, id="start-held-on"),
        pytest.param([*held_for(1_000, 2_000), *held_for(5_000, 2_000)], False, id="second-long"),
        pytest.param([*held_for(1_000, 2_000), *held_for(5_000, 9_800)], False, id="nearly-10-s"),
        pytest.param(
            [*held_for(1_000, 2_000), *held_for(5_000, 9_000), *held_for(14_500, 9_000)], False, id="two"
        ),
        pytest.param([*held_for(1_000, 2_000), *held_for(5_000, 10_300)], True, id="held-for-10-s"),
    ],
)
def test_only_a_press_of_10_s_that_began_in_the_wait_says_that_the_tank_is_cool(
    board: type[object], presses: list[Event], drains: bool
) -> None:
    """Who sees nothing move presses again, as long as before: no hot water is drained by it."""
    said = without_sensor(board, [*DRY, *presses], 28_000)
    assert (DRAIN_PUMP in {pin for _, pin, level in writes(said) if level}) is drains
    text = "\n".join(f"{one.what} {one.rest}" for one in said)
    assert re.search(
        r"HOT: waits \d+ min; do not press again, or look first: hold 10 s once tank and ware are seen cool",
        text,
    )
    assert "STOPPED" not in text


@pytest.mark.parametrize("board", BOTH)
def test_a_press_of_10_s_drains_nothing_that_reads_hot(board: type[object]) -> None:
    """The note asks for no look either: a reading is not to be overruled."""
    hot: list[Event] = [*DRY, (1, "adc", 184)]  # 63.6 C by the table
    said = board([*hot, *held_for(1_000, 2_000), *held_for(5_000, 12_000)], 60_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    assert not writes(said)
    text = "\n".join(f"{one.what} {one.rest}" for one in said)
    assert "HOT: waits till it reads cool; do not press again" in text
    assert "hold 10 s" not in text


@pytest.mark.parametrize("board", BOTH)
def test_a_button_that_is_down_at_power_up_starts_nothing_until_it_was_let_go(board: type[object]) -> None:
    """Leant on, pinched or wet: the first press that counts is the one after it was let go."""
    events = [*DRY, (1, BUTTON, 0), (9_000, BUTTON, 1), *press(12_000, long=True), *press(20_000, long=True)]
    said = board(events, 60_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    assert min(ms for ms, _, level in writes(said) if level) > 12_000


@pytest.mark.parametrize("board", BOTH)
def test_a_clock_that_stops_lets_the_watchdog_reset_the_board(board: type[object]) -> None:
    events: list[Event] = [*DRY, *press(12_000, long=True), (19_000, "clock", 0)]
    said = board(events, 60_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    assert said[-1].what == "watchdog"


@pytest.mark.slow
@pytest.mark.parametrize("board", BOTH)
def test_an_overflow_or_a_broken_wire_of_its_switch_stops_a_run(board: type[object]) -> None:
    events: list[Event] = [*DRY, *press(12_000, long=True), (20_000, OVERFLOW, 1)]
    said = board(events, 40_000)  # type: ignore[call-arg]
    assert isinstance(said, list)
    assert any("STOPPED: overflow" in f"{one.what} {one.rest}" for one in said)


@pytest.mark.slow
@needs_cc
def test_relays_that_are_on_at_a_low_level_are_kept_high_first() -> None:
    said = in_c(DRY, 3000, "-DRELAY_ON=false")
    assert [(one.what, one.rest) for one in said[:4]] == [("output", f"{pin} 1") for pin in (2, 3, 4, 5)]
    assert not writes(said)


@pytest.mark.slow
@needs_cc
def test_a_second_button_leaves_out_what_is_left_of_a_round() -> None:
    options = [f"-D{pin}" for pin in (*PINS, *OTHER_PINS, "PIN_SKIP=10U", "PIN_THERMISTOR=0U")]
    bench = several_cases.quick()["rehearsal"].constants
    begun_ms = 14_000 + 1000 * (bench.start_drain_s + 2 * bench.gap_s + bench.rounds[0].fill_s)
    events = sorted([*REHEARSAL, *press(begun_ms, long=True, pin=10)])
    said = in_c(events, 60_000, *options)
    first = [(pin, level) for _, pin, level in writes(said)][:6]
    assert first == [(5, 1), (5, 0), (2, 1), (2, 0), (4, 1), (4, 0)]
    (_, _, _, _, (on_ms, _, _), (off_ms, _, _), (drain_ms, pin, _)) = writes(said)[:7]
    assert off_ms - on_ms < 1000 * bench.rounds[0].spray_s
    assert (pin, drain_ms - off_ms) >= (DRAIN_PUMP, 1000 * bench.gap_s)


@needs_cc
def test_texts_can_be_left_out() -> None:
    """The note then says the numbers, and no text of a state or an error is in the program."""
    option = "-DWASH_NO_TEXTS"
    said = in_c([*DRY, *press(12_000, long=True), *press(20_000)], 23_000, option)
    notes = "\n".join(one.rest for one in said if one.what == "log")
    assert "# first: state 0" in notes
    assert "first: state 14, " in notes
    assert "STOPPED: error 1" in notes
    without, usual = (c_program(*words).read_bytes() for words in ((option,), ()))
    for text in (b"cooling first", b"float stays shut", b"wash_state_text"):
        assert text in usual
        assert text not in without


@needs_cc
def test_nothing_is_compiled_before_the_pins_are_filled_in() -> None:
    folder = c_program().parent
    command = ["cc", "-fsyntax-only", f"-I{folder}", f"-I{SOURCES}", str(SOURCES / "wash_main.c")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert "fill in pins, relays and thermistor" in done.stderr
    assert "FILLED_IN = False" in (SOURCES / "wash_main.py").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["wash_main.c", "wash_main.py"])
def test_cautions_come_first(name: str) -> None:
    text = " ".join((SOURCES / name).read_text(encoding="utf-8").replace(" * ", " ").split())
    assert text.index("CAUTIONS") < text.index("ONE BUTTON")
    words = ("Mains voltage", "licensed electrician", "local codes", "float switch in series", "scald",
             "OFF while the board resets", "watchdog", "element unplugged", "SPDX")  # fmt: skip
    assert all(word in text for word in words)


BOARD_OF_AN_AVR = """
#include <avr/io.h>
#include "wash_board.h"
void board_output(uint8_t pin, bool high) { PORTB = (uint8_t)(pin + high); }
void board_input(uint8_t pin) { DDRB = pin; }
void board_write(uint8_t pin, bool high) { PORTB = (uint8_t)(pin + high); }
bool board_read(uint8_t pin) { return PINB & pin; }
uint16_t board_adc(uint8_t pin) { ADMUX = pin; return ADC; }
uint32_t board_ms(void) { return TCNT1; }
void board_watchdog_begin(uint16_t ms) { WDTCSR = (uint8_t)ms; }
void board_watchdog_feed(void) { __asm__ volatile("wdr"); }
void board_log(const char *line) { UDR0 = (uint8_t)*line; }
uint8_t board_kept(uint8_t place) { EEARL = place; return EEDR; }
void board_keep(uint8_t place, uint8_t value) { EEARL = place; EEDR = value; }
"""


@pytest.mark.skipif(shutil.which("avr-size") is None, reason="no compiler for an AVR here")
def test_three_programmes_and_the_example_fit_into_an_8_bit_controller(tmp_path: Path) -> None:
    """An ATmega328P has 32 KB of flash and 2 KB of RAM (data sheet); docs/firmware.md says what is taken."""
    plans = {name: plan for name, plan in several_cases.timed().items() if name != "cold"}
    assert len(plans) == 3
    folder = built_several(plans).parent
    (tmp_path / "board.c").write_text(BOARD_OF_AN_AVR, encoding="utf-8")
    sources = [str(SOURCES / "wash_main.c"), str(SOURCES / "wash_controller.c"), "board.c"]
    flags = ["-mmcu=atmega328p", "-std=c99", "-Os", *STRICT, "-Wconversion"]
    flags += ["-ffunction-sections", "-Wl,--gc-sections"]
    command = ["avr-gcc", *flags, *STATED, f"-I{folder}", f"-I{SOURCES}", *sources, "-o", "main.elf"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    sized = subprocess.run(["avr-size", "main.elf"], cwd=tmp_path, capture_output=True, text=True, check=True)
    text, data, bss = map(int, sized.stdout.splitlines()[1].split()[:3])
    flash, ram = text + data, data + bss
    stated = (TESTS.parent / "docs" / "firmware.md").read_text(encoding="utf-8")
    said = re.search(r"(\d+\.\d) KB of flash and (\d+\.\d) KB of RAM with three programmes", stated)
    assert said is not None
    assert flash <= 1000 * float(said[1]), flash
    assert ram <= 1000 * float(said[2]) <= 1600, ram
