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
    args = _parser().parse_args(argv)
    try:
        return args.run(args) or 0
    except LearnerError as error:
        print(f"eyesim: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("\neyesim: stopped.", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader of our output has gone, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _command(words, *options):
    """Make the function below a command that is called like it; its docstring is what the help of it begins with.

    Parameters
    ----------
    words : str
        What it does, in the list of all commands.
    *options : (tuple, dict)
        What it takes, from `_option`.
    """

    def register(action):
        _COMMANDS.append((words, options, action))
        return action

    return register


def _option(*names, **settings):
    return names, settings


def _port(text):
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a whole number from 1 to 65535; {text!r} was given")
    return int(text)


_COMMANDS = []
_NO_BROWSER = _option("--no-browser", action="store_true", help="only print the address")
_PORT = _option("--port", type=_port, help="default: the first free one from 8888 on")
_ASSIGNMENT = _option("assignment", metavar="ASSIGNMENT.toml", type=Path)
_ROSTER = _option("roster", metavar="ROSTER.csv", type=Path)
_PLAN = _option("plan", metavar="PLAN.toml", type=Path, nargs="?", help="default: the demonstration plan")


def _parser():
    parser = argparse.ArgumentParser("python -m eyesim", description=_WELCOME.split("\n")[0], epilog=CAUTION)
    parser.add_argument("--version", action="version", version=f"eyesim {__version__}")
    parser.set_defaults(run=_welcome)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for words, options, action in _COMMANDS:
        command = commands.add_parser(action.__name__.strip("_"), help=words, description=action.__doc__)
        for names, settings in options:
            command.add_argument(*names, **settings)
        command.set_defaults(run=action)
    return parser


def _welcome(args):
    print(_WELCOME)


@_command(
    "open the workbook in JupyterLab",
    _option("--folder", type=Path, default=Path("my-workbook"), help="yours; default: ./my-workbook"),
    _NO_BROWSER,
    _PORT,
)
def _open(args):
    """Open the workbook in a folder of your own; nothing that you changed in it is ever overwritten."""
    from .machine import jupyterlab, workbook

    for lesson in workbook.copy_lessons(workbook.shipped_lessons(), args.folder):
        if lesson.state == "beside":
            print(f"{lesson.name!r} has been renewed. Yours is kept; the new one lies beside it: {lesson.beside!r}.")
        elif lesson.state == "renewed":
            print(f"{lesson.name!r} has been renewed; you had not changed yours.")
    print(f"Your workbook: {args.folder.resolve()}")
    return jupyterlab.open_lab(args.folder, workbook.START, port=args.port, browser=not args.no_browser)


@_command(
    "open the live session on one page",
    _NO_BROWSER,
    _PORT,
    _option("--dark", action="store_true", help="light letters on a dark ground"),
)
def _live(args):
    """Open the live session: one page with the panel alone, for this machine only; it needs no network."""
    from .machine.live_page import open_live

    return open_live(port=args.port, browser=not args.no_browser, dark=args.dark)


@_command(
    "operate a plan many times over",
    _PLAN,
    _option("--out", metavar="FOLDER", type=Path, help="for the results; default: ./my-workbook/operated-PLAN"),
    _option("--force", action="store_true", help="overwrite earlier results in that folder"),
)
def _operate(args):
    """Operate a plan many times over with hands that vary; print the outcome, keep tables and pictures."""
    from .eye.sources import data_folder
    from .machine.warm import warm
    from .page import report
    from .study.plan import read_plan

    path = args.plan or data_folder() / "demo_plan.toml"
    plan = read_plan(path)
    folder = args.out or Path("my-workbook") / f"operated-{path.stem}"
    report.check_folder(folder, overwrite=args.force)
    warm()
    done = report.report_on(plan)
    print(done.text)
    print(f"\nKept in {folder.resolve()}: {', '.join(report.write_report(done, path, folder))}")


@_command(
    "hand an assignment out",
    _ASSIGNMENT,
    _ROSTER,
    _option("out", metavar="OUT", type=Path, help="folder for the folders"),
)
def _assign(args):
    """Write a folder for everybody in the roster, with a notebook in numbers of their own; and a preview for you."""
    from .machine.warm import warm
    from .marking.assignment import read_assignment
    from .marking.roster import read_roster
    from .page import hand_out

    assignment, roster = read_assignment(args.assignment), read_roster(args.roster)
    for remark in roster.remarks:
        print(f"roster, {remark}.")
    warm()
    for name in hand_out.hand_out(assignment, roster, args.out):
        print(f"{name} is other than it would be written now, and was left as it is.")
    print(f"{len(roster.people)} folders in {args.out.resolve()}. Look at {args.out / hand_out.PREVIEW} first.")


@_command(
    "open an assignment to answer it",
    _option("folder", metavar="FOLDER", type=Path, help="the folder that you were given"),
    _PORT,
    _NO_BROWSER,
)
def _answer(args):
    """Open an assignment that you were given, in JupyterLab: answer in its notebook, and make the file to hand in."""
    from .machine import jupyterlab
    from .page import hand_out

    if not (args.folder / hand_out.NOTEBOOK).is_file():
        raise LearnerError(
            f"There is no {hand_out.NOTEBOOK} in {args.folder}. Name the folder that you were given, the one with "
            f"{hand_out.PAGE} in it."
        )
    print("Once it is open: menu Run, Run All Cells. Then answer; each answer is saved as you write.")
    return jupyterlab.open_lab(args.folder, hand_out.NOTEBOOK, port=args.port, browser=not args.no_browser)


@_command(
    "print a card for the wet lab",
    _PLAN,
    _option("--out", metavar="FOLDER", type=Path, help="default: ./my-workbook/card-PLAN"),
    _option("--sheet", choices=("A4", "letter"), default="A4", help="paper; default: A4"),
    _option(
        "--seat",
        choices=("front", "superior", "temporal"),
        default="front",
        help="turn the eye as you see it from your seat; default: as one faces the patient",
    ),
    _option("--force", action="store_true", help="overwrite an earlier card in that folder"),
)
def _card(args):
    """Write a plan as a one-page card at true scale, to print and to take to the wet lab."""
    from .page.card import write_card

    folder = args.out or Path("my-workbook") / f"card-{args.plan.stem if args.plan else 'demo_plan'}"
    names = write_card(args.plan, folder, args.sheet, args.force, args.seat)
    print(f"Kept in {folder.resolve()}: {', '.join(names)}. Print at 100 %, not fit to page; then measure the square.")


@_command(
    "mark what was handed in",
    _ASSIGNMENT,
    _ROSTER,
    _option("folder", metavar="HAND-INS", type=Path, help="folder of hand-in files"),
    _option("out", metavar="OUT", type=Path, help="folder for the results"),
    _option("--force", action="store_true", help="write into a folder that holds other things too"),
    _option("--items", metavar="ITEMS.csv", type=Path, help="your own objectives and levels"),
)
def _mark(args):
    """Mark what was handed in; nothing of it is run. Gradebook, feedback pages and a page on the class are kept."""
    from .machine.warm import warm
    from .marking import manual
    from .marking.assignment import read_assignment
    from .marking.roster import read_roster
    from .page.hand_out import read_items
    from .page.results import check_folder, left_over, mark_class, write_results

    assignment, roster = read_assignment(args.assignment), read_roster(args.roster)
    check_folder(args.out, args.folder, overwrite=args.force)
    warm()
    items = read_items(args.items) if args.items else None
    given = manual.read_manual_marks(args.out / manual.NAME)
    results = mark_class(assignment, roster, args.folder, given=given)
    if results.remarks:
        print(results.words)
    names = write_results(assignment, results, args.out, items=items)
    here = sum(one.state != "missing" for one in results.everybody)
    print(f"{here} of {len(results.everybody)} handed in. Kept in {args.out.resolve()}: {len(names)} files.")
    print(f"Begin with {args.out / 'class.html'} and {args.out / 'gradebook.csv'}.")
    for name in left_over(args.out, names):
        print(f"{name} is from before, and of nobody in the roster.")
    waiting = sum(len(one.waiting) for one in results.everybody)
    if waiting:
        texts = "1 text waits" if waiting == 1 else f"{waiting} texts wait"
        print(f"{texts} for you: fill in the column 'points' of {args.out / manual.NAME}, and mark again.")


@_command(
    "measure a practice eye",
    _option("photo", metavar="PHOTO", type=Path, help="JPEG or PNG, from in front or from the side"),
    _option("points", metavar="POINTS.csv", type=Path, help="columns what, x, y (and mm of a ruler)"),
    _option("--white-to-white", type=float, metavar="MM", help="diameter of the limbus: the scale"),
    _option("--camera-from", type=float, metavar="DEG", help="meridian from whose side it was taken"),
    _option("--depth", type=float, metavar="MM", help="of the optic behind the limbal plane"),
    _option(
        "--front",
        choices=("up", "down", "left", "right"),
        default="up",
        help="from the side: where the front of the eye is",
    ),
)
def _measure(args):
    """Measure a practice eye in a photograph, by points that were set on it: place of the optic, marks, lines, tilt."""
    from .page.measurement import measure_files
    from .photo.camera import Known

    given = {name: getattr(args, name) for name in ("white_to_white", "camera_from", "depth")}
    known = Known(**{name: value for name, value in given.items() if value is not None})
    print(measure_files(args.photo, args.points, known, front=args.front).words)
    print(f"\n{CAUTION}")


_ROW = "quantity=iris_angle aim=5 achieved=7.5 side=second way=towards rater=A attempt=p-01"


@_command(
    "keep a practice log",
    _option("log", metavar="LOG.csv", type=Path, help="begun by --add if it is not there"),
    _option("--add", nargs="+", metavar="NAME=VALUE", help=f"add a row, such as {_ROW}; today's by default"),
    _option("--out", metavar="FOLDER", type=Path, help="keep a page with pictures and a table there"),
    _option("--force", action="store_true", help="overwrite an earlier page in that folder"),
)
def _practice(args):
    """Add a row to a practice log, or say what it tells: bias, spread, raters, the learning curve, what to drill."""
    from . import practice
    from .machine.warm import warm
    from .page import practice_report
    from .practice.log import parse_row

    if args.add:
        row = parse_row(args.add)
        practice.add(args.log, row)
        print(f"Kept: {row!r}")
        return
    log = practice.read_log(args.log)
    warm()
    print(practice.summarize(log))
    if args.out:
        names = practice_report.write_practice(log, args.out, overwrite=args.force)
        print(f"\nKept in {args.out.resolve()}: {', '.join(names)}.")
    print(f"\n{CAUTION}")


@_command("compile the solver beforehand")
def _warm(args):
    """Compile the solver for this machine and keep it, so that nothing waits for it later."""
    from .machine.warm import warm

    warm()
    print("The solver is ready.")


if __name__ == "__main__":
    sys.exit(main())
