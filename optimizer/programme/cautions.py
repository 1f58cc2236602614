"""The cautions that travel with everything a person may act on: the few that kill first, a line each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.profile.machine import Machine
from optimizer.profile.machine_loads import COMMON_DRAIN_C
from optimizer.programme.earth_fault import mains_caution
from optimizer.programme.plan import Inputs
from optimizer.units import short

SCALDING_C = 45.0
"""Water from here on is said to scald [°C]: a margin, as it takes hours at 45 °C and minutes at 49.

From memory; children and the old are burnt sooner.
"""

FROST_FROM_C = 4.0
"""Room whose coldest air is under this: what stands in it may freeze [°C]; *no source*, our choice."""

ELEMENT = "A dry element sets fire: float switch, manual-reset cut-out on its sheath."
HOT = "Hot water and steam scald: lid shut while it runs, cool before you reach in."
UNATTENDED = "Never leave a home-made machine running alone, or while you sleep."
ENGINE = "Engine or generator: carbon monoxide kills. Exhaust outside, an alarm inside."
RESTART = "It STARTS BY ITSELF as power returns (WASH_RESTART_AFTER_CUT 1): set it to 0."
STEAM = (
    "Drying by steam is experimental. Lid shut until WASH_LID_OPEN_AFTER_S after the last drain, then ajar, "
    "face and hands away: steam comes out."
)
HOT_WARE = "Face and hands away as the lid goes ajar: steam comes out, the ware is hot."

FLOAT = (
    "Float switch and cut-outs: rated for the element's current, or through a contactor that nothing else "
    "switches (a small reed welds shut); in both poles where the plug can be turned round. See the float "
    "switch open after every drain."
)
VENT = "Keep the vent open; no hand, nothing electrical above it; never seal the lid."
BOND = "Bond steel tank, sheath and pumps' metal to earth, and measure the bond."
EARTHED = "Earth sheath and pumps' metal, and measure it: a plastic tank earths none."
EARTHED_PUMPS = "Earth the pumps' metal, and measure it: a plastic tank earths none."
STEEL = "stainless"
PLASTIC_IN_STEEL = "No hose, lid or pump of plastic may touch the element or come near it dry: they burn."
PLASTIC = "No plastic may touch the element or come near it dry: polypropylene and polyethylene burn."
# The code of the box is from memory (splashing water from all sides); where it stands is common practice.
ENCLOSURE = (
    "Controller, relays and plug: higher than the rim, to the side of the tank, in a box that stands a "
    "splash (IPX4, IEC 60529), cables led in from below."
)
# The measures of both air gaps are from memory.
AIR_GAP = (
    "End the inlet above the rim by 20 mm or more, and by twice its bore or more (air gap, EN 1717), or foul "
    "water may run back into the mains or your tank."
)
AIR_GAP_AMERICA = (
    "End the inlet above the rim by 25 mm or more, and by twice its bore or more; where a wall is nearer "
    "than three bores, by 38 mm and by three bores or more (air gap, ASME A112.1.2), or foul water may run "
    "back into the mains or your tank."
)
WATER = (
    "Shut the tap after each run: hoses burst. Water from a tank of your own has to be fit to drink: flush "
    "tank and hose after they have stood."
)
STREAM = (
    "Let the inlet's stream meet the tank's wall under the rim, its own end three bores or more off the "
    "wall, and never ware, in fills and top-ups: cold water breaks hot glass."
)
LEVEL = (
    "Fix it level: its lip and its float or level switch hold for a level machine. In a boat: moored, on an "
    "even keel, never under way."
)
HOT_DRAIN = (
    "It may drain water of up to {} C: through a line of its own that stands it (hot-waste polypropylene or "
    "metal), and tempered before it reaches a pipe that stands 60 C only, as most do. {}."
)
DRAIN_LINE = "The check says beside that limit where it goes (drain_pump.drain_line): see that it does"
NO_DRAIN_LINE = (
    "The profile does not say where it goes (drain_pump.drain_line): no such water before that is settled"
)
FROST = (
    "Frost: drain valve, hoses, pumps and sump before it freezes: ice splits them, and the next run leaks by "
    "the mains."
)
HOSE = (
    "Loop the drain hose above the rim, in a boat above the waterline too, or give it an air break: one "
    "that hangs low siphons the bath away, and a blocked waste pipe pushes foul water back onto the ware. "
    "An air gap where the code asks for one."
)
RINSED = "Rinsed, not washed (no detergent): what several people share wants hot water and detergent."
STANDING = "Leave no warm water standing in it: germs grow. Drain it; lid ajar once it is cool."
STANDING_DRIES = "Leave no warm water standing in it: germs grow. Drain it; lid ajar as the plan says."
SIEVE = (
    "What a hygiene value is worth hangs on a clean machine: clean sieve and spray arm after every run. It "
    "counts only where the spray reaches: not inside a bottle that no jet enters, nor where ware shades "
    "ware. Ware for a newborn, or for anyone who is ill, follows the advice of the health service, not this "
    "value."
)
UNHYGIENIC = (
    "No hygiene is asked for: clean is not free of germs. Ware for a newborn, or for anyone who is ill, "
    "follows the advice of the health service."
)
DETERGENT = (
    "Detergent for machines is alkaline and burns eyes and throat: lock it away from children, dose it with "
    "gloves and eye protection; rinse an eye for 15 min, lenses out, and see a doctor; wash it off skin with "
    "much water; who has swallowed it rinses the mouth, must NOT be made to vomit, and calls a poison "
    "centre. Bare aluminium, wood and glued handles do not stand it. It goes in as the spray begins, not "
    "before: powder cakes in a bath that stands."
)
DISPENSER_ONLY = "Detergent by a dispenser ONLY, never by hand"
BY_HAND = (
    "Detergent by hand goes into the spray of the wash, not of the prerinse, never of a rinse, in its first "
    "half minute, when you hear the pump, through a capped funnel above splash height; the lid stays shut. "
    "Into a spray of 55 C or more by a dispenser only: steam and hot lye leave an open funnel."
)
"""Not said where every spray with detergent is told with `DISPENSER_ONLY`."""
NO_DETERGENT = "No detergent in a bench run: nothing would rinse it off."
BY_HAND_MIN = 2.5
"""Where a goal counts so long for detergent to be put in and dissolve, half a minute of it is a hand's [min]:
the usual value of its field."""
HAND_MIN = 0.5
"""How late a hand may be, as it is told: within the first half minute [min]."""
LATE_BY_HAND = (
    "By hand, put it in as the pump starts, not half a minute later: the goal counts {:g} min from there "
    "(dissolving_min), {}. NOT in the proof if it takes longer: set dissolving_min half a minute higher and "
    "plan anew."
)
LEFT_TO_DISSOLVE = "and what is put in at 0:30 has {:g} min of them left to dissolve"
NONE_LEFT = "which leaves no time to dissolve for what is put in at 0:30"
SCALE = (
    "Scale makes an element's sheath hotter and a spray arm weaker: take it off as it shows, with citric "
    "acid in cold water, rinsed out before detergent goes in again (acid on bleach gives off poisonous gas)."
)
FULL_LOADS = (
    "Run it with all the ware of the profile{}. With less, {}ware may meet larger steps of temperature{} "
    "(scullion check --faults says what comes of it): for less ware measure and plan anew."
)
TIMED = "a bath heated by time ends hotter, "
POOL = ", and a pool of steam boils off sooner"
INVENTED = "INVENTED machine: do NOT run these constants on a real one, measure yours."
OF_NO_MACHINE = (
    "The machine is invented, as its profile says: no such one stands anywhere, and its numbers hold for no "
    "real one. Measure yours, plan and check anew."
)
VOLTAGE = (
    "Proven at {} to {} V at the machine's socket, and on this circuit, only. On another circuit or supply "
    "(another place, a generator, shore power) log the voltage and plan anew{}."
)
TIMED_VOLTAGE = (
    ": heated by time, a bath gets hotter than said at more volts, and so does what is drained, and less "
    "clean at fewer"
)
MEASURED = (
    "The numbers hold for the machine as it was measured. After any change, or where a measured value was a "
    "guess: measure, plan and check again."
)
AFTER_HOTTER = (
    "A run begun while the tank is still hot from another, hotter programme is not in the proof: let it cool "
    "to the room first."
)
HYGIENE = (
    "The hygiene value (A0 or heat units) is calculated, not measured: it is no sterilisation, it proves no "
    "disinfection, and the machine is no medical device."
)
LOCAL = "Local codes and licensed practice come first wherever they say otherwise."

Group = tuple[str, tuple[str, ...]]


@dataclass(frozen=True)
class WhenDosed:
    """When detergent goes in.

    Attributes
    ----------
    said : tuple of str
        A sentence a spray, or that none goes in; empty where the programme is not known.
    by_hand : bool
        Whether a hand may put any in.
    """

    said: tuple[str, ...] = ()
    by_hand: bool = True


NOT_KNOWN = WhenDosed()
"""Where there is no programme: the goal alone says whether there is detergent."""
NEVER_DOSED = WhenDosed(by_hand=False)


def caution_groups(
    *inputs: Inputs, restarts: bool = False, dosing: WhenDosed = NOT_KNOWN
) -> tuple[Group, ...]:
    """Group the cautions for what is there: what kills, what does harm, what the numbers do not say.

    Parameters
    ----------
    inputs : Inputs
        The profiles that an answer is about. Where none is named, every caution that holds for any machine
        is given.
    restarts : bool
        Whether the constants let the machine start by itself as the power comes back.
    dosing : WhenDosed
        When detergent goes in, where the programme is known.

    Returns
    -------
    tuple
        Heading and sentences of each group, in ASCII, so that a header for any compiler can carry them.
        None is about an element, hot water, steam, detergent or hygiene without one. Every supply of a
        machine profile is mains voltage (90 V or more).
    """
    of_steel = [one.machine.tank.material == STEEL for one in inputs]
    plastic = PLASTIC_IN_STEEL if of_steel and all(of_steel) else PLASTIC
    element = not inputs or any(one.machine.element is not None for one in inputs)
    hot = not inputs or any(map(_hot, inputs))
    dosed = not inputs or any(one.goal.detergent is not None for one in inputs)
    handed = dosed and dosing.by_hand
    rinsed = any(one.goal.detergent is None for one in inputs)
    steams = any(one.goal.drying.method == "steam" for one in inputs)
    dries_hot = any(one.goal.drying.method == "hot_rinse" and _hot(one) for one in inputs)
    freezes = any(one.machine.room.air_c.low < FROST_FROM_C for one in inputs)
    hygiene = [one.goal.hygiene.method != "none" for one in inputs]
    # One truth about the lid: where something dries the plan says when it is opened.
    dries = [one.goal.drying.method != "none" for one in inputs] or [False]
    standing = (STANDING * (not all(dries)), STANDING_DRIES * any(dries))
    air_gaps = dict.fromkeys(map(_air_gap, inputs)) or (AIR_GAP, AIR_GAP_AMERICA)
    mains = dict.fromkeys(mains_caution(one.circuit) for one in inputs) or [mains_caution(None)]
    kills = (
        RESTART * restarts,
        *mains,
        INVENTED * any(one.invented for one in inputs),
        BOND * any(of_steel),
        (EARTHED if element else EARTHED_PUMPS) * (not of_steel or not all(of_steel)),
        ELEMENT * element,
        HOT * hot,
        UNATTENDED,
        ENGINE * any(one.circuit.earth_fault == "inverter" for one in inputs),
        STEAM * steams,
        HOT_WARE * dries_hot,
        # A fault boils any bath, whatever its tank stands.
        VENT * element,
    )
    harms = (
        RINSED * rinsed,
        FLOAT * element,
        plastic * element,
        ENCLOSURE,
        *air_gaps,
        WATER,
        STREAM * hot,
        HOSE,
        *dict.fromkeys(map(_hot_drain, inputs)),
        LEVEL,
        FROST * freezes,
        *standing,
        DETERGENT * dosed,
        BY_HAND * handed,
        *dosing.said,
        *(dict.fromkeys(map(_late_by_hand, inputs)) if handed else ()),
        SCALE * element,
        *(dict.fromkeys(map(_full_loads, inputs)) if inputs else [FULL_LOADS.format("", TIMED, POOL)]),
    )
    numbers = (
        OF_NO_MACHINE * any(one.invented for one in inputs),
        MEASURED * (not inputs or not all(one.invented for one in inputs)),
        *dict.fromkeys(map(_voltage, inputs)),
        AFTER_HOTTER * hot,
        LOCAL,
        HYGIENE * any(hygiene),
        SIEVE * any(hygiene),
        UNHYGIENIC * (not all(hygiene)),
    )
    return (
        ("What kills", _there(kills)),
        ("What harms", _there(harms)),
        ("What the numbers are", _there(numbers)),
    )


def of_a_bench_run(inputs: Inputs) -> WhenDosed:
    """Say of the detergent of a goal what holds in a bench run.

    Parameters
    ----------
    inputs : Inputs
        The profiles of the run.

    Returns
    -------
    WhenDosed
        That none goes in; nothing where the goal has no detergent.
    """
    return WhenDosed((NO_DETERGENT,), by_hand=False) if inputs.goal.detergent is not None else NEVER_DOSED


def _air_gap(inputs: Inputs) -> str:
    return AIR_GAP_AMERICA if inputs.circuit.earth_fault == "gfci_class_a" else AIR_GAP


def _hot_drain(inputs: Inputs) -> str:
    """Say where water goes that is hotter than common pipes stand; "" where none is let go."""
    limit_c = inputs.machine.drain_pump.drain_limit_c
    if limit_c <= COMMON_DRAIN_C or not _hot(inputs):
        return ""
    line = inputs.machine.drain_pump.drain_line
    return HOT_DRAIN.format(short(limit_c), DRAIN_LINE if line else NO_DRAIN_LINE)


def _voltage(inputs: Inputs) -> str:
    """Say at which voltages it was proven; "" without an element, where little hangs on them."""
    element, volts = inputs.machine.element, inputs.machine.supply.voltage_v
    if element is None:
        return ""
    timed = TIMED_VOLTAGE if element.control == "timed" else ""
    return VOLTAGE.format(short(volts.low), short(volts.high), timed)


def _late_by_hand(inputs: Inputs) -> str:
    """Say what a hand may cost where the goal counts little time for it; "" where it counts enough."""
    detergent = inputs.goal.detergent
    if detergent is None or detergent.dissolving_min >= BY_HAND_MIN:
        return ""
    counts_min = detergent.dissolving_min
    left_min = counts_min - HAND_MIN
    return LATE_BY_HAND.format(counts_min, LEFT_TO_DISSOLVE.format(left_min) if left_min > 0.0 else NONE_LEFT)


def _full_loads(inputs: Inputs) -> str:
    """Say that all the ware of the profile goes in, and how much steel would hold its heat."""
    ware = inputs.machine.ware
    if inputs.machine.element is None:
        return ""
    parts = ", ".join(f"{short(kg, 3)} kg of {name}" for name, kg in ware.parts_kg.items())
    steel = f"about {short(ware.in_steel_kg, 3)} kg of steel, which holds the same heat"
    if list(ware.parts_kg) == ["steel"]:
        load = f": {parts}"
    elif inputs.goal.limits.ware_rise_k is None:
        # A hot spray on cold ware is limited by nothing: it may be too much for glass and porcelain.
        load = f": {steel}, or, unless a caution here bans them, {parts}"
    else:
        load = f": {parts}, or {steel}"
    timed, steams = inputs.machine.element.control == "timed", inputs.goal.drying.method == "steam"
    return FULL_LOADS.format(load, TIMED * timed, POOL * steams)


def gets_hot(machine: Machine) -> bool:
    """Whether there is an element, or an inlet whose water scalds.

    Parameters
    ----------
    machine : Machine
        The machine.

    Returns
    -------
    bool
        True where a bath of it can be too hot for a hand.
    """
    return machine.element is not None or machine.inlet.water_c.high >= SCALDING_C


def _hot(inputs: Inputs) -> bool:
    return gets_hot(inputs.machine)


def _there(sentences: Sequence[str]) -> tuple[str, ...]:
    return tuple(filter(None, sentences))


def cautions(*inputs: Inputs, restarts: bool = False, dosing: WhenDosed = NOT_KNOWN) -> tuple[str, ...]:
    """List the cautions of `caution_groups` one after the other, those that kill first.

    Parameters
    ----------
    inputs : Inputs
        The profiles that an answer is about.
    restarts : bool
        Whether the constants let the machine start by itself as the power comes back.
    dosing : WhenDosed
        When detergent goes in, where the programme is known.

    Returns
    -------
    tuple of str
        Plain sentences in ASCII.
    """
    groups = caution_groups(*inputs, restarts=restarts, dosing=dosing)
    return tuple(sentence for _, sentences in groups for sentence in sentences)
