"""Hands that do anything on the live session; at every rest the page must show what Python gives for its state."""

from __future__ import annotations

import contextlib
import random
import time
from pathlib import Path

import host
import numpy as np

from eyesim.live.case import random_case
from eyesim.live.session import MISTAKES, Session
from eyesim.live.votes import Tally
from eyesim.panel.live import words as live_words
from eyesim.panel.live.picture import live_picture
from eyesim.panel.live.rest import Rest, at_rest

# Numbers of all shapes [mm], and of all words and lines on the sheet [px], as `draw.drawing` tells them.
NUMBERS = """() => {
  const stage = document.querySelector('.eyesim-stage'), found = [[], []];
  for (const one of stage.querySelectorAll('path,circle,text,line')) {
    const names = {circle: ['cx', 'cy', 'r'], text: ['x', 'y'], line: ['x1', 'y1', 'x2', 'y2']}[one.tagName];
    const numbers = names ? names.map(name => Number(one.getAttribute(name)))
      : one.getAttribute('d').match(/-?[0-9.]+(?:e-?[0-9]+)?/g).map(Number);
    found[one.closest('svg svg') ? 0 : 1].push(...numbers);
  }
  return found; }"""
STATE = f"""() => {{
  const board = document.querySelector('.eyesim-board');
  const one = (words) => board.querySelector(words);
  const button = (key) => one(`button[aria-keyshortcuts=${{key}}]`);
  const words = (name) => one(`.eyesim-${{name}}`).textContent;
  const picture = one('.eyesim-stage svg');
  return {{text: one('.eyesim-field input').value, hidden: button('h').textContent.includes('Reveal'),
    kept: button('a').getAttribute('aria-pressed') === 'true', solving: button('r').textContent.includes('Give'),
    seat: one('select[id$=-seat]').value, hands: one('select[id$=-hands]').value,
    number: Number(one('[aria-label="Number of the case, typed"]').value),
    own: Object.fromEntries([...board.querySelectorAll('[data-slope^=own]')]
      .map(one => [one.dataset.slope, Number(one.nextSibling.value)])),
    readout: words('readout'), chart: words('chart'), cloud: words('cloud'),
    sentence: picture.getAttribute('aria-label'),
    drawn: ({NUMBERS})(), asked: board.dataset.asked, settled: board.dataset.settled,
    busy: board.querySelectorAll('[aria-busy=true]').length}}; }}"""
WORDS = """html => html.map(one => {
  const element = document.createElement('div');
  element.innerHTML = one;
  return element.textContent; })"""
FOCUS = "name => document.querySelector(`.eyesim-board input[data-slope=${name}]`).focus()"
UNFOLD = "() => document.querySelectorAll('.eyesim-board details').forEach(one => { one.open = true; })"
SHAPES = 0.002  # [mm] shapes are written in thousandths
SHEET = 0.06  # [px] words and lines on the sheet are written in tenths
_ARROWS = ("ArrowRight", "ArrowLeft", "ArrowUp", "ArrowDown", "PageUp", "PageDown")


def text_of(page):
    """Text of the state, as it stands in the page."""
    return page.locator(f"{host.BOARD} .eyesim-field input").first.input_value()


def same_drawing(drawn, picture, why):
    """Hold the numbers drawn in the page, as `NUMBERS` gives them, against those of a picture from Python."""
    shapes, sheet = (np.array(numbers) for numbers in drawn)
    solved = np.array(picture.drawing.numbers)
    assert len(shapes) + len(sheet) == len(solved), why
    assert np.abs(shapes - solved[: len(shapes)]).max() < SHAPES, why
    assert np.abs(sheet - solved[len(shapes) :]).max() < SHEET, why


