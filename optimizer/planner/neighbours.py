"""Programmes one step away from one that was found: a round fewer, one more, one heated in another way.

No step moves only numbers: a trim finds the best of these by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace

import numpy as np

from optimizer.planner.margins import Assessor
from optimizer.planner.soaking import SOAK_LEAST_S
from optimizer.planner.structure import TOGETHER, Mode, Programme, Settings, Structure
from optimizer.programme.constants import KINDS, SPRAY_BY_SOAK_S


def neighbours(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """Programmes one step away, to be trimmed: a round fewer, one more, one heated in another way."""
    structure, least = programme.structure, assessor.rounds_least
    yield from _soaks_otherwise(programme, assessor)
    yield from _cooled_otherwise(programme, assessor)
    for kind, name in enumerate(KINDS):
        places = [i for i, k in enumerate(structure.kinds) if k == kind]
        if len(places) > least[name]:
            # One of each mode: rounds of the same mode are as good as each other.
            for place in {structure.modes[i]: i for i in places}.values():
                yield _without(programme, place)
        if places and len(places) < assessor.rounds_most[name]:
            cold = [i for i in places if structure.modes[i] is Mode.UNHEATED]
            yield _twice(programme, (cold or places)[0] if name == "rinse" else places[-1])
    yield from _first_rinse_otherwise(programme, assessor)
    yield from _later_rinses_cold(programme, assessor)
    yield from _heated_otherwise(programme, assessor)


def _heated_otherwise(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """The same with one round whose heat counts unheated, or heated in another way."""
    structure = programme.structure
    modes = [mode for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) if assessor.heats(mode)]
    for index, mode in enumerate(structure.modes):
        last = index == len(structure.kinds) - 1 or KINDS[structure.kinds[index]] != "rinse"
        kind = structure.kinds[index]
        if last and assessor.simulator.targets.counts(kind) and assessor.heat_counts(kind):
            for other in (Mode.UNHEATED, *modes):
                if other is not mode:
                    yield _heated(programme, index, other, assessor)


def single_steps(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """Whatever is one step away, what saves most often first; several candidates are several starts."""
    structure, settings = programme
    if structure.rested or structure.topped:
        # The model's lines are on the safe side: what it cools may need no cooling.
        yield Programme(replace(structure, rested=(), topped=()), settings)
    yield from _heated_otherwise(programme, assessor)
    yield from neighbours(programme, assessor)
    yield from _further_steps(programme, assessor)


def _further_steps(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """Steps that seldom help: a round heated both ways, its heat moved to another, a prerinse."""
    structure = programme.structure
    warm = [i for i, kind in enumerate(structure.kinds) if _may_be_warm(structure, i, assessor)]
    for index in warm:
        mode = structure.modes[index]
        if mode is Mode.UNHEATED:
            continue
        if mode is not Mode.BOTH_WAYS and assessor.heats(Mode.BOTH_WAYS):
            yield _both_ways(programme, index, assessor)
        for other in warm:
            if structure.modes[other] is Mode.UNHEATED:
                yield _heat_moved(programme, index, other)
    if "prerinse" not in (KINDS[kind] for kind in structure.kinds) and assessor.rounds_most["prerinse"]:
        yield _prerinsed(programme, assessor)


def otherwise_started(programme: Programme) -> Iterator[Settings]:
    """Other numbers of the same structure to trim from: its own, less to top up with, and of a round heated
    both ways more or less of the heat before the spray.

    A thermostat puts kinks into the costs, at which a trim may stay, and worst points that joined since the
    last trim move the best numbers.
    """
    structure, settings = programme
    yield settings
    if structure.topped:
        yield replace(settings, top_up_s=LESS_TOPPED * settings.top_up_s)
    for index, mode in enumerate(structure.modes):
        if mode is not Mode.BOTH_WAYS:
            continue
        for moved_s in (0.5 * settings.while_s[0, index], -0.5 * settings.element_s[0, index]):
            element_s, while_s = settings.element_s.copy(), settings.while_s.copy()
            spray_s = settings.spray_s.copy()
            element_s[:, index] += moved_s
            while_s[:, index] -= moved_s
            spray_s[:, index] -= moved_s
            yield replace(settings, element_s=element_s, while_s=while_s, spray_s=spray_s)


def _may_be_warm(structure: Structure, index: int, assessor: Assessor) -> bool:
    """Whether heat in a round does anything: for a dose, to dry the ware, or to warm the first rinse."""
    kind = structure.kinds[index]
    if KINDS[kind] != "rinse":
        return KINDS[kind] != "steam" and assessor.heat_counts(kind)
    last = index == len(structure.kinds) - 1 and assessor.heat_counts(kind)
    return last or (assessor.warms_first_rinse and index == structure.kinds.index(kind))


def _heat_moved(programme: Programme, index: int, other: int) -> Programme:
    """The same with the heat of one round in another one."""
    structure, settings = programme
    modes = list(structure.modes)
    modes[index], modes[other] = modes[other], modes[index]
    numbers = {}
    for name in ("element_s", "while_s", "setpoint_c"):
        numbers[name] = getattr(settings, name).copy()
        numbers[name][:, [index, other]] = numbers[name][:, [other, index]]
    on_s = settings.element_s[:, index] if structure.modes[index] is Mode.WHILE_SPRAYING else 0.0
    spray_s = settings.spray_s.copy()
    spray_s[:, index] -= on_s + settings.while_s[:, index]
    spray_s[:, other] += on_s + settings.while_s[:, index]
    return Programme(replace(structure, modes=tuple(modes)), replace(settings, spray_s=spray_s, **numbers))


def _prerinsed(programme: Programme, assessor: Assessor) -> Programme:
    """The same after a prerinse filled as its first round is."""
    structure, settings = _picked(programme, [0, *range(len(programme.structure.kinds))])
    kind = KINDS.index("prerinse")
    plain = Structure(
        (kind, *structure.kinds[1:]),
        (Mode.UNHEATED, *structure.modes[1:]),
        *(tuple(i for i in some if i) for some in (structure.soaked, structure.rested, structure.topped)),
    )
    spray_s = settings.spray_s.copy()
    spray_s[:, 0] = assessor.spray_least_s(kind)
    return Programme(plain, replace(settings, spray_s=spray_s))


def _first_rinse_otherwise(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """The same with the first rinse warm, so that it does not chill the ware, or cold again."""
    structure = programme.structure
    rinse = KINDS.index("rinse")
    if not assessor.warms_first_rinse or rinse not in structure.kinds:
        return
    first = structure.kinds.index(rinse)
    if structure.modes[first] is not Mode.UNHEATED:
        yield _heated(programme, first, Mode.UNHEATED, assessor)
    elif assessor.heats(Mode.THEN_SPRAY):
        yield _heated(programme, first, Mode.THEN_SPRAY, assessor)


def _later_rinses_cold(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """The same with a rinse cold that models heat only where nothing else holds."""
    structure = programme.structure
    rinses = [index for index, kind in enumerate(structure.kinds) if KINDS[kind] == "rinse"]
    for index in rinses[1:]:
        seldom = index < len(structure.kinds) - 1 or not assessor.heat_counts(structure.kinds[index])
        if seldom and structure.modes[index] is not Mode.UNHEATED:
            yield _heated(programme, index, Mode.UNHEATED, assessor)


ALONE_SHARES = (0.75, 0.35)
"""Shares of the heat before the spray that a round heated both ways is trimmed from [1]."""
LOWER_SET_K = 4.0
"""How much lower a thermostat is set in its second start, of the first share [K]: held for longer, a bath
need not be as hot."""


def _both_ways(programme: Programme, index: int, assessor: Assessor) -> Programme:
    """The same with one round heated both ways; a candidate for each share of the heat before the spray."""
    starts = [_heated(programme, index, Mode.BOTH_WAYS, assessor, share) for share in ALONE_SHARES]
    if assessor.thermostat:
        setpoint_c = starts[0].settings.setpoint_c.copy()
        setpoint_c[:, index] -= LOWER_SET_K
        starts[1] = Programme(starts[0].structure, replace(starts[0].settings, setpoint_c=setpoint_c))
    return Programme(starts[0].structure, _together([start.settings for start in starts]))


def _together(starts: Sequence[Settings]) -> Settings:
    """Some settings as candidates of one structure."""
    arrays = {
        field.name: np.concatenate([getattr(start, field.name) for start in starts])
        for field in fields(Settings)
    }
    return Settings(**arrays)


LITTLE_HEAT_S = 300.0
"""Element on in a round for so short that the round may do without [s]."""


def without_little_heat(programme: Programme) -> Programme | None:
    """The same, unheated where the element is on for a few minutes, which heat little; None if nowhere."""
    structure, settings = programme
    modes = tuple(_plainer(mode, settings, index) for index, mode in enumerate(structure.modes))
    if modes == structure.modes:
        return None
    kept = np.array([mode is Mode.BOTH_WAYS for mode in modes])
    return Programme(
        replace(structure, modes=modes),
        replace(
            settings,
            element_s=np.where(kept, settings.element_s, settings.element_s + settings.while_s),
            while_s=np.where(kept, settings.while_s, 0.0),
        ),
    )


def _plainer(mode: Mode, settings: Settings, index: int) -> Mode:
    """The mode without a phase of heat of a few minutes."""
    element_s, while_s = settings.element_s[0, index], settings.while_s[0, index]
    if mode is Mode.BOTH_WAYS:
        if element_s <= LITTLE_HEAT_S:
            return Mode.WHILE_SPRAYING
        return Mode.THEN_SPRAY if while_s <= LITTLE_HEAT_S else mode
    return Mode.UNHEATED if mode is not Mode.STEAM and element_s <= LITTLE_HEAT_S else mode


def _without(programme: Programme, index: int) -> Programme:
    return _picked(programme, [i for i in range(len(programme.structure.kinds)) if i != index])


def _twice(programme: Programme, index: int) -> Programme:
    rounds = list(range(len(programme.structure.kinds)))
    return _picked(programme, [*rounds[: index + 1], index, *rounds[index + 1 :]])


def _picked(programme: Programme, rounds: list[int]) -> Programme:
    structure, settings = programme
    soaked, rested, topped = (
        tuple(place for place, i in enumerate(rounds) if i in some)
        for some in (structure.soaked, structure.rested, structure.topped)
    )
    kinds, modes = tuple(structure.kinds[i] for i in rounds), tuple(structure.modes[i] for i in rounds)
    picked = {field.name: getattr(settings, field.name)[:, rounds] for field in fields(Settings)}
    return Programme(Structure(kinds, modes, soaked, rested, topped), Settings(**picked))


def _soaks_otherwise(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """The same with one wash that soaks, or soaks no more.

    Two starts: half of the longest soak on top of all, and one in the place of half of the spray.
    """
    structure, settings = programme
    for index, kind in enumerate(structure.kinds):
        if not (assessor.soaking.pays(kind) or index in structure.soaked):
            continue
        soaks = index not in structure.soaked
        others = replace(structure, soaked=tuple(sorted(set(structure.soaked) ^ {index})))
        soak_s = settings.soak_s.copy()
        soak_s[:, index] = 0.5 * assessor.soaking.longest_s if soaks else 0.0
        if not soaks:
            yield Programme(others, replace(settings, soak_s=soak_s))
            continue
        left_s = settings.spray_s[:, index] - assessor.spray_least_s(kind) - SPRAY_BY_SOAK_S
        less_s = 0.5 * np.maximum(left_s, 0.0)
        instead_s, spray_s = settings.soak_s.copy(), settings.spray_s.copy()
        spray_s[:, index] -= less_s
        instead_s[:, index] = np.maximum(LONGER_SOAK * less_s / assessor.soaking.share, SOAK_LEAST_S)
        starts = replace(settings, soak_s=soak_s), replace(settings, soak_s=instead_s, spray_s=spray_s)
        yield Programme(others, _together(starts))


LONGER_SOAK = 1.25
"""How much longer a soak is tried than does as much as a spray at one temperature [1]: its bath cools."""

LESS_TOPPED = 0.8
"""Share of a top-up that is trimmed from again [1]."""

COOLED_SHARE = 0.9
"""A drain that comes to this share of what its pipe stands is tried with a rest and a top-up [1]. Where a
soak pays, a wash is tried with a rest whatever it drains at: a rest cleans as a soak does."""

UNCOOLED_SHARE = 1.15
"""A bath hotter than this share of what the drain pipe stands is not tried without either [1]."""

RESTED_S, TOPPED_S = 600.0, 60.0
"""Rest and top-up that a round is first tried with [s]."""


def _cooled_otherwise(programme: Programme, assessor: Assessor) -> Iterator[Programme]:
    """The same with one round that rests or is topped up before its drain, does both, or no more."""
    structure, settings = programme
    if not assessor.may_drain_hot:
        return
    runs = assessor.simulator.run(programme)
    baths_c = runs.peak_c[0].max(axis=0)
    for index, hottest_c in enumerate(runs.drained_c[0].max(axis=0)):
        cold = hottest_c < COOLED_SHARE * assessor.drain_limit_c
        if cold and not assessor.soaking.pays(structure.kinds[index]):
            continue
        now = index in structure.rested, index in structure.topped
        for rests, tops in ((False, False), (True, False), (False, True), (True, True)):
            hot = baths_c[index] > UNCOOLED_SHARE * assessor.drain_limit_c
            if (rests, tops) == now or (hot and not (rests or tops)) or (cold and tops):
                continue
            changed = replace(
                structure,
                rested=tuple(sorted({*structure.rested} - {index} | ({index} if rests else set()))),
                topped=tuple(sorted({*structure.topped} - {index} | ({index} if tops else set()))),
            )
            cool_s, top_up_s = settings.cool_s.copy(), settings.top_up_s.copy()
            cool_s[:, index] = np.maximum(cool_s[:, index], RESTED_S) * rests
            top_up_s[:, index] = np.maximum(top_up_s[:, index], TOPPED_S) * tops
            yield Programme(changed, replace(settings, cool_s=cool_s, top_up_s=top_up_s))


def _heated(
    programme: Programme, index: int, mode: Mode, assessor: Assessor, alone_share: float = 0.5
) -> Programme:
    """The same with one round heated in another way, from its element time as it was or half an hour.

    In one heated both ways ``alone_share`` of that is before the spray.
    """
    structure, settings = programme
    modes = tuple(mode if i == index else m for i, m in enumerate(structure.modes))
    element_s, spray_s = settings.element_s.copy(), settings.spray_s.copy()
    setpoint_c, while_s = settings.setpoint_c.copy(), settings.while_s.copy()
    was = structure.modes[index]
    if was is Mode.UNHEATED:
        element_s[:, index] = 1800.0
        setpoint_c[:, index] = 50.0 if assessor.thermostat else np.inf
    if was in TOGETHER:
        # What is left of the spray is what comes after the heat.
        with_spray_s = while_s[:, index] if was is Mode.BOTH_WAYS else element_s[:, index]
        least_s = assessor.spray_least_s(structure.kinds[index])
        spray_s[:, index] = np.maximum(spray_s[:, index] - with_spray_s, least_s)
    element_s[:, index] += while_s[:, index]
    while_s[:, index] = 0.0
    if mode is Mode.BOTH_WAYS:
        while_s[:, index] = (1.0 - alone_share) * element_s[:, index]
        element_s[:, index] -= while_s[:, index]
    if mode in TOGETHER:
        spray_s[:, index] += while_s[:, index] if mode is Mode.BOTH_WAYS else element_s[:, index]
    numbers = replace(settings, element_s=element_s, while_s=while_s, spray_s=spray_s, setpoint_c=setpoint_c)
    return Programme(replace(structure, modes=modes), numbers)
