"""The words of the guards: what to buy, to do or to try, and the figures they go by."""

from __future__ import annotations

import math

from optimizer.check.trip_range import BUYABLE_K, TripRange
from optimizer.profile.machine import OPEN_LOOP_K
from optimizer.profile.machine_loads import Element
from optimizer.units import short

FLOAT_SWITCH = "float switch in series with the element"
SHEATH_CUT_OUT = (
    "thermal cut-out with manual reset in series with the element, its feeler on the element's SHEATH, on "
    "its highest heated part, which falls dry first"
)
IN_BATH = "its feeler in the bath, just under the least water, near the element, not at the bottom"
BATH_CUT_OUT = f"second cut-out with manual reset in series with the element, {IN_BATH}"
ELECTRONIC = f"electronic cut-out in series with the element, {IN_BATH}, that stays off until reset"
OPENS_BY_ITSELF = "that opens too when its feeler breaks or its supply fails"
HOTTER_TANK = "tank that stands a hotter bath"
COOLER_BATH = (
    f"bath planned cooler (tank.cut_out_room_k = {short(OPEN_LOOP_K)} in the machine's profile), "
    "which leaves room for an electronic cut-out"
)
MEASURED_BATH = "bath measured by a sensor and planned by thermostat"
STANDS_IT = "nothing for the tank, which stands the boil"
BATH_CUT_OUT_OR_NONE = (
    f"{STANDS_IT}; you may add, only where every programme stays well under the boil, a {BATH_CUT_OUT}"
)
PUMP_CUT_OUT = "thermal cut-out with manual reset in series with the wash pump, which alone warms the bath"
OVERFLOW_SWITCH = "overflow switch under the lip that by itself closes a second valve, at the tap"
OVERFLOW_TESTED = (
    "overflow switch and valve at the tap tried each month: the tap open, the plug out, its float held up "
    "by a wedge, the controller's own overflow input (hook overflow), if it has one, wired to read no "
    "overflow, lid shut, plug in, a cold run started ({}no ware): through the whole first fill, after the "
    "start drain, the inlet valve is on (a lamp at its output shows it) and no water comes in; the plug "
    "out in the last seconds of that fill, as the wash pump would run dry; wedge out, input wired as it "
    "was: water comes in the next run"
)
EARTH_TESTED = (
    "earth measured from the plug's earth pin to {}, 0.1 Ω or less, the cord's own not counted (IEC 60335-1, "
    "clause 27.5, from memory), by an earth-bond tester (10 A): before the first run, and once a year"
)
NO_RESTART = "WASH_RESTART_AFTER_CUT at 0"
LID_SWITCH = "lid switch in the supply of pumps and element"
LID_SWITCH_OF_PUMPS = "lid switch in the supply of the pumps"
PUMP_IN_SERIES = (
    "level switch in series with the wash pump that opens under {} l (prime_l; it may spit before) and "
    "closes again below the least water that the check guarantees at the suction, its contacts rated for "
    "what the pump takes as it starts ({}), or through a contactor of its own; each month, the tank empty "
    "and the plug out, it reads open on an ohm-meter, and so does that contactor"
)
FLOW_SWITCH = (
    "flow or pressure switch behind the wash pump that ends the run, so that you see it; each month, its "
    "lead parted with the plug out, a run ends as its first spray begins, and it reads no flow while the "
    "pump is off (by an ohm-meter, the plug out)"
)
MOTOR_FUSE = (
    "thermal protector or thermal fuse in the motor of each pump (or impedance-protected by its data sheet)"
)
HOSE_LOOP = "drain hose looped above the rim, or an air break in it"
FLOAT_TESTED = (
    "float switch seen to open: after every drain by a controller that reads it, or each month by you, the "
    "tank empty and the plug out, an ohm-meter across it"
)
CONTACTORS_TESTED = (
    "contactors that float switch, cut-outs or lid switch work, if any, and the relay that holds itself "
    "tried by an electrician, before the first run and once a year, with a filament lamp in place of the "
    "element: lit while the controller heats, it goes out as the circuit of each one's coil is parted, the "
    "controller's inputs lid_shut and covered, if any, wired to read shut and covered meanwhile, and as "
    "they were after that"
)
"""A contactor has contacts of its own: what works it may be sound where they have welded."""
CUT_OUT_TESTED = (
    "cut-outs seen to open, by an ohm-meter, out of the tank and the plug pulled, and to stay open, cold, "
    "until they are reset: one for the sheath in hot air from a heat gun with a thermometer beside it ({} "
    "to {} °C){}; before they are fitted, and once a year; then the feeler {}clamped to the bare sheath "
    "again, metal to metal, and pulled at; looked at each month, the plug out"
)
BATH_TESTED = ", one for the bath in hot water ({} to {} °C)"
BATH_FITTED = "of the bath back where it was, that of the sheath "
ELECTRONIC_TESTED = (
    "electronic cut-out tried by an electrician, before the first run and once a year, as without its "
    "supply an ohm-meter shows nothing of it: powered, a lamp in place of the element, its feeler in hot "
    "water with a thermometer beside it: lit at {} °C, dark at {}, dark still once it is cool until it is "
    "reset; dark too without its supply, and as the feeler is unplugged; then its feeler back in the bath "
    "where it was"
)
RCD_TESTED = "test button of the RCD or GFCI pressed each month: it must trip"
BOND_TESTED = (
    "bond of the inverter's neutral to earth measured while it runs on its battery, and the RCD or GFCI "
    "tried by a tester at the machine's socket (30 mA or less within 300 ms, class A 6 mA or less, from "
    "memory), by an electrician, before the first run and once a year: its button trips without that bond "
    "too"
)
CONTACTOR = "a contactor that nothing else switches"
AMERICAN_CONTACTOR = ", rated in hp for those motors"
MOTORS = " (category AC-3, as it switches motors: IEC 60947-4-1, from memory)"
ALIKE = "its contacts rated as the float switch's"
AC_RATINGS_A = (6, 10, 16, 20, 25, 32, 40, 63)
"""Standard ratings of contacts [A] (from memory): for a current between two the next is taken."""
AC_RATINGS_V = (125, 250)
"""Standard voltages of contacts [V] (from memory): for one between two the next is taken."""
AMERICAN_RATINGS_A = (15, 20, 30, 40, 50)
"""The same of North America, where contacts that switch motors are rated in horsepower (from memory)."""
AMERICAN_MOTORS = ", and by horsepower (hp) for the motors that they switch"
SWITCHED_MOTORS = ", {0} A of it motors (in brackets on a switch, {1}({0}): IEC 61058-1, from memory)"
"""A switch has two currents: for what heats, and in brackets for motors, which start with six times it."""
OF_LOW_VOLTAGE = (
    "of a {} behind a power supply it opens the low-voltage lead too, as the supply's capacitors drive the "
    "pump on for a moment: its contacts there are for the direct current of a motor that starts, as much as "
    "with the rotor locked ({} W together, from stall_a: {} A at 12 V, {} A at 24 V); charging takes up to "
    "{} A from the mains for a moment (surge_a), which the relay that holds itself has to stand"
)
"""Said of the lid switch where a pump was measured with its power supply."""
LOW_VOLTAGES_V = (12.0, 24.0)
"""Usual voltages of such pumps [V]: common practice, *no source*."""
LOW_VOLTAGE_FUSE = (
    ", and behind a power supply a fuse in the low-voltage lead of each pump that carries its running "
    "current for good and, by the curve of its data sheet, opens within a minute at the least that its "
    "locked rotor takes (a slow one of IEC 60127 asks for over twice its rating, a blade fuse for about "
    "1.6 times, from memory); where none fits between the two, the protector in the motor has to do it "
    "alone"
)
LID_TESTED_AT_THE_MAINS = ", a lamp across the mains input of each power supply too"
"""Said of the lid's test where the switch opens a low-voltage lead as well, which stops a pump by itself."""
METALS = ("stainless",)
"""Materials of a tank that do not burn with a motor."""
HOLDS_ITSELF = (
    "it drops a relay that holds itself, so that closing the lid starts nothing until start is pressed"
)
LID_TESTED = (
    "lid opened a finger's width, face and hands away from it, each month, as the wash pump sprays in the "
    "coldest round of a run (the last rinse, where none before it is colder), the controller's own lid "
    "input (hook lid_shut), if it has one, wired to read shut (leads changed only with the plug out): "
    "everything stops{}, and closing it starts nothing; then, the plug out, the input wired as it was, and "
    "in a new run the lid opened once more as it sprays: the controller reads it open"
)
COOL_WARE = (
    "tank and ware {}, by a thermometer and never by hand, the lid opened away from your face, before you "
    "start it again (it may take hours{})"
)
IN_CASES = "; no worse than cold, in the cases run"
"""Said beside a number that a search has found and nothing proves."""
AS_THE_ROOM = "as cool as the room"
COOL_TANK = "all off until bath and tank are as cool as the ware, before you start it again"
"""Where the bath is the hotter one: ware that cools would make the step larger."""
STOPS_UNDRAINED = "controller that stops where the {} after a drain ({})"
COOL_FIRST = "controller that waits, as the reference one does, until"
PIPE = "drain pipe that stands the boil"
COOL_BEFORE = (
    "tank and ware cooled to {:.0f} °C or less, by a thermometer and never by hand, the lid opened away from "
    "your face, before you start it again (then no drain in its turn is too hot in the cases run), or a "
    f"{PIPE}"
)
PIPE_OF_A_STUCK_SENSOR = f"{PIPE}: the sensor may read too little"
HOT_IN_TURN = f"{PIPE}: before a drain in its turn nothing reads the bath"
BEGINS_NO_DRAIN = (
    "controller that begins no drain, and keeps the water in, where the sensor reads more than "
    f"WASH_DRAIN_STOP_DC ({{}}), or a {PIPE}"
)
LETS_PASS = (
    f"{PIPE}: the look before a drain (WASH_DRAIN_STOP_DC {{}}) lets water of up to {{}} °C pass "
    "in the cases run"
)
STOPS_HOT = (
    "controller that stops where the sensor reads more than WASH_BATH_MAX_DC, and keeps the water in "
    f"(WASH_ERROR_TOO_HOT), or a {PIPE}"
)
DISPENSER = "dispenser that the controller works (hook detergent)"
STOPS_UNFILLED = "controller that stops where the level switch has not closed within the longest fill"
SENSOR_TESTED = "sensor compared with a thermometer in a warm bath and in a cold one, each month"
MORE_GUARDS = "Single faults ask for others besides, and for tests that show a guard that is dead"
"""Said beside the guards that are not optional, before the command that runs the faults."""
UNSEEN_TESTS = {
    "earth_fault.dead": RCD_TESTED, "sensor.sticks": SENSOR_TESTED,
}  # fmt: skip
"""What shows that a guard is dead, by the fault; of cut-outs it hangs on their kind."""

