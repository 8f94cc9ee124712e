"""A class on one server, just as DEVELOPERS.md says: two accounts, a hub, a browser, and all that is handed in."""

from __future__ import annotations

import contextlib
import csv
import importlib.util
import io
import os
import pwd
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from eyesim.__main__ import main

host = pytest.importorskip("host", reason="playwright is missing")
from drive import READY, RUN  # noqa: E402
from test_class import HOUR, PATH, answer, board, hand_in  # noqa: E402

PROXY = "configurable-http-proxy@5.3.0"
TOOLS = "useradd userdel groupadd groupdel usermod chpasswd setsid setpriv unshare mount tar npm node bash".split()
SECTION = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = re.search(r"^## A class on one server$(.*?)(?=^## |\Z)", SECTION, re.M | re.S)[1]
INSTALL, HUB, HAND_OUT, COLLECT = re.findall(r"^```(?:sh|python [a-z.]+)\n(.*?)^```$", SECTION, re.M | re.S)
GROUP = f"eye{os.getpid()}"
ADA, BO = WHO = f"{GROUP}a", f"{GROUP}b"
WORD = "a-long-word-for-the-test"


def missing():
    """Say what this machine lacks; "" if nothing."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        return "accounts can be made by root on Linux only"
    if host.CHROMIUM is None:
        return "no Chromium on this machine (apt install chromium)"
    if importlib.util.find_spec("jupyterhub") is None:
        return "jupyterhub is missing"
    lacking = [tool for tool in TOOLS if shutil.which(tool) is None]
    return f"missing on this machine: {', '.join(lacking)}" if lacking else ""


WHY = missing()
pytestmark = pytest.mark.skipif(bool(WHY), reason=WHY)


@pytest.fixture(scope="module")
def proxy(tmp_path_factory):
    """Program that stands before the hub, from the npm registry."""
    folder = tmp_path_factory.mktemp("proxy")
    command = ["npm", "install", "--silent", "--ignore-scripts", "--no-audit", "--prefix", str(folder), PROXY]
    try:
        ran = subprocess.run(command, capture_output=True, text=True, timeout=120)
    except subprocess.TimeoutExpired as error:
        pytest.skip(f"npm cannot be used here: {error}")
    if ran.returncode:
        pytest.skip(f"the npm registry has no answer: {(ran.stdout + ran.stderr)[-200:]}")
    return str(folder / "node_modules" / ".bin" / "configurable-http-proxy")


@pytest.fixture(scope="module")
def accounts():
    """Two accounts made as the page says, the second not in the group yet; gone afterwards, with all they started."""
    options = re.search(r"useradd (-m .*? -s \S+) -G residents", INSTALL)[1].split()
    try:
        subprocess.run(["groupadd", GROUP], check=True)
        for who in WHO:
            subprocess.run(["useradd", *options, who], check=True)
        subprocess.run(["usermod", "-aG", GROUP, ADA], check=True)
        subprocess.run(["chpasswd"], input="".join(f"{who}:{WORD}\n" for who in WHO), text=True, check=True)
        yield WHO
    finally:
        for who in WHO:
            for process in running(who):
                with contextlib.suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
            subprocess.run(["userdel", "-r", who], capture_output=True)
        subprocess.run(["groupdel", GROUP], capture_output=True)


def commands(who):
    """Name the commands that an account runs."""
    found = []
    for process in running(who):
        with contextlib.suppress(OSError):
            found.append(Path(f"/proc/{process}/cmdline").read_text().replace("\0", " "))
    return found


def running(who):
    """Find the processes of an account."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError, KeyError):
            if place.stat().st_uid == pwd.getpwnam(who).pw_uid:
                found.append(int(place.name))
    return found


