"""Single faults of element, sensor and wash pump, against litres, seconds and closed forms by hand."""

from __future__ import annotations

import math
import re

import pytest
from check_cases import a_round, circuit, goal, programme
from fault_cases import (
    COVER_L,
    EASY,
    FILM_L,
    HOLDUP_L,
    IN_L_PER_S,
    NO_ELEMENT,
    OUT_L_PER_S,
    PLAIN,
    START_S,
    THERMOSTAT,
    plain_machine,
    report,
    row,
)

from optimizer.check.faults.guard_words import (
    BATH_CUT_OUT,
    FLOAT_SWITCH,
    FLOW_SWITCH,
    MOTOR_FUSE,
    SHEATH_CUT_OUT,
)
from optimizer.check.faults.locked_rotor import drain_seized
from optimizer.check.faults.run_faults import make_rig
from optimizer.programme.constants import Constants

S = 1.0
"""Seconds within which a moment is met [s]: the element warms the water by a kelvin."""

DRAIN_S = 70


def heated() -> Constants:
    """A wash whose spray of 300 s is heated for 200 s, then a rest of 30 s; a rinse."""
    return programme(a_round("wash", spray_element_s=200, rest_s=30), a_round("rinse"))


def covered_s(litres: float) -> float:
    """Time the drain takes from so many litres to where the element is bare [s]."""
    return (litres - COVER_L) / OUT_L_PER_S


# A dry machine holds 10 l after its first fill; later 0.2 of 10.8 l hang on the ware and cover nothing.
FIRST_S, LATER_S = covered_s(10.0), covered_s(10.8 - FILM_L)
REFILL_S = (COVER_L - (0.8 - FILM_L)) / IN_L_PER_S
"""From the beginning of a fill until the element is covered again [s]."""


def test_element_that_does_not_go_off_is_bare_in_the_drain() -> None:
    found = row(heated(), plain_machine(), "element.stays_on")
    # 100 s of spray, pause, rest, pause; then the drain takes 2.5 l at 0.2 l/s.
    assert found.after_s == pytest.approx(100 + 2 + 30 + 2 + FIRST_S, abs=S)
    assert (found.severity, found.round) == ("danger", 1)
    # Bare for the rest of the drain, the pause and most of the fill, then again in the last drain.
    bare_s = (DRAIN_S - FIRST_S) + 2 + REFILL_S + (DRAIN_S - LATER_S)
    assert found.uncovered_s == pytest.approx(bare_s, abs=2 * S)
    assert "float switch" in found.guard
    assert SHEATH_CUT_OUT in found.guards
    assert BATH_CUT_OUT not in found.guards
    assert "until someone pulls the plug" in found.happens


def test_element_that_is_on_from_the_start_is_bare_at_once() -> None:
    found = row(heated(), plain_machine(), "element.on")
    assert (found.severity, found.after_s, found.round) == ("danger", 0.0, 0)
    # Nothing covers it until 7.5 l are in a dry machine.
    before_s = START_S + COVER_L / IN_L_PER_S
    bare_s = before_s + (DRAIN_S - FIRST_S) + 2 + REFILL_S + (DRAIN_S - LATER_S)
    assert found.uncovered_s == pytest.approx(bare_s, abs=2 * S)


def test_the_hold_up_of_the_spray_may_bare_an_element_as_well() -> None:
    """With 8.5 l measured to cover it, 10 l do so while still, and 8.5 do not while 1.6 l are in the air."""
    changes = {"element.cover_l": 8.5, "wash_pump.holdup_l": HOLDUP_L + 0.1}
    constants = programme(a_round("wash", heat_s=200, spray_s=300, rest_s=30))
    found = row(constants, plain_machine(changes), "element.stays_on")
    assert found.after_s == pytest.approx(2.0, abs=0.1)


def test_without_water_the_element_is_dry_for_as_long_as_it_is_on() -> None:
    constants = programme(a_round("wash", heat_s=150, spray_element_s=200, rest_s=30), a_round("rinse"))
    found = row(constants, plain_machine(), "inlet.shut")
    assert (found.severity, found.round) == ("danger", 1)
    assert found.uncovered_s == pytest.approx(350.0, abs=1e-6)
    assert found.after_s == pytest.approx(102.0, abs=1e-6)
    assert "it burns" in found.happens
    assert "level or flow switch" in found.guard


ONE_BODY: dict[str, object] = PLAIN | THERMOSTAT | {
    "element.rated_w": 900.0,
    "ware.porcelain_kg": 0.1,
    "ware.response_still_s": 20000.0,
    "tank.limit_c": 75.0,
}  # fmt: skip
"""Hardly any ware: water and tank are one body of C = 10 l · 0.9986 · 4.18 + 4.5 kJ/K that loses 6 W/K."""
C_J_PER_K = (9.986 * 4.18 + 4.5) * 1000.0
TAU_S = C_J_PER_K / 6.0


