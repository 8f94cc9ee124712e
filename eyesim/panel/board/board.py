"""The board that every panel stands on: controls, words and pictures in a page, quick and for everybody.

Python declares what is on the board, works everything out and says it; the page (`board.js`) shows it. Controls are
the browser's own, with a label and a unit, so that keyboard and screen reader find them. A picture is told in
numbers. With them go its slopes, how each number changes with a control: the page moves the picture at once when
that control moves, and replaces it by the solved one as soon as that arrives.
"""

from __future__ import annotations

import contextlib
import time
import zlib
from pathlib import Path

import anywidget
import numpy as np
import traitlets

from ...draw.drawing import Drawing
from ...eye.checks import LearnerError
from .scripts import join_modules

_HERE = Path(__file__).parent
_LEAVES = 0.004  # [s]
_VIEWS = 16  # pages whose turns are kept: more are not open at a time
_FLAT = 1e-9  # a slope below this moves nothing that can be seen


class Page(anywidget.AnyWidget):
    """The part of a board that lives in the page."""

    _esm = join_modules({path.stem: path.read_text(encoding="utf-8") for path in _HERE.glob("*.js")}, "board")
    _css = "".join((_HERE / name).read_text(encoding="utf-8") for name in ("board.css", "live.css"))
    board = traitlets.Dict().tag(sync=True)