@pytest.fixture(scope="module")
def world(accounts, tmp_path_factory):
    """How a command begins in whose world all may read this Python; a machine for tests may keep it in root's home."""
    base, begin = Path(sys.base_prefix).resolve(), []
    closed = next((place for place in (*reversed(base.parents), base) if not place.stat().st_mode & 1), None)
    if closed is not None:  # seen by these commands alone, and gone with them
        cover = 'mount --bind "$1" "$3" && mount -t tmpfs -o mode=755 none "$2" && mkdir -p "$1" && '
        cover += 'mount --move "$3" "$1" && shift 3 && exec "$@"'
        aside = tmp_path_factory.mktemp("aside")
        begin = ["unshare", "--mount", "sh", "-c", cover, "sh", str(base), str(closed), str(aside)]
    looked = done_as(begin, ADA, f"cd && {sys.executable} -c 'import eyesim, jupyterhub'")
    if looked.returncode:
        pytest.skip(f"other accounts cannot read this Python or this project: {looked.stderr[-300:]}")
    return begin


def done_as(world, who, command):
    """Let an account do something in a shell."""
    group = str(pwd.getpwnam(who).pw_gid)
    begin = [*world, "setpriv", f"--reuid={who}", f"--regid={group}", "--init-groups", "--reset-env", "sh", "-c"]
    return subprocess.run([*begin, command], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60)


def as_said(text):
    """Text of the page for this group and this Python."""
    return text.replace("/opt/eyesim/bin/python", sys.executable).replace("residents", GROUP)


@pytest.fixture(scope="module")
def handed_out(world, tmp_path_factory):
    """Lay out what the director has: the roster, `out`, and the script that collects."""
    desk = tmp_path_factory.mktemp("desk")
    (desk / "roster.csv").write_text(f"id;name\n{ADA};Ada\n{BO};Bo\n")
    assert main(["assign", str(PATH), str(desk / "roster.csv"), str(desk / "out")]) == 0
    (desk / "collect.py").write_text(as_said(COLLECT))
    ran = [subprocess.run([*world, "bash", "-c", as_said(HAND_OUT)], cwd=desk, capture_output=True, text=True)]
    assert f"no such resident: {BO}" in ran[0].stdout  # nothing is done in a home of somebody else
    assert not Path(pwd.getpwnam(BO).pw_dir, "first-hour").exists()
    return desk, lambda: subprocess.run(
        [*world, "bash", "-c", as_said(HAND_OUT)], cwd=desk, capture_output=True, text=True
    )


def free_ports(n):
    with contextlib.ExitStack() as held:
        probes = [held.enter_context(socket.socket()) for _ in range(n)]
        for probe in probes:
            probe.bind(("127.0.0.1", 0))
        return [probe.getsockname()[1] for probe in probes]


@pytest.fixture(scope="module")
def hub(world, proxy, tmp_path_factory):
    """Address of the hub with the settings of the page; only ports, proxy and what the test looks at are its own."""
    place = tmp_path_factory.mktemp("hub")
    outer, inner, way = free_ports(3)
    own = f"""
c.JupyterHub.bind_url = "http://127.0.0.1:{outer}"
c.JupyterHub.hub_port = {inner}
c.ConfigurableHTTPProxy.api_url = "http://127.0.0.1:{way}"
c.ConfigurableHTTPProxy.command = ["{proxy}"]
c.Spawner.args.append("--LabApp.expose_app_in_browser=True")
"""
    (place / "hub.py").write_text(as_said(HUB) + own)
    with (place / "log").open("w") as log:
        command = [*world, sys.executable, "-m", "jupyterhub", "-f", "hub.py"]
        process = subprocess.Popen(command, cwd=place, stdout=log, stderr=log, start_new_session=True)
    try:
        until = time.monotonic() + 60
        while True:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", outer), 1):
                break
            assert process.poll() is None, (place / "log").read_text()[-2000:]
            if time.monotonic() > until:
                pytest.fail((place / "log").read_text()[-2000:])
            time.sleep(0.2)
        yield f"http://127.0.0.1:{outer}"
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(30)
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
    until = time.monotonic() + 15
    while any(running(who) for who in WHO) and time.monotonic() < until:
        time.sleep(0.3)
    assert [commands(who) for who in WHO] == [[], []], "servers are left"
    for port in (outer, inner, way):
        with pytest.raises(OSError, match="refused"):
            socket.create_connection(("127.0.0.1", port), 1)


