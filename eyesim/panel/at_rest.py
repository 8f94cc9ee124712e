"""What takes too long to follow the hand is worked out once the hand has come to rest."""

from __future__ import annotations

import asyncio
import contextlib
import threading

from ..eye.checks import LearnerError

_FAILED = "This could not be worked out. Set something else, or reset, and try again."


class AtRest:
    """Work done beside the page, some time after it was last asked for; only its newest result is delivered.

    It belongs to the event loop that runs where it is made, as in a notebook. Without one (plain Python, tests)
    everything is done at once.

    Parameters
    ----------
    lock : threading.RLock
        Held while a result is delivered, but not while it is worked out.
    work : callable
        Called as work(state), in a thread of its own; never twice at a time.
    deliver : callable
        Called as deliver(state, result), on the loop. Where `work` raised LearnerError, the result is that error;
        where it failed otherwise, the result is a LearnerError that says so, and the failure is raised as well.
    pause : float [s]
        How long nothing new may be asked before the work begins.
    """

    def __init__(self, lock, work, deliver, pause=0.25):
        self._lock, self._work, self._deliver, self._pause = lock, work, deliver, pause
        self._turn, self._asked, self._timer, self._working = 0, None, None, False
        try:
            self._loop = asyncio.get_running_loop()
        except RuntimeError:
            self._loop = None

    @property
    def asked(self):
        """The newest state that was asked for; None when its result has been delivered."""
        with self._lock:
            return self._asked

    def ask(self, state):
        """Ask for the result at a state; what was asked before is not waited for any more."""
        with self._lock:
            self._turn, self._asked = self._turn + 1, state
            turn = self._turn
        if self._loop is None or self._loop.is_closed():
            self._take(turn, state, *self._worked(state))
        else:
            self._loop.call_soon_threadsafe(self._wait)

    def drop(self):
        """Forget what is asked: nothing of it is delivered."""
        with self._lock:
            self._turn, self._asked = self._turn + 1, None

    def _wait(self):
        if self._timer is not None:
            self._timer.cancel()
        self._timer = self._loop.call_later(self._pause, self._begin)

    def _begin(self):
        with self._lock:
            turn, state = self._turn, self._asked
        if state is not None and not self._working:  # who is working begins anew with what is asked then
            self._working = True
            threading.Thread(target=self._run, args=(turn, state), name="eyesim-at-rest", daemon=True).start()

    def _run(self, turn, state):
        result = self._worked(state)
        with contextlib.suppress(RuntimeError):  # the loop is closed, and nobody is there any more
            self._loop.call_soon_threadsafe(self._done, turn, state, *result)

    def _done(self, turn, state, result, failure):
        self._working = False
        if turn != self._turn and self._timer.when() <= self._loop.time():  # its pause is over
            self._begin()
        self._take(turn, state, result, failure)

    def _worked(self, state):
        """Return the result, and the failure if there was an unforeseen one."""
        try:
            return self._work(state), None
        except LearnerError as error:
            return error, None
        except Exception as error:
            return LearnerError(_FAILED), error

    def _take(self, turn, state, result, failure):
        with self._lock:
            if turn == self._turn:
                self._asked = None
                self._deliver(state, result)
        if failure is not None:
            raise failure
