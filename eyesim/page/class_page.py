"""How a class went, on one page: each question, which ideas misled, how sure and how right, what to teach again."""

from __future__ import annotations

from html import escape

from .html import html_page

_ALWAYS = 2  # questions that are named however they went
_HARD = 0.5  # mean share of the points below which a question is worth teaching again; chosen for teaching
_BLIND = 0.2  # discrimination below which a question may be at fault itself; chosen for teaching


def class_page(assignment, everybody, statistics, remarks, items=None) -> str:
    """HTML page for the director.

    Parameters
    ----------
    assignment : Assignment
    everybody : list of Result
    statistics : ClassStatistics
        From `marking.statistics.class_statistics`.
    remarks : iterable of Remark
    items : dict or None
        Objective and level of a question by its name, in the director's own words; by default those of the bank.
    """
    aims = {entry.name: entry.aim for entry in assignment.entries} | (items or {})
    states = {state: sum(one.state == state for one in everybody) for state in ("handed in", "late", "missing")}
    lead = f"{len(everybody)} people: " + ", ".join(f"{n} {state}" for state, n in states.items()) + "."
    body = [
        f"<p class='lead'>{escape(lead)}</p>",
        f"<p>{escape(_reliable(statistics))}</p>",
        "<p class='small'>A pass shows that consequences are understood, not operative skill; answers can be computed "
        "from this open package, and files can be shared. It is formative. The pass standard is yours to set.</p>",
        _again(assignment, statistics, aims),
        "<h2>Questions</h2>",
        _questions(assignment, statistics, aims),
        "<h2>How sure, and how right</h2>",
        _calibration(statistics),
        "<h2>Files and people to look at</h2>",
        _remarks(remarks),
    ]
    return html_page(f"{assignment.title}: the class", "\n".join(body))


def _reliable(statistics):
    if statistics.reliability is None:
        return "Too few people, or no differences between them: nothing can be said of reliability."
    name = "KR-20" if statistics.right_or_wrong else "Cronbach's alpha"
    judged = sum(one.difficulty is not None for one in statistics.items)
    return (
        f"Reliability ({name}, of the {judged} questions that are all marked): {statistics.reliability.text('.2f')}. "
        "A wide interval says that people are too few to rank them by their points."
    )


def _again(assignment, statistics, aims):
    """Name what to teach again: the questions that went worst, and what misled there."""
    lines = []
    ranked = sorted((a for a in statistics.items if a.difficulty is not None), key=lambda a: a.difficulty.value)
    for i, one in enumerate(ranked):
        if i >= _ALWAYS and one.difficulty.value >= _HARD:
            break
        why = f" Most often: {one.misconceptions[0][0]} ({one.misconceptions[0][1]})." if one.misconceptions else ""
        aim = aims[one.name][0] or one.name
        lines.append(f"<li>{escape(aim[0].upper() + aim[1:])} ({escape(one.name)}).{escape(why)}</li>")
    items = "".join(lines) or "<li>Nothing can be said yet: nobody's answers could be marked.</li>"
    words = (
        f"The {_ALWAYS} questions that went worst, and every other that brought less than {_HARD:.0%} of its points:"
    )
    return f"<h2>What to teach again</h2><p>{words}</p><ul>{items}</ul>"


def _questions(assignment, statistics, aims):
    head = (
        "question",
        "objective",
        "level",
        "points had (mean, 95 % interval)",
        "tells apart",
        "what misled",
        "unanswered",
    )
    rows = ["<tr>" + "".join(f"<th>{name}</th>" for name in head) + "</tr>"]
    if not statistics.items:
        return "<p>Nothing was handed in that could be marked.</p>"
    for entry, one in zip(assignment.entries, statistics.items, strict=True):
        misled = "; ".join(f"{name} ({n})" for name, n in one.misconceptions)
        cells = [entry.name, *aims[entry.name]]
        rows.append(
            f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}<td>{_bar(one.difficulty)}</td>"
            f"<td>{escape(_tells(one.discrimination))}</td><td>{escape(misled)}</td>"
            f"<td class='number'>{one.unanswered}</td></tr>"
        )
    return f"<p class='small'>{_LEGEND}</p><table>{''.join(rows)}</table>"


_LEGEND = (
    "Bar: mean share of the points; the line over it: its 95 % interval, wide for few people. <i>Tells apart</i>: "
    "correlation with what the same people had on all other questions; near 0 or below, look at the question."
)


def _bar(share):
    if share is None:
        return ""
    low, high = 100.0 * share.low, 100.0 * share.high
    return (
        f"<span class='bar' aria-hidden='true'><i style='width:{100.0 * share.value:.0f}%'></i><b "
        f"style='left:{low:.0f}%;width:{max(high - low, 1.0):.0f}%'></b></span> {100.0 * share.value:.0f} % "
        f"({low:.0f} to {high:.0f})"
    )


def _tells(r):
    if r is None:
        return "\N{EN DASH}"
    words = f"{r.value:+.2f} ({r.low:+.2f} to {r.high:+.2f})"
    return f"{words}; look at its wording" if r.high < _BLIND else words


def _calibration(statistics):
    if not statistics.by_confidence:
        return "<p>Nobody said how sure they were.</p>"
    rows = "".join(
        f"<tr><td>{escape(level)}</td><td>{_bar(right)} right</td><td class='number'>{n} answers</td></tr>"
        for level, (right, n) in statistics.by_confidence.items()
    )
    return f"<p>{escape(_sure_in_words(statistics))}</p><table>{rows}</table>"


def _sure_in_words(statistics):
    """Say whether those who were certain were right more often than those who guessed."""
    certain, guessing = (statistics.by_confidence.get(level) for level in ("certain", "guessing"))
    if certain is None:
        return "Nobody was certain."
    words = f"Who was certain was right in {100.0 * certain[0].value:.0f} % of {certain[1]} answers"
    words += f", who guessed in {100.0 * guessing[0].value:.0f} % of {guessing[1]}." if guessing else "."
    if guessing and certain[0].value < guessing[0].value:
        words += " Being certain did not help: talk about those answers first."
    return words


def _remarks(remarks):
    if not remarks:
        return "<p>Nothing odd was found.</p>"
    rows = "".join(
        f"<tr><td>{escape(one.kind)}</td><td>{escape(one.about)}</td><td>{escape(one.words)}</td></tr>"
        for one in remarks
    )
    return f"<table><tr><th>kind</th><th>file or people</th><th>remark</th></tr>{rows}</table>"
