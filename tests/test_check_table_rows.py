"""Numbers that no sound run shows: each by litres, seconds, grams or watts worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from check_cases import (
    THERMOSTAT,
    a_round,
    circuit,
    five_rounds,
    five_rounds_by_thermostat,
    goal,
    machine,
    programme,
    row_of,
)

from optimizer.check.certificate import Row
from optimizer.check.certify import check, misfits
from optimizer.check.dosing import detergent_span_dg
from optimizer.check.fills import start_drain_least_s
from optimizer.check.sensor_meter import hottest_reading_c
from optimizer.check.table_rows import bath_max_most_dc, heating_row, room_under_limit_k, table_rows
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Kind

WASH = a_round("wash", detergent_dg=324)


def rows(
    table: Constants, rig: Machine | None = None, aim: dict[str, object] | None = None
) -> dict[str, Row]:
    return {row.key: row for row in table_rows(table, rig or machine(), goal(aim))}


@pytest.mark.parametrize(("start_drain_s", "left_l"), [(153, 0.0), (152, 27.5 - 152 * 10.8 / 60), (1, 27.32)])
def test_start_drain_empties_a_full_tank(start_drain_s: int, left_l: float) -> None:
    """28 l to the lip less 0.5 l of residual at 12 l/min less 10 %: 152.8 s."""
    found = rows(programme(WASH, start_drain_s=start_drain_s))["start_drain.left_l"]
    assert found.worst == found.guaranteed == pytest.approx(left_l)
    assert found.passed is (left_l == 0.0)
    assert start_drain_least_s(machine()) == 153


@pytest.mark.parametrize(
    ("fill_s", "failing"), [(115, "fill.reaches_s"), (116, None), (131, None), (132, "fill.stuck_s")]
)
def test_longest_fill_of_a_level_switch(fill_s: int, failing: str | None) -> None:
    """11 l at 6 l/min less 5 %: 115.8 s; a switch that sticks gets 5 % and 10 s on top: 131.6 s."""
    table = programme(replace(WASH, fill_s=fill_s, detergent_dg=321), fill_control="level", start_drain_s=200)
    found = rows(table, machine(THERMOSTAT | {"element": None}))
    assert [key for key, row in found.items() if not row.passed] == ([failing] if failing else [])


def test_the_shortest_and_the_longest_fill_are_named_by_their_rounds() -> None:
    fills = [("prerinse", 125), ("wash", 118), ("rinse", 130), ("rinse", 130)]
    table = programme(*(a_round(kind, fill_s=fill_s) for kind, fill_s in fills), fill_control="level")
    found = rows(table, machine(THERMOSTAT | {"element": None}))
    assert (found["fill.reaches_s"].worst, found["fill.stuck_s"].worst) == (118.0, 130.0)
    assert found["fill.reaches_s"].point.endswith("wash (round 2)")
    assert found["fill.stuck_s"].point == "rinse (round 3)"


@pytest.mark.parametrize(
    ("kind", "detergent_dg", "failing"),
    [
        ("wash", 317, "detergent.least_g_per_l"),
        ("wash", 318, None),
        ("wash", 812, None),
        ("wash", 813, "detergent.most_g_per_l"),
        ("rinse", 1, "detergent.elsewhere_g"),
        ("prerinse", 1, "detergent.elsewhere_g"),
    ],
)
def test_detergent_by_the_litres_of_the_fullest_and_of_the_smallest_bath(
    kind: Kind, detergent_dg: int, failing: str | None
) -> None:
    """10.5 l, 0.8 l of residual and 0.25 l of film at 2.75 g/l: 31.76 g.

    9.5 + 0.5 + 0.15 l at 8 g/l: 81.2 g.
    """
    table = programme(a_round("prerinse"), a_round(kind, detergent_dg=detergent_dg), start_drain_s=200)
    assert [key for key, row in rows(table).items() if not row.passed] == ([failing] if failing else [])


def test_a_first_wash_may_go_into_a_dry_machine() -> None:
    """9.5 l and nothing left from before at 8 g/l: 76 g; the fullest bath is that of a wet machine."""
    assert detergent_span_dg(machine(), goal(), WASH, first=True) == (318, 760)


@pytest.mark.parametrize(
    ("settings", "hardness", "least_dg"),
    [
        # 8 g for each of 4 settings.
        (4, 1.5, 320),
        # A load of 3 asks for 24 g, less than the water does.
        (3, 1.5, 318),
        # Water of 3.5 mmol/l: 2 above the packet's 1.5, each 15 % more: 1.3 times.
        (4, 3.5, 416),
        (3, 3.5, 413),
        # Softer water than the packet's grams are for asks for no less.
        (4, 0.2, 320),
        # What was measured has a tolerance, and the hardest water counts.
        (4, {"nominal": 2.0, "low": 1.0, "high": 3.5}, 416),
    ],
)
def test_detergent_by_place_settings_and_hardness(settings: int, hardness: object, least_dg: int) -> None:
    rig = machine({"ware.settings": settings, "inlet.hardness_mmol_per_l": hardness})
    aim = goal({"detergent.g_per_setting": 8.0})
    assert detergent_span_dg(rig, aim, WASH, first=False)[0] == least_dg
    for dosed_dg in (least_dg - 1, least_dg):
        table = programme(a_round("prerinse"), replace(WASH, detergent_dg=dosed_dg), start_drain_s=200)
        found = {row.key: row for row in table_rows(table, rig, aim)}
        passed = [found[f"detergent.{key}"].passed for key in ("least_g", "least_g_per_l")]
        assert all(passed) is (dosed_dg == least_dg)


def test_of_several_rounds_the_worst_dosed_is_named() -> None:
    """31.8 g a wash at the least, 81.2 g at the most."""
    washes = [a_round("wash", detergent_dg=dosed_dg) for dosed_dg in (330, 317, 813, 324)]
    found = rows(programme(a_round("prerinse"), *washes, a_round("rinse"), start_drain_s=200))
    least, most = found["detergent.least_g_per_l"], found["detergent.most_g_per_l"]
    assert (least.worst, most.worst) == (pytest.approx(31.7 / 11.55), pytest.approx(81.3 / 10.15))
    assert least.point.endswith("wash (round 3)")
    assert most.point.endswith("wash (round 4)")
    assert not least.passed
    assert not most.passed
    assert found["detergent.least_g"].worst == 31.7


def test_detergent_in_a_rinse_is_what_has_to_be_rinsed_off() -> None:
    """50 g in the last rinse: no rinse comes after it, and all of its concentration is in the last film."""
    rig, feed = machine(tolerances=False), circuit()

    def residue(table: Constants) -> float:
        return row_of("rinse.residue", table, rig, goal(), feed, bounded=False).worst

    sound = programme(a_round("prerinse"), WASH, a_round("rinse"), start_drain_s=200)
    dosed = programme(a_round("prerinse"), WASH, a_round("rinse", detergent_dg=500), start_drain_s=200)
    assert residue(sound) < 0.1
    assert residue(dosed) == 1.0


def test_standing_as_the_drying_asks() -> None:
    aim = {"drying": {"method": "hot_rinse", "stand_min": 20.0}}
    table = programme(WASH, start_drain_s=200)
    assert rows(replace(table, stand_s=1200), aim=aim)["drying.stand_min"].passed
    assert not rows(replace(table, stand_s=1199), aim=aim)["drying.stand_min"].passed
    assert "drying.stand_min" not in rows(table)


def test_a_cold_sensor_boils_no_bath_dry() -> None:
    """900 W + 5 % at 240 of 230 V are 1029 W: in 65535 s they boil away 67.4 MJ / 2.16 MJ/l = 31 l."""
    held = five_rounds_by_thermostat()
    long = replace(held.rounds[1], heat_s=65535 - 1500)
    rig = machine(THERMOSTAT)
    assert rows(held, rig)["cold_sensor.left_l"].passed
    assert rig.element is not None
    words = rows(held, rig)["cold_sensor.left_l"].requirement
    assert words.endswith(f"reads cold (bare under {rig.element.cover_l:g} l: float switch)")
    found = rows(replace(held, rounds=(held.rounds[0], long, *held.rounds[2:])), rig)["cold_sensor.left_l"]
    # Heat of vaporisation at 100 °C: 2256.5 kJ/kg; 0.9584 kg/l (IAPWS-IF97).
    assert found.worst == pytest.approx(
        10.0 - 65535 * 945.0 * (240 / 230) ** 2 / (2256.5e3 * 0.9584), rel=1e-3
    )
    assert not found.passed


@pytest.mark.parametrize(("heated", "there_l"), [(0, 0.0), (1, 0.5)])
def test_a_cold_sensor_in_a_timed_fill(heated: int, there_l: float) -> None:
    """100 s at 5.7 l/min are 9.5 l, into a dry machine or onto 0.5 l; 1029 W boil away 0.29 l in 600 s."""
    rounds = [a_round("wash"), a_round("wash")]
    rounds[heated] = a_round("wash", heat_s=600, setpoint_dc=500)
    table = programme(*rounds, control="thermostat", hysteresis_dk=10)
    rig = machine({"element.control": "thermostat", "element.sensor_error_k": 1.0})
    boiled_l = 600.0 * 945.0 * (240 / 230) ** 2 / (2256.5e3 * 0.9584)
    assert rows(table, rig)["cold_sensor.left_l"].worst == pytest.approx(9.5 + there_l - boiled_l, abs=1e-3)


@pytest.mark.parametrize(("heat_s", "passes"), [(1000, True), (1110, True), (1111, False), (65535, False)])
def test_a_heating_has_a_tenth_and_ten_seconds_to_spare(heat_s: int, passes: bool) -> None:
    """The slowest heating takes 1000 s: at most 1110 s."""
    table = programme(a_round("wash", heat_s=heat_s, setpoint_dc=400))
    (found,) = heating_row(table, {0: 1000.0})
    assert found.passed is passes
    assert heating_row(table, {}) == []


def test_the_watchdog_of_the_bath_counts_the_error_and_the_layers() -> None:
    """75 °C less 1 K of error, and less 4 K of top over mean where a bath is heated with the pump off."""
    held = five_rounds_by_thermostat()
    still = replace(held, rounds=tuple(replace(row, heat_s=0) for row in held.rounds))
    rig = machine(THERMOSTAT | {"element.top_over_mean_k": 4.0, "element.sensor_over_mean_k": 0.0})
    assert bath_max_most_dc(still, rig) == 740
    assert bath_max_most_dc(held, rig) == 700
    assert bath_max_most_dc(five_rounds(), machine()) == 0, "nothing reads it"
    for bath_max_dc, keys in ((740, []), (741, ["bath_max_dc"])):
        assert [i.key for i in misfits(replace(still, bath_max_dc=bath_max_dc), rig)] == keys


def test_a_pool_for_steam_alone_asks_for_no_room_under_the_limit() -> None:
    """What is heated by time alone keeps 8 K (our choice, *no source*); steam needs a tank that stands it."""
    rig = machine({"tank.limit_c": 95.0})
    steam = a_round("steam", heat_s=600, spray_s=0)
    assert room_under_limit_k(programme(a_round("rinse"), steam), rig) == 0.0
    assert room_under_limit_k(programme(a_round("rinse", heat_s=600), steam), rig) == 8.0
    assert room_under_limit_k(programme(a_round("rinse")), rig) == 0.0


def test_the_watchdog_lets_a_sound_run_pass() -> None:
    """The hottest reading, found without the check's own search, is its limit, or a bound on it."""
    table, rig = five_rounds_by_thermostat(), machine(THERMOSTAT, tolerances=False)
    hottest_c = hottest_reading_c(table, rig)

    def judged(bath_max_dc: int) -> Row:
        return row_of("watchdog.reading_c", replace(table, bath_max_dc=bath_max_dc), rig, goal(), circuit())

    found = judged(740)
    assert found.worst == pytest.approx(hottest_c, abs=0.02)
    assert found.guaranteed is not None
    assert hottest_c - 0.02 <= found.guaranteed <= 74.0
    assert judged(math.ceil(found.guaranteed * 10.0)).passed
    # Here the hottest reading is the setpoint.
    (issue,) = misfits(replace(table, bath_max_dc=int(hottest_c * 10.0) - 1), rig)
    assert "above bath_max_dc" in issue.rule


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"hysteresis_dk": 1}, "hysteresis_dk"),
        ({"bath_max_dc": 1}, "bath_max_dc"),
    ],
)
def test_what_a_timed_machine_has_no_use_for(change: dict[str, int], key: str) -> None:
    assert [issue.key for issue in misfits(replace(five_rounds(), **change), machine())] == [key]  # type: ignore[arg-type]


