"""Whether one sees where the focus is: what changes on the screen around a control when it gets the focus."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

# A group of choices is one control: the one that is chosen, or its first.
CONTROLS = """() => {
  const groups = new Set();
  window.eyesimRinged = [...document.querySelectorAll(
      '.eyesim-board :is(input, select, button, textarea, summary)')].filter(one => {
    if (one.disabled || one.closest('[hidden]') || !one.getClientRects().length) return false;
    if (one.type !== 'radio') return true;
    const chosen = [...document.getElementsByName(one.name)].some(other => other.checked);
    if (groups.has(one.name) || (chosen && !one.checked)) return false;
    groups.add(one.name);
    return true; });
  return window.eyesimRinged.length; }"""
TO_SIGHT = """i => {
  const one = window.eyesimRinged[i];
  document.activeElement.blur();
  one.scrollIntoView({block: 'center'});
  const box = one.getBoundingClientRect();
  return [box.x, box.y, box.width, box.height]; }"""
FOCUS = "i => window.eyesimRinged[i].focus({preventScroll: true, focusVisible: true})"
CALM = "* { caret-color: transparent !important; transition: none !important; }"
ROOM = 8  # [px] around a control, for the ring
CONTRAST = 3.0  # that a ring has with what was there before


def faint(page):
    """Find controls whose focus changes less, with enough contrast, than a ring of 2 px around them would."""
    page.add_style_tag(content=CALM)
    return [words for i in range(page.evaluate(CONTROLS)) if (words := _faint(page, i))]


def _faint(page, i):
    x, y, width, height = page.evaluate(TO_SIGHT, i)
    corner = {"x": max(0.0, x - ROOM), "y": max(0.0, y - ROOM)}
    clip = {**corner, "width": width + 2 * ROOM, "height": height + 2 * ROOM}
    before = _luminance(page.screenshot(clip=clip))
    page.evaluate(FOCUS, i)
    after = _luminance(page.screenshot(clip=clip))
    contrast = (np.maximum(before, after) + 0.05) / (np.minimum(before, after) + 0.05)
    seen, wanted = int((contrast >= CONTRAST).sum()), round(4.0 * (width + height))
    if seen < wanted:
        return f"{seen} of {wanted} px: {page.evaluate('i => window.eyesimRinged[i].outerHTML.slice(0, 120)', i)}"
    return None


def _luminance(png):
    colours = np.asarray(Image.open(io.BytesIO(png)).convert("RGB")) / 255.0
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])
