"""What is printed and kept of a plan operated many times: words, a table, pictures, and a page that holds them all."""

from __future__ import annotations

import dataclasses
import tempfile
from html import escape
from pathlib import Path

from .. import CAUTION
from ..eye.checks import LearnerError
from ..study import Population
from ..study.limits import DECENTRATION_LIMIT, TILT_LIMIT
from . import charts, side, surgeon, surprise
from .files import in_words, write_whole
from .picture import Chart, Picture

_PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<style>
body {{ font-family: sans-serif; max-width: 60em; margin: 2em auto; padding: 0 1em; line-height: 1.45; }}
.caution {{ border: 1px solid; padding: 0.6em 1em; }}
.lead {{ font-size: 1.25em; }}
.row {{ display: flex; flex-wrap: wrap; gap: 1.5em; }}
.row figure {{ flex: 1 1 22em; }}
figure {{ break-inside: avoid; margin: 1em 0 !important; }}
figure svg, figure img {{ max-width: 100%; height: auto; }}
pre {{ white-space: pre-wrap; font-size: 0.85em; }}
</style></head><body>
<h1>{title}</h1>
<p class="caution">{caution}</p>
<p class="lead">{lead}</p>
<h2>The plan, if everything comes out as aimed</h2>
<div class="row">{plan}</div>
<h2>The operations</h2>
<div class="row">{outcomes}</div>
<h2>In numbers</h2>
{words}
<h2>The plan's file</h2>
<pre>{file}</pre>
</body></html>
"""


@dataclasses.dataclass(frozen=True)
class Report:
    """A plan, operated: what to say about it, and what to keep.

    Attributes
    ----------
    title : str
    lead : str
        The one sentence that matters most.
    lines : tuple of str
        The report in words, with intervals.
    plan, outcomes : dict of str to Picture or Chart
        Pictures of the plan as aimed, and of the operations, by file name.
    table : pandas.DataFrame
        One row an operation.
    """

    title: str
    lead: str
    lines: tuple[str, ...]
    plan: dict[str, Picture]
    outcomes: dict[str, Chart]
    table: object

    @property
    def text(self) -> str:
        """The whole report as printed."""
        return "\n".join([self.title, "", self.lead, "", *self.lines, "", CAUTION])


FILES = ("report.html", "report.txt", "outcomes.csv", "plan-front.svg", "plan-side.svg", "cloud.png",
         "refraction.png", "tilt-rose.png", "histograms.png", "plan.toml")  # fmt: skip
"""What `keep` may write, in the order in which to look at it."""


def report_on(plan, progress=None) -> Report:
    """Operate a plan and say what came of it.

    Parameters
    ----------
    plan : eyesim.study.Plan
    progress : bool or None
        As for `eyesim.operate`.

    Raises
    ------
    LearnerError
        If the plan asks for what cannot be.
    """
    outcomes = plan.operate(progress)
    many, aimed = isinstance(plan.eye, Population), outcomes.planned
    drawn = {}
    if aimed.settled:
        drawn = {"plan-front.svg": surgeon.surgeon_view(aimed), "plan-side.svg": side.side_view(aimed)}
    summary = outcomes.summary()
    refracted = bool(summary.seen.within)
    told = {"cloud.png": charts.cloud(outcomes, colour="surprise" if refracted else None)}
    if refracted:
        told["refraction.png"] = surprise.refractions(outcomes)
    told |= {"tilt-rose.png": charts.tilt_rose(outcomes), "histograms.png": charts.histograms(outcomes)}
    who = repr(plan.eye) if many else f"One eye, operated on {plan.n} times: {plan.eye!r}"
    lines = (
        f"{who}.",
        f"As aimed{', in their mean eye' if many else ''}: {aimed!r}.",
        *repr(summary).splitlines(),
        f"Seed {plan.rng}, {plan.draws} draws: the same plan gives the same numbers again.",
    )
    return Report(plan.title, _lead(outcomes, summary), lines, drawn, told, outcomes.frame())


def _lead(outcomes, summary):
    lead = (
        f"Of {outcomes.n:,} operations {outcomes.share().text('.0%')} end less than {DECENTRATION_LIMIT:g} mm off "
        f"centre and tilted less than {TILT_LIMIT:g} deg"
    )
    for limit, near in list(summary.seen.within.items())[:1]:
        lead += f", and {near.text('.0%')} with a refraction within {limit:g} D of the one meant"
    return f"{lead} (limits chosen for teaching)."


def make_room(folder: Path, *, overwrite: bool) -> None:
    """See that a folder can take a report, before the work is done.

    Raises
    ------
    LearnerError
        If it cannot be made or written to, or holds results that are not to be overwritten.
    """
    try:
        there = [name for name in FILES if (folder / name).exists()]
        if there and not overwrite:
            raise LearnerError(
                f"{str(folder)!r} holds earlier results ({', '.join(there)}). "
                "Add --force to overwrite them, or choose another folder with --out."
            )
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise LearnerError(
            f"Results cannot be kept in {str(folder)!r} ({in_words(error)}). Choose another folder with --out."
        ) from None


def keep(report: Report, source: Path, folder: Path) -> list[str]:
    """Write a report into a folder, every file whole or not at all.

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

    Raises
    ------
    LearnerError
        If the folder cannot be written to.
    """
    said = source.read_bytes()
    content = {
        "report.html": page(report, said.decode("utf-8-sig")).encode(),
        "report.txt": (report.text + "\n").encode(),
        "outcomes.csv": report.table.to_csv(index=False, float_format="%.6g", lineterminator="\n").encode(),
        **{name: picture.svg.encode() for name, picture in report.plan.items()},
        **{name: chart.png for name, chart in report.outcomes.items()},
        "plan.toml": said,
    }
    try:
        for name in FILES:  # a picture of a plan that does not settle is not left over from an earlier one
            if name in content:
                write_whole(folder / name, content[name])
            else:
                (folder / name).unlink(missing_ok=True)
    except OSError as error:
        raise LearnerError(f"Results cannot be kept in {str(folder)!r} ({in_words(error)}).") from None
    return [name for name in FILES if name in content]


def page(report: Report, said: str) -> str:
    """Return the report as one HTML page that needs nothing else and can be printed."""
    return _PAGE.format(
        title=escape(report.title),
        caution=escape(CAUTION),
        lead=escape(report.lead),
        words="\n".join(f"<p>{escape(line)}</p>" for line in report.lines),
        plan="\n".join(picture.html for picture in report.plan.values()) or "<p>It does not settle.</p>",
        outcomes="\n".join(chart.html for chart in report.outcomes.values()),
        file=escape(said),
    )
