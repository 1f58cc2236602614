"""The power cut in every phase, and back at once: the controller drains and starts over.

No source: arithmetic on the numbers of `fault_cases`.
"""

from __future__ import annotations

import pytest
from check_cases import a_round, circuit, goal, programme
from fault_cases import (
    COVER_L,
    EASY,
    LEVEL,
    NO_ELEMENT,
    OUT_L_PER_S,
    START_S,
    THERMOSTAT,
    cut_rows,
    plain_machine,
    report,
)

from optimizer.check.faults.guard_words import COOL_TANK, HOT_IN_TURN, cool_ware
from optimizer.check.faults.guards import Protection
from optimizer.check.faults.outcome import FaultRow
from optimizer.check.faults.power_cut import power_cuts
from optimizer.check.faults.run_faults import make_rig
from optimizer.check.requirements import Judged
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

RINSES = programme(a_round("wash"), a_round("rinse"), a_round("rinse"))
ROUND_S = 100 + 2 + 300 + 2 + 70 + 2
RUN_S = START_S + 3 * ROUND_S - 2


def cuts(constants: Constants, rig: Machine) -> dict[str, FaultRow]:
    return {row.key.removeprefix("power."): row for row in cut_rows(constants, rig)}


def lasts(seconds: int) -> str:
    return f"{seconds // 60} min {seconds % 60} s"


def test_a_cut_costs_the_time_and_the_water_so_far() -> None:
    found = cuts(RINSES, plain_machine(NO_ELEMENT))
    assert list(found) == ["fill", "spray", "drain", "returns"]
    usual = f"or more in all instead of {lasts(RUN_S)}"
    # The latest cut of each kind: at the end of the last fill, spray and drain.
    before_s = {"fill": START_S + 2 * ROUND_S + 100, "spray": RUN_S - 72, "drain": RUN_S}
    for name, seconds in before_s.items():
        assert f"{lasts(seconds + RUN_S)} {usual}, up to 30.0 l more water." in found[name].happens
        assert (found[name].severity, found[name].guard) == ("harmless", "")


def test_detergent_has_to_be_put_in_again() -> None:
    constants = programme(a_round("wash", detergent_dg=300), a_round("rinse"))
    assert "and detergent again" in cuts(constants, plain_machine(NO_ELEMENT))["spray"].happens


def test_water_that_the_first_drain_does_not_take_comes_on_top() -> None:
    """10 s of drain take 2 of 10.8 l: with the 10 l of the first fill there are 18.8 l."""
    found = cuts(RINSES, plain_machine(NO_ELEMENT))["spray"]
    assert found.level_l == pytest.approx(18.8, abs=0.01)
    over = cuts(RINSES, plain_machine(NO_ELEMENT, {"tank.capacity_l": 16.0}))["spray"]
    # 7.2 l are missing when the fill begins, 12 s after the power is back.
    assert (over.severity, over.round) == ("damage", 1)
    assert over.after_s == pytest.approx(START_S + 7.2 / 0.1, abs=0.1)
    enough = programme(*RINSES.rounds, start_drain_s=60)
    assert cuts(enough, plain_machine(NO_ELEMENT))["spray"].level_l == pytest.approx(10.8, abs=0.01)


def test_level_switch_takes_what_is_left_into_account() -> None:
    constants = programme(a_round("wash", fill_s=200), a_round("rinse", fill_s=200), fill_control="level")
    # 10.5 l where the switch closes, and 0.2 l of film that may drip.
    assert cuts(constants, plain_machine(LEVEL))["spray"].level_l == pytest.approx(10.7, abs=0.01)


HEATED = programme(a_round("wash", heat_s=150, spray_s=300, rest_s=30), a_round("rinse"), start_drain_s=60)


def test_element_is_hot_as_the_first_drain_uncovers_it() -> None:
    found = cuts(HEATED, plain_machine())
    # A dry machine holds 10 l: 12.5 s later the element is bare, and it needs 30 s of rest.
    bare_s = (10.0 - COVER_L) / OUT_L_PER_S
    for name in ("heat", "spray"):
        assert (found[name].severity, found[name].round) == ("damage", 0)
        assert found[name].after_s == pytest.approx(bare_s, abs=0.3)
        assert "waits with all off" in found[name].guard
    assert found["fill"].severity == found["rest"].severity == found["drain"].severity == "harmless"
    assert found["heat"].uncovered_s == 0.0


