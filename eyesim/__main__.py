"""The command line: ``python -m eyesim``. Opens workbook or live session, or operates a plan many times over."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from . import CAUTION, LearnerError, __version__

_WELCOME = f"""eyesim {__version__}: a lens fixed to the sclera by its haptics, and where it comes to rest.

  python -m eyesim open                the workbook, at "Start here", in a folder of your own
  python -m eyesim live                the live session on one page, for a group before a projector
  python -m eyesim operate             ten thousand virtual operations of the demonstration plan
  python -m eyesim operate PLAN.toml   of a plan of your own
  python -m eyesim assign --help       exercises for a class, in numbers of its own for each
  python -m eyesim answer FOLDER       an assignment that you were given, in JupyterLab
  python -m eyesim mark --help         mark what was handed in: gradebook, feedback, class
  python -m eyesim card PLAN.toml      a card of a plan at true scale, for the wet lab
  python -m eyesim measure PHOTO ...   a practice eye in a photograph, by points that you set
  python -m eyesim practice LOG.csv    your practice log: add to it, and what it says of your hands
  python -m eyesim warm                compile the solver beforehand, so that nothing waits for it later

Each takes --help. From Python: import eyesim as es.

{CAUTION}"""


def main(argv: list[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : list of str or None
        Arguments; None takes those the program was started with.

    Returns
    -------
    int
        0 if all went well, 2 if what was asked for cannot be, 130 if it was stopped by the keyboard.
    """
    asked = _parser().parse_args(argv)
    try:
        return asked.run(asked)
    except LearnerError as error:
        print(f"eyesim: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("\neyesim: stopped.", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader of our output has gone, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _parser():
    parser = argparse.ArgumentParser("python -m eyesim", description=_WELCOME.split("\n")[0], epilog=CAUTION)
    parser.add_argument("--version", action="version", version=f"eyesim {__version__}")
    parser.set_defaults(run=_say_what_it_can_do)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    command = commands.add_parser("open", help="open the workbook in JupyterLab", description=_open.__doc__)
    command.add_argument("--folder", type=Path, default=Path("my-workbook"), help="yours; default: ./my-workbook")
    command.add_argument("--no-browser", action="store_true", help="only print the address")
    command.add_argument("--port", type=_port, help="default: the first free one from 8888 on")
    command.set_defaults(run=_open)

    command = commands.add_parser("live", help="open the live session on one page", description=_live.__doc__)
    command.add_argument("--no-browser", action="store_true", help="only print the address")
    command.add_argument("--port", type=_port, help="default: the first free one from 8888 on")
    command.add_argument("--dark", action="store_true", help="light letters on a dark ground")
    command.set_defaults(run=_live)

    command = commands.add_parser("operate", help="operate a plan many times over", description=_operate.__doc__)
    command.add_argument("plan", metavar="PLAN.toml", type=Path, nargs="?", help="default: the demonstration plan")
    command.add_argument(
        "--out", metavar="FOLDER", type=Path, help="for the results; default: ./my-workbook/operated-PLAN"
    )
    command.add_argument("--force", action="store_true", help="overwrite earlier results in that folder")
    command.set_defaults(run=_operate)

    command = commands.add_parser("assign", help="hand an assignment out", description=_assign.__doc__)
    command.add_argument("assignment", metavar="ASSIGNMENT.toml", type=Path)
    command.add_argument("roster", metavar="ROSTER.csv", type=Path)
    command.add_argument("out", metavar="OUT", type=Path, help="folder for the folders")
    command.set_defaults(run=_assign)

    command = commands.add_parser("answer", help="open an assignment to answer it", description=_answer.__doc__)
    command.add_argument("folder", metavar="FOLDER", type=Path, help="the folder that you were given")
    command.add_argument("--port", type=_port, default=None, help="port to serve at; default: a free one")
    command.add_argument("--no-browser", action="store_true", help="do not open the browser")
    command.set_defaults(run=_answer)

    command = commands.add_parser("card", help="print a card for the wet lab", description=_card.__doc__)
    command.add_argument("plan", metavar="PLAN.toml", type=Path, nargs="?", help="default: the demonstration plan")
    command.add_argument("--out", metavar="FOLDER", type=Path, help="default: ./my-workbook/card-PLAN")
    command.add_argument("--sheet", choices=("A4", "letter"), default="A4", help="paper; default: A4")
    command.add_argument("--seat", choices=("front", "superior", "temporal"), default="front", help="turn the eye as "
                         "you see it from your seat; default: as one faces the patient")  # fmt: skip
    command.add_argument("--force", action="store_true", help="overwrite an earlier card in that folder")
    command.set_defaults(run=_card)

    command = commands.add_parser("mark", help="mark what was handed in", description=_mark.__doc__)
    command.add_argument("assignment", metavar="ASSIGNMENT.toml", type=Path)
    command.add_argument("roster", metavar="ROSTER.csv", type=Path)
    command.add_argument("folder", metavar="HAND-INS", type=Path, help="folder of hand-in files")
    command.add_argument("out", metavar="OUT", type=Path, help="folder for the results")
    command.add_argument("--force", action="store_true", help="write into a folder that holds other things too")
    command.add_argument("--items", metavar="ITEMS.csv", type=Path, help="your own objectives and levels")
    command.set_defaults(run=_mark)

    command = commands.add_parser("measure", help="measure a practice eye", description=_measure.__doc__)
    command.add_argument("photo", metavar="PHOTO", type=Path, help="JPEG or PNG, from in front or from the side")
    command.add_argument("points", metavar="POINTS.csv", type=Path, help="columns what, x, y (and mm of a ruler)")
    command.add_argument("--white-to-white", type=float, metavar="MM", help="diameter of the limbus: the scale")
    command.add_argument("--camera-from", type=float, metavar="DEG", help="meridian from whose side it was taken")
    command.add_argument("--depth", type=float, metavar="MM", help="of the optic behind the limbal plane")
    command.add_argument("--front", choices=("up", "down", "left", "right"), default="up", help="from the side: where "
                         "the front of the eye is")  # fmt: skip
    command.set_defaults(run=_measure)

    command = commands.add_parser("practice", help="keep a practice log", description=_practice.__doc__)
    command.add_argument("log", metavar="LOG.csv", type=Path, help="begun if it is not there")
    row = "quantity=dip aim=5 achieved=7.5 side=second way=towards rater=A attempt=p-01"
    command.add_argument("--add", nargs="+", metavar="NAME=VALUE", help=f"add a row, such as {row}; today's by default")
    command.add_argument("--out", metavar="FOLDER", type=Path, help="keep a page with pictures and a table there")
    command.add_argument("--force", action="store_true", help="overwrite an earlier page in that folder")
    command.set_defaults(run=_practice)

    command = commands.add_parser("warm", help="compile the solver beforehand", description=_warm.__doc__)
    command.set_defaults(run=_warm)
    return parser


def _say_what_it_can_do(asked):
    print(_WELCOME)
    return 0


def _open(asked):
    """Open the workbook in a folder of your own; nothing that you changed in it is ever overwritten."""
    from .machine import lab, workbook

    for laid in workbook.copy_lessons(workbook.shipped_lessons(), asked.folder):
        if laid.state == "beside":
            print(f"{laid.name!r} has been renewed. Yours is kept; the new one lies beside it: {laid.beside!r}.")
        elif laid.state == "renewed":
            print(f"{laid.name!r} has been renewed; you had not changed yours.")
    print(f"Your workbook: {asked.folder.resolve()}")
    return lab.open_lab(asked.folder, workbook.START, port=asked.port, browser=not asked.no_browser)


def _live(asked):
    """Open the live session: one page with the panel alone, for this machine only; it needs no network."""
    from .machine.live_page import open_live

    return open_live(port=asked.port, browser=not asked.no_browser, dark=asked.dark)


def _operate(asked):
    """Operate a plan many times over with hands that vary; print the outcome, keep tables and pictures."""
    from .eye.sources import data_folder
    from .machine.warm import warm
    from .page import report
    from .study.plan import read_plan

    path = asked.plan or data_folder() / "demo_plan.toml"
    plan = read_plan(path)
    folder = asked.out or Path("my-workbook") / f"operated-{path.stem}"
    report.check_folder(folder, overwrite=asked.force)
    warm()
    done = report.report_on(plan)
    print(done.text)
    print(f"\nKept in {folder.resolve()}: {', '.join(report.write_report(done, path, folder))}")
    return 0


def _assign(asked):
    """Write a folder for everybody in the roster, with a notebook in numbers of their own; and a preview for you."""
    from .machine.warm import warm
    from .marking.assignment import read_assignment
    from .marking.roster import read_roster
    from .page import hand_out

    assignment, roster = read_assignment(asked.assignment), read_roster(asked.roster)
    for remark in roster.remarks:
        print(f"roster, {remark}.")
    warm()
    for name in hand_out.hand_out(assignment, roster, asked.out):
        print(f"{name} is other than it would be written now, and was left as it is.")
    print(f"{len(roster.people)} folders in {asked.out.resolve()}. Look at {asked.out / hand_out.PREVIEW} first.")
    return 0


def _answer(asked):
    """Open an assignment that you were given, in JupyterLab: answer in its notebook, and make the file to hand in."""
    from .machine import lab
    from .page import hand_out

    if not (asked.folder / hand_out.NOTEBOOK).is_file():
        raise LearnerError(
            f"There is no {hand_out.NOTEBOOK} in {asked.folder}. Name the folder that you were given, the one with "
            f"{hand_out.PAGE} in it."
        )
    print("Once it is open: menu Run, Run All Cells. Then answer; each answer is saved as you write.")
    return lab.open_lab(asked.folder, hand_out.NOTEBOOK, port=asked.port, browser=not asked.no_browser)


def _card(asked):
    """Write a plan as a one-page card at true scale, to print and to take to the wet lab."""
    from .page.card import write_card

    folder = asked.out or Path("my-workbook") / f"card-{asked.plan.stem if asked.plan else 'demo_plan'}"
    names = write_card(asked.plan, folder, asked.sheet, asked.force, asked.seat)
    print(f"Kept in {folder.resolve()}: {', '.join(names)}. Print at 100 %, not fit to page; then measure the square.")
    return 0


def _mark(asked):
    """Mark what was handed in; nothing of it is run. Gradebook, feedback pages and a page on the class are kept."""
    from .machine.warm import warm
    from .marking import manual
    from .marking.assignment import read_assignment
    from .marking.roster import read_roster
    from .page.hand_out import read_items
    from .page.results import check_folder, left_over, mark_class, write_results

    assignment, roster = read_assignment(asked.assignment), read_roster(asked.roster)
    check_folder(asked.out, asked.folder, overwrite=asked.force)
    warm()
    items = read_items(asked.items) if asked.items else None
    given = manual.read_manual_marks(asked.out / manual.NAME)
    results = mark_class(assignment, roster, asked.folder, given=given)
    if results.remarks:
        print(results.words)
    names = write_results(assignment, results, asked.out, items=items)
    here = sum(one.state != "missing" for one in results.everybody)
    print(f"{here} of {len(results.everybody)} handed in. Kept in {asked.out.resolve()}: {len(names)} files.")
    print(f"Begin with {asked.out / 'class.html'} and {asked.out / 'gradebook.csv'}.")
    for name in left_over(asked.out, names):
        print(f"{name} is from before, and of nobody in the roster.")
    waiting = sum(len(one.waiting) for one in results.everybody)
    if waiting:
        texts = "1 text waits" if waiting == 1 else f"{waiting} texts wait"
        print(f"{texts} for you: fill in the column 'points' of {asked.out / manual.NAME}, and mark again.")
    return 0


def _measure(asked):
    """Measure a practice eye in a photograph, by points that were set on it: place of the optic, marks, lines, tilt."""
    from .page.measurement import measure_files
    from .photo.camera import Known

    given = {name: getattr(asked, name) for name in ("white_to_white", "camera_from", "depth")}
    known = Known(**{name: value for name, value in given.items() if value is not None})
    print(measure_files(asked.photo, asked.points, known, front=asked.front).words)
    print(f"\n{CAUTION}")
    return 0


def _practice(asked):
    """Add a row to a practice log, or say what it tells: bias, spread, raters, the learning curve, what to drill."""
    from . import practice
    from .machine.warm import warm
    from .page import practice_report
    from .practice.log import parse_row

    if asked.add:
        row = parse_row(asked.add)
        practice.add(asked.log, row)
        print(f"Kept: {row!r}")
        return 0
    log = practice.read_log(asked.log)
    warm()
    print(practice.summarize(log))
    if asked.out:
        names = practice_report.write_practice(log, asked.out, overwrite=asked.force)
        print(f"\nKept in {asked.out.resolve()}: {', '.join(names)}.")
    print(f"\n{CAUTION}")
    return 0


def _warm(asked):
    """Compile the solver for this machine and keep it, so that nothing waits for it later."""
    from .machine.warm import warm

    warm()
    print("The solver is ready.")
    return 0


def _port(text):
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a whole number from 1 to 65535; {text!r} was given")
    return int(text)


if __name__ == "__main__":
    sys.exit(main())