def test_a_round_without_heat_has_no_setpoint() -> None:
    held = five_rounds_by_thermostat()
    rinsed = replace(held.rounds[3], setpoint_dc=300)
    table = replace(held, rounds=(*held.rounds[:3], rinsed, held.rounds[4]))
    assert [issue.key for issue in misfits(table, machine(THERMOSTAT))][-1:] == ["rounds[4].setpoint_dc"]


HELD_RIG = THERMOSTAT | {"element.top_over_mean_k": 0.0, "element.sensor_over_mean_k": 0.0}
DRIES = {
    "drying": {"method": "hot_rinse", "heat_factor": 0.1, "stand_min": 20.0},
    "limits.duration_min": 160.0,
}


def edited(number: int, **numbers: int) -> Constants:
    held = five_rounds_by_thermostat()
    rounds = list(held.rounds)
    rounds[number] = replace(rounds[number], **numbers)
    return replace(held, rounds=tuple(rounds))


def test_what_is_edited_below_passes() -> None:
    rig = machine(HELD_RIG, tolerances=False)
    table = replace(five_rounds_by_thermostat(), lid_open_after_s=120)
    found = check(table, rig, goal(DRIES), circuit(), draws=0)
    assert [row.key for row in found.rows if not row.passed] == []


@pytest.mark.parametrize(
    ("table", "refused"),
    [
        (replace(five_rounds_by_thermostat(), start_drain_s=1), "start_drain.left_l"),
        (edited(0, fill_s=65535), "fill.stuck_s"),
        (edited(1, heat_s=63000), "heat.cold_sensor_s"),
        (edited(1, detergent_dg=1), "detergent.least_g"),
        (edited(4, detergent_dg=500), "detergent.elsewhere_g"),
        (replace(five_rounds_by_thermostat(), stand_s=0), "drying.stand_min"),
        (replace(five_rounds_by_thermostat(), bath_max_dc=550), "watchdog.reading_c"),
        (five_rounds_by_thermostat(), "lid.shut_s"),
    ],
)
def test_an_edit_that_no_sound_run_would_show_is_refused(table: Constants, refused: str) -> None:
    """A bath that the pump warms past its setpoint by a little is read above a watchdog at the setpoint."""
    rig = machine(HELD_RIG, tolerances=False)
    assert not row_of(refused, table, rig, goal(DRIES), circuit()).passed