def test_element_that_cools_in_time_comes_to_no_harm() -> None:
    found = cuts(HEATED, plain_machine({"element.rest_s": 12}))
    assert {row.severity for row in found.values()} == {"harmless"}


def test_cut_in_the_rest_counts_the_rest_so_far() -> None:
    """Heated to the end of the spray: at the beginning of the rest the element was on 0 s ago."""
    constants = programme(a_round("wash", spray_element_s=300, rest_s=30), a_round("rinse"), start_drain_s=60)
    found = cuts(constants, plain_machine())
    assert found["rest"].severity == "damage"
    assert found["drain"].severity == "harmless"


def test_cut_in_a_soak_has_a_row_of_its_own() -> None:
    """Heated in the spray before it: at its beginning the element was on 0 s ago, at its end 600 s."""
    row = a_round("wash", spray_s=360, spray_element_s=300, soak_s=600)
    found = cuts(programme(row, a_round("rinse"), start_drain_s=60, after_soak_s=60), plain_machine())
    assert found["soak"].fault == "power cut while soaking"
    assert found["soak"].severity == "damage"
    assert found["drain"].severity == "harmless"
    # With a minute of spray after the heat and before the soak it has cooled by then.
    row = a_round("wash", spray_s=420, spray_element_s=300, soak_s=600)
    found = cuts(programme(row, a_round("rinse"), start_drain_s=60, after_soak_s=60), plain_machine())
    assert found["soak"].severity == "harmless"


def test_prerinse_after_a_hot_wash_may_be_too_warm() -> None:
    changes = {"element.rated_w": 1500.0, "tank.limit_c": 100.0}
    rounds = (a_round("prerinse"), a_round("wash", heat_s=2400, spray_s=300, rest_s=30), a_round("rinse"))
    wet = cuts(programme(*rounds), plain_machine(changes))["spray"]
    # 8.8 of 10.8 l stay at 60 °C or more when 10 l of 18 °C come in: well above 40 °C.
    assert wet.severity == "spoils the wash"
    assert "A prerinse is at" in wet.happens
    dry = cuts(programme(*rounds, start_drain_s=60), plain_machine(changes))["spray"]
    assert "A prerinse is at" not in dry.happens


def test_timed_heating_from_a_warm_start_is_hotter() -> None:
    """Two washes of the same heating: after a cut the first one starts from the warmth of the second."""
    changes = {"element.rated_w": 900.0, "tank.limit_c": 100.0}
    constants = programme(a_round("wash", heat_s=1500, rest_s=30), start_drain_s=60)
    rig = plain_machine(changes)
    sound, again = report(constants, rig).sound, cuts(constants, rig)["spray"]
    # Tank and ware, 4.5 + 4.2 of 50.5 kJ/K, bring their share of some 30 K along.
    assert again.bath_c - sound.bath_c == pytest.approx(30.0 * 8.7 / 50.5, abs=3.0)
    assert again.bath_c > sound.bath_c + 1.0


def test_thermostat_stops_at_its_setpoint_all_the_same() -> None:
    changes = {**THERMOSTAT, "element.rated_w": 900.0}
    constants = programme(
        a_round("wash", heat_s=2400, setpoint_dc=450, rest_s=30), start_drain_s=60, control="thermostat",
        hysteresis_dk=10,
    )  # fmt: skip
    rig = plain_machine(changes)
    assert cuts(constants, rig)["spray"].bath_c == pytest.approx(
        report(constants, rig).sound.bath_c, abs=0.05
    )


@pytest.mark.parametrize(
    ("lid_s", "dries"), [(0, ""), (120, "lid shut until 2 min 0 s after the last drain")]
)
def test_a_load_that_stands_is_washed_and_needs_no_start(lid_s: int, dries: str) -> None:
    constants = programme(*RINSES.rounds, stand_s=600, lid_open_after_s=lid_s)
    found = cuts(constants, plain_machine(NO_ELEMENT))["stand"]
    assert found.happens.startswith("The load is washed and rinsed: start nothing.")
    assert dries in found.happens
    assert ("lid" in found.happens) == bool(lid_s)
    assert (found.severity, found.guards) == ("harmless", ())


def test_standing_is_a_phase_too() -> None:
    """Where it starts by itself it washes what is washed."""
    constants = programme(*RINSES.rounds, stand_s=600, restart_after_cut=True)
    found = cuts(constants, plain_machine(NO_ELEMENT))["stand"]
    assert f"{lasts(2 * RUN_S + 600)} or more in all instead of {lasts(RUN_S)}" in found.happens


