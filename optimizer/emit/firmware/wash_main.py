"""An example program around wash_controller.py: buttons, relays, thermistor, switches, watchdog, serial log.

SPDX-License-Identifier: MIT

AN EXAMPLE TO START FROM, NOT A PRODUCT. It was run on a simulated board, never on yours.

CAUTIONS
- Mains voltage and water kill. Wiring, protective earth and the earth-fault device are work for a licensed
  electrician; local codes and licensed practice come first. Nothing of the microcontroller, its buttons and
  its sensors may touch what is tied to the mains: use relays and couplers with reinforced insulation.
- No program makes an element safe. The float switch in series with the element, the thermal cut-out with
  manual reset on its sheath and the lid switch in the supply are wired, not programmed. What is read here is
  only read back.
- Every relay must be OFF while the board resets, starts or is not powered, and it takes seconds until this
  program begins: choose RELAY_ON so, and give every relay's input a resistor (10 kilohms) to its off level.
  Press reset with the outputs unplugged, and see that no relay so much as clicks.
- Without the hardware watchdog a program that hangs or ends with an exception leaves the element on. Try it.
- First run: the rehearsal, element unplugged, no ware in it, somebody at the plug. Hot water and steam scald.
  Never leave it running alone, or while you sleep.

ONE BUTTON: a short press takes the next programme, a long press starts it. In a run any press stops it at
once. A second button, if there is one: a long press leaves out what is left of the round before its drain.
Held by the lid: shut it, then a long press goes on, a short one ends the run. While a start waits because the
bath may be too hot for the drain pipe, a short press ends the wait and the run, and a press held for 10 s,
one that began in the wait, says that you have looked, with a thermometer, never by hand: the tank is empty or
its water cool enough for the drain pipe, AND the ware in it is no hotter than the file of the constants
allows after a power cut. Open the lid away from your face. See wash_controller.c.

Fill in the numbers below, set FILLED_IN to True, and name this file main.py.
"""

import os
import time

import wash_controller
import wash_timing
from machine import ADC, WDT, Pin

FILLED_IN = False

# Fill in: pins as your board counts them; None where there is no such thing
PIN_INLET, PIN_ELEMENT, PIN_WASH_PUMP, PIN_DRAIN_PUMP = 2, 3, 4, 5
PIN_BUTTON = 6  # to ground
PIN_SKIP = None  # second button, to ground
PIN_FLOAT = 7  # a contact of its own in the float switch: to ground while water covers the element
PIN_LEVEL = None  # level switch that ends a fill: to ground while full
PIN_OVERFLOW = 8  # overflow switch: OPENS at an overflow, so that a broken wire counts as one
PIN_LID = 9  # a contact of its own in the lid switch: to ground while shut. None: nothing reads it
PIN_THERMISTOR = 26  # converter's input: thermistor to ground, series resistor to the reference

# Fill in: the level at which a relay is on. It must not be the level of a pin that is reset.
RELAY_ON = 1

# Fill in: two-point calibration. What is shown in ice water and in hot water, and what a thermometer shows
# beside it [0.1 C].
READ_COLD_DC, TRUE_COLD_DC = 0, 0
READ_HOT_DC, TRUE_HOT_DC = 600, 600

LOOP_MS = 20  # a step so often
STEADY_MS = 50  # a button must stay so long to count
LONG_MS = 1500  # a long press
LOOKED_MS = 10000  # a press that nobody gives because nothing moves: somebody has looked into the tank
LOG_MS = 1000
WATCHDOG_MS = 2000  # longer than a step and its hooks, shorter than harm
KEPT_FILE, KEPT_NEW = "wash_kept.txt", "wash_kept.new"

# Temperature at each 64th of the converter's range [0.1 C], for the thermistor
# 10000 ohms at 25 C, B 3950 K, 10000 ohms in series.
# Another one: scullion constants --thermistor. The ends stand for a broken wire and a short circuit.
# fmt: off
THERMISTOR_DC = (
    1999, 1607, 1293, 1127, 1016, 933, 866, 811, 763, 722, 685, 652, 621,
    593, 567, 543, 520, 498, 477, 458, 439, 421, 403, 386, 370, 354,
    338, 323, 308, 293, 278, 264, 250, 236, 222, 208, 194, 181, 167,
    153, 139, 125, 111, 97, 83, 68, 53, 37, 22, 5, -11, -29,
    -47, -66, -87, -108, -132, -157, -186, -218, -256, -302, -364, -460, -600,
)
# fmt: on
NOTHING, PRESSED, SHORT, LONG, LOOKED = 0, 1, 2, 3, 4


