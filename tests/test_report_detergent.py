"""Which of load and fullest bath asks for the grams of a wash. All numbers are invented."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_cases import PRERINSE, RINSE, WASH, certificate_case, plan_case
from width_cases import assert_fits

from optimizer.programme.plan import Plan
from optimizer.report.detergent import detergent_line, doses_to_list
from optimizer.report.plan import plan_report, plan_to_dict


def dosed(plan: Plan, settings: int = 6, hardness: float = 1.5, g_per_setting: float = 0.5) -> Plan:
    """A plan whose load, water and goal are others, at 2.75 g/l and 15 % more for each mmol/l over 1.5."""
    rig, aim = plan.inputs.machine, plan.inputs.goal
    assert aim.detergent is not None
    ends = dict.fromkeys(("nominal", "low", "high"), hardness)
    hard = rig.inlet.hardness_mmol_per_l.model_copy(update=ends)
    inlet = rig.inlet.model_copy(update={"hardness_mmol_per_l": hard})
    ware = rig.ware.model_copy(update={"settings": settings})
    machine = rig.model_copy(update={"inlet": inlet, "ware": ware})
    detergent = aim.detergent.model_copy(update={"g_per_setting": g_per_setting})
    goal = aim.model_copy(update={"detergent": detergent})
    return replace(plan, inputs=replace(plan.inputs, machine=machine, goal=goal))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        # 96 s at 6.6 l/min on top of 0.8 l in the sump and 0.2 l of film: 11.56 l at 2.75 g/l.
        (
            {},
            "asked for by the litre: 2.75 g/l in 11.56 l, its fullest bath: 31.8 g; "
            "6 settings alone ask for 3.0 g",
        ),
        # 2 mmol/l more than 1.5: times 1.3, both of them.
        (
            {"hardness": 3.5},
            "asked for by the litre: 2.75 g/l × 1.3 (hardest water) in 11.56 l, its fullest bath: 41.4 g; "
            "6 settings alone ask for 3.9 g",
        ),
        (
            {"hardness": 3.5, "settings": 14, "g_per_setting": 2.5},
            "asked for by the load: 2.5 g × 1.3 (hardest water) for each of 14 settings: 45.5 g; "
            "its fullest bath alone asks for 41.4 g",
        ),
    ],
)
def test_the_greater_of_the_two_is_named_with_its_numbers(given: dict[str, float], words: str) -> None:
    plan = dosed(plan_case(), **given)  # type: ignore[arg-type]
    assert detergent_line(plan) == f"28.8 g; {words}"
    (one,) = doses_to_list(plan)
    assert (one["round"], one["dosed_g"]) == (2, 28.8)
    assert one["by"] == ("load" if "by the load" in words else "litres")
    content = plan_to_dict(plan, certificate_case(plan.constants))
    assert content["detergent"] == [one]


def test_one_setting_more_is_what_turns_it() -> None:
    """31.8 g by the litre: 12.72 of 2.5 g."""
    bys = [doses_to_list(dosed(plan_case(), n, g_per_setting=2.5))[0]["by"] for n in (12, 13)]
    assert bys == ["litres", "load"]


def test_washes_that_ask_for_the_same_share_the_words() -> None:
    plan = plan_case(PRERINSE, WASH, WASH, replace(WASH, fill_s=120), RINSE)
    text = detergent_line(plan)
    assert text.startswith("28.8 g; in round 2 and 3 asked for by the litre: 2.75 g/l in 11.56 l")
    assert "; in round 4 asked for by the litre: 2.75 g/l in 14.2 l" in text
    one = detergent_line(plan_case(WASH))
    # As many digits as it takes to work the tenth of a gram out again.
    assert one.startswith("28.8 g; asked for by the litre: 2.75 g/l in 11.56 l")
    assert detergent_line(plan_case(PRERINSE, WASH, WASH)).startswith("28.8 g; in each wash asked for by")


def test_no_detergent_is_asked_for_by_nothing() -> None:
    plan = plan_case()
    bare = plan.inputs.goal.model_copy(update={"detergent": None})
    without = replace(plan, inputs=replace(plan.inputs, goal=bare))
    without = replace(without, costs=replace(plan.costs, detergent_g=0.0))
    assert detergent_line(without) == "0.0 g"
    assert doses_to_list(without) == []


def test_it_stands_with_the_figures_of_a_run() -> None:
    plan = plan_case()
    text = " ".join(plan_report(plan, certificate_case(plan.constants)).split())
    assert f"detergent {detergent_line(plan)} cost" in text
    assert_fits(lambda: plan_report(plan, certificate_case(plan.constants)))
