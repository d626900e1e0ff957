"""Signals at random moments: what is on the disk opens, and going on comes to the bits of an unbroken run."""

import random
import shutil
import signal
import subprocess
import time

from harness import FILE, SOURCE, attribute, difference, sealed, sound_end

POLITE = {"INT": signal.SIGINT, "TERM": signal.SIGTERM, "HUP": signal.SIGHUP}


def fast_clock(bench):
    """An environment in which programs write their checkpoints forty times as often; None without a compiler."""
    library = bench.work / "fast_clock.so"
    compiler = shutil.which("cc")
    if compiler is None or subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", library,
                                           SOURCE / "tests/hardening/fast_clock.c"]).returncode != 0:
        return None
    return dict(bench.environment, LD_PRELOAD=str(library), CLAMPFADE_FAST="40")


class Trial:
    """One output, and what is kept beside it, worked on until it is whole, however often that is broken off."""

    def __init__(self, bench, row, here, whole, kept, environment):
        self.bench, self.row, self.here, self.whole, self.environment = bench, row, here, whole, environment
        self.out = here / "out.h5"
        self.files = [self.out.name, *kept]

    def interrupted(self, args, wait, number):
        """Starts, waits, signals. Whether it was still there to be signalled."""
        child = self.bench.start(args, self.here, environment=self.environment)
        try:
            child.wait(timeout=wait)
        except subprocess.TimeoutExpired:
            pass
        alive = child.poll() is None
        if alive:
            child.send_signal(number)
        out, err = child.communicate(timeout=120)
        self.code, self.err = child.returncode, err.decode("utf-8", "replace")
        return alive

    def look(self, number, what):
        """After a death: no torn file, and nothing left that a clean end would have cleared away."""
        name = signal.Signals(number).name
        # A signal before the program listens ends it as it would any; later it is answered.
        self.row.check(self.code in (0, -number, 128 + number, FILE), f"{what}: {name}: exit {self.code} {self.err!r}")
        if self.code == FILE:
            self.row.check("complete" in self.err or "first checkpoint" in self.err, f"{what}: {self.err!r}")
        left = {f.name for f in self.here.iterdir()} - set(self.files)
        parts = {f + ".part" for f in self.files}
        self.row.check(left <= (parts if number == signal.SIGKILL else set()), f"{what}: {name} left {left}")
        for file in self.files:
            path = self.here / file
            self.row.check(not path.exists() or sealed(path), f"{what}: {name}: {file} has no seal or a broken one")
        if self.out.exists():
            summary = self.bench.report("summary", "out.h5", cwd=self.here)
            status = attribute(self.out, "status")
            # A run that died before its first record has nothing to sum up, and says so.
            if summary.code != 0:
                self.row.check(status in ("running", "stopped") and sound_end(self.row, summary, (FILE,), what),
                               f"{what}: {name}: cannot be read: {summary}")
            return status
        return None


def next_command(trial, first, go_on):
    """How a user goes on: `resume`, or from the start where nothing is there or no checkpoint was reached."""
    if not trial.out.exists():
        return first
    if "before its first checkpoint" in getattr(trial, "err", "") and trial.code == FILE:
        return first + ["--force"]
    return go_on


def broken_off(bench, row, first, go_on, whole, kept, length, count, signals, environment):
    """`kept`: names of histories that the command writes beside its output, as they stand beside `whole`."""
    rng = random.Random(bench.seed)
    deaths = 0
    number_of = 0
    while deaths < count:
        here = bench.folder("death")
        trial = Trial(bench, row, here, whole, kept, environment)
        number_of += 1
        # Later ones wait longer, so that even on a busy machine there is an end to it.
        for step in range(12):
            number = signals[rng.randrange(len(signals))]
            what = f"file {number_of}, step {step}"
            args = next_command(trial, first, go_on)
            hit = trial.interrupted(args, rng.uniform(0.05, 1.0 + 0.1 * step) * length, number)
            row.tried += hit
            deaths += hit
            if trial.look(number, what) == "complete" and not hit:
                break
        for _ in range(3):
            if all((here / f).exists() and attribute(here / f, "status") == "complete" for f in trial.files):
                break
            result = bench.run(next_command(trial, first, go_on), here, environment=environment)
            trial.code, trial.err = result.code, result.err
        if row.check(trial.out.exists(), f"file {number_of}: never came to an end: {trial.err!r}"):
            for mine, sound in ((trial.out, whole), *((here / f, whole.parent / f) for f in kept)):
                if row.check(mine.exists(), f"file {number_of}: {mine.name} was never written"):
                    other = difference(mine, sound)
                    row.check(not other, f"file {number_of}: {mine.name} differs in {other}")
        left = [f.name for f in here.iterdir() if f.name.removesuffix(".part") not in trial.files]
        row.check(not left, f"file {number_of}: left {left}")


