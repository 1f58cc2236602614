"""A bench book: what the bucket, the scales, the stopwatch, the meter and the thermometers said."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from optimizer.profile.measured import TITLE, Breach, ProfileModel, Quantity, TextForm, refuse

YEARS = range(2000, 2100)
"""Years that a reading may be of [1]; our choice, *no source*: no answer hangs on a clock."""
APART_YEARS = 10
"""How far the readings of one book may lie from most of them [1]; our choice, *no source*."""
BOOK_FILE = "bench.toml"
"""Name of the file of a bench book in its folder."""

Kilograms = Annotated[float, Quantity("kg", 0.001, 60, 6, "kitchen scales, the empty bucket taken off")]
Litres = Annotated[float, Quantity("l", 0.001, 60, 6, "measuring jug or marked bucket")]
Seconds = Annotated[float, Quantity("s", 1, 3600, 60, "stopwatch")]
Watts = Annotated[float, Quantity("W", 0, 6500, 85, "plug-in power meter, all that is on together")]
Volts = Annotated[float, Quantity("V", 90, 270, 230, "plug-in power meter or multimeter")]
Celsius = Annotated[float, Quantity("°C", -20, 105, 20, "thermometer")]
Kelvins = Annotated[float, Quantity("K", 0, 5, 0.5, "data sheet of the thermometer")]
LogSeconds = Annotated[float, Quantity("s", 0, 700_000, 600, "time in the log, from its first row")]
Some = Field(min_length=1)
NONE: Any = Field(default_factory=list)


class InstrumentTable(ProfileModel):
    """What the instruments may be off: half-widths, and the last digit they show."""

    thermometer_error_k: Kelvins | None = None
    thermometer_step_k: Annotated[float, Quantity("K", 0.001, 2, 0.1, "last digit it shows")] = 0.1
    scales_error_kg: Annotated[float, Quantity("kg", 0, 2, 0.005, "a known weight on them")] = 0.005
    scales_step_kg: Annotated[float, Quantity("kg", 0.00001, 0.5, 0.001, "last digit they show")] = 0.001
    jug_error_pct: Annotated[float, Quantity("%", 0, 20, 2, "a full jug on the scales")] = 2.0
    stopwatch_error_s: Annotated[float, Quantity("s", 0, 10, 0.3, "the hand, not the watch")] = 0.3
    meter_error_pct: Annotated[float, Quantity("%", 0, 20, 2, "data sheet of the power meter")] = 2.0
    meter_step_w: Annotated[float, Quantity("W", 0.001, 20, 1, "last digit of its watts")] = 1.0
    meter_step_kwh: Annotated[float, Quantity("kWh", 0.0001, 1, 0.01, "last digit of its energy")] = 0.01
    voltmeter_error_pct: Annotated[float, Quantity("%", 0, 10, 1, "data sheet")] = 1.0
    ohmmeter_error_pct: Annotated[float, Quantity("%", 0, 10, 1, "data sheet")] = 1.0


class CalibrationTable(ProfileModel):
    """The thermometer in melting ice and in boiling water."""

    ice_c: Annotated[list[Celsius], Some]
    boiling_c: Annotated[list[Celsius], Some]
    height_m: Annotated[float, Quantity("m", 0, 5000, 200, "height above sea level, from a map")]
    sea_level_hpa: (
        Annotated[float, Quantity("hPa", 940, 1060, 1013, "weather report of that day, at sea level")] | None
    ) = None


class Flow(ProfileModel):
    """Water that ran for a time: kilograms or litres."""

    kg: Kilograms | None = None
    l: Litres | None = None  # noqa: E741
    s: Seconds
    lag_s: Annotated[float, Quantity("s", 0, 300, 8, "from empty until no more comes")] | None = None

    @model_validator(mode="after")
    def _one_amount(self) -> Flow:
        _either(self, "kg", "l")
        return self


class FlowTable(ProfileModel):
    """Fills into a bucket, or drains into one."""

    water_c: Annotated[float, Quantity("°C", 1, 65, 12, "thermometer in the bucket")] = 15.0
    runs: Annotated[list[Flow], Some]


class Weighed(ProfileModel):
    """An amount of water, again and again: kilograms or litres."""

    kg: Annotated[list[Kilograms], Some] | None = None
    l: Annotated[list[Litres], Some] | None = None  # noqa: E741

    @model_validator(mode="after")
    def _one_unit(self) -> Weighed:
        _either(self, "kg", "l")
        return self


class BucketTable(ProfileModel):
    """What was poured in until something happened."""

    spits: Weighed | None = None
    covers: Weighed | None = None
    lip: Weighed | None = None
    switch: Weighed | None = None


class MaterialTable(ProfileModel):
    """One full load of a material, or of several loads one weight each, dry and wet after a drain."""

    dry_kg: Annotated[list[Kilograms], Some]
    wet_kg: list[Kilograms] = NONE


class WareTable(ProfileModel):
    """The load, by material."""

    porcelain: MaterialTable | None = None
    glass: MaterialTable | None = None
    stainless: MaterialTable | None = None
    plastic: MaterialTable | None = None

    def materials(self) -> dict[str, MaterialTable]:
        """Materials that were weighed."""
        names = ("porcelain", "glass", "stainless", "plastic")
        return {name: table for name in names if (table := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _weighed_together(self) -> WareTable:
        wet = {name: len(table.wet_kg) for name, table in self.materials().items()}
        if any(wet.values()) and len(set(wet.values())) > 1:
            most = max(wet, key=lambda name: wet[name])
            rule = f"must hold as many weights as {most}.wet_kg ({wet[most]}): the load of one drain each"
            refuse([Breach((name, "wet_kg"), many, rule, "weigh all materials after each drain")
                    for name, many in wet.items() if many != wet[most]])  # fmt: skip
        found = []
        for name, table in self.materials().items():
            dry = sum(table.dry_kg) / len(table.dry_kg)
            if table.wet_kg and sum(table.wet_kg) / len(table.wet_kg) <= dry:
                rule = f"weighs no more wet than dry ({name}.dry_kg, {dry:.4g} kg)"
                fix = "the same load, before it is washed and after a drain"
                found.append(Breach((name, "wet_kg"), table.wet_kg, rule, fix))
        refuse(found)
        return self


class MeterReading(ProfileModel):
    """The plug-in meter with one part on."""

    w: Watts
    v: Volts
    pf: Annotated[float, Quantity("1", 0.05, 1, 0.6, "plug-in power meter, cos φ")] | None = None


class MeterTable(ProfileModel):
    """The plug-in meter with one part on at a time."""

    controller: list[MeterReading] = NONE
    valve: list[MeterReading] = NONE
    wash_pump: list[MeterReading] = NONE
    drain_pump: list[MeterReading] = NONE
    element: list[MeterReading] = NONE

    @model_validator(mode="after")
    def _more_than_nothing(self) -> MeterTable:
        idle_w = max((reading.w for reading in self.controller), default=0.0)
        rule = f"shows less than with every output off (meter.controller, {idle_w:g} W)"
        refuse([
            Breach((part, at, "w"), reading.w, rule, "watts, not kilowatts, of all that is on together")
            for part in ("valve", "wash_pump", "drain_pump", "element")
            for at, reading in enumerate(getattr(self, part))
            if reading.w < idle_w
        ])  # fmt: skip
        return self


class ElementTable(ProfileModel):
    """The element: its name-plate, and its resistance where it was measured, unplugged."""

    rated_v: Annotated[float, Quantity("V", 90, 260, 230, "name-plate")]
    ohm: list[Annotated[float, Quantity("ohm", 2, 1200, 60, "ohm-meter, unplugged, cold")]] = NONE


class VoltageReading(ProfileModel):
    """The voltage at the machine's own socket."""

    on: datetime.date | None = None
    v: Volts
    hour: Annotated[float, Quantity("h", 0, 24, 18.5, "clock: 18.5 is half past six in the evening")]