UNDRAINED = ("drain.dead", "drain.slow", "inlet.open", "level.closed")
"""Faults after which water is seen as a drain ends: it was not moved, came in, or the level switch errs."""
OUT_OF_TURN = ("power.", "lid.held")
"""Faults, by the beginning of their key, after which something is drained that no round has cooled."""
ELECTRONIC_K = 1
"""An electronic cut-out is off by so much [K] (from memory)."""
NARROW_K = 5
"""A window narrower than this is left to no cut-out [K]; *no source*, our choice."""


def cool_ware(at_c: float | None) -> str:
    """Say how cool tank and ware have to be before a start [°C]; None: as cool as the room.

    Examples
    --------
    >>> cool_ware(50.0).split(",")[0]
    'tank and ware at 50 °C or less'
    """
    known = at_c is not None and math.isfinite(at_c)
    return COOL_WARE.format(*((f"at {at_c:.0f} °C or less", IN_CASES) if known else (AS_THE_ROOM, "")))


def contacts(highest_a: float, supply_v: float, motors_a: float = 0.0, american: bool = False) -> str:
    """Say what contacts to buy for a current: the next standard rating, at the voltage of the mains.

    ``motors_a`` is what of it flows to motors.

    Examples
    --------
    >>> contacts(4.11, 230.0).split(",")[0]
    'its contacts rated for 6 A AC at 250 V or more (4.2 A flow)'
    >>> contacts(4.11, 230.0, motors_a=0.8).split(", ", 1)[1].split(" (4.2")[0]
    '1 A of it motors (in brackets on a switch, 6(1): IEC 61058-1, from memory)'
    >>> contacts(12.3, 120.0, american=True).split(",")[0]
    'its contacts rated for 15 A AC at 125 V or more (12.3 A flow)'
    """
    flows_a = math.ceil(highest_a * 10.0 - 1e-6) / 10.0
    motors = motors_a > 0.0
    flow = f"{flows_a:g} A flow{' with all of it on at once' * motors}"
    ratings_a = AMERICAN_RATINGS_A if american else AC_RATINGS_A
    rating_a = next((rating for rating in ratings_a if rating >= flows_a), None)
    by_power = AMERICAN_MOTORS if american else SWITCHED_MOTORS.format(math.ceil(motors_a - 1e-6), rating_a)
    by_power = by_power * motors
    through = f"{CONTACTOR}{(AMERICAN_CONTACTOR if american else MOTORS) * motors}"
    if rating_a is None:
        return f"through {through} ({flow})"
    rated_v = next((rating for rating in AC_RATINGS_V if rating >= supply_v), math.ceil(supply_v))
    rated = f"rated for {rating_a} A AC at {rated_v} V or more"
    return f"its contacts {rated}{by_power} ({flow}), or through {through}"


