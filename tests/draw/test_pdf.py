"""Pages to print: whole, alike every time, with the caution on each, and pictures where the SVG has them."""

from __future__ import annotations

import functools
import io
import re

import numpy as np
import pypdf
import pytest

import eyesim as es
from eyesim.draw.pdf import SHEETS, document
from eyesim.draw.views import both_views
from eyesim.live.session import Session
from eyesim.page import demo
from eyesim.page.feedback_page import feedback_page, feedback_pdf


@functools.cache
def view():
    return both_views(Session(dip_second=16, mark_first=5).settled)


def pages(content):
    return pypdf.PdfReader(io.BytesIO(content)).pages


def words(content):
    return " ".join(" ".join(page.extract_text() for page in pages(content)).split())


@pytest.mark.slow
@pytest.mark.parametrize("sheet", SHEETS)
def test_every_page_bears_the_caution_and_is_of_its_size(sheet):
    content = document(
        "Title", [("question", "Why?"), ("picture", view().svg), ("line", ""), ("picture", view().svg)] * 2, sheet=sheet
    )
    assert len(pages(content)) >= 2
    for page in pages(content):
        assert es.CAUTION in " ".join(page.extract_text().split())
        # ISO 216: A4 is 210 by 297 mm; US letter is 8.5 by 11 inches; a point is 1/72 inch
        size = {"A4": (210.0 / 25.4, 297.0 / 25.4), "letter": (8.5, 11.0)}[sheet]
        assert [float(v) / 72.0 for v in page.mediabox[2:]] == pytest.approx(size, abs=0.001)


def test_the_same_content_gives_the_same_bytes():
    parts = [("words", "Zo\u00eb"), ("picture", view().svg)]
    assert document("T", parts) == document("T", parts)


@pytest.mark.parametrize(
    "text",
    [
        "<b>bold</b> & <para>",
        "</para><font size=90>",
        "&lt;",
        "a" * 3000,
        "\x07\x1b[2J",
        "\u202e\u4e2d\u6587",
        "%s {x}",
        "",
    ],
)
def test_whatever_is_written_is_words(text):
    content = document(text or "T", [("question", text), ("answer", text), ("small", text)])
    plain = re.sub(r"\s", "", "".join(c for c in text if c.isprintable()))
    if plain.isascii():
        assert plain in re.sub(r"\s", "", words(content))
    assert b"/JavaScript" not in content


def test_a_picture_is_painted_where_its_svg_has_it():
    content = document("T", [("picture", view().svg)])
    (page,) = pages(content)
    text = page.extract_text()
    for one in re.findall(r"<text[^>]*>([^<]+)</text>", view().svg):
        assert one.split()[0] in text, one
    found = []
    page.extract_text(visitor_text=lambda text, cm, tm, font, size: found.append((text.strip(), cm, tm)))
    places = {}
    for text, cm, tm in found:
        both = np.array([[tm[0], tm[1], 0], [tm[2], tm[3], 0], [tm[4], tm[5], 1]]) @ np.array(
            [[cm[0], cm[1], 0], [cm[2], cm[3], 0], [cm[4], cm[5], 1]]
        )
        places[text] = both[2, :2]
    svg = {
        text: np.array([float(x), float(y)])
        for x, y, text in re.findall(r'<text x="([^"]+)" y="([^"]+)"[^>]*start"[^>]*>([^<]+)<', view().svg)
    }
    names = [name for name in svg if name in places and list(svg).count(name) == 1][:6]
    assert len(names) >= 4
    a, b = names[0], names[-1]
    scale = np.linalg.norm(places[b] - places[a]) / np.linalg.norm(svg[b] - svg[a])
    for name in names[1:]:  # turned upside down, since y goes up on paper, and else the same
        step = (svg[name] - svg[a]) * (scale, -scale)
        assert places[name] - places[a] == pytest.approx(step, abs=0.05)


@pytest.mark.slow
def test_paper_says_what_the_page_says():
    hour, everybody = demo.assignment(), demo.results().everybody
    for one in (everybody[1], everybody[3], everybody[7]):
        page = re.sub(r"<style>.*?</style>|<svg.*?</svg>|<[^>]+>", " ", feedback_page(hour, one), flags=re.DOTALL)
        page = (
            page.replace("&#x27;", "'")
            .replace("&quot;", '"')
            .replace("&lt;", "<")
            .replace("&gt;", ">")
            .replace("&amp;", "&")
        )
        paper = re.sub(r"\W", "", words(feedback_pdf(hour, one)))
        for mark in one.marks:
            told = re.sub(r"\W", "", mark.words)
            assert told in paper
            assert told in re.sub(r"\W", "", page)
