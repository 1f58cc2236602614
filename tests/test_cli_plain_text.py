"""A terminal without the signs of charts and units still gets a chart and units."""

from __future__ import annotations

import os
import subprocess
import sys

from optimizer.cli.terminal import STAND_INS, use_stand_ins


def test_every_sign_of_a_chart_has_a_stand_in_of_one_column() -> None:
    """The signs by hand, as the reports use them."""
    signs = "█▇▆▅▄▃▂▁┴─·…−–×≤"
    plain = signs.encode("ascii", use_stand_ins()).decode("ascii")
    assert len(plain) == len(signs)
    assert "?" not in plain
    assert set(STAND_INS) == set(signs)


def test_letters_lose_their_marks_and_strangers_are_question_marks() -> None:
    assert "é5 °C ✓".encode("ascii", use_stand_ins()) == b"e5  C ?"


def test_what_the_encoding_has_is_left_as_it_is() -> None:
    assert "60 °C …".encode("latin-1", use_stand_ins()) == b"60 \xb0C ."


def test_an_ascii_terminal_gets_plain_signs() -> None:
    """`profiles show` of a machine prints degrees and squares as its file has them."""
    ascii_only = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    command = [sys.executable, "-m", "optimizer", "profiles", "show", "clubhouse"]
    done = subprocess.run(command, capture_output=True, env=ascii_only, check=True)
    assert done.stdout.isascii()
    assert b"?" not in done.stdout
