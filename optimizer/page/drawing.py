"""A chart as SVG that stands in a page: text kept as text, colours of the page, a name and a description."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from optimizer.errors import escaped
from optimizer.page.palette import PALETTE, stand_in

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SVG = "http://www.w3.org/2000/svg"
XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
POINTS_PER_INCH = 72.0


@dataclass(frozen=True)
class Frame:
    """How wide a chart is drawn, and how large its letters are, in units of the SVG: pixels of a page.

    ``samples`` are the points of a line, ``right`` is the room right of the axes.
    """

    name: str
    width: float
    letters: float
    samples: int
    right: float

    @property
    def narrow(self) -> bool:
        """Whether it is the drawing for a phone."""
        return self.name == "narrow"


FRAMES = (Frame("wide", 860.0, 13.0, 430, 108.0), Frame("narrow", 350.0, 12.0, 200, 12.0))


@dataclass(frozen=True)
class Chart:
    """A chart with its words; `svgs` holds one drawing a frame."""

    key: str
    title: str
    words: str
    svgs: tuple[str, ...]


Draw = Callable[["Figure", Frame], int]
"""Draws into a figure; gives the lines of words that its legend takes."""

LEFT, BOTTOM, LINE = 84.0, 44.0, 20.0
"""Room beside the axes, and of a line of words above them, in pixels: the same in all charts, so that their
clocks stand below each other."""


def chart(key: str, title: str, words: str, height: float, draw: Draw) -> Chart:
    """Draw a chart for wide pages and for phones; `height` is that of the wide one, in pixels."""
    return Chart(key, title, words, tuple(_svg(key, title, words, height, draw, frame) for frame in FRAMES))


def _svg(key: str, title: str, words: str, height: float, draw: Draw, frame: Frame) -> str:
    from io import StringIO

    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with _style(frame):
        inches = (frame.width / POINTS_PER_INCH, height / POINTS_PER_INCH)
        figure = Figure(figsize=inches)
        FigureCanvasSVG(figure)
        lines = draw(figure, frame) + 1
        figure.subplots_adjust(
            left=LEFT / frame.width,
            right=1.0 - frame.right / frame.width,
            bottom=BOTTOM / height,
            top=1.0 - (lines + 0.3) * LINE / height,
            hspace=0.12,
        )
        out = StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    return tidied(out.getvalue(), f"{key}-{frame.name}", title, words, frame.name)


@contextmanager
def _style(frame: Frame) -> Iterator[None]:
    import matplotlib

    ink, quiet = stand_in("ink"), stand_in("quiet")
    with matplotlib.rc_context(
        {
            "svg.fonttype": "none",
            "svg.hashsalt": "scullion",
            "text.parse_math": False,
            "font.size": frame.letters,
            "axes.titlesize": frame.letters,
            "axes.labelsize": frame.letters,
            "xtick.labelsize": frame.letters,
            "ytick.labelsize": frame.letters,
            "legend.fontsize": frame.letters,
            "legend.frameon": False,
            "text.color": ink,
            "axes.labelcolor": ink,
            "axes.edgecolor": quiet,
            "axes.grid": True,
            "axes.axisbelow": True,
            "grid.color": stand_in("line"),
            "grid.linewidth": 0.7,
            "xtick.color": quiet,
            "xtick.labelcolor": ink,
            "ytick.color": quiet,
            "ytick.labelcolor": ink,
            "axes.spines.top": False,
            "axes.spines.right": False,
            "path.simplify": True,
            "path.simplify_threshold": 0.3,
        }
    ):
        yield


_NUMBER = re.compile(r"-?\d+\.\d{2,}")
_FONT = re.compile(r"font: (?:\w+ )*?([\d.]+)px [^;]*")


def tidied(text: str, prefix: str, title: str, words: str, frame: str) -> str:
    """Make a drawing fit for a page.

    Names of its parts become its own, so that two drawings in a page never share one; numbers keep two
    decimals; the font is the page's; stand-ins become the page's colours; and it says what it shows.
    """
    ET.register_namespace("", SVG)
    root = ET.fromstring(text)
    used = {
        value.partition("#")[2].rstrip(")")
        for part in root.iter()
        for value in part.attrib.values()
        if "#" in value
    }
    for parent in list(root.iter()):
        for child in [one for one in parent if one.tag in (f"{{{SVG}}}metadata", f"{{{SVG}}}style")]:
            parent.remove(child)
    for part in root.iter():
        href = part.attrib.pop(XLINK_HREF, None)
        if href is not None:
            part.set("href", f"#{prefix}-{href[1:]}")
        name = part.attrib.pop("id", None)
        if name in used:
            part.set("id", f"{prefix}-{name}")
        for key, value in list(part.attrib.items()):
            part.set(key, _value(key, value, prefix))
        part.tail = None
        if part.tag != f"{{{SVG}}}text":
            part.text = None
    for key in ("width", "height", "version"):
        root.attrib.pop(key, None)
    root.set("class", f"chart {frame}")
    root.set("role", "img")
    root.set("aria-labelledby", f"{prefix}-title {prefix}-desc")
    for place, (tag, said) in enumerate((("title", title), ("desc", words))):
        element = ET.Element(f"{{{SVG}}}{tag}", {"id": f"{prefix}-{tag}"})
        element.text = escaped(said)
        root.insert(place, element)
    return ET.tostring(root, encoding="unicode")


def _value(key: str, value: str, prefix: str) -> str:
    if key in ("d", "points", "x", "y", "x1", "x2", "y1", "y2", "width", "height", "transform", "viewBox"):
        return " ".join(_NUMBER.sub(lambda found: f"{float(found[0]):.1f}", value).split())
    if key == "clip-path":
        return value.replace("url(#", f"url(#{prefix}-")
    if key == "style":
        value = _FONT.sub(r"font-size: \1px", value)
        for name, colour in PALETTE.items():
            value = value.replace(colour.stand_in, f"var(--{name})")
    return value
