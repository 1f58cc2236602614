"""The machine profile: what was measured on the bench, part by part."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import SerializerFunctionWrapHandler, model_serializer, model_validator

from optimizer.profile.measured import TITLE, Breach, Measured, ProfileModel, Quantity, TextForm, refuse
from optimizer.units import S_PER_MIN

DRAIN_STANDS_C = 100.0
"""A drain pipe that stands so much stands whatever a tank holds: nothing has to cool before a drain [°C]."""

VOLTAGE_APART = 0.35
"""An element whose rating is further than this from the supply is one for another mains [1]."""

OPEN_LOOP_K = 8.0
"""How far under the tank's limit the hottest bath of a timed element has to stay [K]: nothing reads it, and
what was not measured (scale, a tired thermometer) comes on top, and a cut-out of ± 1 K needs 3 K over the
hottest bath and 5 K to trip in. Our choice, *no source*. A tank that stands the boil cannot get too hot under
water, and needs no such distance."""

OPEN_LOOP_ADVICE = "fit a thermostat, or log your voltage"
"""What brings the ends of a timed heating closer together."""

WARE_FROM_SHARE = 0.5
"""Ware begins at this share of the tank's litres where a profile is silent [1]; our choice, *no source*."""

WATT_METER = "plug-in power meter"
NAME_PLATE = "name-plate"
BUCKET = "bucket, kitchen scales and stopwatch"

Volts = Annotated[Measured, Quantity("V", 90, 270, 230, "logged at the socket for a year, or else ± 10 %")]
AirTemperature = Annotated[Measured, Quantity("°C", -5, 45, 18, "thermometer beside the machine")]
WaterTemperature = Annotated[
    Measured, Quantity("°C", 1, 65, 12, "thermometer under the running inlet, over the year")
]
FlowRate = Annotated[Measured, Quantity("l/min", 0.2, 40, 6, BUCKET)]
PumpPower = Annotated[Measured, Quantity("W", 2, 1500, 85, WATT_METER)]
PowerFactor = Annotated[float, Quantity("1", 0.3, 1, 0.6, "plug-in power meter, cos φ")]
INRUSH = Quantity("1", 1, 12, 5, "clamp meter with peak hold; 3–8 where not measured")
SURGE = Quantity("A", 0.02, 100, 4, "clamp meter with peak hold, mains side, as it starts")
STALL = Quantity("A", 0.02, 100, 0.6, "clamp meter, mains side, rotor held for a moment")
Mass = Annotated[Measured, Quantity("kg", 0, 60, 4, "kitchen scales, one full load")]

HEAT_CAPACITY_KJ_PER_KG_K = {"porcelain": 1.05, "glass": 0.84, "stainless": 0.50, "plastic": 1.9}
"""Specific heat of what is washed [kJ/(kg K)]; porcelain, glass, steel: handbook values; plastic: PP, PE."""

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

    @property
    def ware_begins_l(self) -> float:
        """Water at which it reaches the lowest ware [l]; ``WARE_FROM_SHARE`` of the lip if not said."""
        return WARE_FROM_SHARE * self.capacity_l if self.ware_from_l is None else self.ware_from_l


class Ware(ProfileModel):
    """One full load of what is washed."""

    porcelain_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    glass_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    stainless_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    plastic_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    settings: Annotated[int, Quantity("1", 1, 60, 6, "place settings of one full load")] = 6
    film_l: Annotated[Measured, Quantity("l", 0.005, 3, 0.2, "weigh the load wet after a drain, then dry")]
    response_spraying_s: Annotated[
        Measured,
        Quantity("s", 5, 600, 45, "time a plate takes to close 63 % of its gap to the bath, spraying"),
    ]
    steam_share: Annotated[
        Measured, Quantity("1", 0.05, 1, 0.4, "plate's rise over the pool's boiling, thermometer on a plate")
    ] = Measured(nominal=0.4, low=0.3, high=0.5)
    response_still_s: Annotated[Measured, Quantity("s", 120, 20000, 1800, "the same, pump off")] = Measured(
        nominal=1800.0, low=1200.0, high=3000.0
    )

    def _masses(self) -> tuple[tuple[float, Measured], ...]:
        cp = HEAT_CAPACITY_KJ_PER_KG_K
        return (
            (cp["porcelain"], self.porcelain_kg),
            (cp["glass"], self.glass_kg),
            (cp["stainless"], self.stainless_kg),
            (cp["plastic"], self.plastic_kg),
        )

    @property
    def heat_capacity_kj_per_k(self) -> Measured:
        """Heat capacity of the load [kJ/K]."""
        low, nominal, high = (
            sum(cp * getattr(mass, end) for cp, mass in self._masses()) for end in ("low", "nominal", "high")
        )
        return Measured(nominal=nominal, low=low, high=high)

    @model_validator(mode="after")
    def _not_empty(self) -> Ware:
        if self.heat_capacity_kj_per_k.low <= 0.0:
            rule = "at least one mass must be above 0 kg, its low end too"
            refuse([Breach((), None, rule, "porcelain_kg = 4")])
        return self