def heats_for(heat_s: int) -> Constants:
    return programme(
        a_round("wash", heat_s=heat_s, setpoint_dc=400),
        control="thermostat",
        hysteresis_dk=10,
        bath_max_dc=750,
    )


def lump_c(seconds: float, watts: float = 900.0) -> float:
    """Temperature of the body [°C]: T = T_inf - (T_inf - T_0) e^(-t/tau), T_inf = 18 °C + P/UA."""
    return 18.0 + watts / 6.0 * (1.0 - math.exp(-seconds / TAU_S))


def lump_s(bath_c: float, watts: float = 900.0) -> float:
    """The same turned round [s]."""
    return -TAU_S * math.log(1.0 - (bath_c - 18.0) * 6.0 / watts)


def test_sensor_that_reads_cold_heats_until_its_time_is_up() -> None:
    found = row(heats_for(2400), plain_machine(ONE_BODY), "sensor.cold")
    # 58 °C, where 40 °C was asked for: the longest heating keeps the tank below its 75 °C.
    assert found.bath_c == pytest.approx(lump_c(2400), abs=0.5)
    assert (found.severity, found.guard) == ("harmless", "")
    sound = report(heats_for(2400), plain_machine(ONE_BODY)).sound
    assert sound.bath_c == pytest.approx(40.0, abs=0.05)


def test_sensor_that_reads_cold_passes_the_limit_of_the_tank() -> None:
    found = row(heats_for(5400), plain_machine(ONE_BODY), "sensor.cold")
    assert found.bath_c == pytest.approx(lump_c(5400), abs=0.7)
    assert found.after_s == pytest.approx(lump_s(75.0), rel=0.01)
    assert (found.severity, found.round, found.uncovered_s) == ("danger", 1, 0.0)
    # Water covers the element: the cut-out in the bath stops it, the one on the sheath would not.
    assert found.guards == (BATH_CUT_OUT,)


def test_sensor_that_reads_cold_may_boil_the_element_dry() -> None:
    """IAPWS (steam tables): 2256.5 kJ/kg at 100 °C, where a litre weighs 0.9584 kg."""
    watts = 6000.0
    found = row(heats_for(4000), plain_machine(ONE_BODY | {"element.rated_w": watts}), "sensor.cold")
    assert found.bath_c == 100.0
    loss_w = 6.0 * (100.0 - 18.0)
    boils_s = (9.986 - COVER_L * 0.9584) / ((watts - loss_w) / 2256.5e3)
    dry_s = lump_s(100.0, watts) + boils_s
    assert found.uncovered_s == pytest.approx(4000.0 - dry_s, rel=0.02)
    assert "boils" in found.happens


@pytest.mark.parametrize(("heat_s", "float_switch"), [(800, False), (1200, True)])
def test_where_the_tank_stands_the_boil_no_sheath_cut_out_is_named_against_it(
    heat_s: int, float_switch: bool
) -> None:
    """A sheath under boiling water stays under 120 °C; the float switch opens as the water is gone.

    By hand, as crudely as the row counts, all heat making steam: 2.163 MJ/l over 6 kW are 360 s a litre
    (steam tables), so that 10 l are down to the cover, 7.5 l, after 900 s.
    """
    rig = plain_machine(
        ONE_BODY
        | {
            "element.rated_w": 6000.0,
            "tank.limit_c": 110.0,
            "tank.material": "stainless",
            "ware.glass_kg": 1.0,
        }
    )
    found = row(heats_for(heat_s), rig, "sensor.cold")
    assert not any("SHEATH" in guard for guard in found.guards if found.uncovered_s == 0.0)
    assert (FLOAT_SWITCH in found.guards) == float_switch
    assert "Boiling water is sprayed: any glass or porcelain in the load may break." in found.happens


