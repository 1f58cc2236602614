"""A reference controller for the programmes in wash_timing.py, in MicroPython (CPython runs it as well).

SPDX-License-Identifier: MIT

AN EXAMPLE TO START FROM, NOT A PRODUCT. It was tried on a simulated machine, never on yours.

CAUTIONS
- Mains voltage and water kill. Wiring, protective earth and the earth-fault device are work for a licensed
  electrician; local codes and licensed practice come first. The device is a 30 mA RCD of type A or better;
  in North America a class A GFCI (UL 943, trips at 4-6 mA); behind an inverter either trips only if its
  neutral is bonded.
- No program makes an element safe. A float switch in series with it, a thermal cut-out with manual reset
  whose feeler is on its sheath, and that device are not optional: they must stop the element with this
  controller stuck, wrong or absent. So are, where the opening lines of the constants name them, a second
  cut-out for the bath and its tank, and a thermal protector or fuse in each motor: a seized one burns.
- Never leave it running alone, or while you sleep.
- It cannot see a clock that runs slow or fast: every time in here would be as wrong.
- It cannot see a relay that has welded shut (an element that stays on is dry after the next drain), a seized
  pump, or an inlet valve that stays open. Feed the valve through a second valve, at the tap, that an overflow
  switch under the lip closes by itself: that is not optional either.
- Outputs must be off while the microcontroller resets, and a hardware watchdog must reset it when it hangs,
  or when an exception ends the program: a program that stands still leaves the outputs as they are.
- Hot water and steam scald. The lid switch belongs into the supply of pumps and element: what is read here
  (hook lid_shut) is a contact of its own in it, and does not stand for it.

It has the states and errors of wash_controller.c, whose top says what they mean and what it does, and takes
the same steps. Use: make a Wash of hooks and a Programme, with every output off by hardware until then; call
step() from the main loop, ten times a second or more, always; choose(), start(), stop() and skip() from the
buttons. None of them waits. Nothing here may be called from an interrupt.
"""

try:
    from micropython import const
except ImportError:

    def const(number):
        return number


ON_INLET, ON_ELEMENT, ON_WASH_PUMP, ON_DRAIN_PUMP = 1, 2, 4, 8
"""What is on: the sum of these."""

IDLE, COOL, START_DRAIN, GAP = const(0), const(1), const(2), const(3)
FILL, HEAT, SPRAY, SOAK, LAST_SPRAY = const(4), const(5), const(6), const(7), const(8)
REST, TOP_UP, MIX, DRAIN, STAND = const(9), const(10), const(11), const(12), const(13)
SAFE_OFF, SAFE_DRAIN, HELD = const(14), const(15), const(16)
STATE_TEXTS = (
    "idle",
    "cooling first",
    "start drain",
    "pause",
    "fill",
    "heat",
    "spray",
    "soak",
    "last spray",
    "rest",
    "top-up",
    "mix",
    "drain",
    "stand",
    "safe: off",
    "safe: drain",
    "held by the lid",
)

OK, STOPPED, HOOKS, POWER_CUT, LATE = const(0), const(1), const(2), const(3), const(4)
NOT_FILLED, NOT_DRAINED, UNCOVERED, OVERFLOW = const(5), const(6), const(7), const(8)
TOO_HOT, SENSOR_LOST, SENSOR_STUCK = const(9), const(10), const(11)
FILL_TIME, ELEMENT_TIME, TOTAL_TIME = const(12), const(13), const(14)
CLOCK_STOPPED, FLOAT_CLOSED, LID_OPEN = const(15), const(16), const(17)
PROGRAMME, MEMORY = const(18), const(19)
ERROR_TEXTS = (
    "ok",
    "stopped",
    "hooks do not fit",
    "power cut",
    "step too late",
    "not filled",
    "not drained",
    "float switch open",
    "overflow",
    "bath too hot",
    "sensor lost",
    "sensor stuck",
    "fill too long",
    "element too long",
    "run too long",
    "clock stopped",
    "float stays shut",
    "lid open too long",
    "no programme",
    "memory fails",
)

