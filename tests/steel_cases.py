"""An invented steel machine: a flow of ±10 %, a thermostat, an element that takes nine litres to cover.

In a tank of 12.5 to 12.7 l its wash has no room for a second of water more, and none for a second less but
with a long prerinse.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from typing import Any

from planner_cases import shipped

from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Inputs

MACHINE = """
kind = "machine"
title = "Steel washer"
about = "Invented for the tests."
usual_circuit = "plug-16a"
usual_tariff = "two-rate"
[supply]
voltage_v = { nominal = 230, tolerance_pct = 10 }
controller_w = 3
[room]
air_c = { nominal = 18, low = 14, high = 24 }
height_m = 120
humidity_pct = { nominal = 55, low = 30, high = 80 }
[inlet]
water_c = { nominal = 12, low = 8, high = 16 }
flow_l_per_min = { nominal = 8, tolerance_pct = 10 }
hardness_mmol_per_l = { nominal = 2.0, low = 1.6, high = 2.5 }
valve_w = 6
unmixed_share = 0.15
control = "timed"
[tank]
capacity_l = 40
ware_from_l = 8
material = "stainless"
limit_c = 95
cut_out_room_k = 8
heat_capacity_kj_per_k = { nominal = 5.2, tolerance_pct = 12 }
loss_still_w_per_k = { nominal = 11, tolerance_pct = 20 }
loss_spraying_w_per_k = { nominal = 17, tolerance_pct = 20 }
residual_l = { nominal = 0.8, low = 0.5, high = 1.1 }
vent_m2 = 0.002
[ware]
porcelain_kg = { nominal = 6.5, tolerance_pct = 10 }
glass_kg = { nominal = 1.5, tolerance_pct = 10 }
stainless_kg = { nominal = 1.2, tolerance_pct = 10 }
settings = 10
film_l = { nominal = 0.32, low = 0.24, high = 0.45 }
response_spraying_s = { nominal = 45, low = 30, high = 70 }
response_still_s = { nominal = 1800, low = 1200, high = 3000 }
[element]
rated_w = { nominal = 2000, low = 1800, high = 2100 }
rated_v = 230
cover_l = 9
rest_s = 20
top_over_mean_k = { nominal = 2, low = 1, high = 3.5 }
control = "thermostat"
sensor_error_k = 1
hysteresis_k = 1.5
[wash_pump]
power_w = { nominal = 140, tolerance_pct = 6 }
power_factor = 0.6
inrush_multiple = 5
prime_l = 6
holdup_l = { nominal = 2.2, low = 1.7, high = 2.8 }
heat_share = 0.5
mechanics_factor = 1
[drain_pump]
power_w = { nominal = 15, tolerance_pct = 10 }
power_factor = 0.6
inrush_multiple = 4
flow_l_per_min = { nominal = 9, low = 7.5, high = 10.5 }
drain_lag_s = { nominal = 8, low = 5, high = 12 }
drain_limit_c = 80
"""


def steel(**tank: Any) -> Inputs:
    """The steel machine with shipped goal, circuit and tariff, and other numbers of its tank."""
    parts = tomllib.loads(MACHINE)
    parts["tank"] |= tank
    others = shipped("clubhouse", "everyday", "plug-10a", "two-rate", circuit__rating_a=16.0)
    return replace(others, machine=Machine.model_validate(parts), names=("steel", *others.names[1:]))


def hot_rinse(a0_s: float = 60.0, rise_k: float | None = 50.0, **tank: Any) -> Inputs:
    """The same with a rinse of an A0 at the ware and another rise of the ware, or any."""
    inputs = steel(**tank)
    asked = inputs.goal.model_dump()
    asked["hygiene"] = {"method": "a0", "target_s": a0_s}
    asked["limits"]["ware_rise_k"] = rise_k
    return replace(inputs, goal=Goal.model_validate(asked))
