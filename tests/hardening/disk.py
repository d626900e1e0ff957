"""A disk that is full at every write: a limit on the size of a file, and a small disk of its own."""

import os
import pathlib
import shutil
import subprocess

from harness import FILE, attribute, difference, sealed, sound_end

REASONS = ("File too large", "No space left on device", "disk is full", "disk I/O error", "database or disk is full")


class Writer:
    """A command, the file it writes, and what may stand under that name while it is not done."""

    def __init__(self, name, args, out, grows=None, made_with=None):
        self.name, self.args, self.out = name, args, out
        self.grows = grows  # status of a file that is published on the way
        self.setup = made_with


def writers(bench, m):
    p, r, d = bench.program, bench.report_program, m.dir
    return [
        Writer("simulate", [p, "simulate", d / "wheel.yaml", "--quiet", "-o", "out.h5"], "out.h5", "running"),
        Writer("sweep", [p, "sweep", d / "study.yaml", "--quiet", "-o", "out.h5"], "out.h5", "running"),
        Writer("merge", [p, "merge", d / "part1.h5", d / "part2.h5", "-o", "out.h5"], "out.h5"),
        Writer("plan", [p, *m.plan, "-o", "out.h5"], "out.h5"),
        Writer("fit", [p, *m.fit, "-o", "out.h5"], "out.h5"),
        Writer("records --export", [p, *m.records, "--export", "out.csv"], "out.csv"),
        Writer("fleet export", [p, "fleet", "export", "--store", d / "fleet.sqlite", "-o", "out.csv"], "out.csv"),
        Writer("report page", [r, "page", d / "run.h5", "-o", "out.html"], "out.html"),
        Writer("report page of a study", [r, "page", d / "whole.h5", "-o", "out.html"], "out.html"),
        Writer("report sheet", [r, "sheet", d / "run.h5", "-o", "out.html"], "out.html"),
        Writer("report lesson", [r, "lesson", d / "plan.h5", "-o", "out.html"], "out.html"),
        Writer("report figure, SVG", [r, "figure", d / "run.h5", "--chart", "clamp", "-o", "out.svg"], "out.svg"),
        Writer("report figure, PNG", [r, "figure", d / "run.h5", "--chart", "clamp", "-o", "out.png"], "out.png"),
        Writer("report table", [r, "table", d / "run.h5", "--dataset", "clamp_cold", "-o", "out.csv"], "out.csv"),
    ]


def same_file(path, whole):
    if path.suffix == ".h5":
        return difference(path, whole) == ""
    return path.read_bytes() == whole.read_bytes()


def look(row, w, here, result, whole, before, trial):
    """What a command that met a full disk may leave."""
    out = here / w.out
    done = (0, 1) if w.name.startswith("records") else (0,)
    if not sound_end(row, result, (*done, FILE), trial):
        return
    if result.code in done:
        row.check(out.exists() and same_file(out, whole), f"{trial}: exit {result.code} with another file")
    else:
        row.check(w.out in result.err and any(reason in result.err for reason in REASONS),
                  f"{trial}: the message names no file or no reason: {result.err!r}")
        if before is not None and out.exists() and out.read_bytes() == before:
            pass
        elif w.grows and out.exists():
            row.check(sealed(out) and attribute(out, "status") in (w.grows, "complete"), f"{trial}: a torn file")
        else:
            row.check(before is None, f"{trial}: the file that stood there before is gone or torn")
            row.check(not out.exists(), f"{trial}: half a file under the final name")
    left = [f.name for f in here.iterdir() if f.name != w.out]
    row.check(not left, f"{trial}: left behind: {left}")


def limits(bench, size):
    """From nothing to more than enough; finer at first, where heads and tables are written."""
    n = bench.times(50, 6)
    return sorted({int(1.3 * size * (i / (n - 1)) ** 2) for i in range(n)})


def file_limit(bench, m):
    for w in writers(bench, m):
        here = bench.folder("disk-whole")
        result = bench.run(w.args, here)
        assert result.code in (0, 1), result
        whole = bench.work / f"whole-{w.out}"
        shutil.copy(here / w.out, whole)
        before = b"what stood there before\n" if w.out[-3:] != ".h5" else (m.dir / "run.h5").read_bytes()
        row = bench.row("disk", f"{w.name}, files limited to a size, from 0 until it succeeds; new and with --force")
        all_limits = limits(bench, whole.stat().st_size)
        if w.name in ("fit", "plan", "sweep"):
            all_limits = all_limits[::-2][::-1]  # slow ones; the last must be more than enough
        for i, limit in enumerate(all_limits):
            here = bench.folder("disk")
            force = i % 2 == 1
            if force:
                (here / w.out).write_bytes(before)
            row.tried += 1
            result = bench.run(w.args + (["--force"] if force else []), here, limit=limit)
            look(row, w, here, result, whole, before if force else None, f"{w.name}, {limit} bytes, force {force}")
            if w.name == "simulate" and result.code == FILE and (here / w.out).exists() and not force:
                again = bench.clampfade("resume", w.out, "--quiet", cwd=here)
                if "before its first checkpoint" in again.err:
                    again = bench.run(w.args + ["--force"], here)
                row.check(again.code == 0 and difference(here / w.out, whole) == "",
                          f"{limit} bytes: resume does not come to the same: {again}")
        row.check(result.code in (0, 1), f"{w.name}: fails with room to spare: {result}")


