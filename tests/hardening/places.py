"""Paths that cannot be written or read, and standard streams that are closed or full."""

import os
import shutil
import subprocess
import threading

from disk import writers
from harness import FILE, INPUT, difference, sealed, sound_end

NOBODY = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"]


def others_can_be_tried(bench):
    """Whether programs can be run as a user who has no rights here; root has them all."""
    if os.geteuid() != 0 or shutil.which("setpriv") is None:
        return False
    return subprocess.run([*NOBODY, bench.program, "--version"], capture_output=True).returncode == 0


def inside(folder):
    return {f.name: f.read_bytes() if f.is_file() else None for f in folder.iterdir()}


def outputs(bench, m):
    row = bench.row("places", "output is a folder, lies in no folder, in a file, in a folder that is read-only; is a "
                              "FIFO, /dev/null, /dev/full, a name too long")
    other = others_can_be_tried(bench)
    if not other:
        row.notes.append("read-only folders left out: no other user")
    for w in writers(bench, m):
        end = w.out[w.out.index("."):]
        reports = w.args[0] == bench.report_program
        figure = w.args[1] == "figure"  # whose name says what it is to be, so that a device is refused first
        places = ["folder" + end, "nowhere/x" + end, "file/x" + end, "fifo" + end, "n" * 300 + end] + \
            ([] if figure else ["/dev/null", "/dev/full"]) + (["shut/x" + end] if other else [])
        for place in places:
            for force in (False, True):
                here = bench.folder("places")
                (here / ("folder" + end)).mkdir()
                (here / "file").write_text("a file\n")
                (here / "shut").mkdir()
                (here / "shut").chmod(0o555)
                os.mkfifo(here / ("fifo" + end))
                before = sorted(here.rglob("*"))
                args = [place if a == w.out else a for a in w.args] + (["--force"] if force else [])
                if place.startswith("shut"):
                    args = NOBODY + args
                trial = f"{w.name} -o {place[:20]}{' --force' if force else ''}"
                row.tried += 1
                # A pipe with a reader, so that what is written to it goes somewhere.
                got = []
                reader = threading.Thread(target=lambda: got.append((here / ("fifo" + end)).read_bytes()), daemon=True)
                if place.startswith("fifo") and reports:
                    reader.start()
                result = bench.run(args, here, timeout=60)
                if reports and (place == "/dev/null" or place.startswith("fifo")):
                    sound_end(row, result, (0,), trial)
                    if place.startswith("fifo"):
                        reader.join(timeout=10)
                        row.check(got and len(got[0]) > 0, f"{trial}: nothing came out of the pipe")
                elif sound_end(row, result, (FILE,), trial):
                    row.check(place[:60] in result.err, f"{trial}: the message does not name it: {result.err[:300]!r}")
                row.check(sorted(here.rglob("*")) == before, f"{trial}: something was left: "
                          f"{[str(f) for f in here.rglob('*') if f not in before]}")
    row.check(not os.path.exists("/dev/null.part") and not os.path.exists("/dev/full.part"), "something left in /dev")


def inputs(bench, m):
    row = bench.row("places", "input is missing, a folder, empty, /dev/null, a FIFO without a writer, unreadable")
    p, r = bench.program, bench.report_program
    other = others_can_be_tried(bench)
    if not other:
        row.notes.append("unreadable files left out: no other user")
    commands = [[p, "check", "IN"], [p, "simulate", "IN", "-o", "o.h5"], [p, "resume", "IN"],
                [p, "plan", "IN", "-o", "o.h5"], [p, "sweep", "IN", "-o", "o.h5"], [p, "merge", "IN", "-o", "o.h5"],
                [p, "sample", "IN", "-o", "o.h5", "--count", "2"],
                [p, "limit", "IN", "--path", "vehicle/load", "--between", "40 kN", "50 kN"],
                [p, "fit", "IN", "--data", m.dir / "fit-painted-coupon.csv", "--free", "x", "-o", "o.h5"],
                [p, "fit", m.dir / "fit-painted-coupon.yaml", "--data", "IN", "--free",
                 "catalogue/coatings/sample paint/compaction_cold", "-o", "o.h5"],
                [p, "correct", "IN", "--data", m.dir / "fit-painted-coupon.csv"],
                [p, "records", "IN", "--torque", "475 lbf*ft"],
                [p, "records", m.dir / "fleet-records.csv", "--scenario", "IN"],
                [p, "fleet", "add-readings", "IN", "--store", "o.sqlite"],
                [p, "fleet", "add-prediction", "IN", "--store", "o.sqlite", "--vehicle", "a", "--axle", "b", "--wheel",
                 "c", "--tightened", "2024-04-09"],
                [p, "fleet", "history", "--store", "IN"], [p, "fleet", "due", "--store", "IN", "--on", "2024-04-20",
                                                           "--recheck-every", "1 week"],
                [p, "fleet", "export", "--store", "IN", "-o", "o.csv"],
                [p, *m.records[:1], m.dir / "fleet-records.csv", "--torque", "475 lbf*ft", "--studs", "10", "--store",
                 "IN"],
                [r, "summary", "IN"], [r, "table", "IN", "--list"], [r, "page", "IN", "-o", "o.html"],
                [r, "sheet", "IN", "-o", "o.html"], [r, "plan", "IN"], [r, "lesson", "IN", "-o", "o.html"],
                [r, "compare", "IN", m.dir / "run.h5"], [r, "figure", "IN", "--chart", "clamp", "-o", "o.svg"]]
    for command in commands:
        for place in ["missing.x", "folder.x", "empty.x", "/dev/null", "fifo.x"] + (["shut.x"] if other else []):
            store = "--store" in command and command[command.index("--store") + 1] == "IN"
            text = command[0] == p and not store and command[1] not in ("resume", "merge") and \
                command[2] != "add-prediction"
            if place == "fifo.x" and text:
                continue  # a text may come through a pipe: it waits for the writer, as it should
            if store and command[1] == "records" and place == "missing.x":
                continue  # makes the store
            here = bench.folder("inputs")
            here.chmod(0o777)
            (here / "folder.x").mkdir()
            (here / "empty.x").write_text("")
            (here / "shut.x").write_bytes((m.dir / "run.h5").read_bytes())
            (here / "shut.x").chmod(0o000)
            os.mkfifo(here / "fifo.x")
            before = sorted(here.iterdir())
            args = [place if a == "IN" else a for a in command]
            row.tried += 1
            result = bench.run((NOBODY if place == "shut.x" else []) + args, here, timeout=60)
            trial = f"{command[1]} {command[2] if command[1] == 'fleet' else ''} of {place}"
            # A text without content is a fault of the input; a file that cannot be read is one of the file.
            allowed = (INPUT, FILE) if text and place in ("empty.x", "/dev/null") else (FILE,)
            if sound_end(row, result, allowed, trial):
                row.check(place in result.err, f"{trial}: the message does not name it: {result.err[:300]!r}")
                row.check(result.out == "", f"{trial}: something on stdout beside the error")
            row.check(sorted(here.iterdir()) == before, f"{trial}: something was left: "
                      f"{[f.name for f in here.iterdir() if f not in before]}")


