"""A held bath that is looked at in more parts, for doses that are to be nearer still: its bounds at points.

*No published source*: inequalities between bounds, and between a bound and the check's own integration.
"""

from __future__ import annotations

import numpy as np
import pytest
from bound_cases import allowed, boxes_of, everything, inside, judged, sub_boxes
from test_check_bounds_swing import rig_of, table_of

from optimizer.check.bound_asked import Asked
from optimizer.check.bound_rows import values_asked
from optimizer.check.box import box_of


@pytest.mark.parametrize("by_reading", [False, True])
def test_in_more_parts_a_dose_is_bounded_more_closely_and_no_point_gets_less(*, by_reading: bool) -> None:
    rig, table, aim = rig_of(), table_of(1500, 30), everything()
    low, high = sub_boxes(box_of(rig), 24, 3)
    # Thinner boxes, as those are that are looked at finely.
    high = low + 0.4 * (high - low)
    boxes, (points, own) = boxes_of(box_of(rig), low, high), inside(low, high, 20, 5)
    keys = tuple("dose." + dose.name for dose in aim.dose)
    coarse, fine = (
        values_asked(table, rig, aim, boxes, Asked(keys, by_reading=by_reading, finely=finely))
        for finely in (False, True)
    )
    found, gains = judged(table, rig, aim, points), []
    for key in coarse:
        bound = fine[key][own]
        assert np.all(bound - found[key][0] <= allowed(key, bound))
        assert np.all(fine[key] >= coarse[key] * (1.0 - 1e-3) - 1e-9)
        gains.append(float((fine[key] / np.maximum(coarse[key], 1e-9)).max()) - 1.0)
    assert max(gains) > 1e-3
