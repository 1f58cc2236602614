"""What the fit of the thermal logs is given, and what it gives back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from optimizer.measure.bench_log import BenchLog
from optimizer.measure.estimate import Estimate
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured

if TYPE_CHECKING:
    from numpy import ndarray

THERMAL_KEYS = (
    "tank.heat_capacity_kj_per_k",
    "tank.loss_still_w_per_k",
    "tank.loss_spraying_w_per_k",
    "wash_pump.heat_share",
    "ware.response_spraying_s",
    "ware.response_still_s",
    "element.rated_w",
)
"""Keys of a machine profile that thermal logs settle."""


@dataclass(frozen=True)
class ThermalTest:
    """A log together with what was done while it ran; nothing but the element is switched in a test.

    A change of the pump ends a test, and the next one ``follows`` it: the same water goes on, at the
    temperature that the test before ended with.

    Attributes
    ----------
    name : str
        Its name in the bench book.
    log : BenchLog
        Thermometer in the bath; perhaps one on a plate, perhaps watts.
    water_kg : float
        All water in the machine as the test begins, what a drain had left behind too [kg].
    room_c : float
        Room, read with the thermometer of the bath before it goes in [°C].
    pump_on : bool
        Whether the wash pump sprays.
    ware_in : bool
        Whether the full load is in the basket.
    ware_wet : bool
        Whether the load was sprayed before, so that a film of water hangs on it.
    stood_at_room : bool
        Whether water and tank had stood until they were as warm as the room.
    ware_at_room : bool
        Whether the load was as warm as the room as the test began; one that is wet was not.
    poured_c : float or None
        Where the water was poured at once into the dry tank that was as warm as the room: temperature of
        the water just before, read with the thermometer of the bath [°C].
    element_from_s, element_until_s : float or None
        When the element was switched, in the time of the log [s]; None: never on, on to the end.
    follows : str
        Name of the test that it goes on from without a break; empty where it has water of its own.
    begins_s, ends_s : float or None
        When the condition began and ended, in the time of the log [s]; None: with its first, its last row.
    room_error_k : float
        By how much the room may have been off that reading while the test ran [K].
    voltage_v : float or None
        At the socket while the element was on [V]; None: as in the profile.
    drained_kg : float or None
        The same water weighed again: what a drain and a sponge brought out after its last test [kg].
    room_end_c : float or None
        The room read again as the test ended, with the same thermometer [°C].
    meter_kwh : tuple of (float, float)
        Time in the log [s] and energy [kWh] as the last digit of the plug-in meter flipped.
    """

    name: str
    log: BenchLog
    water_kg: float
    room_c: float
    pump_on: bool
    ware_in: bool = False
    ware_wet: bool = False
    stood_at_room: bool = False
    ware_at_room: bool = True
    poured_c: float | None = None
    element_from_s: float | None = None
    element_until_s: float | None = None
    follows: str = ""
    begins_s: float | None = None
    ends_s: float | None = None
    room_error_k: float = 0.5
    voltage_v: float | None = None
    drained_kg: float | None = None
    room_end_c: float | None = None
    meter_kwh: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Known:
    """What the thermal fit takes from elsewhere: plain tests, or the profile that a machine is like.

    Attributes
    ----------
    ware_kj_per_k : Measured or None
        Heat capacity of the full load [kJ/K]; None where no test has ware in.
    pump_w : Measured or None
        Power of the wash pump, by the same meter as the logs [W]; None where no test has the pump on.
    supply_v : Measured
        Voltage at the socket, for tests that have none of their own [V].
    rated_v : float or None
        Voltage at which ``element.rated_w`` is meant [V]; None where there is no element.
    controller_w : float
        What the plug-in meter shows with every output off [W].
    film_l : float
        Water that hangs on the ware after a spray [l].
    vent_m2, humidity : float
        Opening through which water evaporates [m2], relative humidity of the room [1].
    like : mapping of str to Measured
        Numbers of the profile it is like, by key of `THERMAL_KEYS`: used only where the tests cannot tell
        two numbers apart, and said so.
    """

    ware_kj_per_k: Measured | None = None
    pump_w: Measured | None = None
    supply_v: Measured = field(default_factory=lambda: Measured(nominal=230.0, low=207.0, high=253.0))
    rated_v: float | None = 230.0
    controller_w: float = 3.0
    film_l: float = 0.25
    vent_m2: float = 0.002
    humidity: float = 0.5
    like: Mapping[str, Measured] = field(default_factory=dict)

    @classmethod
    def of(cls, machine: Machine) -> Known:
        """Take everything from a machine profile.

        Parameters
        ----------
        machine : Machine
            The profile that the machine is like, or what the plain tests have made of it.

        Returns
        -------
        Known
            With ``like`` for every key of `THERMAL_KEYS` that the profile has.
        """
        tank, ware, element = machine.tank, machine.ware, machine.element
        share = machine.wash_pump.heat_share
        like = {
            "tank.heat_capacity_kj_per_k": tank.heat_capacity_kj_per_k,
            "tank.loss_still_w_per_k": tank.loss_still_w_per_k,
            "tank.loss_spraying_w_per_k": tank.loss_spraying_w_per_k,
            "wash_pump.heat_share": share if isinstance(share, Measured) else Measured.model_validate(share),
            "ware.response_spraying_s": ware.response_spraying_s,
            "ware.response_still_s": ware.response_still_s,
        }
        if element is not None:
            like["element.rated_w"] = element.rated_w
        return cls(
            ware_kj_per_k=ware.heat_capacity_kj_per_k,
            pump_w=machine.wash_pump.power_w,
            supply_v=machine.supply.voltage_v,
            rated_v=None if element is None else element.rated_v,
            controller_w=machine.supply.controller_w,
            film_l=ware.film_l.nominal,
            vent_m2=machine.tank.vent_m2,
            humidity=machine.room.humidity_pct.nominal / 100.0,
            like=like,
        )


@dataclass(frozen=True)
class Inseparable:
    """Numbers that the tests cannot tell apart, or that no test settles.

    Attributes
    ----------
    keys : tuple of str
        Their keys in the profile; one where no test settles it.
    sentence : str
        What is wrong, without a full stop.
    test : str
        The test that would part them: what to do and for how long.
    minutes : float
        How long that test logs [min].
    """

    keys: tuple[str, ...]
    sentence: str
    test: str
    minutes: float


@dataclass(frozen=True)
class Course:
    """What a thermometer read in a test beside the fit; readings are averaged where there are many.

    Attributes
    ----------
    test : str
        Name of the test.
    probe : str
        ``bath`` or ``ware``.
    time_s, read_c, fitted_c : ndarray, shape (points,)
        Time in the log [s], readings and fit [°C].
    band_k : ndarray, shape (points,)
        Half-width of the band in which 95 % of such readings lie around the fit [K].
    left_out : ndarray of bool, shape (points,)
        Readings that the fit counts little, because they are far from all others.
    """

    test: str
    probe: str
    time_s: ndarray
    read_c: ndarray
    fitted_c: ndarray
    band_k: ndarray
    left_out: ndarray


@dataclass(frozen=True)
class ThermalFit:
    """What the thermal logs say together.

    Attributes
    ----------
    estimates : tuple of Estimate
        One a key of `THERMAL_KEYS` that is settled.
    unsettled : tuple of Inseparable
        What the tests leave open; its keys have no estimate, or one that leans on the profile it is like.
    remarks : tuple of str
        What the residuals show, a sentence without a full stop each.
    courses : tuple of Course
        For the plot.
    """

    estimates: tuple[Estimate, ...]
    unsettled: tuple[Inseparable, ...] = ()
    remarks: tuple[str, ...] = ()
    courses: tuple[Course, ...] = ()
