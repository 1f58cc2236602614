"""A thermostat that heats the bath alone: how hot the bath gets, and how far it is ahead of the ware."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from exploring import TIMES
from steel_cases import hot_rinse, steel

from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.margins import Assessor
from optimizer.planner.round_options import Option
from optimizer.planner.search import choose_by_model
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.planner.tabulate import Tabulator
from optimizer.profile.machine import Machine
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Inputs

PRERINSE, WASH, RINSE = (KINDS.index(name) for name in ("prerinse", "wash", "rinse"))
PEAKS_C = (45.0, 60.0, 75.0)
FILL_S, LONG_S = 74.0, 9000.0


def exact() -> Inputs:
    """The steel machine with one time in which its ware follows a bath at rest."""
    inputs = steel()
    asked = inputs.machine.model_dump()
    asked["ware"]["response_still_s"] = {"nominal": 1800.0, "low": 1800.0, "high": 1800.0}
    return replace(inputs, machine=Machine.model_validate(asked))


def heated_alone(assessor: Assessor, peak_c: float) -> tuple[Option, Programme]:
    """A last rinse of the table heated before its spray, and a programme with it."""
    (option,) = Tabulator(assessor, safe=False)._option(RINSE, Mode.THEN_SPRAY, FILL_S, peak_c)[:1]
    nothing = np.zeros((1, 3))
    settings = Settings(
        fill_s=np.full((1, 3), FILL_S),
        element_s=np.array([[0.0, 0.0, LONG_S]]),
        spray_s=np.full((1, 3), 120.0),
        setpoint_c=np.array([[np.inf, np.inf, option.setpoint_c]]),
        soak_s=nothing,
        while_s=nothing,
        cool_s=nothing,
        top_up_s=nothing,
        mix_s=nothing,
    )
    kinds = (PRERINSE, WASH, RINSE)
    return option, Programme(Structure(kinds, (Mode.UNHEATED, Mode.UNHEATED, Mode.THEN_SPRAY)), settings)


@pytest.mark.parametrize("peak_c", PEAKS_C)
def test_the_model_knows_how_far_a_bath_is_ahead_of_the_ware(peak_c: float) -> None:
    """It stops a strong element sooner: with the weakest one's time the ware had come halfway."""
    assessor = Assessor(exact())
    option, programme = heated_alone(assessor, peak_c)
    runs, nominal = assessor.simulator.run(programme), assessor.simulator.corners.nominal
    ware_c = float(assessor.simulator.corners.inlet_c[nominal])  # Two cold rounds before it.
    ahead_k = option.step_share * (option.before_spray_c.base - ware_c)
    assert ahead_k == pytest.approx(-float(runs.over_k[0, nominal, -1]), rel=0.05)


@pytest.mark.parametrize("peak_c", PEAKS_C)
def test_the_model_knows_how_hot_a_bath_gets(peak_c: float) -> None:
    """In the hottest corner, its set point chosen for ware as cold as the inlet."""
    assessor = Assessor(steel())
    option, programme = heated_alone(assessor, peak_c)
    corners = assessor.simulator.corners
    cold_c = float(corners.inlet_c[Tabulator(assessor).cold])
    line = option.hottest_c
    hottest_c = float(assessor.simulator.run(programme).peak_c[0][corners.hot, -1].max())
    assert line.base + line.slope * cold_c == pytest.approx(hottest_c, abs=0.3)
    # Ware that is warmer takes less from the bath.
    assert line.slope < 0.0


@pytest.mark.parametrize("rise_k", [50.0, None])
def test_a_rinse_that_no_bath_is_hot_enough_for_is_heated_while_it_sprays(rise_k: float | None) -> None:
    """83 °C at the ware take a bath of 92 °C heated alone, in a tank that stands 87, 66 K over the ware."""
    assessor = Assessor(hot_rinse(rise_k=rise_k))
    choice = choose_by_model(assessor)
    assert choice is not None
    assert choice.outcome.status == "optimal"
    structure, settings = choice.trimmed.programme
    assert structure.modes[-1] is Mode.WHILE_SPRAYING
    assert settings.setpoint_c[0, -1] < assessor.bath_limit_c
    margins, _ = assessor.run(choice.trimmed.programme)
    assert min(float(margin.min()) for margin in margins.values()) >= -1e-9


@pytest.mark.slow
@pytest.mark.skipif(not TIMES, reason="two minutes, with SCULLION_EXPLORE=1")
def test_a_hot_rinse_of_a_steel_machine_is_planned_and_proven() -> None:
    assert plan_and_prove(hot_rinse()).certificate.passed