@pytest.mark.parametrize(("limit_c", "told"), [(75.0, True), (100.0, False)])
def test_water_that_a_stop_keeps_in_is_heated_on_by_a_relay_that_has_welded(
    limit_c: float, told: bool
) -> None:
    """By hand, one body again: a heating of 1200 s ends at 45 °C, and its bath is drained at 47 or so.

    Kept in, it passes 75 °C once it was heated for as long as that takes from the start (no source). A dry
    machine that is on from the start heats its 10 l from the end of their fill on.
    """
    constants = programme(a_round("wash", heat_s=1200, rest_s=30, spray_s=60))
    rig = plain_machine(ONE_BODY | {"element.control": "timed", "tank.limit_c": limit_c})
    stays_on, on = (row(constants, rig, key) for key in ("element.stays_on", "element.on"))
    if not told:
        assert not any("A stop does not switch off" in found.happens for found in (stays_on, on))
        assert all("an electrician has replaced the relay" in found.happens for found in (stays_on, on))
        assert max(stays_on.bath_c, on.bath_c) < 60.0
        return
    after_s = {"element should have gone off": lump_s(75.0) - 1200.0, "start": START_S + 100 + lump_s(75.0)}
    for found, (counted_from, seconds) in zip((stays_on, on), after_s.items(), strict=True):
        said = rf"past the 75 °C that the tank stands (\d+) min (\d+) s or sooner after the {counted_from}"
        minutes, rest = re.findall(said, found.happens)[0]
        assert 60 * int(minutes) + int(rest) == pytest.approx(seconds, rel=0.01)
        assert BATH_CUT_OUT in found.guards
        assert found.severity == "danger"
        # It boils in the end, which the column of the bath shows, and the sentence with it.
        assert "goes on being heated: up to 100 °C, and past the 75 °C" in found.happens
        assert found.bath_c == 100.0


def test_sensor_that_reads_hot_never_heats() -> None:
    rig = plain_machine(ONE_BODY)
    heating = a_round("wash", heat_s=2400, spray_element_s=300, setpoint_dc=500)
    constants = programme(heating, control="thermostat", hysteresis_dk=10, bath_max_dc=750)
    asked = {"dose": [{"name": "fat", "reference_c": 55.0, "z_k": 30.0, "floor_c": 42.0, "minutes": 2.0,
                       "kinds": ["wash"]}]}  # fmt: skip
    rows = {found.key: found for found in report(constants, rig, asked).rows}
    assert rows["sensor.hot"].severity == rows["element.dead"].severity == "spoils the wash"
    assert rows["sensor.hot"].bath_c == rows["element.dead"].bath_c == pytest.approx(18.0, abs=0.01)
    # The floor of 42 °C is never reached.
    assert "dose fat 0 min, at least 2 min asked" in rows["sensor.hot"].happens
    assert rows["sensor.hot"].after_s is None


def test_dose_without_heat_is_that_of_the_cold_bath() -> None:
    """300 s of spray at 18 °C; z of 49 K is Q10 = 1.6 (Jennings 1959, milk film, from an abstract)."""
    heating = a_round("wash", heat_s=2400, setpoint_dc=500)
    constants = programme(heating, control="thermostat", hysteresis_dk=10, bath_max_dc=750)
    asked = {"dose": [{"name": "milk", "reference_c": 50.0, "z_k": 49.0, "minutes": 2.0, "kinds": ["wash"]}]}
    found = row(constants, plain_machine(ONE_BODY), "sensor.hot", asked)
    reached_min = 300.0 / 60.0 * 10.0 ** ((18.0 - 50.0) / 49.0)
    assert f"dose milk {reached_min:.3g} min, at least 2 min asked" in found.happens


def test_seized_pump_sprays_nothing_and_keeps_its_rotor_locked() -> None:
    found = row(heated(), plain_machine(), "pump.seized")
    # 85 W at 230 V and a power factor of 0.6 are 0.616 A; five times that as at its start.
    assert "about 3.1 A, for 10 min 0 s in all: the 10 A device of the circuit does not open" in found.happens
    assert (found.severity, found.after_s, found.round) == ("danger", 0.0, 1)
    assert found.guards == (MOTOR_FUSE, FLOW_SWITCH)
    assert found.guards[0].startswith("thermal protector or thermal fuse in the motor of each pump")
    assert found.uncovered_s == 0.0
    # With 8.7 A of element beside it and 1 A of the house that is more than the 10 A.
    strong = row(heated(), plain_machine({"element.rated_w": 2000.0}), "pump.seized")
    assert "the 10 A device of the circuit opens late, if at all." in strong.happens


@pytest.mark.parametrize(
    ("material", "burns"), [("PP", True), ("HDPE", True), ("PVC", True), ("stainless", False)]
)
def test_a_stalled_motor_is_a_danger_by_every_tank(material: str, burns: bool) -> None:
    """A motor that stalls may burn, pump and hoses too (from memory), and a tank of plastic with them."""
    rig = plain_machine({"tank.material": material, "tank.limit_c": 60.0})
    found = row(heated(), rig, "pump.seized")
    assert found.severity == "danger"
    assert "Its motor may burn, its pump and hoses" in found.happens
    assert (f"and the {material} of the tank with it" in found.happens) == burns
    assert any("motor of each pump" in guard for guard in found.guards)