class VoltageTable(ProfileModel):
    """Voltages by hour: with the machine off, and with its element on."""

    idle: list[VoltageReading] = NONE
    loaded: list[VoltageReading] = NONE


class TemperatureReading(ProfileModel):
    """A temperature and the day of it."""

    c: Celsius
    on: datetime.date


class TemperatureTable(ProfileModel):
    """Water at the inlet and air beside the machine, by date."""

    inlet: list[TemperatureReading] = NONE
    room: list[TemperatureReading] = NONE


class MeterFlip(ProfileModel):
    """When the last digit of the meter's energy turned."""

    s: LogSeconds
    kwh: Annotated[float, Quantity("kWh", 0, 100_000, 0.15, "plug-in power meter, as its last digit turns")]


class ThermalTable(ProfileModel):
    """A log and its condition."""

    name: Annotated[str, TextForm(r"[^\x00-\x1f\x7f]{1,40}", "a name of 1 to 40 characters", "cooling")]
    log: Annotated[str, TextForm(r"[^\x00-\x1f\x7f]{1,200}", "a CSV file beside this one", "cooling.csv")]
    water_kg: Annotated[
        float, Quantity("kg", 0.2, 150, 5, "kitchen scales, all water in the machine as the test begins")
    ]
    room_c: Annotated[float, Quantity("°C", -5, 45, 20, "the thermometer of the bath, before it goes in")]
    pump_on: bool
    ware_in: bool = False
    ware_wet: bool = False
    ware_at_room: bool = True
    stood_at_room: bool = False
    poured_c: (
        Annotated[float, Quantity("°C", 1, 100, 60, "thermometer in the water before it is poured")] | None
    ) = None
    element_from_s: LogSeconds | None = None
    element_until_s: LogSeconds | None = None
    begins_s: LogSeconds | None = None
    ends_s: LogSeconds | None = None
    follows: str = ""
    room_error_k: Annotated[float, Quantity("K", 0, 10, 0.5, "how far the room moved meanwhile")] = 0.5
    voltage_v: Volts | None = None
    drained_kg: (
        Annotated[float, Quantity("kg", 0.2, 150, 5, "kitchen scales, what a drain and a sponge bring out")]
        | None
    ) = None
    room_end_c: (
        Annotated[float, Quantity("°C", -5, 45, 20, "the same thermometer, as the test ends")] | None
    ) = None
    meter: list[MeterFlip] = NONE


