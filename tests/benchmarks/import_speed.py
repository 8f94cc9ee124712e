"""How long `import eyesim` takes, beside `import numpy`, which it cannot do without.

Run: python tests/benchmarks/import_speed.py

Starts both alternately, each time in a process of its own, and prints the shortest time of each and the ratio. Exits
with 1 if a learner would wait for half a second or more.
"""

from __future__ import annotations

import subprocess
import sys

LONGEST = 0.5
"""What a learner at a prompt does not feel as waiting [s]."""
TIMED = "import time; start = time.perf_counter(); import {}; print(time.perf_counter() - start)"


def main(rounds=9):
    """Print the figures; return the exit code."""
    times = {"numpy": [], "eyesim": []}
    for _ in range(rounds):
        for name, found in times.items():
            ran = subprocess.run([sys.executable, "-c", TIMED.format(name)], capture_output=True, text=True, check=True)
            found.append(float(ran.stdout))
    numpy, eyesim = (min(found) for found in times.values())
    print(f"import numpy   {numpy:8.3f} s")
    print(f"import eyesim  {eyesim:8.3f} s, bound {LONGEST} s")
    print(f"ratio          {eyesim / numpy:8.2f}")
    return int(eyesim >= LONGEST)


if __name__ == "__main__":
    sys.exit(main())
