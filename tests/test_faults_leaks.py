"""Faults in which water leaves, the wash pump runs on or draws air, or another load starts: counted by hand.

No source but where one is named: arithmetic on the numbers of `fault_cases`. The machine starts dry or wet,
whichever is worse: dry it holds 10 l after a fill.
"""

from __future__ import annotations

import pytest
from check_cases import a_round, circuit, goal, programme
from fault_cases import CARRY_L, COVER_L, EASY, HOLDUP_L, LEVEL, NO_ELEMENT, OUT_L_PER_S, plain_machine, row

from optimizer.check.faults.catalogue import LEAK_SHARE
from optimizer.check.faults.compressor import compressor_row
from optimizer.check.faults.guard_words import (
    FLOAT_SWITCH,
    FLOW_SWITCH,
    HOSE_LOOP,
    PUMP_IN_SERIES,
    SHEATH_CUT_OUT,
)
from optimizer.check.faults.outcome import FaultRow
from optimizer.check.faults.run_faults import make_rig
from optimizer.programme.constants import Constants

S = 0.3
"""Seconds within which a moment is met [s]."""
HEATED = programme(a_round("wash", heat_s=150, spray_s=300, rest_s=30), a_round("rinse"), start_drain_s=60)
COLD = programme(a_round("wash"), a_round("rinse"))
PRIME_L = plain_machine().wash_pump.prime_l


@pytest.mark.parametrize(
    ("key", "out_l_per_s"), [("drain.runs", OUT_L_PER_S), ("tank.leaks", LEAK_SHARE * OUT_L_PER_S)]
)
def test_water_that_leaves_bares_a_live_element(key: str, out_l_per_s: float) -> None:
    """2.5 l over the cover of 7.5 l; the element is on for 150 s, by its time alone."""
    found = row(HEATED, plain_machine(), key)
    bare_s = (10.0 - COVER_L) / out_l_per_s
    assert (found.severity, found.round) == ("danger", 1)
    assert found.after_s == pytest.approx(bare_s, abs=S)
    assert found.uncovered_s == pytest.approx(150.0 - bare_s, abs=S)
    # A feeler in an emptied bath reads air: only one on the sheath stands against a bare element.
    assert found.guards[:2] == (FLOAT_SWITCH, SHEATH_CUT_OUT)
    assert not any("in the bath" in guard for guard in found.guards)
    # A hose that hangs below the bath siphons it: a loop above the rim, or air in it (no source).
    assert (HOSE_LOOP in found.guards) == (key == "tank.leaks")
    assert found.level_l == pytest.approx(10.0 + CARRY_L, abs=0.02), "full before it begins"


@pytest.mark.parametrize(("most_s", "told"), [(140.0, "2 min 20 s"), (300.0, "5 min 0 s")])
def test_a_drain_pump_that_runs_on_runs_dry_as_well(most_s: float, told: str) -> None:
    found = row(programme(a_round("wash")), plain_machine({"drain_pump.dry_most_s": most_s}), "drain.runs")
    assert f"dry once the tank is empty: it stands that for {told}." in found.happens


@pytest.mark.parametrize("key", ["drain.runs", "tank.leaks"])
@pytest.mark.parametrize("level", [{}, LEVEL], ids=["timed", "level switch"])
def test_without_an_element_the_wash_pump_runs_dry(key: str, level: dict[str, object]) -> None:
    """10 l less the hold-up of 1.5 l, the suction at 5 l: 3.5 l."""
    table = programme(*(a_round(kind, fill_s=200 if level else 100) for kind in ("wash", "rinse")),
                      fill_control="level" if level else "timed")  # fmt: skip
    found = row(table, plain_machine(NO_ELEMENT, level), key)
    out = OUT_L_PER_S * (1.0 if key == "drain.runs" else LEAK_SHARE)
    filled_l = 10.5 if level else 10.0
    assert (found.severity, found.round) == ("damage", 1)
    assert found.after_s == pytest.approx((filled_l - HOLDUP_L - PRIME_L) / out, abs=4.0 if level else S)
    assert "level or flow switch" in found.guard


@pytest.mark.parametrize(("over_s", "severity"), [(-2, "harmless"), (2, "damage")])
def test_a_leak_slower_than_the_programme_only_takes_water(over_s: int, severity: str) -> None:
    """Boundary: the spray ends before the suction is bare, or 2 s after it.

    What the drain leaves is as strong as without a leak.
    """
    lasts_s = round((10.0 - HOLDUP_L - PRIME_L) / (LEAK_SHARE * OUT_L_PER_S))
    table = programme(a_round("wash", spray_s=lasts_s + over_s))
    assert row(table, plain_machine(NO_ELEMENT), "tank.leaks").severity == severity