def length_of(bench, args, environment):
    here = bench.folder("death")
    start = time.time()
    bench.must(bench.run(args, here, environment=environment))
    return time.time() - start


def run(bench, m):
    fast = fast_clock(bench)
    p, d = bench.program, m.dir
    wheel = d / "long.yaml"
    wheel.write_text((d / "wheel.yaml").read_text().replace("weeks: 1", "weeks: 12"))
    bench.must(bench.clampfade("simulate", wheel, "-o", d / "long.h5", "--quiet", "--force", cwd=d))
    simulate, resume = [p, "simulate", wheel, "-o", "out.h5", "--quiet"], [p, "resume", "out.h5", "--quiet"]
    sweep = [p, "sweep", d / "study.yaml", "-o", "out.h5", "--quiet"]
    merge = [p, "merge", d / "part1.h5", d / "part2.h5", "-o", "out.h5"]
    keep = [*sweep, "--keep", "0,3"]
    kept_whole = bench.folder("death-kept")
    bench.must(bench.run(keep, kept_whole))
    kept = sorted(f.name for f in kept_whole.iterdir() if f.name != "out.h5")
    assert len(kept) == 2, kept
    for what, first, go_on, whole, kept in (
            ("simulate and resume", simulate, resume, d / "long.h5", []),
            ("sweep and the same command again", sweep, sweep, d / "whole.h5", []),
            ("sweep --keep of two cases and the same command again", keep, keep, kept_whole / "out.h5", kept),
            ("merge and merge --force", merge, merge + ["--force"], d / "merged.h5", [])):
        length = length_of(bench, first, fast)
        row = bench.row("death", f"{what}: SIGKILL at random moments, to the same bits")
        row.notes.append(f"unbroken it takes {length:.1f} s" + ("" if fast else "; without the fast clock"))
        broken_off(bench, row, first, go_on, whole, kept, length, bench.times(100, 8), [signal.SIGKILL], fast)
        row = bench.row("death", f"{what}: SIGINT, SIGTERM and SIGHUP, nothing left behind, to the same bits")
        broken_off(bench, row, first, go_on, whole, kept, length, bench.times(60, 6), list(POLITE.values()), fast)
    others(bench, m)


def others(bench, m):
    """Commands whose file is only kept whole, and a report: after a signal the old file or the new."""
    rng = random.Random(bench.seed + 1)
    p, d = bench.program, m.dir
    commands = {"plan": ([p, *m.plan, "-o", "out.h5"], "out.h5"), "fit": ([p, *m.fit, "-o", "out.h5"], "out.h5"),
                "report page": ([bench.report_program, "page", d / "run.h5", "-o", "out.html"], "out.html")}
    for name, (args, out) in commands.items():
        length = length_of(bench, args, None)
        whole = bench.folder("death-whole") / out
        bench.must(bench.run(args, whole.parent))
        row = bench.row("death", f"{name} --force: any signal, the old file or the new")
        for _ in range(bench.times(40, 4)):
            here = bench.folder("death")
            old = (d / "run.h5").read_bytes() if out.endswith(".h5") else b"an old page\n"
            (here / out).write_bytes(old)
            number = rng.choice([signal.SIGKILL, *POLITE.values()])
            trial = Trial(bench, row, here, whole, [], None)
            row.tried += trial.interrupted(args + ["--force"], rng.uniform(0, 1.1) * length, number)
            row.check(trial.code in (0, -number, 128 + number), f"{name}: exit {trial.code}")
            now = (here / out).read_bytes()
            same = difference(here / out, whole) == "" if out.endswith(".h5") and now != old else \
                now == whole.read_bytes()
            row.check(now == old or same, f"{name}: neither the old file nor the new")
            polite = number != signal.SIGKILL and not name.startswith("report")
            left = [f.name for f in here.iterdir() if f.name != out]
            row.check(not left or (left == [out + ".part"] and not polite), f"{name}: left {left}")