def _odd_days(readings: Sequence[tuple[tuple[str | int, ...], datetime.date]]) -> list[Breach]:
    """Dates that no reading of a book has: out of our time, or far from those of the others."""
    sound = sorted(day for _, day in readings if day.year in YEARS)
    middle = sound[len(sound) // 2].year if sound else YEARS[0]
    found = []
    for at, day in readings:
        if day.year not in YEARS:
            rule = f"must lie in {YEARS[0]} to {YEARS[-1]}"
        elif abs(day.year - middle) > APART_YEARS:
            rule = f"lies over {APART_YEARS} years from most readings of the book ({middle})"
        else:
            continue
        found.append(Breach(at, day.isoformat(), rule, "look at its year, a plain date: 2026-03-01"))
    return found


class Bench(ProfileModel):
    """Everything that was measured; each table is optional."""

    kind: Literal["bench"]
    title: Annotated[str, TITLE]
    about: str = ""
    instruments: InstrumentTable = InstrumentTable()
    calibration: CalibrationTable | None = None
    voltages: VoltageTable = VoltageTable()
    temperatures: TemperatureTable = TemperatureTable()
    fills: FlowTable | None = None
    drains: FlowTable | None = None
    sponge: Weighed | None = None
    buckets: BucketTable = BucketTable()
    level_drop: Weighed | None = None
    ware: WareTable = WareTable()
    meter: MeterTable = MeterTable()
    element: ElementTable | None = None
    thermal: list[ThermalTable] = NONE
    stated: dict[str, Any] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _names_differ(self) -> Bench:
        many = Counter(test.name for test in self.thermal)
        found = []
        for at, test in enumerate(self.thermal):
            if many[test.name] > 1:
                rule = f"{many[test.name]} tests have this name"
                found.append(Breach(("thermal", at, "name"), test.name, rule, "a name of its own for each"))
            if test.follows and test.follows not in {one.name for one in self.thermal[:at]}:
                rule = "must name a test that stands before this one"
                names = ", ".join(one.name for one in self.thermal[:at]) or "none stands there"
                found.append(Breach(("thermal", at, "follows"), test.follows, rule, names))
        refuse(found)
        return self

    @model_validator(mode="after")
    def _days_of_one_time(self) -> Bench:
        tables: dict[tuple[str, str], Sequence[VoltageReading | TemperatureReading]] = {
            ("voltages", "idle"): self.voltages.idle,
            ("voltages", "loaded"): self.voltages.loaded,
            ("temperatures", "inlet"): self.temperatures.inlet,
            ("temperatures", "room"): self.temperatures.room,
        }
        days: list[tuple[tuple[str | int, ...], datetime.date]] = [
            ((*table, at, "on"), reading.on)
            for table, readings in tables.items()
            for at, reading in enumerate(readings)
            if reading.on is not None
        ]
        refuse(_odd_days(days))
        return self


def _either(table: ProfileModel, first: str, second: str) -> None:
    """Refuse a table that has both of two keys, or none."""
    given = [key for key in (first, second) if getattr(table, key) is not None]
    if len(given) != 1:
        rule = f"has both {first} and {second}" if given else f"has neither {first} nor {second}"
        refuse([Breach((), None, rule, f"one of them: {first} = 6.02")])


def book_path(book: Path) -> Path:
    """Where the file of a book stands: in the folder, or given itself."""
    return book if book.suffix == ".toml" else book / BOOK_FILE


def is_book(name: str) -> bool:
    """Tell the path of a bench book, its folder or its file, from a machine profile's."""
    path = Path(name)
    return path.is_dir() or path.name == BOOK_FILE