def streams(bench, m):
    """Every command that prints, its stdout closed or full; files that it writes are whole all the same."""
    row = bench.row("places", "stdout closed and full, stderr closed and full, all closed")
    p, r, d = bench.program, bench.report_program, m.dir
    store = ["--store", d / "fleet.sqlite"]
    prints = [[p, "--help"], [p, "--version"], [p, "simulate", "--help"], [p, "schema"], [p, "check", d / "wheel.yaml"],
              [p, "check", d / "wheel.yaml", "--json"], [p, "simulate", d / "wheel.yaml", "-o", "o.h5", "--quiet"],
              [p, "sweep", d / "study.yaml", "-o", "o.h5", "--quiet"], [p, *m.plan, "-o", "o.h5"],
              [p, "merge", d / "part1.h5", d / "part2.h5", "-o", "o.h5"], [p, *m.fit, "-o", "o.h5"],
              [p, *m.records], [p, *m.records, "--json"], [p, *m.records, "--only-outside"],
              [p, *m.records, "--store", "o.sqlite"], [p, "fleet", "history", *store],
              [p, "fleet", "due", *store, "--on", "2024-04-20", "--recheck-every", "1 week"],
              [r, "--help"], [r, "--version"], [r, "summary", "--help"], [r, "checks"], [r, "checks", "--json"],
              [r, "summary", d / "run.h5"], [r, "summary", d / "run.h5", "--json"], [r, "summary", d / "run.h5", "--csv"],
              [r, "summary", d / "whole.h5"], [r, "summary", d / "fit.h5"], [r, "plan", d / "plan.h5"],
              [r, "table", d / "run.h5", "--list"], [r, "table", d / "run.h5", "--dataset", "clamp_cold"],
              [r, "table", d / "run.h5", "--dataset", "clamp_cold", "-o", "-"],
              [r, "compare", d / "run.h5", d / "run.h5"]]
    wholes = {"simulate": d / "run.h5", "sweep": d / "whole.h5", "plan": d / "plan.h5", "merge": d / "merged.h5",
              "fit": d / "fit.h5"}
    for args in prints:
        quiet = bench.run(args, bench.folder("streams"))
        for how in (">&-", ">/dev/full", "2>&-", "2>/dev/full", "<&- >&- 2>&-", ">&- 2>/dev/full"):
            here = bench.folder("streams")
            row.tried += 1
            trial = f"{' '.join(map(str, args[:3]))[-90:]} {how}"
            result = bench.run(["bash", "-c", f'"$@" {how}', "x", *args], here)
            out_lost = ">&-" in how.replace("2>&-", "") or ">/dev/full" in how.replace("2>/dev/full", "")
            nothing_to_say = quiet.out == ""
            expected = FILE if out_lost and not nothing_to_say else quiet.code
            row.check(result.code == expected, f"{trial}: exit {result.code} and not {expected}: {result.err[:200]!r}")
            if "2>" not in how and expected == FILE:
                row.check("output" in result.err, f"{trial}: exit {result.code} without a word")
            for file in here.iterdir():
                if file.suffix == ".h5":
                    row.check(sealed(file) and difference(file, wholes[args[1]]) == "", f"{trial}: the file differs")
                elif file.suffix == ".sqlite":
                    row.check(bench.clampfade("fleet", "history", "--store", file, cwd=here).code == 0,
                              f"{trial}: the store cannot be read")
                else:
                    row.broke(f"{trial}: left {file.name}")
    # A complaint that cannot be heard still has its exit code.
    for args, code in (([p, "check", "missing.yaml"], FILE), ([r, "summary", "missing.h5"], FILE), ([p, "chek"], INPUT),
                       ([r, "summry"], INPUT), ([p, "simulate", d / "study.yaml", "-o", d / "run.h5"], FILE)):
        for how in ("2>&-", "2>/dev/full", "<&- >&- 2>&-"):
            row.tried += 1
            result = bench.run(["bash", "-c", f'"$@" {how}', "x", *args], bench.folder("streams"))
            row.check(result.code == code, f"{args[1]} {how}: exit {result.code} and not {code}")


def run(bench, m):
    outputs(bench, m)
    inputs(bench, m)
    streams(bench, m)
