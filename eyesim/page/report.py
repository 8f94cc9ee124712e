"""What is printed and kept of a plan operated many times: words, a table, pictures, and a page that holds them all."""

from __future__ import annotations

import base64
import dataclasses
from html import escape
from pathlib import Path

from ..chart import cloud, histograms, refractions, tilt_rose
from ..chart.shares import percent_long
from ..draw import front_view, side_view
from ..draw.picture import Chart, Picture
from ..eye.checks import LearnerError
from ..sight.refraction import signed
from ..study import Population
from ..study.population import eye_in_words
from ..study.published import HANDS_AND_EYES, ONLY_HANDS
from ..study.summary import operations
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from ..text.caution import CAUTION
from ..text.files import check_writable, reason, refuse_to_overwrite, remove, write_whole
from .html import html_page

_STYLE = """
body { font-family: sans-serif; max-width: 60em; margin: 2em auto; padding: 0 1em; line-height: 1.45; }
.caution { border: 1px solid; padding: 0.6em 1em; }
.lead { font-size: 1.25em; }
.row { display: flex; flex-wrap: wrap; gap: 1.5em; }
.row figure { flex: 1 1 22em; }
figure { break-inside: avoid; margin: 1.2em 0; }
figure svg, figure img { display: block; max-width: 100%; height: auto; margin: 0 auto; }
figcaption { font-size: 0.9em; text-align: center; margin-top: 0.3em; }
h2 { clear: both; }
.beside p { margin: 0 0 0.7em; }
.after { clear: both; }
@media (min-width: 56em) { .beside figure { float: left; width: 35.4em; margin: 0 1.5em 0.7em 0; } }
pre { white-space: pre-wrap; font-size: 0.85em; }
"""
_BODY = """<p class="lead">{lead}</p>
{caveat}
<h2>The plan, if everything comes out as aimed</h2>
<p>{aimed}</p>
<div class="row">{plan}</div>
<h2>The operations</h2>
<div class="beside">{cloud}
{words}</div>
<div class="after">{outcomes}</div>
<h2>The plan's file</h2>
<pre>{file}</pre>"""
_CAPTIONS = {
    "cloud.png": "Where the optic's centre came to lie, seen from in front.",
    "refraction.png": "The refraction surprise, and the cylinder that is left.",
    "tilt-rose.png": "Which edge of the optic lies further back, and by how much.",
    "histograms.png": "How the lenses lie, and how hard their haptics pull.",
}
"""A picture's numbers are said in words beside it, and whole in its alternative text."""


@dataclasses.dataclass(frozen=True)
class Report:
    """A plan, operated: what to say about it, and what to keep.

    Attributes
    ----------
    title : str
    lead : str
        What matters most.
    caveat : str
        What is left out of that, where it could be missed.
    aimed : str
        The plan itself, in words.
    lines : tuple of str
        The report in words, with intervals.
    plan, outcomes : dict of str to Picture or Chart
        Pictures of the plan as aimed, and of the operations, by file name.
    table : pandas.DataFrame
        One row an operation.
    """

    title: str
    lead: str
    caveat: str
    aimed: str
    lines: tuple[str, ...]
    plan: dict[str, Picture]
    outcomes: dict[str, Chart]
    table: object

    @property
    def text(self) -> str:
        """The whole report as printed."""
        return "\n".join(
            [self.title, "", self.lead, *filter(None, [self.caveat]), "", self.aimed, *self.lines, "", CAUTION]
        )


FILES = (
    *("report.html", "report.txt", "outcomes.csv", "plan-front.svg", "plan-side.svg"),
    *("cloud.png", "refraction.png", "tilt-rose.png", "histograms.png", "plan.toml"),
)
"""What `write_report` may write, in the order in which to look at it."""


def report_on(plan, progress=None) -> Report:
    """Operate a plan and say what came of it. Raises LearnerError if the plan asks for what cannot be.

    Parameters
    ----------
    plan : eyesim.study.Plan
    progress : bool or None
        As for `eyesim.operate`.
    """
    outcomes = plan.operate(progress)
    many, aimed = isinstance(plan.eye, Population), outcomes.planned
    drawn = {}
    if aimed.settled:
        drawn = {"plan-front.svg": front_view(aimed), "plan-side.svg": side_view(aimed)}
    summary = outcomes.summary()
    refracted = bool(summary.sight.within) and not summary.sight.no_refraction
    charts = {}
    if summary.settled.value:
        charts["cloud.png"] = cloud(outcomes, colour="surprise" if refracted else None)
    if refracted:
        charts["refraction.png"] = refractions(outcomes)
    if summary.settled.value:
        charts |= {"tilt-rose.png": tilt_rose(outcomes), "histograms.png": histograms(outcomes)}
    times = "once" if plan.n == 1 else f"{plan.n:,} times"
    who = f"{plan.eye!r}." if many else f"Operated {times}, one {eye_in_words(plan.eye)}."
    lines = (
        who,
        *repr(summary).splitlines(),
        f"Seed {plan.rng}, {plan.draws} draws: the same plan gives the same numbers again.",
    )
    aimed = f"As aimed{', in their mean eye' if many else ''}: {aimed!r}."
    caveat = HANDS_AND_EYES if _at_its_word(outcomes) else ONLY_HANDS
    caveat = caveat if refracted else ""
    return Report(plan.title, _lead(outcomes, summary), caveat, aimed, lines, drawn, charts, outcomes.frame())


