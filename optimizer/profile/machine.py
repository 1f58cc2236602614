"""The machine profile: what was measured on the bench, part by part, and that the parts fit together."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import SerializerFunctionWrapHandler, model_serializer, model_validator

from optimizer.profile.machine_loads import (
    BUCKET,
    NAME_PLATE,
    WATT_METER,
    DrainPump,
    Element,
    FlowRate,
    WashPump,
)
from optimizer.profile.machine_ware import Ware
from optimizer.profile.measured import TITLE, Breach, Measured, ProfileModel, Quantity, TextForm, refuse
from optimizer.units import S_PER_MIN

VOLTAGE_APART = 0.35
"""An element whose rating is further than this from the supply is one for another mains [1]."""

OPEN_LOOP_K = 8.0
"""How far under the tank's limit the hottest bath of a timed element has to stay [K]: nothing reads it, and
what was not measured (scale, a tired thermometer) comes on top, and a cut-out of ± 1 K needs 3 K over the
hottest bath and 5 K to trip in. Our choice, *no source*. A tank that stands the boil cannot get too hot under
water, and needs no such distance. ``tank.cut_out_room_k`` may ask for more."""

SUPPLY_SHARE = 0.1
"""How far a voltage may lie from its nominal value where it was not logged [1]: EN 50160, 95 % of a week's
ten-minute means (secondary page)."""
CLOSER_V = 0.5
"""Ends closer than a supplier's by more than this were measured [V]; our choice, *no source*."""
LOW_MAINS_V, LOW_MAINS_HIGH = 150.0, 0.05
"""Below this a socket has the 120 V of North America [V], and so much more at the most [1]: ANSI C84.1, range
A (from memory); 5 % less at the service and 5 % in the wiring of the house make the same 10 % below."""

DRY_MOST_S = 300
"""A drain pump runs dry for no longer than this, unless its profile says so [s]; *no source*, our choice."""

EMPTIES_MOST_S = 1800
"""A full tank drains within this, at the low end of the pump's flow [s]; *no source*, our choice: with a
slower pump the drains of a programme take hours."""

WARE_FROM_SHARE = 0.5
"""Ware begins at this share of the tank's litres where a profile is silent [1]; our choice, *no source*."""

Volts = Annotated[Measured, Quantity("V", 90, 270, 230, "logged at the socket for a year, or else ± 10 %")]
AirTemperature = Annotated[Measured, Quantity("°C", -5, 45, 18, "thermometer beside the machine")]
WaterTemperature = Annotated[
    Measured, Quantity("°C", 1, 65, 12, "thermometer under the running inlet, over the year")
]

MATERIAL_LIMIT_C = {"PP": 100.0, "HDPE": 75.0, "LDPE": 50.0, "ABS": 70.0, "PC": 125.0, "PMMA": 90.0,
                    "PVC": 60.0, "stainless": 110.0}  # fmt: skip
"""Highest long-term limit any table allows a tank material [°C] (Crawford, Plastics Engineering, and
supplier tables, which differ: a profile's own limit should be the lowest of its parts)."""


class Supply(ProfileModel):
    """Mains or inverter at the machine's own socket."""

    voltage_v: Volts
    controller_w: Annotated[float, Quantity("W", 0, 50, 3, WATT_METER)] = 3.0


class Room(ProfileModel):
    """Air around the machine."""

    air_c: AirTemperature
    # The defaults of humidity_pct and of steam_share in [ware] are our choice, no source.
    humidity_pct: Annotated[Measured, Quantity("%", 0, 100, 50, "hygrometer beside the machine")] = Measured(
        nominal=50.0, low=20.0, high=80.0
    )
    height_m: Annotated[float, Quantity("m", 0, 5000, 200, "height above sea level, from a map")] = 0.0


class Inlet(ProfileModel):
    """Inlet valve: opened for a time, or until a level switch closes it."""

    water_c: WaterTemperature
    flow_l_per_min: FlowRate
    valve_w: Annotated[float, Quantity("W", 0, 30, 6, NAME_PLATE)]
    control: Literal["timed", "level"]
    level_l: Annotated[Measured, Quantity("l", 0.5, 200, 10, BUCKET)] | None = None
    # Where it was not measured the water may be hard: our choice, no source.
    hardness_mmol_per_l: Annotated[
        Measured, Quantity("mmol/l", 0, 10, 2, "your supplier's water report, or a test strip: 5.6 °dH = 1")
    ] = Measured(nominal=2.0, low=0.5, high=3.5)
    pipe_l: Annotated[
        Measured, Quantity("l", 0, 20, 1, "hot feed, pipe cold: litres before it runs hot, into a bucket")
    ] = Measured(nominal=0.0, low=0.0, high=0.0)
    # Without a measurement a top-up that no pump stirs counts for nothing: the safe side.
    unmixed_share: Annotated[
        float,
        Quantity("1", 0, 1, 0.15, "cold let into a hot bath: hottest spot less mean, over the mean's fall"),
    ] = 1.0

    @model_validator(mode="after")
    def _level_given(self) -> Inlet:
        if (self.control == "level") != (self.level_l is not None):
            rule = 'goes with control = "level", and only with it'
            fix = 'litres in the tank when the switch closes, or control = "timed"'
            refuse([Breach(("level_l",), self.level_l and self.level_l.nominal, rule, fix)])
        return self