@pytest.mark.parametrize(("feed_c", "missed"), [(8.0, True), (18.0, False)])
def test_a_run_started_again_says_what_it_misses(feed_c: float, missed: bool) -> None:
    """Ware that was rinsed at 8 °C is colder than the room's 18; at 18 °C a second run is as the first.

    By hand: 10 kJ/K of ware and tank at the most, 10 K colder, in 42 of water: 2.4 K at the most less, so
    that at a z of 49 K a minute counts 0.89 or more of what it did.
    """
    constants = programme(a_round("wash"), a_round("rinse"), start_drain_s=60)
    rig = plain_machine(NO_ELEMENT, {"inlet.water_c": feed_c})
    free = make_rig(constants, rig, goal(EASY), circuit())
    judged = {one.key: one for one in free.observe(free.asked).judged}
    usual = judged["dose.milk"]
    assert isinstance(usual, Judged)
    least_min = 0.999 * float(usual.values.min())
    (dose,) = EASY["dose"]
    asked = goal(EASY | {"dose": [dose | {"minutes": least_min}]})
    ready = make_rig(constants, rig, asked, circuit())
    found = {row.key: row for row in power_cuts(ready, ready.observe(ready.asked))}
    said = found["power.drain"].happens
    assert ("it may miss: dose milk" in said) == missed
    assert found["power.drain"].severity == ("spoils the wash" if missed else "harmless")
    assert "started again NO dose is proven" in found["power.returns"].happens
    if missed:
        told_min = float(said.split("dose milk ")[1].split(" min")[0])
        assert 0.89 * least_min < told_min < least_min


@pytest.mark.parametrize("rig", [plain_machine(), plain_machine(NO_ELEMENT)], ids=["element", "none"])
def test_nothing_starts_by_itself_unless_the_constants_say_so(rig: Machine) -> None:
    """Common practice (no source): a machine with a pulled plug may have hands in it.

    Drain 10 s, pause 2 s, fill 100 s, pause 2 s; then 40 s of heat and a pause, then the spray.
    """
    rounds = (a_round("wash", heat_s=40, rest_s=30) if rig.element else a_round("wash"), a_round("rinse"))
    found = cuts(programme(*rounds), rig)
    assert (found["returns"].severity, found["returns"].guard) == ("harmless", "")
    assert "Nothing moves until someone starts it" in found["returns"].happens
    begins = "Started again at once, the controller drains"
    assert all(found[name].happens.startswith(begins) for name in ("fill", "spray"))
    itself = cuts(programme(*rounds, restart_after_cut=True), rig)
    row = itself["returns"]
    assert (row.severity, row.after_s, row.round) == ("danger", 0.0, 0)
    moves = "water after 12 s, spray after 2 min 36 s, element after 1 min 54 s"
    assert (moves if rig.element else "water after 12 s, spray after 1 min 54 s.") in row.happens
    assert "WASH_RESTART_AFTER_CUT at 0" in row.guards
    assert all(itself[name].happens.startswith("The controller drains") for name in ("fill", "spray"))


@pytest.mark.parametrize(("limit_k", "breaks"), [(None, False), (20.0, True), (90.0, False)])
def test_a_restart_chills_ware_that_is_still_hot(limit_k: float | None, breaks: bool) -> None:
    """10 l of 18 °C into tank and carry-over as hot as the ware: 4.5 kJ/K, and 0.6 kg of 4.18 kJ/(kg K)."""
    changes = {"element.rated_w": 1500.0, "ware.glass_kg": 1.0, "ware.response_still_s": 20000.0}
    table = programme(
        a_round("prerinse"),
        a_round("wash", heat_s=2000, spray_s=900, rest_s=30, drain_s=80),
        start_drain_s=155,
    )
    rig = plain_machine(changes)
    limits = {} if limit_k is None else {"limits.ware_drop_k": limit_k}
    ready = make_rig(table, rig, goal(EASY | limits), circuit())
    sound = ready.observe(ready.asked)
    found = {one.key: one for one in power_cuts(ready, sound)}["power.spray"]
    assert ("glass or porcelain in the load may break" in found.happens) == breaks
    assert any(guard.startswith("tank and ware at") for guard in found.guards) == breaks
    if not breaks:
        return
    hot_c = float(sound.meter.ends[12].ware_c.max())
    kept, let_in = 4.5 + 0.6 * 4.18, 10.0 * 4.18
    drop_k = hot_c - (kept * hot_c + let_in * 18.0) / (kept + let_in)
    told_k = float(found.happens.split("A spray meets ware ")[1].split(" K")[0])
    assert told_k == pytest.approx(drop_k, abs=1.5)
    assert f"above {limit_k:g} K" in found.happens
    # The drain at the start, a pause, 100 s of fill and a pause.
    assert found.severity == "damage"
    (harm_s,) = [found.after_s]
    assert harm_s is not None
    assert harm_s <= 155 + 2 + 100 + 2 + 1


