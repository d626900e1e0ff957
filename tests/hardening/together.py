"""Two programs on one output at the same time: one wins whole, or both are told; never a mixed file."""

import random
import time

from harness import FILE, attribute, difference, sealed, sound_end
from stopping import stopped_run


def both(bench, here, first, second, delay):
    """Starts both, the second so many seconds after the first; what each came to."""
    a = bench.start(first, here)
    time.sleep(max(delay, 0))
    b = bench.start(second, here)
    ends = []
    for child, args in ((a, first), (b, second)):
        out, err = child.communicate(timeout=300)
        ends.append((child.returncode, out.decode("utf-8", "replace"), err.decode("utf-8", "replace"), args))
    return ends


class End:
    def __init__(self, end):
        self.code, self.out, self.err, self.args = end

    def __str__(self):
        return f"{' '.join(map(str, self.args[1:]))[-100:]} -> {self.code} {self.err[-200:]!r}"


def race(bench, m, what, first, second, out, wholes, length, count, forced=False, before=None, both_may=False):
    """`wholes`: the files that may stand there at the end."""
    rng = random.Random(bench.seed)
    row = bench.row("together", what)
    wins = [0, 0, 0]
    for i in range(count):
        here = bench.folder("together")
        if before:
            (here / out).write_bytes(before.read_bytes())
        delay = rng.choice([0, 0.002, 0.01, rng.uniform(0, 1.3) * length])
        ends = [End(e) for e in both(bench, here, first, second, delay)]
        row.tried += 1
        trial = f"trial {i}, {delay:.3f} s apart"
        for end in ends:
            if sound_end(row, end, (0, FILE), trial) and end.code == FILE:
                row.check(out in end.err, f"{trial}: names no file: {end}")
        won = sum(e.code == 0 for e in ends)
        wins[won] += 1
        row.check(won >= 1, f"{trial}: nobody wins: {ends[0]}; {ends[1]}")
        if not forced and not both_may:
            row.check(won <= 1, f"{trial}: both say that they wrote it: {ends[0]}; {ends[1]}")
        path = here / out
        if row.check(path.exists(), f"{trial}: no file"):
            if out.endswith(".h5"):
                row.check(sealed(path) and any(difference(path, w) == "" for w in wholes), f"{trial}: a mixed file")
            else:
                row.check(any(path.read_bytes() == w.read_bytes() for w in wholes), f"{trial}: a mixed file")
        left = [f.name for f in here.iterdir() if f.name != out]
        row.check(not left, f"{trial}: left {left}")
    row.notes.append(f"one wins {wins[1]} times, both one after the other {wins[2]} times")


def run(bench, m):
    p, r, d = bench.program, bench.report_program, m.dir
    other = d / "other.yaml"
    other.write_text((d / "wheel.yaml").read_text().replace("torque: 475 lbf*ft", "torque: 470 lbf*ft"))
    for args in (["simulate", other, "-o", d / "other.h5", "--quiet", "--force"],):
        bench.must(bench.clampfade(*args, cwd=d))
    for scenario, name in ((d / "run.h5", "a.html"), (d / "other.h5", "b.html")):
        bench.must(bench.report("page", scenario, "-o", d / name, "--force", cwd=d))
    start = time.time()
    bench.must(bench.clampfade("simulate", d / "wheel.yaml", "-o", d / "again.h5", "--quiet", "--force", cwd=d))
    length = time.time() - start
    n = bench.times(30, 4)

    def simulate(scenario, *more):
        return [p, "simulate", scenario, "-o", "out.h5", "--quiet", *more]

    race(bench, m, "simulate and simulate", simulate(d / "wheel.yaml"), simulate(other), "out.h5",
         [d / "run.h5", d / "other.h5"], length, n)
    race(bench, m, "simulate --force and simulate --force", simulate(d / "wheel.yaml", "--force"),
         simulate(other, "--force"), "out.h5", [d / "run.h5", d / "other.h5"], length, n, forced=True)
    stopped = stopped_run(bench, d / "stopped.h5", m)
    resume = [p, "resume", "out.h5", "--quiet"]
    race(bench, m, "resume and resume", resume, resume, "out.h5", [d / "run.h5"], length, n, before=stopped)
    sweep = [p, "sweep", d / "study.yaml", "-o", "out.h5", "--quiet", "--jobs", "1"]
    race(bench, m, "sweep and the same sweep", sweep, sweep, "out.h5", [d / "whole.h5"], 3 * length, max(3, n // 2))
    merge = [p, "merge", d / "part1.h5", d / "part2.h5", "-o", "out.h5"]
    race(bench, m, "merge and merge", merge, merge, "out.h5", [d / "merged.h5"], 0.05, n)
    race(bench, m, "report page of two runs", [r, "page", d / "run.h5", "-o", "out.html", "--force"],
         [r, "page", d / "other.h5", "-o", "out.html", "--force"], "out.html", [d / "a.html", d / "b.html"], 0.1,
         bench.times(100, 10), forced=True)
    race(bench, m, "report page of two runs, without --force", [r, "page", d / "run.h5", "-o", "out.html"],
         [r, "page", d / "other.h5", "-o", "out.html"], "out.html", [d / "a.html", d / "b.html"], 0.1,
         bench.times(100, 10))
    read_while_written(bench, m)
    stores(bench, m)


def read_while_written(bench, m):
    """A report on a file that a study replaces all the time sees one state or the next."""
    row = bench.row("together", "summary of a history again and again while simulate --force replaces it")
    here = bench.folder("together")
    (here / "out.h5").write_bytes((m.dir / "run.h5").read_bytes())
    for _ in range(bench.times(10, 2)):
        child = bench.start([bench.program, "simulate", m.dir / "other.yaml", "-o", "out.h5", "--quiet", "--force"],
                            here)
        while child.poll() is None:
            row.tried += 1
            result = bench.report("summary", "out.h5", cwd=here)
            # Before the first record there is nothing to sum up.
            row.check(result.code == 0 or "no record" in result.err, f"{result}")
        child.communicate()
        row.check(child.returncode == 0, f"simulate ends with {child.returncode}")


def stores(bench, m):
    """Two writers of a store that is not there yet: all acts of both are in it."""
    row = bench.row("together", "records --store and fleet add-readings, four at a time on one new store")
    records = (m.dir / "fleet-records.csv").read_text()
    for i in range(bench.times(20, 3)):
        here = bench.folder("together")
        children = []
        names = [f"demo vehicle {k}" for k in (41, 42, 43, 44)]
        for k, name in enumerate(names):
            (here / f"{k}.csv").write_text(records.replace("demo vehicle 31", name))
        for k in range(len(names)):
            children.append(bench.start([bench.program, "records", f"{k}.csv", "--torque", "475 lbf*ft", "--studs", "10",
                                         "--store", "f.sqlite"], here))
        for child in children:
            out, err = child.communicate(timeout=120)
            row.check(child.returncode in (0, 1), f"trial {i}: exit {child.returncode} {err[-300:]!r}")
        row.tried += 1
        export = bench.clampfade("fleet", "export", "--store", "f.sqlite", "-o", "all.csv", cwd=here)
        text = (here / "all.csv").read_text() if export.code == 0 else ""
        counts = [text.count(name) for name in names]
        row.check(len(set(counts)) == 1 and counts[0] > 0, f"trial {i}: {counts} rows of the four")
        left = [f.name for f in here.iterdir() if f.suffix not in (".csv",) and f.name != "f.sqlite"]
        row.check(not left, f"trial {i}: left {left}")
