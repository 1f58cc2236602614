"""A trial book to fill in."""

from __future__ import annotations

from pathlib import Path

from optimizer.trial.trial_book import COLUMNS

HOW = """\
# A trial book: one line for each wash and soil. It is empty: every line below that
# begins with # is a remark or an invented example.
#
# Put the same soil in the same way on as many pieces as you can (12 do well), dry
# it the same way, and spread them over the basket. Wash. A piece is clean when
# nothing is seen, felt or comes off on a white cloth; count before you look at what
# the curve says. Do not change detergent, grams or loading between washes.
#
# wash     a name for the wash; two soils in one wash have a line each
# date     year first
# soil     a dose of the goal, by its name
# plan     file of the plan that ran, beside this one: scullion trial next writes it
# log      or a log of the wash: time_s, ware_c (or bath_c), wash_pump (0 or 1)
# minutes  or by hand: minutes of spray with detergent, and
# ware_c   the temperature of the ware meanwhile (thermometer on a piece)
# pieces   how many with this soil were washed
# clean    how many of them came out clean
# remark   anything; quotes around it where it holds a comma
#
# Caution: mains voltage, hot elements and scalding water. Cool before you reach in.
"""

TOML_BODY = """
kind = "trials"
title = "My trials"
# whose doses are the soils: a shipped goal, or the path of your own
goal = "everyday"

# [[trial]]
# wash = "w1"
# date = 2026-03-02
# soil = "grease"
# plan = "wash-1.json"
# pieces = 12
# clean = 9
# remark = "dried overnight"

# [[trial]]
# wash = "w2"
# date = 2026-03-03
# soil = "grease"
# minutes = 12
# ware_c = 50
# pieces = 12
# clean = 11
"""

CSV_BODY = f"""\
{",".join(COLUMNS)}
# w1,2026-03-02,grease,wash-1.json,,,,12,9,dried overnight
# w2,2026-03-03,grease,,,12,50,12,11,
"""


def blank_book(path: Path) -> str:
    """Write an empty trial book in the form that the name of its file says, with examples as remarks."""
    return HOW + (CSV_BODY if path.suffix.lower() == ".csv" else TOML_BODY)
