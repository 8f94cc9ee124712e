"""What waits until the hand is at rest: the newest result arrives, alone, on the loop, and no failure is lost."""

import asyncio
import threading
import time

import pytest

import eyesim as es
from eyesim.panel.at_rest import AtRest

NAME = "eyesim-at-rest"


class Desk:
    """Notes what is worked out and what is delivered, and where."""

    def __init__(self, pause=0.03, seconds=0.0):
        self.lock, self.worked, self.delivered, self.threads = threading.RLock(), [], [], set()
        self.seconds = seconds
        self.rest = AtRest(self.lock, self.work, self.deliver, pause)

    def work(self, state):
        self.worked.append(state)
        self.threads.add(threading.current_thread().name)
        assert not self.lock._is_owned() or self.rest._loop is None
        time.sleep(self.seconds)
        if state == "refused":
            raise es.LearnerError("That is no eye.")
        if state == "broken":
            raise ZeroDivisionError("broken")
        return f"{state}!"

    def deliver(self, state, result):
        assert self.lock._is_owned()
        self.delivered.append((state, result, threading.current_thread() is threading.main_thread()))


def working():
    return [thread for thread in threading.enumerate() if thread.name == NAME]


async def delivered(desk, seconds=5.0):
    """Wait until nothing is asked any more and nobody works."""
    end = time.monotonic() + seconds
    while (desk.rest.asked is not None or working()) and time.monotonic() < end:
        await asyncio.sleep(0.005)
    assert desk.rest.asked is None
    assert not working()


def test_without_a_loop_it_is_done_at_once():
    desk = Desk()
    desk.rest.ask("a")
    assert desk.delivered == [("a", "a!", True)]
    assert desk.rest.asked is None
    assert not working()


def test_on_a_loop_it_is_worked_out_beside_it_and_delivered_on_it():
    async def main():
        desk = Desk()
        desk.rest.ask("a")
        assert desk.rest.asked == "a"
        assert desk.worked == []
        await delivered(desk)
        assert desk.delivered == [("a", "a!", True)]
        assert desk.threads == {NAME}

    asyncio.run(main())


def test_the_page_stays_alive_while_it_works():
    async def main():
        desk, ticks = Desk(pause=0.0, seconds=0.2), 0
        desk.rest.ask("a")
        while desk.rest.asked is not None:
            with desk.lock:
                ticks += 1
            await asyncio.sleep(0.01)
        assert ticks > 5

    asyncio.run(main())


def test_of_many_quick_ones_the_last_is_worked_out():
    async def main():
        desk = Desk(pause=0.1)
        for k in range(20):
            desk.rest.ask(k)
            await asyncio.sleep(0.005)
        await delivered(desk)
        assert desk.worked == [19]
        assert [one[:2] for one in desk.delivered] == [(19, "19!")]

    asyncio.run(main())


@pytest.mark.parametrize("pause", [0.0, 0.05, 0.3])
def test_a_newer_one_that_comes_while_it_works_wins(pause):
    async def main():
        desk = Desk(pause=pause, seconds=0.15)
        desk.rest.ask("old")
        while not desk.worked:
            await asyncio.sleep(0.005)
        desk.rest.ask("new")
        await delivered(desk)
        assert desk.worked == ["old", "new"]
        assert [one[:2] for one in desk.delivered] == [("new", "new!")]

    asyncio.run(main())


def test_what_is_asked_from_other_threads_is_delivered_on_the_loop():
    async def main():
        desk = Desk()
        await asyncio.to_thread(desk.rest.ask, "a")
        await delivered(desk)
        assert desk.delivered == [("a", "a!", True)]

    asyncio.run(main())


def test_what_is_asked_while_delivering_is_delivered_too():
    async def main():
        desk = Desk()
        first = desk.deliver
        desk.rest._deliver = lambda state, result: (first(state, result), state == "a" and desk.rest.ask("b"))
        desk.rest.ask("a")
        await delivered(desk)
        assert [one[0] for one in desk.delivered] == ["a", "b"]

    asyncio.run(main())


def test_what_is_dropped_never_arrives():
    async def main():
        desk = Desk(seconds=0.1)
        desk.rest.ask("a")
        desk.rest.drop()
        await asyncio.sleep(0.1)
        assert desk.worked == []
        desk.rest.ask("b")
        while not desk.worked:
            await asyncio.sleep(0.005)
        desk.rest.drop()
        await delivered(desk)
        assert desk.delivered == []

    asyncio.run(main())


def test_a_refusal_is_delivered_in_its_words():
    desk = Desk()
    desk.rest.ask("refused")
    state, error, _ = desk.delivered[0]
    assert state == "refused"
    assert isinstance(error, es.LearnerError)
    assert str(error) == "That is no eye."


def test_a_failure_is_told_and_raised():
    desk = Desk()
    with pytest.raises(ZeroDivisionError):
        desk.rest.ask("broken")
    assert isinstance(desk.delivered[0][1], es.LearnerError)
    desk.rest.ask("a")
    assert desk.delivered[1][:2] == ("a", "a!")


def test_a_failure_on_a_loop_reaches_its_handler_and_the_next_one_works():
    async def main():
        failures = []
        asyncio.get_running_loop().set_exception_handler(lambda _, told: failures.append(told["exception"]))
        desk = Desk()
        desk.rest.ask("broken")
        await delivered(desk)
        await asyncio.sleep(0.01)
        assert [type(one) for one in failures] == [ZeroDivisionError]
        desk.rest.ask("a")
        await delivered(desk)
        assert [type(one[1]) for one in desk.delivered] == [es.LearnerError, str]

    asyncio.run(main())


def test_a_loop_that_ends_leaves_no_thread_and_no_noise():
    async def main():
        desk = Desk(pause=0.0, seconds=0.2)
        desk.rest.ask("a")
        while not desk.worked:
            await asyncio.sleep(0.005)
        return desk

    desk = asyncio.run(main())
    for thread in working():
        thread.join(5.0)
    assert not working()
    assert desk.delivered == []
    desk.rest.ask("b")  # with its loop gone it is done at once
    assert [one[:2] for one in desk.delivered] == [("b", "b!")]