class Hands:
    """Random hands on a page; `keys` are what they press, `rests` is how often everything was checked."""

    def __init__(self, page, seed=1):
        self.page, self.draw = page, random.Random(seed)
        self.kept, self.rests, self.done = None, 0, []
        page.evaluate(UNFOLD)

    def act(self):
        """Do one thing."""
        ways = {
            self._slide: 50, self._key: 20, self._keep: 8, self._undo: 6, self._menu: 8, self._tick: 5, self._type: 6,
        }  # fmt: skip
        doing = self.draw.choices([*ways], [*ways.values()])[0]
        self.done = [*self.done[-40:], (doing.__name__, doing())]

    def check(self, everything=False):
        """Rest, and hold what stands on the page against what Python gives; `everything`: chart and cloud as well."""
        host.rest(self.page)
        now, why = self.page.evaluate(STATE), self.done
        assert (now["asked"], now["busy"]) == (now["settled"], 0), why
        assert now["kept"] == (self.kept is not None), why
        session, seat = Session.read(now["text"]), now["seat"]
        kept = None if self.kept is None else Session.read(self.kept)
        hidden = now["hidden"]
        told = live_words.ballot(Tally(), session) if hidden else live_words.readout(session, kept)
        assert now["readout"] == self.page.evaluate(WORDS, [told])[0], why
        ghost = random_case(np.random.default_rng(int(now["number"]))).hidden if now["solving"] else kept
        ghost = None if ghost is None or hidden or not ghost.settled.settled else ghost.settled
        picture = live_picture(session, seat, ghost, hidden)
        same_drawing(now["drawn"], picture, why)
        assert now["sentence"] == picture.sentence, why
        if hidden:
            assert now["chart"] == now["cloud"] == "", why
        elif everything:
            wanted = at_rest(Rest(session, session, kept, now["hands"], seat, tuple(now["own"].items())))
            chart, cloud = self.page.evaluate(WORDS, [wanted["chart"], wanted["cloud"]])
            assert (now["chart"], now["cloud"]) == (chart, cloud), why
        self.rests += 1

    def _press(self, key):
        self.page.locator(host.BOARD).first.focus()
        self.page.keyboard.press(key)
        return key

    def _slide(self):
        sliders = self.page.locator(f"{host.BOARD} input[type=range]:enabled")
        name = self.draw.choice(sliders.evaluate_all("all => all.map(one => one.dataset.slope)"))
        keys = [self.draw.choice(_ARROWS) for _ in range(self.draw.randrange(1, 8))]
        self.page.evaluate(FOCUS, name)
        for key in keys:
            self.page.keyboard.press(key)
        return name, keys

    def _key(self):
        return self._press(self.draw.choice([*(one.key for one in MISTAKES.values()), *"mxhhhr"]))

    def _undo(self):
        host.answered(self.page)
        self._press("z")
        if self.kept is not None:  # an exchange may have been undone: exchange twice, and see what is kept
            self._press("e")
            host.answered(self.page)
            self.kept = text_of(self.page)
            self._press("e")
        return self.kept

    def _keep(self):
        host.answered(self.page)
        before, key = text_of(self.page), self.draw.choice("ae")
        self._press(key)
        host.answered(self.page)
        if key == "a":
            self.kept = before if self.kept is None else None
        elif self.kept is not None:
            self.kept = before
        return key

    def _menu(self):
        menus = self.page.locator(f"{host.BOARD} select:enabled")
        one = menus.nth(self.draw.randrange(menus.count()))
        index = self.draw.randrange(one.locator("option").count())
        one.select_option(index=index)
        return one.get_attribute("aria-label"), index

    def _tick(self):
        if self.draw.random() < 0.5:
            choices = self.page.locator(f"{host.BOARD} .eyesim-radios input")
            return choices.nth(self.draw.randrange(choices.count())).click()
        ticks = self.page.locator(f"{host.BOARD} .eyesim-sides input[type=checkbox]")
        return ticks.nth(self.draw.randrange(ticks.count())).click()

    def _type(self):
        host.answered(self.page)  # a field may be switched off by what was done before
        fields = self.page.locator(f"{host.BOARD} .eyesim-range input[type=range]:enabled + input")
        one = fields.nth(self.draw.randrange(fields.count()))
        low, high = one.evaluate("one => [one.previousSibling.min, one.previousSibling.max].map(Number)")
        words = self.draw.choice((f"{self.draw.uniform(low, high):.2f}", "much", f"{high + 1:g}"))
        one.fill(words)
        one.press("Enter")
        return one.get_attribute("aria-label"), words


def soak(page, seconds, *, seed=1, kernel=None, say=lambda rests, sizes: None, every=60.0):
    """Do random things for some seconds, checking at every rest; return rests, and sizes after warm-up and at the end.

    Parameters
    ----------
    page
    seconds : float
    seed : int
    kernel : int or None
        Process of the page's kernel.
    say : callable
        Told rests and sizes every so often.
    every : float [s]
        How often; the first time is after warm-up, a quarter of that or of all.

    Returns
    -------
    tuple
        Number of rests; sizes after warm-up, and at the end: heap, nodes, listeners, kernel [MB].
    """
    hands, began = Hands(page, seed), time.monotonic()
    tell = page.context.new_cdp_session(page)
    tell.send("Performance.enable")
    first, due = None, 0.25 * min(every, seconds)
    while (passed := time.monotonic() - began) < seconds or first is None:
        for _ in range(hands.draw.randrange(4, 14)):
            hands.act()
        hands.check(everything=hands.rests % 5 == 0)
        if passed >= due:
            due += every
            now = _size(page, tell, kernel)
            first = first or now
            say(hands.rests, now)
    return hands.rests, first, _size(page, tell, kernel)


def _size(page, tell, kernel):
    page.wait_for_timeout(200)
    for _ in range(2):
        tell.send("HeapProfiler.collectGarbage")
    found = {one["name"]: one["value"] for one in tell.send("Performance.getMetrics")["metrics"]}
    sizes = {"heap": found["JSHeapUsedSize"] / 1e6, "nodes": found["Nodes"], "listeners": found["JSEventListeners"]}
    return sizes | {"kernel": resident(kernel)}


def resident(process):
    """Memory of a process [MB]; 0 where the system does not tell."""
    with contextlib.suppress(OSError):
        for line in Path(f"/proc/{process}/status").read_text().splitlines():
            if line.startswith("VmRSS"):
                return int(line.split()[1]) / 1024.0
    return 0.0


def kernel_of(page, served):
    """Process of the kernel that a page speaks with; None where the system does not tell."""
    return next(iter(served.kernels(page.kernels[-1])), None)
