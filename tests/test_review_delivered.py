"""What of a plan a log holds, by hand: stretches of a log held against its phases, in order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.check.phases import OFF, Outputs, phases
from optimizer.programme.constants import Constants, Round
from optimizer.review.delivered import Delivered, delivered
from optimizer.review.run_log import RunLog, Segment

FILL, SPRAY, DRAIN = Outputs(inlet=True), Outputs(wash_pump=True), Outputs(drain_pump=True)
HEATS = Outputs(wash_pump=True, element=True)


class TestDelivered:
    """By hand: a wash that is heated for 60 of its 90 s, and a rinse."""

    table = Constants(
        10,
        2,
        (Round("wash", 60, 0, 90, 60, 0, 0, 30, 50), Round("rinse", 60, 0, 40, 0, 0, 0, 30, 0)),
        0,
        "timed",
        "timed",
        0,
        750,
        "",
    )

    def log(self, *segments: tuple[float, Outputs]) -> RunLog:
        ends = np.cumsum([lasts for lasts, _ in segments])
        starts = ends - [lasts for lasts, _ in segments]
        found = tuple(
            Segment(float(start), float(end), on)
            for start, end, (_, on) in zip(starts, ends, segments, strict=True)
        )
        return RunLog("run.csv", np.arange(0.0, ends[-1] + 1.0), None, None, None, found, (), False)

    whole = ((10, DRAIN), (2, OFF), (60, FILL), (2, OFF), (60, HEATS), (30, SPRAY), (2, OFF), (30, DRAIN),
             (2, OFF), (60, FILL), (2, OFF), (40, SPRAY), (2, OFF), (30, DRAIN))  # fmt: skip

    def test_a_run_as_written(self) -> None:
        done = delivered(self.table, self.log((50, OFF), *self.whole, (90, OFF)))
        assert done.complete
        assert done.start_s == 50.0
        assert [step.phase for step in done.steps] == phases(self.table)
        assert [step.lasted_s for step in done.steps] == [phase.longest_s for phase in phases(self.table)]

    def test_it_may_be_cut_off(self) -> None:
        done = delivered(self.table, self.log(*self.whole[:6]))
        assert not done.complete
        assert done.odd is None
        assert done.left_out[0].name == "gap"

    def test_a_gap_may_fall_between_two_rows(self) -> None:
        done = delivered(self.table, self.log(*(one for one in self.whole if one[1] != OFF)))
        assert done.complete

    def test_another_plan(self) -> None:
        done = delivered(self.table, self.log(*self.whole[:5], (30, DRAIN)))
        assert done.odd is not None
        assert (done.odd.start_s, done.odd.outputs) == (134.0, DRAIN)

    def test_a_second_by_the_rows_is_none(self) -> None:
        """A row a second: 59 or 61 s of a fill of 60 are 60; 57 are 57."""
        for lasts, counted in ((59, 60), (61, 60), (57, 57)):
            done = delivered(self.table, self.log(*self.whole[:2], (lasts, FILL), *self.whole[3:]))
            assert done.steps[2].lasted_s == counted


class TestFillsByASwitch:
    """By hand: a machine whose fill ends by a level switch, at the longest after 60 s."""

    table = replace(TestDelivered.table, fill_control="level")

    def done(self, first_s: int) -> Delivered:
        whole = [(first_s if n == 2 else lasts, on) for n, (lasts, on) in enumerate(TestDelivered.whole)]
        return delivered(self.table, TestDelivered().log(*whole))

    def test_what_came_in_is_what_the_switch_says(self) -> None:
        done = self.done(47)
        [fill, capped] = [one for one in done.to_simulate if one.name == "fill"]
        assert (fill.end, fill.longest_s) == ("level", 60)
        assert done.fills_s == [47]
        assert (capped.end, capped.longest_s) == ("time", 60), "the longest it may: no switch ended it"

    def test_a_log_that_ends_within_a_fill_shows_no_switch(self) -> None:
        done = delivered(self.table, TestDelivered().log(*TestDelivered.whole[:2], (47, FILL)))
        assert done.fills_s == []
