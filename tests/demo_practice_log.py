"""The demonstration's practice logs, all invented; run as a script it writes them anew.

The recipe of `practice-log.csv`: one resident, forty passes on practice eyes from 7 September 2026 on, one to three
days apart, first and second haptic in turn; the second runs towards oneself. Normal errors with a spread of 3.0 deg
(dip), 2.0 deg (meridian) and 0.25 mm (tunnel). Passes towards oneself dip too steeply, by 9 deg at first and 1 deg
in the end, in equal steps. Rater A measures everything with an error of 0.5 deg or 0.05 mm, rater B the dip of fifteen
passes with 0.8 deg, and reads 0.6 deg more than A. Seed 20260907.

`practice-log-damaged.csv` is what a spreadsheet and a power cut may make of such a log: semicolons, decimal commas, and
rows that cannot be read.
"""

from __future__ import annotations

import datetime

import numpy as np

from eyesim.eye.sources import data_folder
from eyesim.practice.log import addition
from eyesim.practice.measurement import Measurement

DEMO = data_folder() / "demo"
SEED, ATTEMPTS = 20260907, 40
AIMS = {"iris_angle": 5.0, "meridian": 0.0, "tunnel_length": 2.0}
SPREADS = {"iris_angle": 3.0, "meridian": 2.0, "tunnel_length": 0.25}
READING = {"iris_angle": 0.5, "meridian": 0.5, "tunnel_length": 0.05}
STEEP = (9.0, 1.0)
"""How much too steep passes towards oneself are at first and in the end [deg]."""
_REMARKS = (
    "# Invented for teaching: no resident and no practice eye stands behind these rows.",
    "# Recipe: tests/demo_practice_log.py in the project; angles in deg and lengths in mm.",
)
_DAMAGED = (
    "# Invented for teaching: a log after a spreadsheet and a power cut. Some rows are meant to be unreadable.",
    "when;attempt;quantity;aim;achieved;unit;side;hand;seat;pass;rater;note",
    "02.11.2026;d-01;iris_angle;5;7,5;deg;second;right;superior;towards;A;",
    "02.11.2026;d-01;meridian;180;182,5;deg;second;right;superior;towards;A;",
    "03.11.2026;d-02;iris_angle;5;six;deg;first;right;superior;away;A;a word for a number",
    "04.11.2026;d-03;iris_angle;5;4,0;mm;first;right;superior;away;A;an angle in millimetres",
    "05/06/2026;d-04;iris_angle;5;4,0;deg;first;right;superior;away;A;a day that could be two",
    "06.11.2026;d-05;tunnel_lenght;2;2,2;mm;first;right;superior;away;A;a slip in the name",
    "07.11.2026;d-06;tunnel_length;2;2,2;mm;first;right;superior;away;'=A1;a formula for a name, made harmless",
    "08.11.2026;d-07;iris_angle;5;64;deg;second;right;superior;towards;A;a miss beyond all sense",
    "09.11.2026;d-08;iris_an[cut off]",
    "10.11.2026;d-09;iris_angle;5;6,5;deg;first;right;superior;away;A;the last good row",
)


def rows():
    """Rows of the demonstration's log, in their order."""
    rng = np.random.default_rng(SEED)
    day, found = datetime.date(2026, 9, 7), []
    second = set(rng.permutation(ATTEMPTS)[:15])
    for i in range(ATTEMPTS):
        towards = i % 2 == 1
        steep = STEEP[0] + (STEEP[1] - STEEP[0]) * i / (ATTEMPTS - 1.0)
        common = {
            "when": day, "attempt": f"p-{i + 1:02d}", "side": "second" if towards else "first", "hand": "right",
            "seat": "superior", "way": "towards" if towards else "away",
        }  # fmt: skip
        for quantity, aim in AIMS.items():
            aim += 180.0 * (quantity == "meridian" and towards)
            truth = aim + SPREADS[quantity] * rng.normal() + steep * (quantity == "iris_angle" and towards)
            reading = round(truth + READING[quantity] * rng.normal(), 2 if quantity == "tunnel_length" else 1)
            found.append(Measurement(quantity=quantity, aim=aim, achieved=reading, rater="A", **common))
            if quantity == "iris_angle" and i in second:
                reading = round(truth + 0.6 + 0.8 * rng.normal(), 1)
                found.append(Measurement(quantity=quantity, aim=aim, achieved=reading, rater="B", **common))
        day += datetime.timedelta(days=int(rng.integers(1, 4)))
    return found


def contents():
    """Content of every file by name, bytes."""
    log = ("\ufeff" + "\r\n".join(_REMARKS) + "\r\n").encode()
    for row in rows():
        log += addition(log, row)
    return {"practice-log.csv": log, "practice-log-damaged.csv": ("\ufeff" + "\r\n".join(_DAMAGED) + "\r\n").encode()}


if __name__ == "__main__":
    for name, content in contents().items():
        (DEMO / name).write_bytes(content)
