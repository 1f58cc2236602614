"""The reference controller on random tables: clock, sensors, switches, buttons and mains fail at random.

`controller_attack.c` watches it from outside in true time, which the controller does not see: no motor starts
within a pause of another's end, no drain bares a hot element, no element is on without a whole fill, nothing
stays on with a dead clock, every phase has its length and its turn, every error its cause. Power is cut at
any step, and what is kept then loses its last write, cannot be read, or takes nothing. Clocks begin about
2^32 and 2^31 ms, stop, jump, or turn over at 16 bits. What it watches for are safety rules of our own
(no source).
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from controller_rig import CHECKED, SOURCES, STRICT, TESTS, Error, needs_cc
from exploring import TIMES

pytestmark = needs_cc

SEEDS = 1500
PACED = (
    *("-DWASH_STEPS_MAX_PER_S=100", "-DWASH_HELD_MAX_S=20UL"),
    *("-DWASH_DRAIN_WAIT_S=15UL", "-DWASH_DRAIN_STOP_DC=495"),
)
NEVER_MET = {
    *(Error.OK, Error.HOOKS, Error.PROGRAMME, Error.SENSOR_STUCK),
    *(Error.FILL_TIME, Error.ELEMENT_TIME, Error.TOTAL_TIME),
}
"""A sound table never meets its own watchdogs; the others cannot be met here."""

LATE, NEXT = (
    "step_ms > WASH_LATE_MS) {\n        return",
    "wash->next == WASH_STATE_DRAIN && wash->pause_ms > 0UL",
)
PAUSES = "wash->pause_ms < gap_ms(wash)) {\n        wash->pause_ms = gap_ms(wash);\n    }\n    /* The wash"
CHOSEN = "wash->pause_ms < gap_ms(wash)) {\n            "
UNREAD = "(wash->warm_ms == 0UL || (wash->bath_valid"
TWICE = "(wash->hooks->covered(wash->hooks->context) && wash->hooks->covered(wash->hooks->context))"
HOLDS = "if (wash->state != WASH_STATE_HELD) {\n        wash->held"
LID_TWICE = "!(wash->hooks->lid_shut(wash->hooks->context) && wash->hooks->lid_shut(wash->hooks->context))"
OVERFLOW_TWICE = " || wash->hooks->overflow(wash->hooks->context));"
MISTAKES = {
    "a stopped clock goes by": ("    if (clock_stopped(wash)) {", "    if (false) {"),
    "a pump goes on without a clock": ("start_drain_s) || clock_stopped(wash)", "start_drain_s)"),
    "a clock that goes on counts what it missed": ("sure = !stopped &&", "sure = (stopped || true) &&"),
    "a jump counts as a wait": ("clock_step_ms : 0UL", "clock_step_ms : step_ms"),
    "a jump is no time for a pump": ("clock_step_ms : WASH_LATE_MS", "clock_step_ms : 0UL"),
    "a jump goes by": (LATE, LATE.replace(">", "> 2UL *")),
    "a restart by itself": ("restarts = cut && programme->restart_after_cut;", "restarts = cut;"),
    "a drain by itself after a cut": (" || wash->error == WASH_ERROR_POWER_CUT ||", " ||"),
    "no pause between two runs": (PAUSES, PAUSES.replace("= gap_ms(wash)", "= 0UL")),
    "no pause after power-up": ("a moment ago */\n    wash->pause_ms = rest_ms(wash);", "a moment ago */"),
    "a drain over a hot element": (NEXT, "false"),
    "another programme in a run": (
        "wash->state != WASH_STATE_IDLE || !is_sound(programme)) {",
        "!is_sound(programme)) {",
    ),
    "a shorter pause after another programme": (CHOSEN, CHOSEN.replace("<", "> 1000000000UL +")),
    "a drain of what reads hot": ("wash->bath_dc > (int16_t)WASH_DRAIN_MAX_DC", "wash->bath_dc > 480"),
    "a drain in its turn of what reads too hot": ("wash->bath_dc > (int16_t)WASH_DRAIN_STOP_DC", "false"),
    "a drain in its turn that is held back": (
        "wash->bath_dc > (int16_t)WASH_DRAIN_STOP_DC",
        "wash->bath_dc > (int16_t)WASH_DRAIN_MAX_DC",
    ),
    "a drain of what was heated unread": (UNREAD, UNREAD.replace("== 0UL", "< 10000UL")),
    "a start drains what is hot": (
        "wash->pause_ms == 0UL && drains_cool(wash)) {",
        "wash->pause_ms == 0UL) {",
    ),
    "a start at once drains what is hot": (
        "wash->pause_ms > 0UL || !drains_cool",
        "wash->pause_ms > 0UL || drains_cool(wash) != drains_cool",
    ),
    "the safe state drains what is hot": (
        "WASH_ERROR_OVERFLOW && !drains_cool(wash)",
        "WASH_ERROR_OVERFLOW && false",
    ),
    "what stood before power-up counts as cold": ("if (!wash->kept_cool || restarts) {", "if (restarts) {"),
    "a run that begins again believes what was kept": (
        "if (!wash->kept_cool || restarts) {",
        "if (!wash->kept_cool) {",
    ),
    "what was kept is not believed": ("if (!wash->kept_cool || restarts) {", "if (true) {"),
    "a run that heats is not noted": ("    note_cool(wash, false);\n", ""),
    "a run that heats is noted after its flag": (
        "    if (!goes_on && !notes_hot(wash)) {",
        "    note_running(wash, true);\n    if (!goes_on && !notes_hot(wash)) {",
    ),
    "a tank is noted as cool before a hot round": (
        "goes_on && may_warm(wash, wash->round)",
        "goes_on && false",
    ),
    "a tank is noted as cool while a pump runs": ("wash->on == 0U && wash->warm_ms", "wash->warm_ms"),
    "a tank is noted as cool before its wait is over": (
        "wash->on == 0U && wash->warm_ms == 0UL",
        "wash->on == 0U && wash->warm_ms < 10000UL",
    ),
    "a tank that reads hot is noted as cool": ("&& !reads_hot(wash)\n", "\n"),
    "what is kept is written at every step": (
        "wash->hooks->set_cool != NULL && cool != wash->kept_cool",
        "wash->hooks->set_cool != NULL",
    ),
    "a memory that fails goes by": ("|| !wash->hooks->was_cool(wash->hooks->context);", "|| true;"),
    "the wait for a hot bath counts while the pump warms it": (
        "(wash->warmed ? WASH_ON_WASH_PUMP : 0)",
        "0",
    ),
    "a wait for a hot bath goes on after its drain": (
        "    forget_bath(wash);\n    wash->round",
        "    wash->round",
    ),
    "a skip leaves the top-up out": ("|| row_of(wash)->top_up_s == 0U)", "|| true)"),
    "a skip leaves the element on": ("!wash->filled || wash->skips || ", "!wash->filled || "),
    "a skip hides a jump": ("if (tick(wash) > WASH_LATE_MS) {", "if (tick(wash) > 4000000000UL) {"),
    "one reading is enough": ("reading(wash, &dc) && wash->bath_valid &&", "reading(wash, &dc) &&"),
    "two readings may be apart": ("&& dc - first_dc <= WASH_READ_APART_DK\n", "&& dc - first_dc <= 9999\n"),
    "one look at the float": (TWICE, "(wash->hooks->covered(wash->hooks->context))"),
    "one look at the overflow": (OVERFLOW_TWICE, ");"),
    "an open lid goes by": ("} else if (wash->lid_open && in_run", "} else if (false && in_run"),
    "an open lid lets a start go by": (" || lid_opened(wash)) {", ") {"),
    "a skip with the lid open": ("    if (wash->lid_open) {\n        hold", "    if (false) {\n        hold"),
    "shutting the lid starts a drain": ("(wash->lid_open && (wash->state ==", "(false && (wash->state =="),
    "the time held begins anew at every step": (
        HOLDS,
        HOLDS.replace("wash->state != WASH_STATE_HELD", "true"),
    ),
    "the lid loses the round": ("goes_on ? wash->round : 0U", "goes_on ? 0U : 0U"),
    "a lid holds for ever": ("wash->state_ms > ms(WASH_HELD_MAX_S)", "false"),
    "a lost sensor that comes back is believed": (" || error == WASH_ERROR_SENSOR_LOST", ""),
    "one look at the lid": (LID_TWICE, "!(wash->hooks->lid_shut(wash->hooks->context))"),
}
"""Mistakes of a hand that changes the source, each the text that it replaces and what by."""
LONG = {
    name for name in MISTAKES if name.split()[1] in ("skip", "look", "reading", "readings", "shorter", "tank")
}
LONG |= {"what was kept is not believed", "what is kept is written at every step"}
"""Mistakes that only the long tests make."""


def attack(
    folder: Path, source: Path, *options: str, first: int = 0, seeds: int = SEEDS, cold: int = 1
) -> tuple[int, str]:
    program = folder / "attack"
    options = (*options, f"-DWASH_FILL_IS_COLD={cold}")
    command = ["cc", "-std=c99", *STRICT, *options, *PACED, f"-I{TESTS / 'any_table'}", f"-I{SOURCES}"]
    files = [str(TESTS / "controller_attack.c"), str(source), "-o", str(program)]
    built = subprocess.run([*command, *files], capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stderr
    done = subprocess.run([program, str(first), str(seeds)], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def test_nothing_that_goes_wrong_endangers_anything_on_any_table(tmp_path: Path) -> None:
    seeds = SEEDS * max(TIMES, 1)
    code, said = attack(tmp_path, SOURCES / "wash_controller.c", *CHECKED, "-O1", seeds=seeds)
    assert code == 0, said
    steps, anew, cool, hot, held, went_on, kept, waited, told, known, lost, warm, *rest = map(
        int, said.split()
    )
    started, done, *met = rest
    assert steps > 1000 * seeds
    assert min(anew, cool, hot) > seeds // 10, "programmes are changed and rounds left out, cool and hot"
    assert held > went_on > seeds // 2, "runs are held by the lid and go on"
    assert min(kept, waited) > seeds, "hot water stays in, and is drained once it has cooled unread"
    assert told > seeds // 10, "somebody says that the tank is cool"
    assert min(known, lost) > seeds // 5, "power comes back to a tank kept as cool, and writes are lost"
    assert warm > seeds, "what is warmer than a drain out of its turn may be is drained in its turn"
    assert done > seeds
    assert started > 2 * done, "half of the runs and more go wrong"
    assert {error for error in Error if not met[error]} == NEVER_MET


def test_a_feed_that_comes_hot_warms_as_the_element_does(tmp_path: Path) -> None:
    code, said = attack(tmp_path, SOURCES / "wash_controller.c", "-O1", seeds=SEEDS, cold=0)
    assert code == 0, said
    text = (SOURCES / "wash_controller.c").read_text(encoding="utf-8")
    old = "(WASH_FILL_IS_COLD ? 0 : WASH_ON_INLET)"
    assert text.count(old) == 1
    (tmp_path / "wash_controller.c").write_text(text.replace(old, "0"), encoding="utf-8")
    code, said = attack(tmp_path, tmp_path / "wash_controller.c", "-O1", seeds=SEEDS, cold=0)
    assert code == 1, said


@pytest.mark.slow
def test_millions_of_steps_break_nothing(tmp_path: Path) -> None:
    """Without sanitizers, on other tables than the quick test; with SCULLION_EXPLORE 100 million of them."""
    seeds = 60_000 if TIMES else 15_000
    code, said = attack(tmp_path, SOURCES / "wash_controller.c", "-O2", first=SEEDS, seeds=seeds)
    assert code == 0, said
    assert int(said.split()[0]) >= seeds * 100_000_000 // 60_000


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] * (name in LONG)) for name in MISTAKES]
)
def test_the_attack_finds_a_mistake(name: str, tmp_path: Path) -> None:
    old, new = MISTAKES[name]
    text = (SOURCES / "wash_controller.c").read_text(encoding="utf-8")
    assert text.count(old) == 1
    (tmp_path / "wash_controller.c").write_text(text.replace(old, new), encoding="utf-8")
    code, said = attack(tmp_path, tmp_path / "wash_controller.c", "-O0", seeds=4 * SEEDS)
    assert code == 1, said
