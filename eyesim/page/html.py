"""Pages that open in any browser and need nothing else."""

from __future__ import annotations

from html import escape

from ..text.caution import CAUTION

STYLE = """
body { font-family: system-ui, "Segoe UI", "DejaVu Sans", Arial, sans-serif; max-width: 60em; margin: 2em auto;
  padding: 0 1em; line-height: 1.45; color: #18222b; background: #fff; }
.caution { border: 1px solid; padding: 0.6em 1em; }
.lead { font-size: 1.2em; }
section { border-top: 1px solid #cfd4d6; padding: 0.6em 0; break-inside: avoid; }
h3 { margin: 0.4em 0; font-size: 1.05em; }
.small { font-size: 0.9em; color: #4f5b66; }
.answer { margin: 0.4em 0; padding-left: 1em; border-left: 4px solid #94b8cb; overflow-wrap: anywhere; }
.told { margin: 0.4em 0; }
figure { margin: 0.8em 0; break-inside: avoid; }
figure svg { max-width: 46em; height: auto; }
table { border-collapse: collapse; }
th, td { text-align: left; padding: 0.25em 0.8em 0.25em 0; border-bottom: 1px solid #e2e6e8; vertical-align: top; }
td.number { text-align: right; font-variant-numeric: tabular-nums; }
.bar { position: relative; width: 9em; height: 0.8em; background: #eef2f4; display: inline-block; }
.bar i { position: absolute; top: 0; bottom: 0; background: #005b94; left: 0; }
.bar b { position: absolute; top: 30%; bottom: 30%; background: #9c3d00; }
"""


def html_page(title, body, *, heading=None, style=STYLE) -> str:
    """Page with its heading and the caution.

    Parameters
    ----------
    title : str
        Of the window; escaped here.
    body : str
        HTML: what came from outside must be escaped in it.
    heading : str or None
        As it stands above; by default the title.
    style : str
        CSS; the caution is of the class "caution".
    """
    head = (
        f'<meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{style}</style>'
    )
    above = f"<h1>{escape(heading or title)}</h1>\n<p class='caution'>{escape(CAUTION)}</p>"
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head><body>\n{above}\n{body}\n</body></html>\n'