def _at_its_word(outcomes):
    """Whether refractions are held against a target that the lens was not chosen for."""
    return outcomes.power == "given" and outcomes.target is not None


def _lead(outcomes, summary):
    """Two shares, each in a sentence of its own: they do not fall on the same eyes."""
    if not summary.settled.value:
        return f"Of {operations(outcomes.n)} none settled."
    lead = (
        f"Of {operations(outcomes.n)} {percent_long(summary.within, 0)} end within {DECENTRATION_LIMIT:g} mm of the "
        f"centre and tilted by no more than {TILT_LIMIT:g} deg."
    )
    if summary.sight.no_refraction:
        return f"{lead} No eye has a refraction. (Limits chosen for teaching.)"
    for limit, near in list(summary.sight.within.items())[:1]:
        share = percent_long(near, 0)
        if _at_its_word(outcomes):
            lead += f" In {share} the refraction ends within {limit:g} D of {signed(outcomes.target)} D."
        else:
            lead += f" In {share} the place of the lens shifts the refraction by no more than {limit:g} D."
    return f"{lead} (Limits chosen for teaching.)"


def check_folder(folder: Path, *, overwrite: bool) -> None:
    """See that a folder can take a report, before the work is done.

    Raises LearnerError if it cannot be made or written to, or holds results that are not to be overwritten.

    Parameters
    ----------
    folder : Path
    overwrite : bool
    """
    try:
        if not overwrite:
            refuse_to_overwrite(folder, FILES)
        check_writable(folder)
    except OSError as error:
        raise LearnerError(
            f"Results cannot be kept in {str(folder)!r} ({reason(error)}). Choose another folder with --out."
        ) from None


def write_report(report: Report, source: Path, folder: Path) -> list[str]:
    """Write a report into a folder, every file whole or not at all.

    Raises LearnerError if the folder cannot be written to.

    Parameters
    ----------
    report : Report
    source : Path
        The plan's file; a copy is kept beside the results.
    folder : Path

    Returns
    -------
    list of str
        Names of the files written.
    """
    plan = source.read_bytes()
    content = {
        "report.html": _report_page(report, plan.decode("utf-8-sig")).encode(),
        "report.txt": (report.text + "\n").encode(),
        "outcomes.csv": report.table.to_csv(index=False, float_format="%.6g", lineterminator="\n").encode(),
        **{name: picture.svg.encode() for name, picture in report.plan.items()},
        **{name: chart.png for name, chart in report.outcomes.items()},
        "plan.toml": plan,
    }
    try:
        for name in FILES:  # a picture of a plan that does not settle is not left over from an earlier one
            if name in content:
                write_whole(folder / name, content[name])
            else:
                remove(folder / name)
    except OSError as error:
        raise LearnerError(f"Results cannot be kept in {str(folder)!r} ({reason(error)}).") from None
    return [name for name in FILES if name in content]


def _report_page(report: Report, source: str) -> str:
    """Return the report, with the text of the plan's file, as one HTML page that needs nothing else."""
    figures = {name: _figure(chart, _CAPTIONS[name]) for name, chart in report.outcomes.items()}
    body = _BODY.format(
        lead=escape(report.lead),
        caveat=f"<p>{escape(report.caveat)}</p>" if report.caveat else "",
        aimed=escape(report.aimed),
        words="\n".join(f"<p>{escape(line)}</p>" for line in report.lines),
        plan="\n".join(f"<figure>{picture.svg}</figure>" for picture in report.plan.values()),
        cloud=figures.pop("cloud.png", ""),
        outcomes="\n".join(figures.values()),
        file=escape(source),
    )
    return html_page(report.title, body, style=_STYLE)


def _figure(chart, caption):
    """Show a chart as large as it was drawn, so that its letters are."""
    data = base64.b64encode(chart.png).decode()
    width = round(96 * chart.figure.get_figwidth())
    image = f'<img src="data:image/png;base64,{data}" alt="{escape(chart.sentence)}" width="{width}">'
    return f"<figure>{image}<figcaption>{escape(caption)}</figcaption></figure>"