# What you may set for your machine; the same names as in wash_controller.c
FLOAT_OPENS_EMPTY = const(1)  # 0: what a drain leaves keeps it closed; then nobody proves that it opens
READ_MAX_DC = const(0)  # [0.1 C] hottest it may read, 0: as the programme says
LATE_MS = const(2000)  # [ms] longest time between two steps in a run
STEPS_MAX_PER_S = const(500000)  # most steps a second; if there are more, runs end with CLOCK_STOPPED
CLOCK_TICK_MS = const(1)  # [ms] longest time between two ticks of the clock
LEVEL_STEADY_MS = const(500)  # [ms] the level switch must stay closed so long
SENSOR_LOST_MS = const(5000)  # [ms] without a valid reading; the element is off from the first
READ_APART_DK = const(20)  # [0.1 K] the sensor is read twice; further apart, the reading is not valid
HELD_MAX_S = const(600)  # [s] the lid may hold a run so long, 0: an opened lid ends it
SENSOR_MOVES_DK = const(10)  # [0.1 K] by so much

BATH_LOWEST_DC, BATH_HIGHEST_DC = const(-50), const(1200)
SAME_STEPS = 20 + 2 * STEPS_MAX_PER_S * CLOCK_TICK_MS // 1000
STEAM = const(3)
CLOCK_TURN = const(0xFFFFFFFF)
TIMING_FORMAT = const(6)  # of the wash_timing.py that this takes
TOTAL_MOST_S = const(4000000)  # [s] longest programme that may be
# Places in a row of the table
KIND, FILL_S, HEAT_S, SPRAY_S, SPRAY_ELEMENT_S, SETPOINT_DC = 0, 1, 2, 3, 4, 5
SOAK_S, REST_S, TOP_UP_S, MIX_S, DRAIN_S, DETERGENT_DG = 6, 7, 8, 9, 10, 11


class Programme:
    """A programme of wash_timing.WASH_PROGRAMMES_BY_NUMBER, with what all programmes of the machine share."""

    def __init__(self, table, timing):
        self.name, self.rows, self.bench_run, self.rounds = table[:4]
        self.start_drain_s, self.gap_s, self.after_soak_s, self.stand_s = table[4:8]
        self.hysteresis_dk, self.bath_max_dc, self.fill_max_s, self.drain_min_s = table[9:13]
        self.element_max_s, self.total_max_s, self.restart_after_cut = table[13:16]
        self.by_level = bool(timing.WASH_FILL_BY_LEVEL)
        self.thermostat = bool(timing.WASH_HAS_THERMOSTAT)
        self.element_rest_s = timing.WASH_ELEMENT_REST_S
        self.fill_is_cold = bool(timing.WASH_FILL_IS_COLD)
        self.drain_max_dc, self.drain_stop_dc = timing.WASH_DRAIN_MAX_DC, timing.WASH_DRAIN_STOP_DC
        self.drain_wait_ms = 1000 * timing.WASH_DRAIN_WAIT_S
        self.moves_ms = 1000 * timing.WASH_SENSOR_MOVES_S
        # What may make a bath too hot for the drain pipe
        self.warms = ON_ELEMENT if self.fill_is_cold else ON_ELEMENT + ON_INLET
        self.gap_ms = 1000 * self.gap_s
        self.rest_ms = max(self.gap_ms, 1000 * self.element_rest_s)
        self.read_max_dc = READ_MAX_DC or self.bath_max_dc
        self.fill_slack_ms = 2 * LATE_MS + (LEVEL_STEADY_MS if self.by_level else 0)


def is_sound(programme):
    """Whether it is a programme that can be run."""
    return (
        isinstance(programme, Programme)
        and 0 < programme.rounds <= len(programme.rows)
        and programme.gap_s > 0
        and programme.total_max_s <= TOTAL_MOST_S
    )


def programmes(timing):
    """All programmes of a module of constants, in its order; ValueError if it is of another version."""
    if getattr(timing, "WASH_FORMAT", 0) != TIMING_FORMAT:
        raise ValueError(
            "wash_timing and wash_controller are of two versions of scullion; write both anew: "
            "scullion constants PLAN --format micropython --with-controller DIR"
        )
    return [Programme(table, timing) for table in timing.WASH_PROGRAMMES_BY_NUMBER]