@pytest.fixture(scope="module")
def browser():
    with host.chromium() as one:
        yield one


def log_in(browser, hub, who):
    page = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True).new_page()
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.goto(hub)
    page.locator("input[name=username]").fill(who)
    page.locator("input[name=password]").fill(WORD)
    page.locator("input[type=submit], button[type=submit]").first.click()
    return page


def open_by_hand(page, n):
    """Open the notebook as a learner does, by the list of files, and run it."""
    page.wait_for_function("window.jupyterapp", timeout=90_000)
    page.evaluate("window.jupyterapp.restored")
    for name in ("first-hour", "Assignment.ipynb"):
        page.locator(".jp-DirListing-item", has_text=name).dblclick(timeout=20_000)
    page.wait_for_selector(".jp-Notebook .jp-MarkdownOutput h1", timeout=30_000)
    assert page.evaluate(READY)
    assert page.evaluate(RUN)
    page.wait_for_function(f"document.querySelectorAll('.eyesim-board').length === {n}", timeout=60_000)


def test_two_accounts_answer_hand_in_and_are_marked_and_nobody_reads_another_s(browser, hub, handed_out, world):
    desk, hand_out_again = handed_out
    page = log_in(browser, hub, BO)
    page.wait_for_selector("text=Invalid username or password", timeout=30_000)
    page.context.close()
    subprocess.run(["usermod", "-aG", GROUP, BO], check=True)
    ran = hand_out_again()
    assert (ran.returncode, ran.stdout.count("no such resident")) == (0, 0), ran.stdout + ran.stderr

    pages = {who: log_in(browser, hub, who) for who in WHO}
    for page in pages.values():
        open_by_hand(page, len(HOUR.entries) + 1)
    answer(pages[ADA], ADA, 0, keyboard=False)
    answer(pages[BO], BO, 0, keyboard=True, wrong="arc-on-the-wall")
    answer(pages[ADA], ADA, 8, keyboard=True)
    answer(pages[BO], BO, 8, keyboard=False)
    for who, page in pages.items():
        assert ADA == who or "Right." not in board(page, 0).text_content()
        button = board(page, len(HOUR.entries)).get_by_role("button", name="Make the hand-in file")
        button.click()  # what is not answered yet is told first
        board(page, len(HOUR.entries)).get_by_text("Press again to hand in as it is").wait_for(timeout=20_000)
        hand_in(page)
        if folder := os.environ.get("EYESIM_SHOTS"):
            page.screenshot(path=Path(folder) / f"hub-{WHO.index(who)}.png")
        assert page.faults == []
        page.context.close()
    for who, other in (WHO, WHO[::-1]):
        assert "denied" in done_as(world, who, f"cat ~{other}/first-hour/hand-in-{other}.json").stderr

    link = f"cd ~{BO}/first-hour && mv hand-in-{BO}.json kept && ln -s /etc/shadow hand-in-{BO}.json"
    assert done_as(world, BO, link).returncode == 0
    said = collected(world, desk, "tricked")
    assert f"{BO}: " in said
    assert [path.name for path in (desk / "box" / "tricked").iterdir()] == [f"{ADA}.json"]
    assert done_as(world, BO, f"cd ~{BO}/first-hour && mv -f kept hand-in-{BO}.json").returncode == 0
    assert collected(world, desk, "monday") == ""
    shutil.rmtree(desk / "box" / "tricked")
    marks = desk / "marks"
    assert main(["mark", str(PATH), str(desk / "roster.csv"), str(desk / "box"), str(marks)]) == 0
    rows = list(csv.DictReader(io.StringIO((marks / "gradebook.csv").read_text(encoding="utf-8-sig"))))
    assert [(row["id"], row["state"], row["points"]) for row in rows] == [
        (ADA, "handed in", "2.0"),
        (BO, "handed in", "1.0"),
    ]


def collected(world, desk, name):
    """Collect into a new folder of the box; return what was said."""
    command = [*world, sys.executable, "-I", "collect.py", "first-hour", f"box/{name}"]
    ran = subprocess.run(command, cwd=desk, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout
