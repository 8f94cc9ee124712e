"""A resident's practice on one page that opens anywhere: misses, raters, learning curve, and what was not read."""

from __future__ import annotations

from html import escape
from pathlib import Path

from ..chart.practice import curve_chart, miss_chart
from ..practice.skills import agreements, skills
from ..practice.summary import curve_of
from ..text.files import refuse_to_overwrite, write_all
from ..text.tables import table_bytes
from .html import html_page

FILES = ("practice.html", "practice-skill.csv")
"""What is kept."""
_STYLE = (
    "body{font-family:system-ui,sans-serif;max-width:62em;margin:2em auto;padding:0 1em;line-height:1.45}"
    ".caution{font-weight:bold}"
)
_COLUMNS = (
    *("quantity", "attempts grouped by", "group", "n", "unit", "bias", "bias low", "bias high"),
    *("spread", "spread low", "spread high", "own bias", "own spread", "cohort's spread"),
)


def practice_page(log, rates=None) -> str:
    """Page (HTML text) of a practice log, which needs nothing else. Raises LearnerError if the log holds no attempts.

    Parameters
    ----------
    log : Log
    rates : practice.cusum.Rates or None
    """
    curve = curve_of(log, rates)
    parts = [_paragraph(log), "<h2>How hands miss</h2>", miss_chart(log).html]
    if any(row.way for row in log.rows):
        parts += ["<h2>Towards oneself and away</h2>", miss_chart(log, by="way").html]
    parts += ["<h2>Learning curve</h2>", curve_chart(curve).html]
    if agreed := agreements(log):
        parts += ["<h2>Who measured</h2>", *map(_paragraph, agreed)]
    if log.bad_lines:
        parts += ["<h2>Not read</h2>", "<ul>", *(f"<li>{escape(repr(bad))}</li>" for bad in log.bad_lines), "</ul>"]
    parts.append("<p>Tolerances, rates and the weight of the cohort are chosen for teaching.</p>")
    return html_page("Practice", "".join(parts), style=_STYLE)


def write_practice(log, folder, *, overwrite=False, rates=None):
    """Write page and table of a practice log into a folder, each whole or not at all.

    Raises LearnerError if earlier results are there and are not to be overwritten, nothing can be written, or the log
    is empty.

    Parameters
    ----------
    log : Log
    folder : str or Path
        Made if it is not there.
    overwrite : bool
    rates : practice.cusum.Rates or None

    Returns
    -------
    tuple of str
        Names of the files.
    """
    folder = Path(folder)
    if not overwrite:
        refuse_to_overwrite(folder, FILES)
    content = practice_page(log, rates).encode(), table_bytes([_COLUMNS, *_rows(log)])
    write_all(folder, dict(zip(FILES, content, strict=True)))
    return FILES


def _rows(log):
    for by in (None, "side", "way"):
        for one in skills(log, by):
            own = ["" if own is None else round(own.value, 4) for own in (one.own_bias, one.own_spread)]
            ends = [round(float(v), 4) for e in (one.bias, one.spread) for v in (e.value, e.low, e.high)]
            yield [one.quantity, by or "", one.group, one.n, one.bias.unit, *ends, *own, round(one.prior.spread, 4)]


def _paragraph(one):
    return f"<p>{escape(repr(one))}</p>"
