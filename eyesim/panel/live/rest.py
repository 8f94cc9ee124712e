"""What the live session works out once the hand has come to rest: why, the letter chart and the cloud."""

from __future__ import annotations

import dataclasses
import functools
from html import escape

from ...chart.hand_cloud import hand_cloud
from ...draw.front import turn_of
from ...draw.letters import compared_charts, letter_chart
from ...draw.views import front_view, side_view
from ...draw.wall_view import wall_view
from ...eye.checks import LearnerError
from ...live.session import Session
from ...live.why import why
from ...sight.spectacles import fit_glasses
from ...study import operate
from ...study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .hands import hands_of
from .words import message, unseen

REGIONS = ("why", "chart", "cloud")
_OPERATIONS = 2000


@dataclasses.dataclass(frozen=True)
class Rest:
    """What to work out: what is on the table, what was there before, what was kept as A, whose hands, which seat.

    `hands` is a key of `hands.HANDS`, and `own` what a room said of its own, as pairs of key and value.
    """

    session: Session
    before: Session
    kept: Session | None
    hands: str
    seat: str
    own: tuple = ()


def at_rest(asked, wanted=lambda: True):
    """HTML by region of all that follows at rest.

    Parameters
    ----------
    asked : Rest
    wanted : callable
        Nothing more is worked out once it says that it is not wanted any more.
    """
    found = {}
    for region, work in zip(REGIONS, (_why, _chart, _cloud), strict=True):
        if wanted():
            found[region] = work(asked)
    return found


def _why(asked):
    """HTML of the two sentences on what just happened, with the picture that shows it best."""
    found = why(asked.before, asked.session)
    one, two = (escape(words) for words in found.sentences)
    pose, before = asked.session.settled, asked.before.settled
    compare = before if before.settled and asked.before != asked.session else None
    hidden = False if pose.settled else "no outcome"
    if not all(passage.enters for passage in pose.passages):
        view = wall_view(pose)
    elif found.view == "side":
        view = side_view(pose, compare=compare, hidden=hidden)
    else:
        view = front_view(pose, seat=asked.seat, compare=compare, hidden=hidden)
    dashed = '<p class="eyesim-small">Dashed: as it was before.</p>' if compare is not None and not hidden else ""
    return f"<h3>What the last change did, and why</h3><p>{one}</p><p>{two}</p>{view.svg}{dashed}"


@functools.lru_cache(maxsize=8)
def _fitted(session):
    return fit_glasses(session.sight)


def _chart(asked):
    session, kept = asked.session, asked.kept
    words = unseen(session)
    if words:
        return f"<h3>What the patient sees</h3>{message('stop', words)}"
    found = _fitted(session)
    if kept is not None and not unseen(kept):
        picture = compared_charts(_fitted(kept), found)
    else:
        picture = letter_chart(session.sight, found=found)
    return f"<h3>What the patient sees</h3>{picture.svg}<p>{escape(picture.sentence)}</p>"


@functools.lru_cache(maxsize=8)
def _operated(session, hands):
    """Outcomes of a session operated many times; the same hands draw the same chances every time."""
    plan = session.eye, session.lens, session.first, session.second
    return operate(*plan, hands, n=_OPERATIONS, rng=1, progress=False, block=500)


def cloud(session, hands, own, seat):
    """Picture of a session operated many times; raises LearnerError if no lens settles.

    Parameters
    ----------
    session : Session
    hands : str
    own : dict
        As in `hands_of`.
    seat : "front", "superior" or "temporal"
    """
    hands, words = hands_of(hands, own)
    outcomes = _operated(session, hands)
    share, lost = outcomes.share(), outcomes.n - int(outcomes.pose.settled.sum())
    if lost == outcomes.n:
        raise LearnerError(f"None of {outcomes.n:,} lenses found a resting place.")
    none = f" {lost:,} found no resting place and count as outside." if lost else ""
    words = (
        f"Hands: {words}. Of {outcomes.n:,} operations {100 * share.value:.0f} % (95 % interval "
        f"{_bounds(share)}) end within {DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} "
        f"deg.{none} Most spreads are assumptions."
    )
    turn = turn_of(seat, session["eye"])
    return hand_cloud(outcomes, (DECENTRATION_LIMIT, TILT_LIMIT), words, turn=turn, side=session["eye"])


def _bounds(share):
    """Both ends of an interval of a share [%], with a decimal where whole numbers would say none or all."""
    low, high = 100.0 * share.low, 100.0 * share.high
    digits = 0 if 0.5 <= high and low <= 99.5 else 1
    return f"{low:.{digits}f} to {high:.{digits}f}"


def _cloud(asked):
    head = "<h3>The same plan in many hands</h3>"
    if not asked.hands:
        return f"{head}<p>Choose hands to see {_OPERATIONS:,} operations.</p>"
    try:
        own = dict(asked.own)
        picture = cloud(asked.session, asked.hands, own, asked.seat)
        hands, _ = hands_of(asked.hands, own)
        verdict = f"{_percent(asked.session, hands)} within {DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg"
        if asked.kept is not None:
            verdict += f"; A: {_percent(asked.kept, hands)}"
    except LearnerError as error:
        return f"{head}{message('stop', str(error))}"
    return f"{head}<p><b>{escape(verdict)}</b></p>{picture.svg}<p>{escape(picture.sentence)}</p>"


def _percent(session, hands):
    return f"{100 * _operated(session, hands).share().value:.0f} %"