def test_a_wash_pump_that_does_not_stop_runs_dry_in_the_next_drain() -> None:
    """2 s of pause, then 3.5 l at 0.2 l/s: 19.5 s; the drain takes the rest, and the pump runs on."""
    found = row(COLD, plain_machine(NO_ELEMENT), "pump.runs")
    assert (found.severity, found.round) == ("damage", 1)
    assert found.after_s == pytest.approx(2.0 + (10.0 - HOLDUP_L - PRIME_L) / OUT_L_PER_S, abs=S)
    # It starts with 3.1 A (85 W at 230 V and 0.6, five times that) and spits from 5 l on.
    assert found.guards == (PUMP_IN_SERIES.format("5", "3.1 A"),)
    supplied = {"wash_pump.inrush_multiple": None, "wash_pump.surge_a": 6.0, "wash_pump.stall_a": 0.4}
    (asked,) = row(COLD, plain_machine(NO_ELEMENT, supplied), "pump.runs").guards
    # Behind a power supply its rotor takes 0.4 A at 230 V as it starts: 92 W.
    assert "(of direct current, 7.7 A at 12 V, 3.9 A at 24 V)" in asked
    assert "pump should have stopped" in found.happens


def test_a_wash_pump_that_runs_on_takes_its_hold_up_from_the_next_heating() -> None:
    """8 l and 0.6 l of the sump cover it (7.5 l); 1.5 l of them in the spray, they do not."""
    table = programme(a_round("wash", fill_s=80), a_round("wash", fill_s=80, heat_s=60, rest_s=30))
    found = row(table, plain_machine(), "pump.runs")
    assert found.severity == "danger"
    assert FLOAT_SWITCH in found.guards


def test_a_starved_pump_runs_dry_from_its_first_spray_on() -> None:
    found = row(COLD, plain_machine(NO_ELEMENT), "pump.starved")
    assert (found.severity, found.after_s, found.round) == ("damage", 0.0, 1)
    assert "runs dry from round 1 (wash), at once, for 10 min 0 s or more in all" in found.happens
    assert found.guards == (FLOW_SWITCH,)


def compressor(table: Constants, **changes: object) -> FaultRow:
    ready = make_rig(table, plain_machine({"element.rated_w": 900.0}), goal(EASY), circuit(changes))
    return compressor_row(ready, ready.observe(ready.asked))


# 900 W at 230 V and 3 W of controller, by Ohm's law.
ELEMENT_A = (900.0 + 3.0) / 230.0
SMALL = {"rating_a": 6.0, "background_a": {"nominal": 0.0, "low": 0.0, "high": 1.2}}


@pytest.mark.parametrize(("over_a", "words", "severity"), [
    (-0.05, "holds", "harmless"),
    (0.05, "may open at once from 18 A", "spoils the wash"),
])  # fmt: skip
def test_a_small_breaker_opens_as_it_starts(over_a: float, words: str, severity: str) -> None:
    """6 A of class B may open at once from 18 A on (IEC 60898-1, secondary page)."""
    high_a = 18.0 - ELEMENT_A - 1.2 + over_a
    start_a = {"nominal": 0.5 * high_a, "low": 0.0, "high": high_a}
    found = compressor(HEATED, **SMALL, compressor_start_a=start_a)
    assert words in found.happens
    assert found.severity == severity
    assert ("a circuit of its own" in found.happens) == (over_a > 0.0)


def test_without_one_nothing_happens() -> None:
    found = compressor(HEATED, **SMALL, compressor_start_a=0.0)
    assert (found.severity, "there is none" in found.happens) == ("harmless", True)


def test_a_fuse_does_not_open_at_once() -> None:
    found = compressor(HEATED, device="fuse_gg", rating_a=16.0, compressor_start_a=100.0)
    assert (found.severity, "holds" in found.happens) == ("harmless", True)


@pytest.mark.parametrize(("over_a", "severity"), [(-0.05, "harmless"), (0.05, "spoils the wash")])
def test_an_inverter_shuts_off_as_it_starts(over_a: float, severity: str) -> None:
    """It gives 12 A for a moment (invented), less than the 18 A from which its breaker may open."""
    high_a = 12.0 - ELEMENT_A - 1.2 + over_a
    found = compressor(HEATED, **SMALL, momentary_a=12.0, compressor_start_a=high_a)
    assert found.severity == severity
    assert ("gives 12 A for a moment and may shut off" in found.happens) == (over_a > 0.0)
    assert "may open at once" not in found.happens


def test_a_compressor_that_runs_beside_it_is_planned_with() -> None:
    """All else on the circuit, compressors running, is its background: 6 A less 1.2 A are left."""
    assert circuit(SMALL).available_a == pytest.approx(4.8)