class Hooks:
    """What the controller needs of the machine; override them. A hook must return at once and raise nothing.

    Hooks that are None are not there. Needed are `clock_ms()`, milliseconds from any start that run over at
    2^32 and at nothing less, and `outputs(on)`, which switches the four outputs to a sum of ON_ and comes
    again at every step. `bath()` gives tenths of a degree or None. `lid_shut()` is needed, or no_lid_switch
    True where none is read. `was_cool()` must be False for all that was not written as True; it needs
    `was_running()`, and what is written first has to be kept first. wash_controller.h says more.
    """

    clock_ms = outputs = None
    bath = full = covered = overflow = detergent = was_running = set_running = lid_shut = None
    was_cool = set_cool = None
    no_lid_switch = False


class Wash:
    """The controller; its attributes are to be read from outside, not written."""

    def __init__(self, hooks, programme):
        self.hooks = None
        self.programme = programme
        self.state = self.next = IDLE
        self.round = self.on = 0
        self.error = OK
        self.filled = self.skips = self.calls_for_heat = self.bath_valid = False
        self.lid_open = self.held = self.doubted = self.warmed = self.kept_cool = False
        self.bath_dc = self.moved_dc = self.same_steps = 0
        self.state_ms = self.total_ms = self.fill_ms = self.drained_ms = self.element_ms = 0
        self.still_ms = self.lost_ms = self.full_ms = self.pause_ms = self.warm_ms = 0
        if not is_sound(programme) or not self._has_hooks(hooks):
            self.error = HOOKS if is_sound(programme) else PROGRAMME
            return
        self.hooks = hooks
        self.clock_ms = hooks.clock_ms()
        self._put_out(0)
        # What ran before is not known: the element may be hot, a motor may have started a moment ago
        self.pause_ms = programme.rest_ms
        cut = hooks.was_running is not None and bool(hooks.was_running())
        restarts = cut and bool(programme.restart_after_cut)
        self.kept_cool = hooks.was_cool is not None and bool(hooks.was_cool())
        # The flag of a run that begins again is set already: nothing comes after "not cool" and keeps it
        if not self.kept_cool or restarts:
            self.warm_ms = programme.drain_wait_ms
        if restarts and self._notes_hot():
            self._begin_run(0)
        elif cut:
            self._fail(POWER_CUT)

    def choose(self, programme):
        """Take another programme; False where it is not idle, or where this is none."""
        if self.hooks is None or self.state != IDLE or not is_sound(programme):
            return False
        self._tick()
        if programme is not self.programme:
            self.programme = programme
            self.round = 0
            self.pause_ms = max(self.pause_ms, programme.gap_ms)
        return True

    def start(self):
        """Begin a run: start drain, then round 1; in HELD: start drain, then all of that round anew.

        False if it is neither idle nor held, the lid is open, it lacks a hook, or the memory does not take
        that the tank may be hot from now on (MEMORY).
        """
        goes_on = self.state == HELD
        if self.hooks is None or not (self.state == IDLE or goes_on) or self._lid_opened():
            return False
        self._tick()
        if not goes_on and not self._notes_hot():
            self.error = MEMORY
            return False
        self._begin_run(self.round if goes_on else 0)
        self.held = goes_on
        self.lid_open = False
        if not self._clock_stopped():
            self._put_out(self._outputs())  # at once: the drain lasts from here, and is counted from here
        return True

    def stop(self):
        """End a run: every output off, then drain once, or leave in what is too hot for the drain pipe."""
        if self.hooks is not None and self.in_run():
            self._tick()
            self._fail(STOPPED)

    def tank_is_cool(self):
        """Believe who looked: it is empty, or cool enough for the drain pipe. False if it reads hot.

        Look with a thermometer, never by hand, AND see that the ware in it is no hotter than the file of the
        constants allows after a power cut: cold water is sprayed on it next. Open the lid away from your
        face.
        """
        if self.hooks is None or not (self.state <= COOL or self.state == HELD) or self._reads_hot():
            return False
        self._forget_bath()
        return True

    def skip(self):
        """Leave out what is left of the round before its drain; what cools a hot bath stays."""
        phase = self.next if self.state == GAP else self.state
        if self.hooks is None or not self.in_run() or not FILL <= phase < DRAIN:
            return False
        if self._tick() > LATE_MS:
            self._fail(LATE)
            return False
        self.lid_open = self._lid_opened()
        if self.lid_open:
            self._hold()
            return False
        self.skips = True
        if self._skips_to_drain():
            self._pause_before(DRAIN)
        elif phase == HEAT:
            self._pause_before(SPRAY)
        self._put_out(self._outputs())
        return True

    def step(self):
        """Do what is due now. Returns the state."""
        if self.hooks is None:
            return IDLE
        step_ms = self._tick()
        self._read_bath(step_ms)
        self.lid_open = self._lid_opened()
        error = self._watch(step_ms) if self.in_run() else OK
        if error != OK:
            self._fail(error)
        elif self.lid_open and self.in_run() and self.state != STAND:
            self._hold()
        else:
            self._advance(step_ms)
        if self.lid_open and (self.state == SAFE_OFF or self.state == SAFE_DRAIN):
            self._enter(IDLE)  # shutting it starts no drain
        on = self._outputs()
        if on & ON_ELEMENT and not self._covered():
            self._fail(UNCOVERED)
            on = 0
        self._put_out(on)
        self._note_if_cool()
        return self.state

    def in_run(self):
        """Whether a run goes on."""
        return COOL <= self.state <= STAND or self.state == HELD

    def view(self):
        """What a person may see: name, state, error, round, rounds left, seconds left, bath or None, hot.

        Outside a run, and while the load stands, round and rounds left are 0. Hot: nothing drains it in its
        turn, and it may be too hot for the drain pipe.
        """
        sees = self.hooks is not None and self.hooks.bath is not None and self.bath_valid
        runs = self.hooks is not None and self.in_run() and self.state != STAND
        return (
            self.programme.name if is_sound(self.programme) else "",
            STATE_TEXTS[self.state],
            ERROR_TEXTS[self.error],
            self.round + 1 if runs else 0,
            self.programme.rounds - self.round if runs else 0,
            self.left_s(),
            self.bath_dc if sees else None,
            self.hooks is not None and not COOL < self.state < SAFE_OFF and not self._drains_cool(),
        )

    def left_s(self):
        """Seconds until the run is over and it is idle, as the table has it; the standing of the load counts.

        A switch or a sensor may end a phase sooner; each may last a step longer, a fill LEVEL_STEADY_MS.
        """
        programme, state = self.programme, self.state
        if self.hooks is None or state == IDLE:
            return 0
        if state == HELD:  # if it goes on now
            wait_ms = max(self.pause_ms, programme.gap_ms) if self.pause_ms else 0
            wait_s = self._drain_wait_s((wait_ms + 999) // 1000)
            return wait_s + programme.start_drain_s + self._later_rounds_s(self.round)
        if state == COOL:
            wait_s = self._drain_wait_s(self._wait_s(True))
            return wait_s + programme.start_drain_s + self._later_rounds_s(self.round)
        if state == START_DRAIN:
            return self._left_s(programme.start_drain_s) + self._later_rounds_s(self.round)
        if state == GAP:
            left_s = self._wait_s(self.next == DRAIN) + self._phases_s(self.round, self.next)
            return left_s - programme.gap_s + self._later_rounds_s(self.round + 1)
        if state == STAND:
            return self._left_s(programme.stand_s)
        if state == SAFE_OFF:
            drain_s = 0 if self._keeps_water() else programme.start_drain_s
            return self._wait_s(self.error != OVERFLOW) + drain_s
        if state == SAFE_DRAIN:
            return self._left_s(programme.start_drain_s)
        left_s = self._left_s(self._length_s(self._row(), state)) + self._phases_s(self.round, state + 1)
        return left_s + self._later_rounds_s(self.round + 1)

    # What follows is the inside.

    def _has_hooks(self, hooks):
        return (
            hooks is not None
            and hooks.clock_ms is not None
            and hooks.outputs is not None
            and (not self.programme.thermostat or hooks.bath is not None)
            and (not self.programme.by_level or hooks.full is not None)
            and (hooks.was_running is None) == (hooks.set_running is None)
            and (hooks.was_cool is None) == (hooks.set_cool is None)
            and (hooks.set_cool is None or hooks.set_running is not None)
            and (hooks.lid_shut is None) == bool(hooks.no_lid_switch)
        )

    def _row(self):
        return self.programme.rows[self.round]

    def _note_running(self, running):
        if self.hooks.set_running is not None:
            self.hooks.set_running(running)

    def _may_warm(self, number):
        # Whether a run, from a round on, may make a bath too hot for the drain pipe
        programme = self.programme
        rows = programme.rows[number : programme.rounds] if programme.drain_wait_ms else ()
        return any(not programme.fill_is_cold or row[HEAT_S] or row[SPRAY_ELEMENT_S] for row in rows)

    def _note_cool(self, cool):
        if self.hooks.set_cool is not None and cool != self.kept_cool:
            self.kept_cool = cool
            self.hooks.set_cool(cool)

    def _notes_hot(self):
        # Before a run: the tank may be hot from now on. False if the memory does not take it.
        if not self._may_warm(0):
            return True
        self._note_cool(False)
        return self.hooks.was_cool is None or not self.hooks.was_cool()

    def _note_if_cool(self):
        # Between two outputs, as memory may be slow: it is cool, and nothing of this run makes it hot
        if self.on or self.warm_ms or self.kept_cool or self._reads_hot():
            return
        if not self.in_run() or self.state == STAND or not self._may_warm(self.round):
            self._note_cool(True)

    def _enter(self, state):
        self.state = state
        self.state_ms = 0
        self.full_ms = 0
        self.calls_for_heat = True

    def _fail(self, error):
        # Every output off first, then the flag, whose memory may be slow or full.
        self.error = error
        self.filled = self.skips = False
        # One that was lost may come back and read cold: a loose contact.
        self.doubted = self.doubted or error in (SENSOR_STUCK, SENSOR_LOST)
        self._enter(SAFE_OFF)
        self._put_out(0)
        self._note_running(False)

    def _hold(self):
        # The lid is open in a run: every output off, and no element before the next whole fill
        if self.state != HELD:
            self.held = True
            self.filled = self.skips = False
            self._enter(HELD)
        self._put_out(0)

    def _length_s(self, row, phase):
        if phase == SPRAY:
            return row[SPRAY_S] - (self.programme.after_soak_s if row[SOAK_S] else 0)
        if phase == LAST_SPRAY:
            return self.programme.after_soak_s if row[SOAK_S] else 0
        return row[PLACE_OF[phase - FILL]]

    def _pause_before(self, phase):
        row = self._row()
        while not self._length_s(row, phase) or (self.skips and phase == HEAT):
            phase += 1
        if phase == TOP_UP:
            self.fill_ms = 0  # the inlet opens anew
        self.next = phase
        self._enter(GAP)

    def _begin_phase(self):
        # Detergent goes in as the spray begins: it would cake in a bath that stands.
        detergent_dg = self._row()[DETERGENT_DG]
        self._enter(self.next)
        if self.state == DRAIN:
            self._forget_bath()
        if self.state == SPRAY and detergent_dg and self.hooks.detergent is not None:
            self.hooks.detergent(detergent_dg)

    def _begin_round(self, number):
        self._forget_bath()
        self.round = number
        self.filled = self.skips = False
        self.fill_ms = self.element_ms = 0
        self._pause_before(FILL)

    def _begin_run(self, number):
        self.error = OK
        self.round = number
        self.filled = self.skips = False
        self.fill_ms = self.drained_ms = self.element_ms = 0
        self.total_ms = self.lost_ms = self.still_ms = 0
        self._enter(COOL if self.pause_ms or not self._drains_cool() else START_DRAIN)
        self._note_running(True)

    def _clock_stopped(self):
        return self.same_steps > SAME_STEPS

    def _read_clock(self):
        now_ms = self.hooks.clock_ms()
        step_ms = (now_ms - self.clock_ms) & CLOCK_TURN
        self.clock_ms = now_ms
        if step_ms:
            self.same_steps = 0
        elif not self._clock_stopped():
            self.same_steps += 1
        return step_ms

    def _tick(self):
        stopped = self._clock_stopped()  # if it goes on now, it may catch up what was no wait
        clock_step_ms = self._read_clock()
        sure = not stopped and clock_step_ms <= LATE_MS
        step_ms = clock_step_ms if sure else LATE_MS  # for what is on
        wait_ms = clock_step_ms if sure else 0
        on = self.on
        self.state_ms = min(self.state_ms + (step_ms if on else wait_ms), CLOCK_TURN)
        self.pause_ms = max(self.pause_ms - wait_ms, 0)
        self.warm_ms = max(self.warm_ms - wait_ms, 0)
        if self.state != COOL and self.state != IDLE and self.state != HELD:
            self.total_ms += step_ms
        if on & ON_INLET:
            self.fill_ms += step_ms
            self.drained_ms = 0
        if on & ON_DRAIN_PUMP:
            self.drained_ms += step_ms
        if on & ON_ELEMENT:
            self.element_ms += step_ms
            self.still_ms += step_ms
        else:
            self.still_ms = 0
        return clock_step_ms

    def _reading(self):
        dc = self.hooks.bath()
        return dc if dc is not None and BATH_LOWEST_DC <= dc <= BATH_HIGHEST_DC else None

    def _read_bath(self, step_ms):
        # It is read twice: a spike, or a value read while it changes, is none. The later reading counts.
        # It is read outside a run too, for the person who sees it.
        if self.hooks.bath is None:
            return
        first_dc, dc = self._reading(), self._reading()
        self.bath_valid = first_dc is not None and dc is not None and abs(dc - first_dc) <= READ_APART_DK
        if not self.bath_valid:
            self.lost_ms += step_ms if self.in_run() else 0
            return
        self.lost_ms = 0
        self.bath_dc = dc
        if not self.still_ms or abs(dc - self.moved_dc) >= SENSOR_MOVES_DK:
            self.moved_dc = dc
            self.still_ms = 0

    # Every switch is read twice, and counts as what is safe: closed if both say so, an overflow if one does.

    def _covered(self):
        covered = self.hooks.covered
        return covered is None or bool(covered() and covered())

    def _full(self):
        return bool(self.hooks.full() and self.hooks.full())

    def _overflows(self):
        overflow = self.hooks.overflow
        return overflow is not None and bool(overflow() or overflow())

    def _lid_opened(self):
        shut = self.hooks.lid_shut
        return shut is not None and not (shut() and shut())

    def _watch_drained(self):
        if self.programme.bench_run:
            return OK
        if self.programme.by_level and self._full():
            return NOT_DRAINED
        if FLOAT_OPENS_EMPTY and self.hooks.covered is not None and self._covered():
            return FLOAT_CLOSED
        return OK

    def _watch(self, step_ms):
        programme, row = self.programme, self._row()
        if step_ms > LATE_MS:
            return LATE
        if self._clock_stopped():
            return CLOCK_STOPPED
        if self._overflows():
            return OVERFLOW
        if self.state == HELD and self.state_ms > 1000 * HELD_MAX_S:
            return LID_OPEN
        if programme.read_max_dc and self.bath_valid and self.bath_dc > programme.read_max_dc:
            return TOO_HOT
        if self.lost_ms > SENSOR_LOST_MS:
            return SENSOR_LOST
        if self.hooks.bath is not None and row[KIND] != STEAM and self.still_ms > programme.moves_ms:
            return SENSOR_STUCK
        if self.fill_ms > 1000 * programme.fill_max_s + programme.fill_slack_ms:
            return FILL_TIME
        longest_s = min(row[HEAT_S] + row[SPRAY_ELEMENT_S], programme.element_max_s)
        if self.element_ms > 1000 * longest_s + 2 * LATE_MS:
            return ELEMENT_TIME
        # Up to 18 phases and pauses of a round, and 4 outside, overrun by a late step each
        if self.total_ms > 1000 * programme.total_max_s + (18 * programme.rounds + 4) * LATE_MS:
            return TOTAL_TIME
        return OK

    def _end_fill(self):
        row = self._row()
        if (row[HEAT_S] or row[SPRAY_ELEMENT_S]) and not self._covered():
            self._fail(NOT_FILLED)
            return
        self.filled = True
        self._pause_before(HEAT)

    def _fill_by_level(self, step_ms):
        if not self._full():
            self.full_ms = 0
            if self.state_ms >= 1000 * self._row()[FILL_S]:
                if self.programme.bench_run:
                    self._end_fill()
                else:
                    self._fail(NOT_FILLED)
            return
        self.full_ms = self.full_ms + step_ms if self.full_ms else 1  # 1: seen closed, not for long
        if self.full_ms > LEVEL_STEADY_MS:
            self._end_fill()

    def _end_drain(self):
        error = self._watch_drained()
        if error != OK:
            self._fail(error)
        elif self.state == START_DRAIN:
            self._begin_round(self.round)  # 0, or the one that the lid has ended
        elif self.round + 1 < self.programme.rounds:
            self._begin_round(self.round + 1)
        else:
            self._note_running(False)
            self.filled = False
            self._enter(STAND)

    def _by_thermostat(self, row):
        return self.programme.thermostat and row[SETPOINT_DC] > 0

    def _at_setpoint(self):
        row = self._row()
        return self._by_thermostat(row) and self.bath_valid and self.bath_dc >= row[SETPOINT_DC]

    def _keeps_water(self):
        if self.error in (TOO_HOT, POWER_CUT, LID_OPEN):
            return True
        return self.error != OVERFLOW and not self._drains_cool()

    def _advance(self, step_ms):
        programme, state, lasted_ms = self.programme, self.state, self.state_ms
        if state == IDLE or state == HELD:  # noqa: SIM109
            return
        if state == COOL:
            if lasted_ms >= programme.gap_ms and not self.pause_ms and self._drains_cool():
                self._enter(START_DRAIN)
        elif state == START_DRAIN:
            if lasted_ms >= 1000 * programme.start_drain_s:
                self._end_drain()
        elif state == GAP:
            if lasted_ms >= programme.gap_ms and not (self.next == DRAIN and self.pause_ms):
                if self.next == FILL and self.drained_ms < 1000 * programme.drain_min_s:
                    self._fail(NOT_DRAINED)
                elif self.next == DRAIN and self.bath_valid and self.bath_dc > programme.drain_stop_dc:
                    self._fail(TOO_HOT)
                else:
                    self._begin_phase()
        elif state == FILL:
            if programme.by_level:
                self._fill_by_level(step_ms)
            elif lasted_ms >= 1000 * self._row()[FILL_S]:
                self._end_fill()
        elif state == DRAIN:
            if lasted_ms >= 1000 * self._row()[DRAIN_S]:
                self._end_drain()
        elif state == STAND:
            if lasted_ms >= 1000 * programme.stand_s:
                self._enter(IDLE)
        elif state == SAFE_OFF:
            if lasted_ms >= programme.gap_ms and (not self.pause_ms or self.error == OVERFLOW):
                self._enter(IDLE if self._keeps_water() else SAFE_DRAIN)
        elif state == SAFE_DRAIN:
            if lasted_ms >= 1000 * programme.start_drain_s or self._clock_stopped():
                self._enter(IDLE)
        elif lasted_ms >= 1000 * self._length_s(self._row(), state):
            self._pause_before(state + 1)
        if self.state == HEAT and self._at_setpoint():
            self._pause_before(SPRAY)

    def _element(self, longest_s):
        row = self._row()
        if not self.filled or self.skips or self.state_ms >= 1000 * longest_s:
            return 0
        if self.hooks.bath is not None and not self.bath_valid:
            return 0
        if not self._by_thermostat(row):
            return ON_ELEMENT
        if self._at_setpoint():
            self.calls_for_heat = False
        elif self.bath_dc <= row[SETPOINT_DC] - self.programme.hysteresis_dk:
            self.calls_for_heat = True
        return ON_ELEMENT if self.calls_for_heat else 0

    def _outputs(self):
        state = self.state
        if state in (START_DRAIN, DRAIN, SAFE_DRAIN):
            return ON_DRAIN_PUMP
        if state in (FILL, TOP_UP):
            return ON_INLET
        if state == HEAT:
            return self._element(self._row()[HEAT_S])
        if state == SPRAY:
            return ON_WASH_PUMP + self._element(self._row()[SPRAY_ELEMENT_S])
        return ON_WASH_PUMP if state in (LAST_SPRAY, MIX) else 0

    def _put_out(self, on):
        either = self.on | on
        if either & ON_ELEMENT:
            self.pause_ms = self.programme.rest_ms
        elif either and self.pause_ms < self.programme.gap_ms:
            self.pause_ms = self.programme.gap_ms
        # The wash pump warms what is warm: the wait counts from its end too
        if either & self.programme.warms or (self.warmed and either & ON_WASH_PUMP):
            self.warmed = True
            self.warm_ms = self.programme.drain_wait_ms
        self.on = on
        self.hooks.outputs(on)

    def _drains_cool(self):
        # Whether the drain pipe stands what may be in the tank, whatever would have cooled it
        return not self._reads_hot() and (not self.warm_ms or (self.bath_valid and not self.doubted))

    def _reads_hot(self):
        return self.bath_valid and self.bath_dc > self.programme.drain_max_dc

    def _skips_to_drain(self):
        # Whether nothing has to cool what is drained; a bench run heats nothing
        cool = self._drains_cool() and (self.bath_valid or not self._row()[TOP_UP_S])
        return self.programme.bench_run or cool

    def _forget_bath(self):
        # A drain has taken it, or takes what a round has cooled for it
        self.warm_ms = 0
        self.warmed = self.doubted = False

    def _left_s(self, length_s):
        return max((1000 * length_s - self.state_ms + 999) // 1000, 0)

    def _wait_s(self, cools):
        gap_s = self._left_s(self.programme.gap_s)
        return max(gap_s, (self.pause_ms + 999) // 1000) if cools else gap_s

    def _drain_wait_s(self, other_s):
        warm_s = 0 if self._drains_cool() else (self.warm_ms + 999) // 1000
        return max(warm_s, other_s)

    def _phases_s(self, number, phase):
        row, skips = self.programme.rows[number], self.skips and number == self.round
        sum_s = 0
        while phase <= DRAIN:
            one_s = self._length_s(row, phase)
            if one_s and not (skips and phase == HEAT):
                sum_s += one_s + self.programme.gap_s
            phase += 1
        return sum_s

    def _later_rounds_s(self, number):
        rounds = range(number, self.programme.rounds)
        return self.programme.stand_s + sum(self._phases_s(one, FILL) for one in rounds)


# Where the length of a phase stands in a row, from FILL to DRAIN; sprays are parted by a soak
PLACE_OF = (FILL_S, HEAT_S, SPRAY_S, SOAK_S, SPRAY_S, REST_S, TOP_UP_S, MIX_S, DRAIN_S)


class Log:
    """A log for scullion review, line by line: `line()` after every step, None where none is due.

    One at the first call, every `every_ms`, and when state, round, outputs or error change; a clock's tick
    has one line at the most. State and error are numbers, STATE_TEXTS and ERROR_TEXTS say which; the bath is
    left out where it is not read, the round counts from 1 and is 0 outside a run.
    """

    HEAD = "time_s,state,round,inlet,element,wash_pump,drain_pump,bath_c,error"

    def __init__(self, wash, every_ms):
        self.wash, self.every_ms = wash, every_ms
        self.s = self.ms = self.since_ms = self.clock_ms = 0
        self.told = None

    def line(self):
        """Give the line that is due, or None."""
        wash = self.wash
        if wash.hooks is None:
            return None
        runs = wash.in_run()
        now = (wash.state, wash.round + 1 if runs else 0, wash.on, wash.error)
        if self.told is not None:
            step_ms = (wash.clock_ms - self.clock_ms) & CLOCK_TURN
            self.ms += step_ms
            self.s += self.ms // 1000
            self.ms %= 1000
            self.since_ms += step_ms
        self.clock_ms = wash.clock_ms
        if self.told is not None and (
            not self.since_ms or (now == self.told and self.since_ms < self.every_ms)
        ):
            return None
        self.told = now
        self.since_ms = 0
        state, number, on, error = now
        bath = ""
        if runs and wash.hooks.bath is not None and wash.bath_valid:
            dc = abs(wash.bath_dc)
            bath = f"{'-' if wash.bath_dc < 0 else ''}{dc // 10}.{dc % 10}"
        outputs = ",".join(str(on >> place & 1) for place in range(4))
        return f"{self.s}.{self.ms:03d},{state},{number},{outputs},{bath},{error}"
