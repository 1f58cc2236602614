"""What a machine's profile says of its electrical parts: the element, the two pumps, and their currents."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import SerializerFunctionWrapHandler, model_serializer, model_validator

from optimizer.profile.measured import Breach, Measured, ProfileModel, Quantity, refuse

DRAIN_STANDS_C = 100.0
"""A drain pipe that stands so much stands whatever a tank holds: nothing has to cool before a drain [°C]."""

WATT_METER = "plug-in power meter"
NAME_PLATE = "name-plate"
BUCKET = "bucket, kitchen scales and stopwatch"

FlowRate = Annotated[Measured, Quantity("l/min", 0.2, 40, 6, BUCKET)]
PumpPower = Annotated[Measured, Quantity("W", 2, 1500, 85, WATT_METER)]
PowerFactor = Annotated[float, Quantity("1", 0.3, 1, 0.6, "plug-in power meter, cos φ")]
INRUSH = Quantity("1", 1, 12, 5, "clamp meter with peak hold; 3–8 where not measured")
SURGE = Quantity("A", 0.02, 100, 4, "clamp meter with peak hold, mains side, as it starts")
STALL = Quantity("A", 0.02, 100, 0.6, "clamp meter, mains side, rotor held for a moment")


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
        optional = ("inrush_multiple", "surge_a", "stall_a", "dry_most_s", "drain_line")
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


COMMON_DRAIN_C = 60.0
"""Many drain pipes and plumbing codes allow no hotter water, 140 °F [°C] (IPC 803.1, from memory)."""


class DrainPump(Pump):
    """Pump that empties the sump."""

    flow_l_per_min: FlowRate
    # The default is our choice, no source.
    drain_lag_s: Annotated[
        Measured,
        Quantity("s", 0, 120, 6, "tank looks empty: stopwatch until no more comes out of the hose"),
    ] = Measured(nominal=6.0, low=3.0, high=10.0)
    drain_limit_c: Annotated[
        float, Quantity("°C", 30, 100, 60, "data sheet of the drain pipe, local code")
    ] = COMMON_DRAIN_C
    # Where water goes that is hotter than common pipes and codes allow: told beside the limit.
    drain_line: str | None = None
    # A start drain runs dry where the tank is empty already. Left out: 300 s, or what a full tank needs.
    dry_most_s: (
        Annotated[float, Quantity("s", 10, 7200, 300, "its data sheet: how long it may run without water")]
        | None
    ) = None

    @property
    def stands_the_boil(self) -> bool:
        """Whether the drain pipe stands boiling water, so that nothing has to cool before a drain."""
        return self.drain_limit_c >= DRAIN_STANDS_C