class Tank(ProfileModel):
    """Tank with its sump."""

    # Ware displaces water: measured empty, a tank is taken for some litres larger than it is.
    capacity_l: Annotated[float, Quantity("l", 2, 200, 28, "fill to the lip with a full load in, " + BUCKET)]
    ware_from_l: (
        Annotated[
            float, Quantity("l", 1, 200, 13, "litres at which water reaches the ware; half of capacity_l")
        ]
        | None
    ) = None
    material: Literal["PP", "HDPE", "LDPE", "ABS", "PC", "PMMA", "PVC", "stainless"]
    limit_c: Annotated[float, Quantity("°C", 30, 110, 75, "lowest limit of tank, hoses, pump and glue")]
    cut_out_room_k: (
        Annotated[
            float,
            Quantity(
                "K", 0, 40, 8, "bath kept under limit_c for a cut-out: 8 for ± 1 K, 13 for ± 5 K, 0 none"
            ),
        ]
        | None
    ) = None
    heat_capacity_kj_per_k: Annotated[
        Measured, Quantity("kJ/K", 0.2, 80, 4.5, "wetted kilograms times 2.0 (PP) or 0.5 (steel)")
    ]
    loss_still_w_per_k: Annotated[Measured, Quantity("W/K", 0.2, 80, 6, "cooling curve, pump off")]
    loss_spraying_w_per_k: Annotated[Measured, Quantity("W/K", 0.2, 120, 9, "cooling curve, pump on")]
    residual_l: Annotated[Measured, Quantity("l", 0.02, 15, 0.6, "what a sponge takes up after a drain")]
    vent_m2: Annotated[float, Quantity("m2", 0, 1, 0.002, "gap between lid and rim, and vents")] = 0.002

    @model_validator(mode="after")
    def _material_stands_it(self) -> Tank:
        most = MATERIAL_LIMIT_C[self.material]
        if self.limit_c > most:
            rule = f"is above what {self.material} stands for long ({most:g} °C)"
            refuse([Breach(("limit_c",), self.limit_c, rule, f"{most:g} or less")])
        return self

    @model_serializer(mode="wrap")
    def _without_what_is_left_out(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        # The hash of a profile that does not know of this key stays what it was.
        written: dict[str, Any] = handler(self)
        return {key: value for key, value in written.items() if key != "cut_out_room_k" or value is not None}

    @property
    def ware_begins_l(self) -> float:
        """Water at which it reaches the lowest ware [l]; ``WARE_FROM_SHARE`` of the lip if not said."""
        return WARE_FROM_SHARE * self.capacity_l if self.ware_from_l is None else self.ware_from_l


def _too_small(at: tuple[str, str], space_l: float, needs_l: dict[str, float]) -> list[Breach]:
    return [
        Breach(
            at, space_l, f"is less than {key} ({litres:g} l)", f"above {litres:g} l, or measure {key} again"
        )
        for key, litres in needs_l.items()
        if litres > space_l
    ]


class Machine(ProfileModel):
    """A home-made dish-washing machine as measured."""

    kind: Literal["machine"]
    title: Annotated[str, TITLE]
    about: str = ""
    usual_circuit: Annotated[
        str, TextForm(".{1,200}", "the name of a circuit profile, or a path", "plug-10a")
    ]
    usual_tariff: Annotated[str, TextForm(".{1,200}", "the name of a tariff profile, or a path", "flat")]
    supply: Supply
    room: Room
    inlet: Inlet
    tank: Tank
    ware: Ware
    wash_pump: WashPump
    drain_pump: DrainPump
    element: Element | None = None

    @property
    def thermostat(self) -> Element | None:
        """The element, where a thermostat ends its heating; None without one and where time alone does."""
        return self.element if self.element is not None and self.element.control == "thermostat" else None

    @property
    def open_loop_advice(self) -> str:
        """What brings the ends of a timed heating closer together; a voltage that was logged did already."""
        volts = self.supply.voltage_v
        above = LOW_MAINS_HIGH if volts.nominal < LOW_MAINS_V else SUPPLY_SHARE
        low_v, high_v = (1.0 - SUPPLY_SHARE) * volts.nominal, (1.0 + above) * volts.nominal
        logged = volts.low > low_v + CLOSER_V or volts.high < high_v - CLOSER_V
        return "fit a thermostat" if logged else "fit a thermostat, or log your voltage"

    @property
    def bath_room_k(self) -> float:
        """How far under the tank's limit a heated bath stays, unless the tank stands the boil [K].

        ``tank.cut_out_room_k``; left out, ``OPEN_LOOP_K`` where time alone ends the heating, else 0.
        """
        if self.tank.cut_out_room_k is not None:
            return self.tank.cut_out_room_k
        return OPEN_LOOP_K if self.element is not None and self.element.control == "timed" else 0.0

    @model_validator(mode="after")
    def _fits_together(self) -> Machine:
        refuse([*self._volume_breaches(), *self._slow_drain(), *self._limit_breaches()])
        return self

    def _volume_breaches(self) -> list[Breach]:
        """What does not fit into the tank, or below its level switch."""
        pump, capacity_l, level_l = self.wash_pump, self.tank.capacity_l, self.inlet.level_l
        needs = {
            "wash_pump.prime_l + holdup_l": pump.prime_l + pump.holdup_l.high,
            "tank.residual_l": self.tank.residual_l.high,
        }
        if self.element is not None:
            needs["element.cover_l"] = self.element.cover_l
        found = []
        if level_l is not None:
            found = _too_small(("inlet", "level_l"), level_l.low, needs)
            needs["inlet.level_l"] = level_l.high
        if self.tank.ware_from_l is not None and self.tank.ware_from_l > capacity_l:
            rule, at = f"must not lie above capacity_l ({capacity_l:g} l)", ("tank", "ware_from_l")
            found = [*found, Breach(at, self.tank.ware_from_l, rule, f"{capacity_l:g} or less")]
        return found + _too_small(("tank", "capacity_l"), capacity_l, needs)

    @property
    def empties_s(self) -> int:
        """Time that the slowest drain takes for a full tank, in whole seconds, rounded up [s]."""
        pump, litres = self.drain_pump, self.tank.capacity_l - self.tank.residual_l.low
        least_s = math.ceil(litres / pump.flow_l_per_min.low * S_PER_MIN + pump.drain_lag_s.high)
        # Seconds are rounded up in binary: one less may do, one more may be needed.
        tried = (least_s - 1, least_s, least_s + 1)
        pumped_l = {s: (s - pump.drain_lag_s.high) / S_PER_MIN * pump.flow_l_per_min.low for s in tried}
        return next(s for s in tried if pumped_l[s] >= litres)

    @property
    def start_drain_most_s(self) -> int:
        """Longest start drain [s]: the tank may be empty, so that the drain pump runs dry all of it."""
        said_s = self.drain_pump.dry_most_s
        return max(DRY_MOST_S if said_s is None else int(said_s), self.empties_s)

    def _slow_drain(self) -> list[Breach]:
        """A drain pump that takes too long for a full tank."""
        pump, empties_s = self.drain_pump, self.empties_s
        if empties_s <= EMPTIES_MOST_S:
            return []
        flow = pump.flow_l_per_min
        litres = self.tank.capacity_l - self.tank.residual_l.low
        least = math.ceil(10.0 * litres / (EMPTIES_MOST_S - pump.drain_lag_s.high) * S_PER_MIN) / 10.0
        rule = (
            f"empties a full tank ({self.tank.capacity_l:g} l) in {empties_s} s at its low end "
            f"({flow.low:.3g} l/min); more than {EMPTIES_MOST_S} s are too many"
        )
        fix = f"a pump of {least:g} l/min or more at its low end; was it measured in l/min?"
        return [Breach(("drain_pump", "flow_l_per_min"), flow.nominal, rule, fix)]

    def _limit_breaches(self) -> list[Breach]:
        """Water too hot for the tank, or an element for another mains."""
        found = []
        water_c, volts = self.inlet.water_c.high, self.supply.voltage_v.nominal
        if water_c >= self.tank.limit_c:
            rule = f"its high end must stay below tank.limit_c ({self.tank.limit_c:g} °C)"
            fix = "feed cooler water, or a tank that stands it"
            found.append(Breach(("inlet", "water_c"), water_c, rule, fix))
        room_k, element = self.tank.cut_out_room_k, self.element
        if element is not None and element.control == "timed" and room_k is not None and room_k < OPEN_LOOP_K:
            rule = f"must be {OPEN_LOOP_K:g} K or more where no thermostat reads the bath"
            found.append(
                Breach(("tank", "cut_out_room_k"), room_k, rule, f"leave it out, or {self.open_loop_advice}")
            )
        dry_s, empties_s = self.drain_pump.dry_most_s, self.empties_s
        if dry_s is not None and dry_s < empties_s:
            rule = f"is less than a full tank takes to drain ({empties_s} s): the tank may be empty"
            fix = f"{empties_s} or more: a pump that stands it, or a quicker one"
            found.append(Breach(("drain_pump", "dry_most_s"), dry_s, rule, fix))
        pipe_c = self.drain_pump.drain_limit_c
        if water_c >= pipe_c and not self.drain_pump.stands_the_boil:
            rule = f"its high end must stay below drain_pump.drain_limit_c ({pipe_c:g} °C)"
            fix = "feed cooler water, or a drain pipe that stands it"
            found.append(Breach(("inlet", "water_c"), water_c, rule, fix))
        if self.element is not None and abs(self.element.rated_v / volts - 1.0) > VOLTAGE_APART:
            rule = f"does not fit supply.voltage_v ({volts:g} V)"
            fix = "read both again: name-plate of the element, multimeter at the socket"
            found.append(Breach(("element", "rated_v"), self.element.rated_v, rule, fix))
        return found
