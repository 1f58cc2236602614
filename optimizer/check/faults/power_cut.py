"""Cut the power at each point of a programme; it is back at once, and the programme starts over.

By itself only where the constants let it; else as soon as someone starts it, which may be at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.certificate import Row
from optimizer.check.faults.cool_start import CoolStart, cool_start
from optimizer.check.faults.cut_search import (
    PRERINSE_NOISE_K,
    TOLD_APART,
    SecondRuns,
    cooled,
    left_at,
    off_s,
)
from optimizer.check.faults.guard_words import COOL_BEFORE, cool_ware
from optimizer.check.faults.harm_meter import MEASURED, scalding_c
from optimizer.check.faults.hot_drains import by_what_passes
from optimizer.check.faults.outcome import (
    SPOILED,
    UNHYGIENIC,
    FaultRow,
    Harm,
    harm_sentence,
    lasting,
    make_row,
    missed_words,
    unfinished_words,
)
from optimizer.check.faults.rig import Numbers, Observation, Rig
from optimizer.check.faults.started_again import cut_states, steps_met
from optimizer.check.phases import Name
from optimizer.check.worst_cases import Array

CUT_IN: dict[Name, str] = {"fill": "filling", "heat": "heating", "spray": "spraying", "soak": "soaking",
                           "rest": "resting", "top_up": "topping up", "mix": "stirring", "drain": "draining",
                           "stand": "the load stands"}  # fmt: skip
"""Phases in which the power is cut, at their beginning and at their end."""

WARM_AGAIN = (
    "Left to cool to what its pipe stands ({:g} °C) it begins warm all the same, and drains water of up to "
    "{} °C in its turn in the cases run."
)
COOL_ENOUGH = (
    "Let tank and ware cool to {:.0f} °C before you start it: then no drain in its turn is too hot in the "
    "cases run."
)
WARE_HOTTER = (
    "Ware and tank may stand at up to {:.0f} °C: start it again at {:.0f} °C or less, by a thermometer and "
    "never by hand (enough for them in the cases run)."
)
MISSES = "Started again at once or warm, it may miss: {}."
MISSES_COLD = "Started again, however cool, it may miss: {}."
LOOK = "Look at the ware: what is not clean goes in once more."
WASHED = "The load is washed and rinsed: start nothing."
DRIES = "It goes on drying without power: lid shut until {} after the last drain, then ajar."
IN_TURN = "ware.little"
"""Any fault whose hot drains come in their turn."""

COUNTED_FROM = "power is back"


@dataclass(frozen=True)
class Restart:
    """A programme that starts over from every point of its first run.

    Attributes
    ----------
    rig : Rig
        What was run.
    sound : Observation
        The first run.
    cuts : ndarray
        Phases at whose ends the power is cut [1], from 0; pauses are left out.
    again : Observation
        All second runs: the cases of the first cut, then those of the next.
    waited : Observation
        The same, of bath and ware that were first left to cool to what the drain pipe stands.
    cold : Observation
        The same, of bath and ware that were first left to cool to the air of the room.
    start_c : float or None
        Whole temperature to which they have to cool before it is started again [°C]; None: that of the room.
    cool_c : float or None
        The same where it keeps drains in their turn from being too hot [°C]; None where the pipe's is cool
        enough, or no room is.
    """

    rig: Rig
    sound: Observation
    cuts: Numbers
    again: Observation
    waited: Observation
    cold: Observation
    start_c: float | None
    cool_c: float | None

    def rows(self) -> list[FaultRow]:
        """Sum up the cuts: one row for each kind of phase that the programme has."""
        rows = [self._row(name, chosen) for name, chosen in self.chosen.items()]
        if any(phase.name == "stand" for phase in self.rig.asked) and "stand" not in self.chosen:
            rows.append(self._washed())
        return [*rows, self._starts_by_itself()]

    @property
    def chosen(self) -> dict[Name, Numbers]:
        """By kind of phase, which of the cuts its row is about; of none that needs no start again."""
        asked, found = self.rig.asked, {}
        for name in CUT_IN:
            ends = [number for number, at in enumerate(self.cuts) if asked[at].name == name and number > 0]
            if ends and (name != "stand" or self.rig.constants.restart_after_cut):
                # It begins as the phase before it ends: the pause between them changes little.
                found[name] = np.unique([(number - 1, number) for number in ends])
        return found

    def _starts_by_itself(self) -> FaultRow:
        """Say what moves as the power comes back with nobody at the machine, or with hands in it."""
        what, constants = ("power.returns", "starts by itself as the power comes back"), self.rig.constants
        guards, met = self.rig.protection.against(what[0]), self.sound.meter.extremes()
        if not constants.restart_after_cut:
            words = (
                "Nothing moves until someone starts it (WASH_RESTART_AFTER_CUT is 0); the water stays in. "
                f"Until a run has drained for the last time, {unfinished_words(constants)}; of one that was "
                "started again NO dose is proven."
            )
            return make_row(what, words, (), met, guards)
        element = [phase for phase in self.rig.asked if phase.outputs.element]
        first = {
            "water": self._first_s("inlet", self.sound),
            "spray": self._first_s("wash_pump", self.sound),
            **({"element": self._first_s("element", self.sound)} if element else {}),
        }
        moves = ", ".join(f"{name} after {lasting(after_s)}" for name, after_s in first.items())
        words = f"WASH_RESTART_AFTER_CUT is 1: drain pump at once, {moves}. Hands may be in the tank."
        return make_row(what, words, [Harm("starts", 0.0, -1, 0.0)], met, guards)

    def _first_s(self, output: str, seen: Observation) -> float:
        """When an output is first on, after a start [s]; as soon as in any case."""
        begins_s = seen.meter.begins_s
        on = (number for number, phase in enumerate(self.rig.asked) if getattr(phase.outputs, output))
        return float(begins_s[next(on)].min())

    def _row(self, name: Name, chosen: Numbers) -> FaultRow:
        count = self.rig.cases.count
        cuts = self.cuts[chosen]
        pick = (chosen[:, None] * count + np.arange(count)).ravel()
        kinds = [row.kind for row in self.rig.constants.rounds]
        sentences = [self._opening(cuts, pick)]
        worst = self.again.meter.extremes(pick)
        harms: list[Harm] = []
        for kind in MEASURED:
            tally = self.again.meter.tallies[kind]
            case = pick[int(tally.first_s[pick].argmin())]
            if np.isfinite(tally.first_s[case]):
                first_s, total_s = float(tally.first_s[case]), float(tally.total_s[pick].max())
                most_c = scalding_c(kind, tally)
                harm = Harm(kind, first_s, int(tally.round[case]), total_s, most_c)
                harms.append(harm)
                sentences.append(
                    harm_sentence(harm, COUNTED_FROM, kinds, self.again.meter.too_hot(harm.round, worst))
                )
        bare_s, hot_s = self._hot_element(pick)
        if np.isfinite(bare_s):
            harms.append(Harm("hot_element", bare_s, -1, 0.0))
            sentences.append(f"The water leaves the element {lasting(hot_s)} after it was on, still hot.")
        prerinse_c, limit_c = float(self.again.heat.prerinse_c[pick].max()), self.rig.goal.prerinse.limit_c
        if prerinse_c > limit_c + PRERINSE_NOISE_K:
            harms.append(Harm("wash", np.inf, 0, 0.0))
            sentences.append(f"A prerinse is at {prerinse_c:.0f} °C, above {limit_c:g} °C: protein may set.")
        kinds_met, stepped = steps_met(self.rig, [self.again.heat], pick)
        harms += [Harm(kind, self._first_s("wash_pump", self.again), 0, 0.0) for kind in kinds_met]
        sentences += [stepped] if stepped else []
        if missed := self._missed(pick):
            harms.append(SPOILED)
            cold = {row.key for row in self.cold.missed_in(pick)}
            by_start = (
                (MISSES, [row for row in missed if row.key not in cold]),
                (MISSES_COLD, [row for row in missed if row.key in cold]),
            )
            sentences += [words.format(missed_words(rows)) for words, rows in by_start if rows]
            sentences.append(LOOK)
            if any(row.key.startswith("hygiene.") for row in missed):
                sentences.append(UNHYGIENIC[self.rig.goal.hygiene.method])
        what = (f"power.{name}", f"power cut while {CUT_IN[name]}")
        guards = self.rig.protection.against(what[0]) | {"breaks": (cool_ware(self.start_c),)}
        warm_again = bool(np.isfinite(self.waited.meter.tallies["hot_drain"].first_s[pick]).any())
        told = "breaks" in kinds_met or (warm_again and self.cool_c is not None)
        hottest_c = self._left_c(chosen)
        if self.start_c is not None and self.start_c < hottest_c and not told:
            sentences.append(WARE_HOTTER.format(math.ceil(hottest_c), self.start_c))
        if warm_again:
            pipe_c = self.rig.machine.drain_pump.drain_limit_c
            drained_c = math.ceil(float(self.waited.meter.drained_c[pick].max()))
            sentences.append(WARM_AGAIN.format(pipe_c, drained_c))
            if self.cool_c is not None:
                sentences.append(COOL_ENOUGH.format(self.cool_c))
            # Ware that has to be as cool for its own sake is told so once.
            if not ("breaks" in kinds_met and self.cool_c is not None and self.cool_c == self.start_c):
                guards = guards | {"hot_drain": (*guards["hot_drain"], *self._in_turn)}
        return make_row(what, " ".join(sentences), harms, worst, guards)

    def _washed(self) -> FaultRow:
        """Say that nothing has to be started where the programme has drained for the last time."""
        what, lid_s = (
            ("power.stand", f"power cut while {CUT_IN['stand']}"),
            self.rig.constants.lid_open_after_s,
        )
        words = [WASHED, *([DRIES.format(lasting(lid_s))] if lid_s else [])]
        return make_row(what, " ".join(words), (), self.sound.meter.extremes(), {})

    def _left_c(self, chosen: Numbers) -> float:
        """How hot a cut leaves bath or ware at the most [°C]."""
        ends = [self.sound.meter.ends[at] for at in self.cuts[chosen]]
        return max(float(np.maximum(end.bath_c, end.ware_c).max()) for end in ends)

    @property
    def _in_turn(self) -> tuple[str, ...]:
        """What stands against a drain in its turn that is too hot although all was left to cool."""
        if self.cool_c is not None:
            return (COOL_BEFORE.format(self.cool_c),)
        in_turn = self.rig.protection.against(IN_TURN)
        return by_what_passes(self.rig.machine, in_turn, [self.waited.meter])["hot_drain"]

    def _missed(self, pick: Numbers) -> list[Row]:
        """What second runs miss that the first does not, each as in the worst of them, warm or cold."""
        usual = {TOLD_APART, *(row.key for row in self.sound.missed)}
        found: dict[str, Row] = {}
        for one in (self.again, self.waited, self.cold):
            for row in one.missed_in(pick):
                if row.key not in usual:
                    found[row.key] = min(found.get(row.key, row), row, key=lambda each: each.margin)
        return list(found.values())

    def _opening(self, cuts: Numbers, pick: Numbers) -> str:
        constants, sound = self.rig.constants, self.sound
        before_s = np.array(sound.meter.begins_s)[cuts + 1].ravel()
        total_s = float((before_s + self.again.heat.elapsed_s[pick]).max())
        usual_s = float(sound.heat.elapsed_s.max())
        more_l = float(_filled_l(self.rig, sound)[cuts + 1].max())
        dosed = any(row.detergent_dg for row in constants.rounds)
        started = "The controller" if constants.restart_after_cut else "Started again at once, the controller"
        return (
            f"{started} drains for {lasting(constants.start_drain_s)} and starts over: "
            f"{lasting(total_s)} or more in all instead of {lasting(usual_s)}, "
            f"up to {more_l:.1f} l more water"
            f"{', and detergent again' if dosed else ''}."
        )

    def _hot_element(self, pick: Numbers) -> tuple[float, float]:
        """Time to the water leaving a hot element [s], from power back and from its switching off; or inf."""
        element = self.rig.machine.element
        if element is None:
            return np.inf, np.inf
        been_s = np.repeat(off_s(self.rig.asked)[self.cuts], self.rig.cases.count)
        bare_s = self.again.meter.tallies["hot_element"].first_s
        hot_s = (been_s + bare_s)[pick]
        bare_s = np.where(hot_s < element.rest_s, bare_s[pick], np.inf)
        case = int(bare_s.argmin())
        return float(bare_s[case]), float(hot_s[case])


def _filled_l(rig: Rig, sound: Observation) -> Array:
    """Water run in up to the beginning of each phase, one row a phase [l]."""
    lasted_s = np.diff(np.array(sound.meter.begins_s), axis=0)
    open_s = lasted_s * np.array([[phase.outputs.inlet] for phase in rig.asked])
    run_in_l = open_s * rig.cases.flow_kg_per_s / rig.cases.cold_kg_per_l
    return np.vstack([np.zeros(rig.cases.count), run_in_l.cumsum(axis=0)])


def power_cuts(rig: Rig, sound: Observation) -> list[FaultRow]:
    """Cut the power in each kind of phase, and give one row a kind, of the worst cut in it.

    The power is back at once, which is when the bath is hottest and the tank fullest. ``sound`` is the run
    without a fault.
    """
    cool = cool_start(rig.constants, rig.machine, rig.goal, rig.circuit)
    restart = _restart(rig, sound, cool)
    if rig.spread is not None:
        runs = (restart.again, restart.waited, restart.cold)
        found = SecondRuns(rig, sound, restart.cuts, runs).points(restart.chosen.values())
        if len(found):
            wider = rig.at(rig.spread.wider(found))
            restart = _restart(wider, wider.observe(wider.asked), cool)
    return restart.rows()


def _restart(rig: Rig, sound: Observation, cool: CoolStart) -> Restart:
    """Run all second runs of one first run."""
    cuts = np.array([number for number, phase in enumerate(rig.asked) if phase.name != "gap"])
    cases, start = cut_states(rig, sound, cuts)
    restarted = replace(rig, cases=cases)

    def cooled_to(most_c: float | Array) -> Observation:
        return restarted.observe(rig.asked, cooled(start, most_c))

    def too_hot(seen: Observation) -> bool:
        return bool(np.isfinite(seen.meter.tallies["hot_drain"].first_s).any())

    again, waited, cold = (cooled_to(most_c) for most_c in left_at(rig, cases))
    cool_c = cool.both_c if cool.drains_c is not None and too_hot(waited) else None
    if cool_c is not None and too_hot(cooled_to(cool_c)):
        cool_c = None
    return Restart(rig, sound, cuts, again, waited, cold, cool.both_c, cool_c)