def short_k_of(bath: TripRange | None) -> float:
    """How much a window lacks for an electronic cut-out [K]; 0 or less: one fits, infinite: no window."""
    return math.inf if bath is None else NARROW_K - (bath.high_c - bath.low_c)


def electronic_set_c(bath: TripRange) -> int:
    """Give the setting of an electronic cut-out, in the middle of its window [°C]."""
    return (bath.low_c + bath.high_c) // 2


def cut_outs_tested(sheath: TripRange, bath: TripRange | None) -> tuple[str, ...]:
    """Say how cut-outs are tried, with the temperatures that they pass and trip at.

    ``bath`` is where one for the limit of the tank trips; None where that stands the boil, or none can.
    """
    in_water, fitted = "", ""
    if bath is not None and bath.can_be_bought:
        mark_c, off_k = bath.highest_mark_c, BUYABLE_K // 2
        in_water, fitted = BATH_TESTED.format(mark_c - off_k, mark_c + off_k), BATH_FITTED
    tested = CUT_OUT_TESTED.format(sheath.low_c, sheath.high_c, in_water, fitted)
    if bath is None or bath.can_be_bought or short_k_of(bath) > 0.0:
        return (tested,)
    set_c = electronic_set_c(bath)
    return tested, ELECTRONIC_TESTED.format(set_c - 2 * ELECTRONIC_K, set_c + 2 * ELECTRONIC_K)


def instead_of_common(bath: TripRange | None, element: Element | None) -> str:
    """Name what stands for the tank where no common cut-out does: what is there to buy, or nothing is.

    An electronic one is set in the middle of the window, so that it trips ``ELECTRONIC_K`` either way of it.
    """
    thermostat = element is not None and element.control == "thermostat"
    short_k = short_k_of(bath)
    if thermostat and 0.0 < short_k < math.inf:
        return (
            "Nor any other: its own sensor and WASH_BATH_MAX_DC alone keep the tank under its limit. A bath "
            f"{short(short_k)} K cooler leaves room for an electronic one: plan with tank.cut_out_room_k = "
            f"{short(OPEN_LOOP_K)} in the machine's profile; or take a {HOTTER_TANK}"
        )
    if bath is None or short_k > 0.0:
        return f"Nor any other: measure with a sensor and plan by thermostat, or take a {HOTTER_TANK}"
    set_c = electronic_set_c(bath)
    return (
        f"Besides that on the sheath an {ELECTRONIC}, ± {ELECTRONIC_K} K, set at {set_c} °C, "
        f"{OPENS_BY_ITSELF}, {ALIKE} (a round repeated on hot water may trip it: reset it once all is cool), "
        f"or a {HOTTER_TANK}"
    )
