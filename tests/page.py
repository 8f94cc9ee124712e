"""A board's page, played by tests: what hands do goes to Python, what Python tells is kept."""

from __future__ import annotations

import json


def shown(panel):
    """All words and HTML on a panel's board."""
    pictures = [picture.svg + picture.sentence for picture in panel._board._pictures.values()]
    return "".join([*panel._board._now["regions"].values(), *pictures])


def off(panel):
    """Names of the controls that cannot be used now."""
    return panel._board._now["off"]


def parts(content):
    """Everything that stands on a board, however deep."""
    yield content
    for child in content.get("children", []):
        yield from parts(child)


def layout(panel):
    """Return what stands on a panel's board, by name."""
    return {part["name"]: part for part in parts(panel._board.widget.board["content"]) if "name" in part}


class Page:
    """A board in a page."""

    def __init__(self, panel, view="page", memory=None):
        self.widget, self.view, self.turn = panel._board.widget, view, 0
        self.told, self.buffers = [], []
        self.widget.send = self._hear
        self.widget._handle_custom_msg({"kind": "hello", "view": view, "memory": memory}, [])

    def _hear(self, content, buffers=None):
        self.told.append(json.loads(json.dumps(content)))
        self.buffers.append(buffers or [])

    def say(self, kind, name=None, value=None, buffers=()):
        """Send what a hand did."""
        message = {"kind": kind, "name": name, "value": value, "view": self.view}
        if kind not in ("slope", "film"):
            self.turn += 1
            message["turn"] = self.turn
        self.widget._handle_custom_msg(message, list(buffers))

    def last(self, kind="shown"):
        """Return the last message of a kind, and its buffers."""
        return [both for both in zip(self.told, self.buffers, strict=True) if both[0]["kind"] == kind][-1]

    @property
    def fault(self):
        """What the page was told that went wrong; "" if nothing did."""
        return self.last()[0]["fault"]

    @property
    def values(self):
        """Values of all controls."""
        return self.last()[0]["values"]
