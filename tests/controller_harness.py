"""Many copies of the MicroPython controller in lock step, in MicroPython, driven by controller_harness.mjs.

What comes in and goes out at a step is that of controller_harness.c, byte for byte. `HOOKS` stands before it.
"""

import struct

import uctypes
import wash_controller
import wash_timing

H_BATH, H_FULL, H_COVERED, H_OVERFLOW, H_FLAG, H_DETERGENT, H_HALF_FLAG = 1, 2, 4, 8, 16, 32, 64
H_LID, H_LID_UNSAID, H_COOL = 128, 256, 512
I_BATH, I_FULL, I_COVERED, I_OVERFLOW, I_START, I_STOP, I_POWER, I_SKIP = 1, 2, 4, 8, 16, 32, 64, 128
A_SKIP_ROUND, A_LID_OPEN, A_TANK_IS_COOL, A_WRITE_LOST, A_SPOILT, A_STICKS = 1, 2, 4, 8, 16, 32
T_BATH_APART, T_OPEN, T_OVERFLOW, T_LID = 1, 2, 4, 8
IN, OUT = "<hBBHBBI", "<BBBBHBBBBhIBBBBBB2x"
IN_BYTES, OUT_BYTES = 12, 24
NO_CALL = 2

told = bytearray(4 + IN_BYTES * len(HOOKS))  # noqa: F821
did = bytearray(OUT_BYTES * len(HOOKS))  # noqa: F821
IN_AT, OUT_AT = uctypes.addressof(told), uctypes.addressof(did)
PROGRAMMES = wash_controller.programmes(wash_timing)


class Copy(wash_controller.Hooks):
    """One copy of the controller, and the hooks that it has."""

    def __init__(self, has):
        self.wash = None
        self.powered = False
        self.kept = self.before = (False, False)  # running, cool
        self.now_ms = self.bath_dc = self.flags = self.twice = self.reads = self.asks = 0
        self.on = self.state = self.round = self.error = 0
        self.dose_dg = self.doses = 0
        self.bath = self._bath if has & H_BATH else None
        self.full = self._full if has & H_FULL else None
        self.covered = self._covered if has & H_COVERED else None
        self.overflow = self._overflow if has & H_OVERFLOW else None
        self.detergent = self._detergent if has & H_DETERGENT else None
        self.was_running = self._was_running if has & (H_FLAG | H_HALF_FLAG) else None
        self.set_running = self._set_running if has & H_FLAG else None
        self.was_cool = self._was_cool if has & H_COOL else None
        self.set_cool = self._set_cool if has & H_COOL else None
        self.lid_shut = self._lid_shut if has & H_LID else None
        self.no_lid_switch = (not has & H_LID) != bool(has & H_LID_UNSAID)

    def clock_ms(self):
        return self.now_ms

    def outputs(self, on):
        self.on = on

    def _differs(self, how):
        self.reads += 1
        return not self.reads & 1 and self.twice & how

    def _bath(self):
        dc = self.bath_dc + (21 if self._differs(T_BATH_APART) else 0)
        return dc if self.flags & I_BATH else None

    def _full(self):
        return not self._differs(T_OPEN) and self.flags & I_FULL

    def _covered(self):
        return not self._differs(T_OPEN) and self.flags & I_COVERED

    def _overflow(self):
        return self._differs(T_OVERFLOW) or self.flags & I_OVERFLOW

    def _lid_shut(self):
        return not self._differs(T_LID) and not self.asks & A_LID_OPEN

    def _detergent(self, detergent_dg):
        self.dose_dg = detergent_dg
        self.doses += 1

    def _was_running(self):
        return self.kept[0]

    def _set_running(self, running):
        self._keep((bool(running), self.kept[1]))

    def _was_cool(self):
        return self.kept[1]

    def _set_cool(self, cool):
        self._keep((self.kept[0], bool(cool)))

    def _keep(self, kept):
        if kept != self.kept and not self.asks & A_STICKS:
            self.before, self.kept = self.kept, kept

    def step(self, now_ms, place):
        """Do what a step asks for, and put down what came of it."""
        self.bath_dc, flags, asks, more, choose, self.twice, skew_ms = struct.unpack_from(IN, told, place)
        self.flags, self.asks = flags, asks
        self.now_ms = (now_ms + skew_ms) & 0xFFFFFFFF
        answer = asked = NO_CALL
        self.dose_dg = self.doses = self.reads = 0
        if not flags & I_POWER:
            self.powered = False
            self.on = 0
            return self.answer(answer, asked)
        if not self.powered:
            self.powered = True
            running, cool = self.before if asks & A_WRITE_LOST else self.kept
            self.kept = self.before = (running, cool and not asks & A_SPOILT)
            self.wash = wash_controller.Wash(self, PROGRAMMES[0])
            answer = self.wash.hooks is not None
        wash = self.wash
        if choose:
            asked = wash.choose(PROGRAMMES[choose - 1] if choose <= len(PROGRAMMES) else None)
        if asks & A_SKIP_ROUND:
            asked = wash.skip()
        if asks & A_TANK_IS_COOL:
            asked = wash.tank_is_cool()
        if flags & I_START:
            answer = wash.start()
        if flags & I_STOP:
            wash.stop()
        if not flags & I_SKIP:
            for _ in range(1 + more):
                wash.step()
        self.state, self.round, self.error = wash.state, wash.round, wash.error
        name, state, error, number, rounds_left, left_s, bath_dc, hot = wash.view()
        assert name == wash.programme.name
        state, error = wash_controller.STATE_TEXTS.index(state), wash_controller.ERROR_TEXTS.index(error)
        seen_dc = -32768 if bath_dc is None else bath_dc
        seen_lid = 0 if wash.hooks is None else wash.lid_open + 2 * wash.held + 4 * hot
        return self.answer(answer, asked, (seen_dc, left_s, number, rounds_left, state, error, seen_lid))

    def answer(self, answer, asked, seen=(-32768, 0, 0, 0, 0, 0, 0)):
        """Give what goes out of a step."""
        standing = self.on, self.state, self.round, self.error, self.dose_dg, int(self.kept[0])
        return standing + (int(answer), self.doses, int(asked)) + seen + (int(self.kept[1]),)


copies = [Copy(has) for has in HOOKS]  # noqa: F821


def step():
    """Step every copy once."""
    now_ms = struct.unpack_from("<I", told, 0)[0]
    for number, copy in enumerate(copies):
        struct.pack_into(OUT, did, OUT_BYTES * number, *copy.step(now_ms, 4 + IN_BYTES * number))
