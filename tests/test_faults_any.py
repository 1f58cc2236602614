"""Single faults of any programme: a report comes of it, whole and without a nan, and its figures agree."""

from __future__ import annotations

import json
import math
from typing import Any

from check_cases import THERMOSTAT, a_round, circuit, goal, machine, programme
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st

from optimizer.check.faults.run_faults import run_faults
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round
from optimizer.report.faults import fault_table, faults_to_dict

MACHINES = {
    "timed": machine(),
    "strong": machine({"element.rated_w": 5500.0, "tank.limit_c": 100.0}),
    "thermostat": machine(THERMOSTAT),
    "no element": machine({"element": None}),
}


AFTER_SOAK_S = 60


@st.composite
def rounds(draw: st.DrawFn, kind: Any, heated: bool, setpoint_dc: int) -> Round:
    spray_s = draw(st.integers(1, 900))
    heats = heated and draw(st.booleans())
    soaks = kind == "wash" and spray_s > AFTER_SOAK_S and draw(st.booleans())
    heat_s = draw(st.integers(0, 1200)) if heats else 0
    top_up_s = draw(st.integers(1, 200)) if draw(st.booleans()) else 0
    spray_element_s = draw(st.integers(0, spray_s - AFTER_SOAK_S * soaks)) if heats else 0
    return a_round(
        kind,
        fill_s=draw(st.integers(1, 400)),
        heat_s=heat_s,
        spray_s=spray_s,
        spray_element_s=spray_element_s,
        soak_s=draw(st.integers(1, 1800)) if soaks else 0,
        setpoint_dc=setpoint_dc if heat_s or spray_element_s else 0,
        rest_s=draw(st.integers(0, 60)),
        top_up_s=top_up_s,
        mix_s=draw(st.integers(0, 90)) if top_up_s else 0,
        drain_s=draw(st.integers(1, 300)),
    )


@st.composite
def programmes(draw: st.DrawFn) -> tuple[Constants, Machine]:
    name = draw(st.sampled_from(sorted(MACHINES)))
    thermostat = name == "thermostat"
    setpoint_dc = draw(st.integers(1, 700)) if thermostat else 0
    kinds = draw(st.sampled_from([("wash",), ("wash", "rinse"), ("prerinse", "wash"), ("rinse", "rinse")]))
    table = [draw(rounds(kind, name != "no element", setpoint_dc)) for kind in kinds]
    kind_of: dict[str, Any] = (
        {"control": "thermostat", "fill_control": "level", "hysteresis_dk": 10} if thermostat else {}
    )
    kind_of["after_soak_s"] = AFTER_SOAK_S if any(row.soak_s for row in table) else 0
    return programme(*table, start_drain_s=draw(st.integers(1, 300)), **kind_of), MACHINES[name]


@cases(8)
@given(programmes())
def test_any_programme_has_a_report(case: tuple[Constants, Machine]) -> None:
    constants, rig = case
    report = run_faults(constants, rig, goal(), circuit())
    json.dumps(faults_to_dict(report), allow_nan=False)
    text = fault_table(report)
    assert max(map(len, text.splitlines())) <= 80
    assert "nan" not in text
    for row in report.rows:
        assert bool(row.guards) == (row.severity in ("latent", "damage", "danger"))
        assert row.after_s is None or 0.0 <= row.after_s < math.inf
        assert 0.0 <= row.uncovered_s <= constants.total_max_s
        assert 0.0 <= row.level_l <= rig.tank.capacity_l
        assert 0.0 < row.bath_c <= 100.0