def kept():
    """Number of the chosen programme, whether it was running and whether the tank was known to be cool.

    Out of memory that outlives a power cut; what cannot be read there is no programme's, and no cool tank's.
    """
    for name in (KEPT_FILE, KEPT_NEW):
        try:
            with open(name) as file:
                number, running, cool = (file.read() + " hot").split()[:3]
            return int(number), running == "1", cool == "cool"
        except (OSError, ValueError):
            pass
    return 0, False, False


def keep(number, running, cool):
    """Put all there; False where that fails. A power cut meanwhile leaves what was kept before, or this."""
    try:
        with open(KEPT_NEW, "w") as file:
            file.write(f"{number} {1 if running else 0} {'cool' if cool else 'hot'}")
        try:
            os.rename(KEPT_NEW, KEPT_FILE)
        except OSError:  # a FAT file system renames over no file
            os.remove(KEPT_FILE)
            os.rename(KEPT_NEW, KEPT_FILE)
    except OSError:
        return False
    return True


def temperature_dc(counts):
    """Tenths of a degree for counts of 16 bits; None for a short circuit or a broken wire."""
    part, rest = counts >> 10, counts & 1023
    if part == 0 or part >= 63:
        return None
    dc = THERMISTOR_DC[part] + (THERMISTOR_DC[part + 1] - THERMISTOR_DC[part]) * rest // 1024
    span_dc = READ_HOT_DC - READ_COLD_DC
    return TRUE_COLD_DC + (dc - READ_COLD_DC) * (TRUE_HOT_DC - TRUE_COLD_DC) // span_dc


class Button:
    """A button to ground: `ask` says what it did since it was last asked."""

    def __init__(self, pin):
        self.pin = None if pin is None else Pin(pin, Pin.IN, Pin.PULL_UP)
        # As if down and told of: held, stuck or wet at power-up it starts nothing until it was let go
        self.down, self.told = True, LOOKED
        self.changed_ms = self.since_ms = time.ticks_ms()

    def ask(self, now_ms):
        """Say whether it went down, was let go soon, has been held for long, or for 10 s."""
        if self.pin is None or (not self.pin.value()) == self.down:
            self.changed_ms = now_ms
        elif time.ticks_diff(now_ms, self.changed_ms) >= STEADY_MS:
            self.down = not self.down
            self.changed_ms = now_ms
            if self.down:
                self.since_ms, self.told = now_ms, NOTHING
                return PRESSED
            return SHORT if self.told == NOTHING else NOTHING
        held_ms = time.ticks_diff(now_ms, self.since_ms) if self.down else 0
        if self.told == NOTHING and held_ms >= LONG_MS:
            self.told = LONG
            return LONG
        if self.told == LONG and held_ms >= LOOKED_MS:
            self.told = LOOKED
            return LOOKED
        return NOTHING


class Board(wash_controller.Hooks):
    """The hooks of the controller on this board; a hook whose pin is None is not there."""

    def __init__(self):
        # First of all the relays, each at its safe level
        pins = (PIN_INLET, PIN_ELEMENT, PIN_WASH_PUMP, PIN_DRAIN_PUMP)
        self.relays = [Pin(pin, Pin.OUT, value=1 - RELAY_ON) for pin in pins]
        self.number, self.running, self.cool = self.kept = kept()
        self.last_ticks = time.ticks_ms()
        self.now_ms = 0
        if PIN_FLOAT is not None:
            self.covered = self._closed(PIN_FLOAT)
        if PIN_LEVEL is not None:
            self.full = self._closed(PIN_LEVEL)
        if PIN_OVERFLOW is not None:
            closed = self._closed(PIN_OVERFLOW)
            self.overflow = lambda: not closed()
        self.no_lid_switch = PIN_LID is None
        if PIN_LID is not None:
            self.lid_shut = self._closed(PIN_LID)
        if PIN_THERMISTOR is not None:
            thermistor = ADC(PIN_THERMISTOR)
            self.bath = lambda: temperature_dc(thermistor.read_u16())
        self.was_running = lambda: self.running
        self.set_running = self._set_running
        self.was_cool = lambda: self.kept[2]
        self.set_cool = self._set_cool

    def _closed(self, number):
        pin = Pin(number, Pin.IN, Pin.PULL_UP)
        return lambda: not pin.value()

    def clock_ms(self):
        # ticks_ms() runs over sooner than at 2^32
        ticks = time.ticks_ms()
        self.now_ms = (self.now_ms + time.ticks_diff(ticks, self.last_ticks)) & 0xFFFFFFFF
        self.last_ticks = ticks
        return self.now_ms

    def outputs(self, on):
        for place, relay in enumerate(self.relays):
            relay.value(RELAY_ON if on >> place & 1 else 1 - RELAY_ON)

    def _set_running(self, running):
        self.running = running
        self.keep()

    def _set_cool(self, cool):
        self.cool = cool
        self.keep()

    def keep(self):
        """Keep number, run and tank; where that fails it is tried again with the next note."""
        wanted = self.number, self.running, self.cool
        if self.kept != wanted and keep(*wanted):
            self.kept = wanted


