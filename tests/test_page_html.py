"""The page as HTML: sound, the same every time, nothing from outside, fit for a screen reader."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest
from page_cases import HTML, SVG, certified, hand_made, parsed, text_of, visible
from plan_cases import plan_case, with_own_figures

from optimizer.page.palette import GROUNDS, PALETTE, SHAPES, TEXT, contrast
from optimizer.page.plan_page import plan_page
from optimizer.programme.planfile import inputs_sha256

EVIL = '<script>alert("x")</script>'
MOST_BYTES = 600_000


def test_a_strict_parser_takes_it() -> None:
    """html5lib in strict mode raises at the first parse error of the HTML standard."""
    root = parsed(hand_made()[2])
    assert root.get("lang") == "en"
    assert text_of(root.find(f"{HTML}head/{HTML}title")) == "supper on tote"


def test_same_plan_same_bytes_and_small() -> None:
    plan, certificate, page = hand_made()
    assert plan_page(plan, certificate) == page
    assert len(page.encode()) <= MOST_BYTES


def test_nothing_comes_from_outside_and_no_script_is_there() -> None:
    root = parsed(hand_made()[2])
    tags = {element.tag for element in root.iter() if isinstance(element.tag, str)}
    assert not tags & {
        f"{HTML}{tag}" for tag in ("script", "link", "img", "iframe", "object", "base", "form")
    }
    policy = next(e.get("content") for e in root.iter(f"{HTML}meta") if e.get("http-equiv"))
    assert policy == "default-src 'none'; style-src 'unsafe-inline'"
    for element in root.iter():
        for key, value in element.attrib.items():
            assert not key.startswith("on"), key
            if key in ("href", "src") or "url(" in value:
                assert re.fullmatch(r"#[\w-]+|url\(#[\w-]+\)", value), (key, value)
    style = text_of(root.find(f"{HTML}head/{HTML}style"))
    assert "url(" not in style
    assert "@import" not in style


def test_every_name_is_its_own_and_every_link_leads_somewhere() -> None:
    root = parsed(hand_made()[2])
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for element in root.iter():
        for key in ("href", "aria-labelledby"):
            for name in (element.get(key) or "").split():
                assert name.removeprefix("#") in ids, name
        clip = re.fullmatch(r"url\(#(.*)\)", element.get("clip-path") or "")
        assert clip is None or clip[1] in ids


def test_headings_come_in_order() -> None:
    """One h1, and no level left out on the way down (WCAG 2.2, technique G141)."""
    root = parsed(hand_made()[2])
    levels = [int(e.tag[-1]) for e in root.iter() if re.fullmatch(r".*\}h[1-6]", str(e.tag))]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_verdict_and_cautions_come_first() -> None:
    words = visible(parsed(hand_made()[2]))
    assert (
        words.index("met, worst of 912 runs")
        < words.index("Mains voltage and water kill")
        < words.index("Rounds (nominal)")
    )


def test_every_drawing_says_what_it_shows() -> None:
    """An image has a name and a description (WCAG 2.2, 1.1.1), and the same sentence stands below it."""
    root = parsed(hand_made()[2])
    figures = list(root.iter(f"{HTML}figure"))
    assert len(figures) == 4
    for figure in figures:
        caption = text_of(figure.find(f"{HTML}figcaption"))
        for svg in figure.iter(f"{SVG}svg"):
            assert svg.get("role") == "img"
            title, description = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
            assert svg.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
            assert caption == f"{text_of(title)}. {text_of(description)}"
            assert len(list(svg.iter(f"{SVG}text"))) > 5, "text is kept as text"


def test_every_table_has_a_caption_and_headers_with_a_scope() -> None:
    root = parsed(hand_made()[2])
    tables = list(root.iter(f"{HTML}table"))
    assert len(tables) >= 8
    for table in tables:
        assert text_of(table.find(f"{HTML}caption"))
        for head in table.iter(f"{HTML}th"):
            assert head.get("scope") in ("col", "row")
            assert text_of(head)
        for row in table.find(f"{HTML}tbody"):
            assert row[0].get("scope") == "row"


def test_what_scrolls_is_reached_by_keyboard_and_has_a_name() -> None:
    """WCAG 2.2, 2.1.1: a table that scrolls sideways in its frame takes the focus."""
    root = parsed(hand_made()[2])
    regions = [e for e in root.iter(f"{HTML}div") if e.get("class") == "scroll"]
    assert regions
    assert all(
        e.get("tabindex") == "0" and e.get("role") == "region" and e.get("aria-label") for e in regions
    )


def test_every_box_to_tick_has_its_words() -> None:
    root = parsed(hand_made()[2])
    labels = [e for e in root.iter(f"{HTML}label") if e.find(f"{HTML}input") is not None]
    assert len(labels) == len(list(root.iter(f"{HTML}input"))) >= 10
    assert all(len(text_of(label)) > 10 for label in labels)


@pytest.mark.parametrize("ground", ["light", "dark"])
def test_contrast(ground: str) -> None:
    """WCAG 2.2: 4.5 to 1 for words (1.4.3), 3 to 1 for what a chart is read by (1.4.11)."""
    for behind in GROUNDS:
        under = getattr(PALETTE[behind], ground)
        for name in TEXT:
            assert contrast(getattr(PALETTE[name], ground), under) >= 4.5, (name, behind)
        for name in SHAPES:
            assert contrast(getattr(PALETTE[name], ground), under) >= 3.0, (name, behind)


def test_contrast_of_published_pairs() -> None:
    """The worked pairs of WCAG 2.2's own text: black on white 21 to 1; grey #767676 on white passes 4.5."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_no_stand_in_is_left() -> None:
    page = hand_made()[2]
    assert not any(colour.stand_in in page for colour in PALETTE.values())
    assert "var(--bath)" in page


def test_markup_in_a_plan_stays_text() -> None:
    """Titles, names and a currency that hold markup are shown as written, control characters as escapes."""
    plan = plan_case()
    inputs = plan.inputs
    inputs = replace(
        inputs,
        machine=inputs.machine.model_copy(update={"title": EVIL}),
        goal=inputs.goal.model_copy(update={"title": f'" onload="{EVIL}'}),
        tariff=inputs.tariff.model_copy(update={"currency": "<b>$x$</b>"}),
        names=(f"./{EVIL}.toml", "su$p\x1ber$", "sha\x00red", "</style><script>"),
    )
    constants = replace(plan.constants, input_sha256=inputs_sha256(inputs))
    plan = with_own_figures(replace(plan, inputs=inputs, constants=constants))
    page = plan_page(plan, certified(plan))
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f]", page)
    root = parsed(page)
    assert next(root.iter(f"{HTML}script"), None) is None
    assert next(root.iter(f"{HTML}b"), None) is None
    words = visible(root)
    assert f"su$p\\u001ber$ on ./{EVIL}.toml" in words
    assert f'" onload="{EVIL}' in words
    assert "</style><script>" in words
