#!/usr/bin/env python3
"""Instructions of the three short runs, counted by valgrind, against those recorded.

    cmake --build build-bench --target bench_instructions
    python3 tests/bench/instructions.py BENCH_SHORT_RUN [--record]

Counts what run() does, not the reading of the scenario. Instructions depend on compiler, flags and C library, so the
record says which; nothing fails here, the table is for people. About a minute a run. Needs valgrind.
"""
import argparse
import json
import pathlib
import re
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
RECORD = HERE / "instructions.json"
RUNS = 3


def compiler():
    line = subprocess.run(["c++", "--version"], capture_output=True, text=True, check=True).stdout.splitlines()[0]
    libc = subprocess.run(["ldd", "--version"], capture_output=True, text=True, check=True).stdout.splitlines()[0]
    return f"{line}; {libc}"


def count(program, number, folder):
    out = pathlib.Path(folder) / f"callgrind.{number}"
    done = subprocess.run(["valgrind", "--tool=callgrind", "--toggle-collect=clampfade::run(*",
                           f"--callgrind-out-file={out}",
                           program, str(number)], capture_output=True, text=True, check=True)
    collected = re.search(r"Collected\s*:\s*(\d+)", done.stderr)
    if not collected or int(collected[1]) == 0:
        raise SystemExit("instructions: valgrind counted nothing; it said:\n" + done.stderr)
    return done.stdout.strip(), int(collected[1])


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--record", action="store_true", help="write the counts to " + RECORD.name)
    options = parser.parse_args()
    recorded = json.loads(RECORD.read_text()) if RECORD.exists() else {"with": "nothing", "instructions": {}}
    now = {"with": compiler(), "instructions": {}}
    print(f"recorded with {recorded['with']}\nthis is       {now['with']}\n")
    print(f"{'run':34} {'instructions':>16} {'recorded':>16} {'change':>8}")
    with tempfile.TemporaryDirectory() as folder:
        for number in range(RUNS):
            name, instructions = count(options.program, number, folder)
            now["instructions"][name] = instructions
            before = recorded["instructions"].get(name)
            change = f"{100 * (instructions / before - 1):+.1f} %" if before else "-"
            print(f"{name:34} {instructions:16,} {before or 0:16,} {change:>8}", flush=True)
    if options.record:
        RECORD.write_text(json.dumps(now, indent=2) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
