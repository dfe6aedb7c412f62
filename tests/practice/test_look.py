"""Colours hold WCAG 2.2's contrast in both schemes; nothing inline in a template.

The formula is that of WCAG 2.2, 'relative luminance' and 'contrast ratio'
(w3.org/TR/WCAG22/#dfn-relative-luminance), with its black on white of 21:1 as check.
"""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOKENS = (ROOT / "practice/static/practice/tokens.css").read_text()
TEXT = ("ink", "soft", "leather", "hot", "good", "warn", "bad", "info")
FEET = ("foot-1", "foot-2", "foot-3", "foot-4")
STATES = ("good", "warn", "bad", "info", "hot")


def _luminance(colour: str) -> float:
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [
        one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4
        for one in channels
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _scheme(name: str) -> dict[str, str]:
    blocks = re.findall(r":root \{(.*?)\n\s*\}", TOKENS, flags=re.DOTALL)
    found: dict[str, str] = {}
    for block in blocks[: 1 if name == "light" else 2]:
        found |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block))
    return found


def test_the_formula_gives_the_published_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_can_be_read_on_every_surface(scheme):
    colours = _scheme(scheme)
    pairs = [(text, on) for text in TEXT + FEET for on in ("paper", "card", "sunk")]
    pairs += [(state, f"{state}-wash") for state in STATES]
    pairs += [("ink", f"{state}-wash") for state in STATES]
    pairs += [("on-hot", "hot"), ("on-hot", "hot-press")]
    pairs += [("on-iron", "iron"), ("on-iron-soft", "iron"), ("glow", "iron")]
    pairs += [("on-iron", "iron-lift"), ("on-drawn", "drawn-mark")]
    low = {
        pair: round(contrast(colours[pair[0]], colours[pair[1]]), 2)
        for pair in pairs
        if contrast(colours[pair[0]], colours[pair[1]]) < 4.5
    }
    assert low == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_edge_of_a_control_can_be_seen(scheme):
    colours = _scheme(scheme)
    assert contrast(colours["edge-strong"], colours["card"]) >= 3


def test_style_sheets_take_their_colours_from_the_tokens():
    loose = {}
    for sheet in ROOT.glob("[!.d]*/static/*/*.css"):
        if sheet.name in ("tokens.css", "print.css"):
            continue
        text = re.sub(r"/\*.*?\*/", "", sheet.read_text(), flags=re.DOTALL)
        found = re.findall(r":[^;{]*?(#[0-9a-fA-F]{3,8})\b", text)
        if set(found) - {"#fff"}:
            loose[sheet.name] = found
    assert loose == {}


def test_every_custom_property_that_is_used_is_defined():
    sheets = [path.read_text() for path in ROOT.glob("[!.d]*/static/*/*.css")]
    defined = set(re.findall(r"(--[\w-]+)\s*:", "\n".join(sheets)))
    used = set(re.findall(r"var\((--[\w-]+)", "\n".join(sheets)))
    assert used - defined == set()


PAGES = [
    path
    for path in (ROOT / "templates").rglob("*.html")
    if "pdf" not in path.parts and "mail" not in path.parts
]


@pytest.mark.parametrize(
    "fault",
    [r"\sstyle=", r"<style", r"<script(?![^>]*\bsrc=)", r"\son[a-z]+=", r"javascript:"],
)
def test_nothing_is_inline_in_a_page(fault):
    assert [
        p.name for p in PAGES if re.search(fault, p.read_text(), re.IGNORECASE)
    ] == []


def test_every_icon_that_a_page_names_is_drawn():
    drawn = set(
        re.findall(
            r'<symbol id="([\w-]+)"',
            (ROOT / "practice/static/practice/icons.svg").read_text(),
        )
    )
    named = {
        name
        for path in PAGES
        for name in re.findall(r'{% icon "([\w-]+)"', path.read_text())
    }
    assert named - drawn == set()