class Element(ProfileModel):
    """Immersion element (leave the table out where there is none)."""

    rated_w: Annotated[Measured, Quantity("W", 50, 6000, 900, NAME_PLATE + ", or ohm-meter: V²/R")]
    rated_v: Annotated[float, Quantity("V", 90, 260, 230, NAME_PLATE)]
    cover_l: Annotated[
        float, Quantity("l", 0.3, 100, 7.5, "litres at which water stands 50 mm over the heated part")
    ]
    rest_s: Annotated[int, Quantity("s", 1, 600, 20, "after it goes off, until no streaks rise from it")]
    control: Literal["timed", "thermostat"]
    sensor_error_k: Annotated[float, Quantity("K", 0, 10, 1, "sensor against a thermometer, largest gap")] = (
        0.0
    )
    # Sensor and hottest water over the mean bath as a heating with the pump off ends: our choice, no source.
    sensor_over_mean_k: Annotated[
        Measured, Quantity("K", -15, 20, 1, "heated with the pump off: fall of its reading as that starts")
    ] = Measured(nominal=1.0, low=0.0, high=2.0)
    top_over_mean_k: Annotated[
        Measured, Quantity("K", 0, 25, 2, "thermometer under the surface: its fall as the pump starts")
    ] = Measured(nominal=2.0, low=0.0, high=4.0)
    splash_l: Annotated[float, Quantity("l", 0, 10, 0.2, "what a boiling pool throws at the walls")] = 0.2
    hysteresis_k: Annotated[float, Quantity("K", 0.1, 10, 1, "gap between switching off and on again")] = 1.0

    @model_validator(mode="after")
    def _sensor_measured(self) -> Element:
        # A sensor taken to be right is a tank that may get too hot, so there is no default to fall back on.
        if self.control == "thermostat" and "sensor_error_k" not in self.model_fields_set:
            rule = 'is missing: it goes with control = "thermostat"'
            fix = "sensor_error_k = 1, the sensor's largest gap to a thermometer in the same water"
            refuse([Breach(("sensor_error_k",), None, rule, fix)])
        return self

    def highest_a(self, supply_v: float) -> float:
        """Highest current of the element at a voltage.

        Parameters
        ----------
        supply_v : float
            Voltage at its terminals [V], 0 or more.

        Returns
        -------
        float
            Current [A]: a resistor's, ``P U / U_rated^2`` (Ohm's law). It grows with the voltage, so that the
            high end of the supply is the bad one.
        """
        return self.rated_w.high * supply_v / self.rated_v**2


