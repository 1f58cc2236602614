"""A page of a hand-made plan, and readers of it. All data is invented."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from xml.etree.ElementTree import Element

import html5lib
import numpy as np
from plan_cases import certificate_case, plan_case

from optimizer.check.box import box_of
from optimizer.check.certificate import Certificate, Row
from optimizer.check.certify import Runs
from optimizer.check.meters import Recorder
from optimizer.page.plan_page import plan_page
from optimizer.plan_and_prove import Proven
from optimizer.programme.plan import Plan
from optimizer.whatif.frontier import Frontier, Point

HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"


def certified(plan: Plan, *rows: Row) -> Certificate:
    """Give a plan a certificate with the check's nominal run in it, and one cold and one hot point."""
    box = box_of(plan.inputs.machine)
    recorder = Recorder(case=0)
    runs = Runs(plan.constants, plan.inputs.machine, plan.inputs.goal, plan.inputs.circuit, box)
    runs.run(box.nominal[None], others=(recorder,))
    points = {
        key: box.table(box.vertices(np.array([(name in hot) for name in box.names])))
        for key, hot in (("dose.grease", ()), ("tank.bath_c", ("voltage_v", "inlet_c", "room_c")))
    }
    made = certificate_case(plan.constants, *rows)
    return replace(made, trace=recorder.trace(), worst_points=points)


@cache
def hand_made() -> tuple[Plan, Certificate, str]:
    """A plan, its certificate and its page."""
    plan = plan_case()
    certificate = certified(plan)
    return plan, certificate, plan_page(plan, certificate)


def frontier_case() -> Frontier:
    """Four points of a frontier, all with the rounds of the same hand-made plan."""
    plan, certificate, _ = hand_made()
    points = []
    for money, minutes in ((0.50, 150.0), (0.56, 90.0), (0.80, 70.0), (1.10, 65.0)):
        costs = replace(plan.costs, money=money, duration_min=minutes)
        points.append(Point(Proven(replace(plan, costs=costs), certificate), (money, minutes)))
    return Frontier(plan.inputs, ("cost", "minutes"), tuple(points), knee=1, missed=0)


def parsed(page: str) -> Element:
    """Read a page as a browser does; the parser refuses whatever the standard calls an error."""
    parser = html5lib.HTMLParser(strict=True)
    found: Element = parser.parse(page)
    return found


def text_of(element: Element) -> str:
    """All text of an element, blanks made one."""
    return " ".join("".join(element.itertext()).split())


def visible(root: Element) -> str:
    """Text of the page without its style."""
    body = root.find(f"{HTML}body")
    assert body is not None
    return text_of(body)


def numbers(text: str) -> list[float]:
    """Numbers in a text."""
    return [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", text)]