class Program:
    """What runs in the loop."""

    def __init__(self):
        self.board = Board()
        self.watchdog = WDT(timeout=WATCHDOG_MS)
        self.programmes = wash_controller.programmes(wash_timing)
        if not 0 <= self.board.number < len(self.programmes):
            # Nobody knows what was running: the first is chosen, and nothing begins again by itself
            self.board.number, self.board.running = 0, False
        self.wash = wash_controller.Wash(self.board, self.programmes[self.board.number])
        self.button, self.skip = Button(PIN_BUTTON), Button(PIN_SKIP)
        self.log = wash_controller.Log(self.wash, LOG_MS)
        print(self.log.HEAD)  # noqa: T201
        self.step_ms = self.logged_ms = time.ticks_ms()

    def turn(self):
        """Go once round the loop."""
        now_ms = time.ticks_ms()
        if time.ticks_diff(now_ms, self.step_ms) < LOOP_MS:
            return
        self.step_ms = now_ms
        self._act(now_ms)
        self.wash.step()
        self.watchdog.feed()  # only here: a clock that stops, stops the steps, and the watchdog switches off
        if time.ticks_diff(now_ms, self.logged_ms) >= LOG_MS:
            self.logged_ms = now_ms
            self.board.keep()
            print(self._note())  # noqa: T201
        line = self.log.line()
        if line:
            print(line)  # noqa: T201

    def _act(self, now_ms):
        asked = self.button.ask(now_ms)
        if self.skip.ask(now_ms) == LONG:
            self.wash.skip()
        if self.wash.state in (wash_controller.HELD, wash_controller.COOL):
            if asked == LONG and self.wash.state == wash_controller.HELD:
                self.wash.start()
                self.button.told = LOOKED  # however long it is held: it was no look into the tank
            elif asked == LOOKED and self.wash.state == wash_controller.COOL:
                self.wash.tank_is_cool()  # not at a long press: who sees nothing move presses again
            elif asked == SHORT:
                self.wash.stop()
        elif self.wash.state != wash_controller.IDLE:
            if asked == PRESSED:
                self.wash.stop()
                self.button.told = LOOKED  # the same press chooses and starts nothing
        elif asked == SHORT:
            number = (self.board.number + 1) % len(self.programmes)
            if self.wash.choose(self.programmes[number]):
                self.board.number = number
                self.board.keep()
        elif asked == LONG:
            self.wash.start()
            self.button.told = LOOKED

    def _note(self):
        # What a person may want to read: scullion review passes over lines that begin with #
        name, state, error, number, left, left_s, bath_dc, hot = self.wash.view()
        line = f"# {name}: {state}"
        if number:
            line += f", round {number}, rounds left {left}"
        if left_s:
            line += f", {left_s} s left"
        if bath_dc is not None:
            line += ", {}{}.{} C".format("-" if bath_dc < 0 else "", abs(bath_dc) // 10, abs(bath_dc) % 10)
        if self.wash.lid_open:
            line += ", LID OPEN"
        if self.wash.held:
            line += ", was held: not proven"
        if hot and self.wash.state == wash_controller.COOL:
            line += ", HOT: waits "
            if bath_dc is not None and not self.wash.doubted:
                line += "till it reads cool; do not press again"
            else:
                line += f"{self.wash.warm_ms // 60000 + 1} min; do not press again, or look first: "
                line += "hold 10 s once tank and ware are seen cool"
        elif hot:
            line += ", HOT: not drained"
        if error != "ok":
            line += ", STOPPED: " + error
        if self.board.kept != (self.board.number, self.board.running, self.board.cool):
            line += ", NOT KEPT"
        return line


def main():
    """Run for ever; an exception ends it, and the watchdog then resets the board."""
    if not FILLED_IN:
        raise RuntimeError("fill in pins, relays and thermistor, read the cautions, then set FILLED_IN")
    cold_dc, hot_dc = TRUE_COLD_DC - READ_COLD_DC, TRUE_HOT_DC - READ_HOT_DC
    if READ_HOT_DC - READ_COLD_DC < 200 or max(abs(cold_dc), abs(hot_dc)) > 100:
        raise RuntimeError("calibration: two readings 20 K apart, the colder first, within 10 K of true")
    program = Program()
    while True:
        program.turn()


if __name__ == "__main__":
    main()