class Board:
    """Controls, words and pictures in a page.

    Parameters
    ----------
    name : str
        What it is called by who cannot see it.
    content : dict
        What is on it, made by the functions of `layout`.
    heard : callable
        Called as heard(kind, name, value) when somebody does something: "set" a control to a value, "typed" a text
        into a slider's field, "press" a button, ask for the "slope" of a control, or send a "film" of painted
        frames (bytes), or, loaded again, the "memory" that it was shown last. It may raise LearnerError, which is
        then told on the board.
    lock : threading.RLock
        Held while `heard` is called: a notebook may call from more than one thread.
    look : str
        Further class names for the style sheet.
    file : str
        Begin of the name of a picture that is saved from the page.
    whole : bool
        It is the whole page: its keys work wherever one is on the page.
    """

    def __init__(self, name, content, heard, lock, *, look="", file="eyesim", whole=False):
        self._heard, self._lock = heard, lock
        self._now = {"values": {}, "regions": {}, "words": {}, "off": [], "gone": [], "busy": []}
        self._now |= {"said": "", "fault": "", "memory": ""}
        self._pictures, self._told = {}, {}
        self._turns, self._refused, self._answered, self._asking = {}, None, False, None
        self._fresh = True  # no page has changed anything
        spec = {"name": name, "content": content, "look": look, "file": file, "whole": whole}
        self.widget = Page(board=spec)
        self.widget.on_msg(self._hear)

    def show(
        self,
        *,
        values=None,
        regions=None,
        pictures=None,
        words=None,
        off=None,
        gone=None,
        busy=None,
        said=None,
        memory=None,
    ):
        """Bring what is given onto the board; all else stays.

        Parameters
        ----------
        values : dict or None
            Values of controls, by name.
        regions : dict or None
            HTML by region; a region that stays the same is not sent.
        pictures : dict of Picture or None
            By stage.
        words : dict or None
            New words of buttons.
        off, gone : list of str or None
            Names of all controls that cannot be used now, or are not to be seen.
        busy : list of str or None
            Names of all regions whose content is still of what was before; they are marked.
        said : str or None
            What is read aloud once things have come to rest.
        memory : str or None
            What the page gives back when it is loaded again, if the board is all of it.
        """
        with self._lock:
            now, changed = self._now, {}
            now["values"].update(values or {})
            for part, given in (("regions", regions), ("words", words)):
                changed[part] = {key: text for key, text in (given or {}).items() if now[part].get(key) != text}
                now[part].update(changed[part])
            for part, given in (("off", off), ("gone", gone), ("busy", busy)):
                if given is not None and sorted(given) != now[part]:
                    changed[part] = now[part] = sorted(given)
            if said is not None:
                now["said"] = said
            if memory is not None and memory != now["memory"]:
                changed["memory"] = now["memory"] = memory
            self._pictures.update(pictures or {})
            self._tell(changed, pictures or {})

    def let_go(self):
        """Let what was told leave first: another thread sends it, and waits while this one goes on working."""
        if self._answered:
            time.sleep(_LEAVES)

    def slope(self, name, pictures, ahead, step):
        """Tell how pictures begin to move with a control; one that changes its form has no slope.

        Parameters
        ----------
        name : str
            The control.
        pictures, ahead : dict of Picture
            By stage: as they are, and after a small step.
        step : float [unit of the control]
        """
        stages, buffers = {}, []
        for stage, picture in ahead.items():
            here, there = pictures[stage].drawing, picture.drawing
            if not step or here is None or there is None or here.form != there.form:
                continue
            slopes = (there.numbers - here.numbers) / step
            places = np.flatnonzero(np.abs(slopes) > _FLAT)
            stages[stage] = {"form": here.form, "buffer": len(buffers)}
            buffers += [places.astype(np.uint32).tobytes(), slopes[places].astype(np.float32).tobytes()]
        self.widget.send({"kind": "slope", "name": name, "stages": stages}, buffers)

    def frames(self, svgs):
        """Have the page paint pictures (SVG texts), which it sends back as a "film" of PNG files."""
        self.widget.send({"kind": "frames", "frames": svgs, "view": self._asking})

    def still(self, svg, kind):
        """Have the page save a picture (SVG text) as a file of this kind, "svg" or "png"."""
        self.widget.send({"kind": "still", "svg": svg, "type": kind, "view": self._asking})

    def save(self, content, name, kind):
        """Hand the page a file (bytes) to be saved under a name; `kind` is its media type."""
        self.widget.send({"kind": "file", "name": name, "type": kind, "view": self._asking}, [content])

    def _hear(self, _, message, buffers):
        kind, view, name = message.get("kind"), str(message.get("view"))[:40], message.get("name")
        with self._lock:
            if kind == "hello":
                if message.get("memory") and self._fresh:
                    with contextlib.suppress(LearnerError):
                        self._heard("memory", None, message["memory"])
                self._fresh = False
                self._told.clear()
                whole = {part: self._now[part] for part in ("regions", "words", "off", "gone", "busy", "memory")}
                self._tell(whole, self._pictures)
                return
            if "turn" in message and self._late(kind, view, name, message["turn"]):
                return
            self._answered, self._asking = kind == "slope", view
            if kind != "slope":
                self._now["fault"], self._refused = "", None
            try:
                self._heard(kind, name, [bytes(one) for one in buffers] if kind == "film" else message.get("value"))
            except LearnerError as error:
                self._now["fault"], self._answered = str(error), False
                written = kind in ("typed", "set") and isinstance(message.get("value"), str)
                self._refused = name if written else None  # what was written there is to be mended
            except Exception:
                self._now["fault"], self._answered = "This could not be carried out. Reset, and try again.", False
                raise
            finally:
                if not self._answered:
                    self._tell({}, {})

    def _late(self, kind, view, name, turn):
        """Note the turn of a page; say whether a control has been set by a newer one.

        A kernel may take messages of a page in two threads, so that an older one comes last.
        """
        newest = self._turns.pop(view, {})
        self._turns[view] = newest  # as the last of the pages
        while len(self._turns) > _VIEWS:
            self._turns.pop(next(iter(self._turns)))
        late = kind in ("set", "typed") and turn < newest.get(name, 0)
        newest[name] = max(turn, newest.get(name, 0))
        return late

    def _tell(self, changed, pictures):
        told, buffers = {}, []
        for name, picture in pictures.items():
            drawing = picture.drawing or Drawing(zlib.crc32(picture.svg.encode()), np.empty(0), [])
            told[name] = {"form": drawing.form, "buffer": len(buffers)}
            buffers.append(drawing.numbers.astype(np.float32).tobytes())
            if self._told.get(name) == drawing.form:
                told[name] |= {"words": drawing.words, "sentence": picture.sentence}
            else:
                told[name]["svg"] = picture.svg
                self._told[name] = drawing.form
        turns = {view: max(newest.values()) for view, newest in self._turns.items()}
        message = {"kind": "shown", "turns": turns, "pictures": told, "refused": self._refused, **changed}
        message |= {part: self._now[part] for part in ("values", "said", "fault")}
        self._answered = True
        self.widget.send(message, buffers)