class Pump(ProfileModel):
    """A pump as a load on the mains, its 12 or 24 V power supply included where it has one."""

    power_w: PumpPower
    power_factor: PowerFactor
    inrush_multiple: Annotated[float, INRUSH] | None = None
    surge_a: Annotated[Measured, SURGE] | None = None
    stall_a: Annotated[Measured, STALL] | None = None

    @model_validator(mode="after")
    def _start_measured(self) -> Pump:
        absent = [key for key in ("surge_a", "stall_a") if getattr(self, key) is None]
        if self.inrush_multiple is None and len(absent) == 2:
            fix = f"inrush_multiple = {INRUSH.example}"
            refuse([Breach(("inrush_multiple",), None, "is missing", fix)])
        if self.inrush_multiple is None and absent:
            rule = "is missing: surge_a and stall_a go together where there is no inrush_multiple"
            refuse([Breach((absent[0],), None, rule, "measure both on the mains side of the power supply")])
        return self

    @model_serializer(mode="wrap")
    def _without_what_is_left_out(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        # The hash of a profile that does not know of these keys stays what it was.
        written: dict[str, Any] = handler(self)
        optional = ("inrush_multiple", "surge_a", "stall_a", "dry_most_s")
        return {key: value for key, value in written.items() if key not in optional or value is not None}

    def running_a(self, supply_v: float) -> float:
        """Highest running current at a voltage.

        Parameters
        ----------
        supply_v : float
            Voltage at its plug [V], above 0.

        Returns
        -------
        float
            Current [A]: ``P / (U cos phi)``, a motor that keeps its power when the voltage changes. It falls
            with the voltage, so that the low end of the supply is the bad one. Added to a resistor's current
            as a plain number it overstates the sum, which is the safe side.
        """
        return self.power_w.high / (supply_v * self.power_factor)

    def starting_a(self, supply_v: float) -> float:
        """Highest current in the first half-waves after it is switched on.

        Parameters
        ----------
        supply_v : float
            Voltage at its plug [V], above 0.

        Returns
        -------
        float
            Current [A]: ``surge_a`` where it was measured (what its power supply takes to charge itself), or
            ``inrush_multiple`` times the running current; 3 to 8 times by common practice (no source).
        """
        if self.surge_a is not None:
            return self.surge_a.high
        return self.running_a(supply_v) * (self.inrush_multiple or 1.0)


class WashPump(Pump):
    """Pump of the spray arm."""

    prime_l: Annotated[float, Quantity("l", 0.1, 100, 5, "litres at which the spray starts to spit")]
    holdup_l: Annotated[
        Measured, Quantity("l", 0.05, 20, 1.5, "drop of the level when the spray starts, in litres")
    ]
    heat_share: Annotated[float, Quantity("1", 0, 1, 0.5, "share of its power that warms the water")]
    mechanics_factor: Annotated[
        Measured, Quantity("1", 0.1, 10, 1, "minutes of a dose here by trials: those of the goal over them")
    ] = Measured(nominal=1.0, low=1.0, high=1.0)


class DrainPump(Pump):
    """Pump that empties the sump."""

    flow_l_per_min: FlowRate
    # The default is our choice, no source.
    drain_lag_s: Annotated[
        Measured,
        Quantity("s", 0, 120, 6, "tank looks empty: stopwatch until no more comes out of the hose"),
    ] = Measured(nominal=6.0, low=3.0, high=10.0)
    # Default from memory and secondary pages: many drain pipes and plumbing codes allow about 60 °C (140 °F).
    drain_limit_c: Annotated[
        float, Quantity("°C", 30, 100, 60, "data sheet of the drain pipe, local code")
    ] = 60.0
    # A start drain runs dry where the tank is empty already. Left out: 300 s, or what a full tank needs.
    dry_most_s: (
        Annotated[float, Quantity("s", 10, 7200, 300, "its data sheet: how long it may run without water")]
        | None
    ) = None

    @property
    def stands_the_boil(self) -> bool:
        """Whether the drain pipe stands boiling water, so that nothing has to cool before a drain."""
        return self.drain_limit_c >= DRAIN_STANDS_C


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

    @model_validator(mode="after")
    def _fits_together(self) -> Machine:
        refuse([*self._volume_breaches(), *self._limit_breaches()])
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

    def _empties_s(self) -> int:
        """Time that the slowest drain takes for a full tank, in whole seconds, rounded up [s]."""
        pump, litres = self.drain_pump, self.tank.capacity_l - self.tank.residual_l.low
        # Seconds are rounded up in binary: what is a whole number but for that stays it.
        return math.ceil(litres / pump.flow_l_per_min.low * S_PER_MIN + pump.drain_lag_s.high - 1e-9)

    def _limit_breaches(self) -> list[Breach]:
        """Water too hot for the tank, or an element for another mains."""
        found = []
        water_c, volts = self.inlet.water_c.high, self.supply.voltage_v.nominal
        if water_c >= self.tank.limit_c:
            rule = f"its high end must stay below tank.limit_c ({self.tank.limit_c:g} °C)"
            fix = "feed cooler water, or a tank that stands it"
            found.append(Breach(("inlet", "water_c"), water_c, rule, fix))
        dry_s, empties_s = self.drain_pump.dry_most_s, self._empties_s()
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