@pytest.mark.parametrize(("spare_k", "breaks"), [(2.0, True), (20.0, False)])
def test_ware_that_is_the_colder_one_is_not_told_to_cool(spare_k: float, breaks: bool) -> None:
    """A bath heated by time from a tank that is still hot, beside ware that no spray has warmed.

    By hand: tank and carry-over of 20 + 2.5 kJ/K, 34 K over the 10 l of 41.8 kJ/K that come in: no more than
    22.5 / 64.3 · 34 = 11.9 K hotter, and less by what the empty tank loses and the ware takes.
    """
    changes = {"element.rated_w": 1500.0, "ware.glass_kg": 1.0, "ware.response_still_s": 20000.0,
               "tank.heat_capacity_kj_per_k": 20.0}  # fmt: skip
    table = programme(a_round("wash", heat_s=1500, spray_s=60, rest_s=30, drain_s=80), start_drain_s=155)
    rig = plain_machine(changes)
    free = make_rig(table, rig, goal(EASY), circuit())
    sound_k = float(free.observe(free.asked).heat.rise_k.max())
    limits = {"limits.ware_drop_k": 100.0, "limits.ware_rise_k": sound_k + spare_k}
    ready = make_rig(table, rig, goal(EASY | limits), circuit())
    found = {one.key: one for one in power_cuts(ready, ready.observe(ready.asked))}["power.heat"]
    assert ("a bath" in found.happens and "hotter than the ware" in found.happens) == breaks
    assert "ware hotter" not in found.happens
    assert (COOL_TANK in found.guards) == breaks
    assert not any(guard.startswith("tank and ware") for guard in found.guards)
    assert found.severity == ("damage" if breaks else found.severity)
    if breaks:
        told_k = float(found.happens.split("A spray meets a bath ")[1].split(" K")[0])
        assert sound_k + 4.0 < told_k < sound_k + 11.9


def test_each_step_has_its_own_advice() -> None:
    """Ware that is too hot cools by itself; beside a bath that is too hot it would be too cold still."""
    against = Protection.of(RINSES, plain_machine(), circuit()).against("power.spray")
    assert (against["breaks"], against["breaks_cold"]) == ((cool_ware(None),), (COOL_TANK,))


BY_TIME = programme(a_round("wash", heat_s=900, spray_s=300, rest_s=30), a_round("rinse"), start_drain_s=60)


@pytest.mark.parametrize(
    ("pipe_c", "air_c", "again", "guard"),
    [
        (34.0, 18.0, True, "tank and ware cooled to 30 °C or less, by a thermometer"),
        # No room of 31 °C cools anything to 30.
        (34.0, 31.0, True, HOT_IN_TURN),
        (34.25, 18.0, False, ""),
    ],
)
def test_a_bath_that_was_left_to_cool_may_still_begin_too_warm_for_its_drain(
    pipe_c: float, air_c: float, again: bool, guard: str
) -> None:
    """810 kJ heat all of 18 °C to 34.2 °C at the most; tank and ware of 34 °C before it add a little."""
    air = {"nominal": 18.0, "low": 18.0, "high": air_c}
    rig = plain_machine(
        {"element.rated_w": 900.0, "drain_pump.drain_limit_c": pipe_c, "room.air_c": air},
    )
    rows = cuts(BY_TIME, rig)
    warm = [row for row in rows.values() if "begins warm all the same" in row.happens]
    assert bool(warm) == again
    for row in warm:
        assert any(one.startswith(guard) for one in row.guards)
        told = "Let tank and ware cool to 30 °C before you start it" in row.happens
        assert told == (guard != HOT_IN_TURN)
        drained_c = float(row.happens.split("drains water of up to ")[1].split(" °C")[0])
        assert pipe_c < drained_c <= pipe_c + 6.0