def store_limit(bench, m):
    row = bench.row("disk", "records --store, fleet add-readings and add-prediction, files limited to a size")
    whole = (m.dir / "fleet.sqlite").read_bytes()
    adds = [[bench.program, *m.records, "--store", "f.sqlite"],
            [bench.program, "fleet", "add-readings", m.dir / "fleet-checks.csv", "--store", "f.sqlite"],
            [bench.program, "fleet", "add-prediction", m.dir / "run.h5", "--store", "f.sqlite", "--vehicle",
             "demo vehicle 31", "--axle", "front", "--wheel", "left", "--tightened", "2024-04-09"]]

    def told(path):
        r = bench.clampfade("fleet", "history", "--store", path, cwd=path.parent)
        return r.out if r.code == 0 else None

    for limit in limits(bench, 2 * len(whole)):
        for add in adds:
            for there in (False, True):
                here = bench.folder("disk-store")
                path = here / "f.sqlite"
                if there:
                    path.write_bytes(whole)
                before = told(path) if there else None
                row.tried += 1
                trial = f"{add[1]} {add[2] if add[1] == 'fleet' else ''} store {'there' if there else 'new'}, {limit} bytes"
                result = bench.run(add, here, limit=limit)
                if not sound_end(row, result, (0, 1, FILE), trial):
                    continue
                if result.code == FILE:
                    row.check("f.sqlite" in result.err, f"{trial}: the message names no file: {result.err!r}")
                    if there:
                        row.check(told(path) == before, f"{trial}: the store tells something else than before")
                    else:
                        row.check(not path.exists() or told(path) is not None, f"{trial}: a torn store")
                again = bench.run(add, here)
                row.check(again.code in (0, 1), f"{trial}: cannot be added with room again: {again}")
                left = [f.name for f in here.iterdir() if f.name != "f.sqlite"]
                row.check(not left, f"{trial}: left behind: {left}")


def small_disk(bench, m):
    """A file system of a few pages, which says ENOSPC and not EFBIG. Needs the right to mount one."""
    row = bench.row("disk", "a disk of its own that is too small: simulate, sweep, plan, records --store, report page")
    mounted = bench.folder("small")
    if os.geteuid() != 0 or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4k", "tmpfs", mounted],
                                           capture_output=True).returncode != 0:
        row.notes.append("left out: no right to mount")
        return
    try:
        chosen = [w for w in writers(bench, m) if w.name in ("simulate", "sweep", "plan", "merge", "report page")]
        store = Writer("records --store", [bench.program, *m.records, "--store", "f.sqlite"], "f.sqlite")
        for w in chosen + [store]:
            free = bench.folder("disk-whole")
            assert bench.run(w.args, free).code in (0, 1)
            whole = free / w.out
            n = bench.times(12, 4) if w.name in ("sweep", "plan") else bench.times(30, 5)
            for i in range(n):
                size = max(4096, int(4.2 * whole.stat().st_size * i / (n - 1)) // 4096 * 4096)
                for f in mounted.iterdir():
                    f.unlink()
                subprocess.run(["mount", "-o", f"remount,size={size}", mounted], check=True, capture_output=True)
                row.tried += 1
                trial = f"{w.name}, a disk of {size} bytes"
                result = bench.run(w.args, mounted)
                if w is not store:
                    look(row, w, mounted, result, whole, None, trial)
                elif sound_end(row, result, (0, 1, FILE), trial):
                    row.check(result.code != FILE or "f.sqlite" in result.err, f"{trial}: names no file: {result.err!r}")
                    left = [f.name for f in mounted.iterdir() if f.name != w.out]
                    row.check(not left, f"{trial}: left behind: {left}")
            row.check(result.code in (0, 1), f"{w.name}: fails with room to spare: {result}")
    finally:
        subprocess.run(["umount", mounted], check=False)


def run(bench, m):
    file_limit(bench, m)
    store_limit(bench, m)
    small_disk(bench, m)
