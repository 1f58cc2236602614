"""The circuit profile: what feeds the machine and what else hangs on it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import SerializerFunctionWrapHandler, model_serializer, model_validator

from optimizer.profile.measured import TITLE, Breach, Measured, ProfileModel, Quantity, refuse

Device = Literal["breaker_b", "breaker_c", "breaker_d", "fuse_gg", "fuse_plug"]

EarthFault = Literal["rcd_30ma", "gfci_class_a", "inverter", "none"]
"""What protects people from an earth fault: by IEC rules an RCD of 30 mA, in North America a class A
ground-fault interrupter, behind an inverter either one, if its neutral is bonded to earth; or nothing."""

INSTANT_TRIP_MULTIPLE = {"breaker_b": 3.0, "breaker_c": 5.0, "breaker_d": 10.0}
"""Lowest multiple of the rating at which a breaker may trip at once (IEC 60898-1: B 3–5, C 5–10,
D 10–20). A fuse has no such step; its row is absent."""

MOMENTARY = Quantity(
    "A",
    1,
    2000,
    20,
    "most the inverter or the generator gives for a moment: its surge power over its voltage",
)

SUPPLY_APART = 0.15
"""A machine measured further than this from its circuit's nominal voltage was measured elsewhere [1]."""


class Circuit(ProfileModel):
    """A circuit of the house, the boat or the shed."""

    kind: Literal["circuit"]
    title: Annotated[str, TITLE]
    about: str = ""
    voltage_v: Annotated[float, Quantity("V", 90, 260, 230, "nominal voltage of the circuit")]
    device: Device
    rating_a: Annotated[float, Quantity("A", 1, 63, 16, "printed on the breaker or the fuse")]
    usable_share: Annotated[float, Quantity("1", 0.3, 1, 1, "share to count on; 0.8 where a rule says so")]
    background_a: Annotated[
        Measured, Quantity("A", 0, 60, 1.2, "clamp meter over a week, everything else on")
    ]
    compressor_start_a: Annotated[
        Measured,
        Quantity("A", 0, 400, 9.6, "clamp meter with peak hold, largest compressor on it; 0: there is none"),
    ]
    earth_fault: EarthFault
    momentary_a: Annotated[float, MOMENTARY] | None = None

    @property
    def available_a(self) -> float:
        """Current left for the machine with the background at its highest [A]."""
        return self.rating_a * self.usable_share - self.background_a.high

    @property
    def instant_trip_a(self) -> float | None:
        """Lowest current at which the breaker may trip at once [A]; None for a fuse."""
        multiple = INSTANT_TRIP_MULTIPLE.get(self.device)
        return None if multiple is None else multiple * self.rating_a

    @property
    def start_most_a(self) -> float | None:
        """Highest current that may flow for a moment [A]: breaker and supply allow it; None: a fuse alone."""
        limits_a = [limit_a for limit_a in (self.instant_trip_a, self.momentary_a) if limit_a is not None]
        return min(limits_a, default=None)

    def that_starts(self, most_a: float) -> Circuit:
        """Give the same circuit made to carry a current for a moment.

        Parameters
        ----------
        most_a : float
            Current as a pump starts, with all else on the circuit [A].

        Returns
        -------
        Circuit
            With a rating of device and a supply that are just enough, no smaller than they are.
        """
        larger: dict[str, float] = {}
        if self.instant_trip_a is not None and self.instant_trip_a < most_a:
            larger["rating_a"] = self.rating_a * most_a / self.instant_trip_a
        if self.momentary_a is not None and self.momentary_a < most_a:
            larger["momentary_a"] = most_a
        return self.model_copy(update=larger)

    @property
    def supply_gives_out(self) -> bool:
        """Whether an inverter or a generator gives out before the device opens."""
        return self.momentary_a is not None and self.start_most_a == self.momentary_a

    def may_supply(self, measured_v: float) -> bool:
        """Tell whether a machine may have been measured on this circuit, going by its voltage alone.

        Parameters
        ----------
        measured_v : float
            Voltage measured at the machine [V].

        Returns
        -------
        bool
            Whether it is near enough to the circuit's nominal voltage.
        """
        return abs(measured_v / self.voltage_v - 1.0) <= SUPPLY_APART

    @model_serializer(mode="wrap")
    def _without_what_is_left_out(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        # The hash of a circuit fed by the grid stays what it was before there was such a key.
        written: dict[str, Any] = handler(self)
        return {key: value for key, value in written.items() if key != "momentary_a" or value is not None}

    @model_validator(mode="after")
    def _something_left(self) -> Circuit:
        if self.earth_fault == "inverter" and self.momentary_a is None:
            rule = "is missing: an inverter that is asked for more for a moment shuts off"
            refuse([Breach(("momentary_a",), None, rule, f"momentary_a = {MOMENTARY.example}")])
        if self.available_a <= 0.0:
            usable = f"{self.rating_a * self.usable_share:g}"
            rule = f"must leave something of the {usable} A that rating_a and usable_share allow"
            fix = f"a high end below {usable} A, or another circuit"
            refuse([Breach(("background_a",), self.background_a.high, rule, fix)])
        return self
