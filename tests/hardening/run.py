#!/usr/bin/python3
"""Does to the programs what the world does to programs: disks that fill, files that break, processes that die.

    run.py --program build/clampfade --report build/clampfade-report            quick, about a minute
    run.py --program ... --report ... --full                                     all of it, on demand
    run.py ... --only damage                                                     one part
"""

import argparse
import pathlib
import sys
import tempfile
import time

import damage
import death
import disk
import changes
import places
import together
from harness import Bench, table
from material import Material

PARTS = {"damage": damage, "disk": disk, "places": places, "death": death, "together": together, "changes": changes}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", required=True, type=pathlib.Path)
    parser.add_argument("--report", required=True, type=pathlib.Path)
    parser.add_argument("--seed", type=int, default=1, help="of what is drawn; moments of signals are never the same")
    size = parser.add_mutually_exclusive_group()
    size.add_argument("--quick", action="store_true", help="a few of each, the default")
    size.add_argument("--full", action="store_true")
    parser.add_argument("--only", choices=PARTS, action="append")
    parser.add_argument("--work", help="folder to work in, which is kept; default: one that is removed")
    options = parser.parse_args()
    start = time.time()
    with tempfile.TemporaryDirectory(prefix="clampfade-hardening-") as temporary:
        pathlib.Path(temporary).chmod(0o755)
        bench = Bench(options.program.resolve(), options.report.resolve(), options.work or temporary, options.full)
        bench.seed = options.seed
        material = Material(bench).make()
        for name, part in PARTS.items():
            if not options.only or name in options.only:
                part.run(bench, material)
    print("\n" + table(bench.rows, time.time() - start))
    return 1 if any(r.faults for r in bench.rows) else 0


if __name__ == "__main__":
    sys.exit(main())
