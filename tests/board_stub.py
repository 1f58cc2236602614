"""A board that is not there, for wash_main.py in MicroPython: the module `machine`, and a clock of its own.

Runs in MicroPython. What the program does with its pins is printed as it changes, as board_stub.c does.
"""

import sys

EVENTS = []  # (ms, pin, level), or (ms, "clock", 0) where the clock stops


class Clock:
    """Stands for the module time."""

    now_ms = (1 << 30) - 5000  # it runs over soon, as the real one does
    begun_ms = now_ms
    stopped = False

    def ticks_ms(self):
        return self.now_ms & ((1 << 30) - 1)

    def ticks_diff(self, later, earlier):
        half = 1 << 29
        return ((later - earlier + half) & ((1 << 30) - 1)) - half

    def passed_ms(self):
        return self.now_ms - self.begun_ms


clock = Clock()


def say(*words):
    print(clock.passed_ms(), *words)  # noqa: T201


class Pin:
    IN, OUT, PULL_UP = 0, 1, 2
    levels = {}  # noqa: RUF012

    def __init__(self, number, mode, pull=None, value=None):
        self.number, self.mode = number, mode
        if mode == Pin.OUT:
            Pin.levels[number] = value
            say("output", number, value)
        else:
            Pin.levels.setdefault(number, 1)

    def value(self, level=None):
        if level is None:
            return Pin.levels[self.number]
        if Pin.levels[self.number] != level:
            say("write", self.number, level)
        Pin.levels[self.number] = level
        return level


class ADC:
    counts = 400 << 6

    def __init__(self, number):
        self.number = number

    def read_u16(self):
        return ADC.counts


class WDT:
    def __init__(self, timeout):
        self.timeout_ms = timeout
        WDT.only = self
        self.fed_ms = clock.now_ms
        self.turns = 0

    def feed(self):
        self.fed_ms = clock.now_ms
        self.turns = 0


sys.modules["machine"] = sys.modules[__name__]


def run(wash_main, events, until_ms):
    """Turn the loop, a millisecond a turn, and let the events happen."""
    wash_main.time = clock
    program = wash_main.Program()
    events = list(events)
    while clock.passed_ms() < until_ms:
        clock.now_ms += 0 if clock.stopped else 1
        while events and clock.passed_ms() >= events[0][0]:
            _, pin, level = events.pop(0)
            if pin == "clock":
                clock.stopped = True
            elif pin == "adc":
                ADC.counts = level << 6
            else:
                Pin.levels[pin] = level
        program.turn()
        WDT.only.turns += 1
        if clock.now_ms - WDT.only.fed_ms > WDT.only.timeout_ms or WDT.only.turns > 100000:
            return say("watchdog")
    return say("end")
