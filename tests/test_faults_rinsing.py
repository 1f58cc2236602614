"""Rinses that a fault takes away: what hangs on the ware then, and what no heat has reached.

No source: arithmetic on the numbers of `fault_cases`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, programme
from fault_cases import EASY, NO_ELEMENT, plain_machine, row

from optimizer.check.faults.guard_words import FLOW_SWITCH
from optimizer.check.faults.run_faults import UNHYGIENIC, UNRINSED, UNWASHED, make_rig
from optimizer.check.faults.spray_meter import RINSED_SHARE, Film, leaves_more
from optimizer.check.residue import Rinsing
from optimizer.profile.goal import Rinse
from optimizer.programme.constants import Constants

A0_MISSED = UNHYGIENIC["a0"]
UNSPRAYED = ["pump.seized", "pump.starved", "inlet.shut", "drain.runs", "tank.leaks"]
"""Faults after which nothing is sprayed; the last two because the water is gone."""


def washed(detergent_dg: int = 300, rinses: int = 2) -> Constants:
    rounds = [a_round("rinse") for _ in range(rinses)]
    return programme(a_round("prerinse"), a_round("wash", detergent_dg=detergent_dg), *rounds)


@pytest.mark.parametrize("fault", UNSPRAYED)
@pytest.mark.parametrize("detergent_dg", [0, 300])
def test_ware_that_no_rinse_reaches_comes_out_with_detergent(fault: str, detergent_dg: int) -> None:
    """Told beside the harm to the pump, and not of a wash without any; the flow switch shows it."""
    found = row(washed(detergent_dg), plain_machine(NO_ELEMENT), fault)
    assert (found.happens.count(UNRINSED) == 1) == bool(detergent_dg)
    assert found.severity in ("damage", "danger")
    assert found.after_s is not None
    assert not detergent_dg or FLOW_SWITCH in found.guards


def test_ware_that_no_wash_reached_has_nothing_on_it() -> None:
    """Nor has ware that was washed without any, rinsed or not."""
    table = programme(a_round("wash"), a_round("rinse"))
    assert UNRINSED not in row(table, plain_machine(NO_ELEMENT), "pump.seized").happens


def test_what_is_not_washed_is_told_beside_the_harm_to_the_pump() -> None:
    """A pump that is seized from the wash on: no dose; its motor comes first."""
    found = row(washed(), plain_machine(NO_ELEMENT), "pump.seized")
    assert found.severity == "danger"
    assert found.happens.count(UNWASHED) == 1
    # A tank that has run empty before the last rinse alone has washed.
    assert UNWASHED not in row(washed(), plain_machine(NO_ELEMENT), "drain.slow").happens


def film(last_s: float, residue_max: float, film_mg_per_l: float | None = None) -> bool:
    """30 g in 10 l, two rinses of 10 l on the 0.8 l that a drain leaves; the last sprays for ``last_s``."""
    table = programme(a_round("wash", detergent_dg=300), a_round("rinse"), a_round("rinse"))
    full, left = [10.0, 10.8, 10.8], [0.8, 0.8, 0.8]
    rinsing = Rinsing.of(table, [np.array([kg]) for kg in full], [np.array([kg]) for kg in left])
    wet_s = np.array([[300.0], [300.0], [last_s]])
    asked = Rinse(residue_max=residue_max, film_mg_per_l=film_mg_per_l)
    return Film.of(table, wet_s, rinsing).over(asked) > 1.0


ONE_RINSE, TWO_RINSES = 0.8 / 10.8, (0.8 / 10.8) ** 2


@pytest.mark.parametrize(("last_s", "reached"), [(300.0, TWO_RINSES), (0.0, ONE_RINSE)])
def test_the_film_is_as_strong_as_the_last_bath_that_was_sprayed(last_s: float, reached: float) -> None:
    assert not film(last_s, reached * 1.01)
    assert film(last_s, reached * 0.99)
    # 30 g in 10 l are 3 g/l.
    assert not film(last_s, 0.5, reached * 3000.0 * 1.01)
    assert film(last_s, 0.5, reached * 3000.0 * 0.99)


@pytest.mark.parametrize(("over_s", "counts"), [(1.0, True), (-1.0, False)])
def test_a_rinse_that_sprays_for_less_than_half_its_time_counts_for_none(over_s: float, counts: bool) -> None:
    assert film(RINSED_SHARE * 300.0 + over_s, 2.0 * TWO_RINSES) != counts


@pytest.mark.parametrize(
    ("over", "sound", "told"),
    [(1.01, 0.9, True), (0.99, 0.9, False), (2.02, 1.01, False), (2.03, 1.01, True)],
)
def test_what_a_programme_leaves_by_itself_is_not_the_faults_unless_it_is_twice_as_much(
    over: float, sound: float, told: bool
) -> None:
    assert leaves_more(over, sound) is told


def test_a_programme_that_rinses_too_little_still_tells_of_rinses_that_are_not_sprayed() -> None:
    """Two rinses leave 0.0055 where 0.005 is asked; unsprayed all of it stays on the ware."""
    found = row(washed(), plain_machine(NO_ELEMENT), "pump.seized", EASY | {"rinse.residue_max": 0.005})
    assert UNRINSED in found.happens


STRONG: dict[str, Any] = {"inlet.water_c": 60.0, "element.rated_w": 2000.0}
HOT_RINSE = programme(
    a_round("wash"), a_round("rinse", spray_s=900, spray_element_s=900, rest_s=30), start_drain_s=60
)
"""Some 2000 W for 900 s warm 10 kg of bath and the ware from 60 to over 80 °C."""


def a0(target_s: float) -> dict[str, Any]:
    return EASY | {"hygiene": {"method": "a0", "target_s": target_s}}


def a0_s(drain_share: float = 1.0) -> float:
    """Least A0 that a run reaches [s]; read off a target that none does."""
    ready = make_rig(HOT_RINSE, plain_machine(STRONG), goal(a0(40000.0)), circuit())
    missed = ready.observe(ready.asked, drain_share=drain_share).missed
    return next(each.worst for each in missed if each.key == "hygiene.a0")


def test_hygiene_that_a_fault_takes_away_is_told_beside_other_harm() -> None:
    """A slow drain leaves more water, which is warmed less; a seized pump reaches no A0 at all."""
    rig, sound_s, slow_s = plain_machine(STRONG), a0_s(), a0_s(0.5)
    assert 1.0 < slow_s < 0.9 * sound_s
    for target_s, told in ((slow_s * 1.02, True), (slow_s * 0.98, False)):
        assert (A0_MISSED in row(HOT_RINSE, rig, "drain.slow", a0(target_s)).happens) == told
        seized = row(HOT_RINSE, rig, "pump.seized", a0(target_s))
        assert (seized.severity, seized.happens.count(A0_MISSED)) == ("danger", 1)
        assert A0_MISSED not in row(HOT_RINSE, rig, "inlet.no_top_up", a0(target_s)).happens


def test_hygiene_that_the_programme_misses_by_itself_is_not_the_faults() -> None:
    assert A0_MISSED not in row(HOT_RINSE, plain_machine(STRONG), "pump.seized", a0(40000.0)).happens


@pytest.mark.parametrize(("prime_l", "reached_min"), [(9.05, 5.0), (9.15, 0.0)])
def test_a_pump_that_draws_no_water_counts_for_nothing(prime_l: float, reached_min: float) -> None:
    """10.8 l less 0.2 l of film and 1.5 l of hold-up are 9.1 l at the suction; 300 s at 18 °C are 5 min."""
    milk = {"name": "milk", "reference_c": 18.0, "z_k": 49.0, "minutes": 100.0, "kinds": ["wash"],
            "soak_share": 0.0}  # fmt: skip
    table = programme(a_round("prerinse"), a_round("wash"))
    rig = plain_machine(NO_ELEMENT, {"wash_pump.prime_l": prime_l})
    ready = make_rig(table, rig, goal(EASY | {"dose": [milk]}), circuit())
    missed = ready.observe(ready.asked).missed
    assert next(each.worst for each in missed if each.key == "dose.milk") == pytest.approx(
        reached_min, abs=1e-3
    )