@pytest.mark.parametrize("locked_a", [0.5, 9.0])
def test_a_seized_drain_pump_is_a_danger_of_its_own(locked_a: float) -> None:
    """A pip or a shard of glass locks it (common practice); IEC 60335-1, clause 19 is from memory.

    Two rounds: 12 s at the start and 62 s after each. The house may take 1 A, the controller some 0.02.
    """
    rig = plain_machine({"drain_pump.inrush_multiple": None, "drain_pump.surge_a": 1.0,
                         "drain_pump.stall_a": locked_a})  # fmt: skip
    table = programme(a_round("wash", drain_s=62), a_round("rinse", drain_s=62), start_drain_s=12)
    ready = make_rig(table, rig, goal(EASY), circuit())
    found = drain_seized(ready, ready.observe(ready.asked))
    assert (found.severity, found.after_s, found.round) == ("danger", 0.0, 0)
    assert f"about {locked_a:.2g} A, for 2 min 16 s in all" in found.happens
    assert ("the 10 A device of the circuit opens late" in found.happens) == (locked_a == 9.0)
    assert found.guards == (MOTOR_FUSE,)
    assert "see there" in found.happens


def test_seized_pump_lets_the_bath_get_hotter() -> None:
    """The ware stays cold: 4.2 kJ/K less to warm, and the losses of a bath that stands."""
    changes = {"element.rated_w": 900.0, "ware.response_still_s": 20000.0}
    constants = programme(a_round("wash", spray_s=1500, spray_element_s=1200, rest_s=30))
    rows = report(constants, plain_machine(changes))
    seized = {found.key: found for found in rows.rows}["pump.seized"]
    assert seized.bath_c == pytest.approx(lump_c(1200.0), abs=0.7)
    assert seized.bath_c > rows.sound.bath_c + 1.0


@pytest.mark.parametrize("fault", ["pump.seized", "pump.starved"])
@pytest.mark.parametrize(("over_k", "named"), [(4.5, True), (5.5, False), (-0.5, True)])
def test_a_bath_that_nothing_stirs_near_the_limit_asks_for_its_cut_out(
    fault: str, over_k: float, named: bool
) -> None:
    """Within 5 K (no source, our choice), or past it, which is told as such."""
    constants = programme(a_round("wash", spray_s=1500, spray_element_s=1200, rest_s=30))
    strong = {"element.rated_w": 900.0}
    hottest_c = row(constants, plain_machine(strong), fault).bath_c
    limited = row(constants, plain_machine(strong, {"tank.limit_c": round(hottest_c + over_k, 2)}), fault)
    assert ("comes within 5 K of the" in limited.happens) == (named and over_k > 0.0)
    assert any("in the bath" in guard or "stands a hotter bath" in guard for guard in limited.guards) == named


def test_seized_pump_says_nothing_of_an_element_where_there_is_none() -> None:
    found = row(programme(a_round("wash")), plain_machine(NO_ELEMENT), "pump.seized")
    assert "element" not in found.happens


@pytest.mark.parametrize("heats", [False, True])
def test_seized_pump_tells_of_the_element_only_where_it_is_ever_on(heats: bool) -> None:
    table = heated() if heats else programme(a_round("wash"))
    assert ("hotter at the element" in row(table, plain_machine(), "pump.seized").happens) == heats


def test_fault_of_a_part_that_the_programme_does_not_use() -> None:
    found = row(programme(a_round("wash")), plain_machine(), "element.stays_on")
    assert (found.severity, found.happens) == ("harmless", "The programme does not use it.")


def test_steam_round_is_judged_by_its_own_rules() -> None:
    """Boiling is meant there; an element that stays on is bare in the drain, a dead one boils nothing."""
    changes = {"element.rated_w": 2000.0, "tank.limit_c": 100.0}
    steam = a_round("steam", heat_s=3000, spray_s=0, rest_s=30)
    constants = programme(a_round("rinse"), steam, start_drain_s=60)
    found = report(constants, plain_machine(changes))
    rows = {each.key: each for each in found.rows}
    assert (found.sound.severity, found.sound.bath_c) == ("harmless", pytest.approx(100.0, abs=1e-9))
    assert rows["element.stays_on"].severity == "danger"
    assert "Bath" not in rows["element.stays_on"].happens
    assert rows["inlet.shut"].uncovered_s == pytest.approx(3000.0, abs=1e-6)
    assert rows["element.dead"].bath_c < 20.0
    assert rows["power.heat"].severity == "damage"


def test_a_pool_of_steam_alone_is_a_programme_too() -> None:
    """Nothing sprays and nothing is rinsed: the wash pump is not used, and no share of a wash is left."""
    changes = {"element.rated_w": 2000.0, "tank.limit_c": 100.0}
    constants = programme(a_round("steam", heat_s=600, spray_s=0, rest_s=30), start_drain_s=60)
    found = row(constants, plain_machine(changes), "pump.seized")
    assert (found.severity, found.happens) == ("harmless", "The programme does not use it.")
