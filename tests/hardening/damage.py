"""Files of results and stores that are cut short or have one byte changed: told, a store at least by the same answer."""

import random
import shutil

from harness import FILE, SEAL_BYTES, sound_end
from stopping import stopped_run, stopped_study


def places(bench, size, rng):
    """Where a file is cut: everywhere, and at its ends."""
    ends = [0, 1, 7, 8, 9, 96, size - 1, size - 2, size - SEAL_BYTES, size - SEAL_BYTES - 1, size - SEAL_BYTES + 1,
            size - SEAL_BYTES + 30]
    return sorted(set(ends + [rng.randrange(size) for _ in range(bench.times(90, 10))]))


def readers(bench, m, kind):
    """Commands that read a file called x.h5."""
    report, program = bench.report, bench.clampfade
    page = ("page", lambda d: report("page", "x.h5", "-o", "out.html", "--force", cwd=d))
    summary = ("summary", lambda d: report("summary", "x.h5", cwd=d))
    fleet = ("fleet add-prediction",
             lambda d: program("fleet", "add-prediction", "x.h5", "--store", "f.sqlite", "--vehicle", "demo vehicle 31",
                               "--axle", "front", "--wheel", "left", "--tightened", "2024-04-09", cwd=d))
    return {
        "history": [summary, page, ("table", lambda d: report("table", "x.h5", "--dataset", "clamp_cold", cwd=d)),
                    ("sheet", lambda d: report("sheet", "x.h5", "-o", "out.html", "--force", cwd=d)), fleet],
        "stopped history": [("resume", lambda d: program("resume", "x.h5", "--quiet", cwd=d)), summary],
        "study": [summary, page, ("table", lambda d: report("table", "x.h5", cwd=d))],
        "part of a study": [("merge", lambda d: program("merge", "x.h5", m.dir / "part2.h5", "-o", "both.h5", "--force",
                                                        cwd=d))],
        "stopped study": [("sweep", lambda d: program("sweep", m.dir / "study.yaml", "-o", "x.h5", "--quiet", cwd=d))],
        "plan": [("plan", lambda d: report("plan", "x.h5", cwd=d)), page],
        "fit": [summary, page],
    }[kind]


def run(bench, m):
    rng = random.Random(bench.seed)
    d = bench.folder("damage")
    files = {"history": m.dir / "run.h5", "study": m.dir / "whole.h5", "part of a study": m.dir / "part1.h5",
             "plan": m.dir / "plan.h5", "fit": m.dir / "fit.h5",
             "stopped history": stopped_run(bench, d / "stopped.h5", m),
             "stopped study": stopped_study(bench, d / "stopped-study.h5", m)}
    for kind, path in files.items():
        whole = path.read_bytes()
        commands = readers(bench, m, kind)
        here = bench.folder(f"damage-{kind.replace(' ', '-')}")

        def try_all(row, data, trial):
            row.tried += 1
            for name, command in commands:
                (here / "x.h5").write_bytes(data)
                shutil.copy(m.dir / "fleet.sqlite", here / "f.sqlite")
                result = command(here)
                if sound_end(row, result, (FILE,), f"{kind}, {trial}, {name}"):
                    row.check("x.h5" in result.err, f"{kind}, {trial}: {name} does not name the file: {result}")
                    row.check((here / "x.h5").read_bytes() == data, f"{kind}, {trial}: {name} changed the file")
                    row.check(not list(here.glob("*.part")), f"{kind}, {trial}: {name} left a .part file")

        for _, command in commands:
            (here / "x.h5").write_bytes(whole)
            shutil.copy(m.dir / "fleet.sqlite", here / "f.sqlite")
            bench.must(command(here))

        row = bench.row("damage", f"{kind} cut short ({', '.join(c[0] for c in commands)})")
        for at in places(bench, len(whole), rng):
            try_all(row, whole[:at], f"{at} of {len(whole)} bytes")
        row = bench.row("damage", f"{kind} with one byte changed ({', '.join(c[0] for c in commands)})")
        heavy = kind in ("history", "stopped history", "part of a study")
        for i in range(bench.times(200 if heavy else 60, 12)):
            at = rng.randrange(len(whole) - SEAL_BYTES, len(whole)) if i % 20 == 19 else rng.randrange(len(whole))
            byte = rng.choice([b for b in (whole[at] ^ (1 << rng.randrange(8)), whole[at] ^ 0xFF, 0, 255)
                               if b != whole[at]])
            try_all(row, whole[:at] + bytes([byte]) + whole[at + 1:], f"byte {at} {whole[at]} -> {byte}")
    stores(bench, m, rng)


def stores(bench, m, rng):
    """A store cut short or with a byte changed: told, with the file's name, or the same answer and the same addition."""
    whole = (m.dir / "fleet.sqlite").read_bytes()
    d = bench.folder("stores")
    shutil.copy(m.dir / "fleet-more.csv", d)
    store = ["--store", "f.sqlite"]
    export = ["fleet", "export", *store, "-o", "out.csv", "--force", "--with-people"]
    commands = {"history": ["fleet", "history", *store, "--json"],
                "due": ["fleet", "due", *store, "--json", "--on", "2024-04-20", "--recheck-every", "1 week", "80 km",
                        "--odometer", "demo vehicle 31=90000 km"],
                "export": export,
                "records again": [*m.records, *store],
                "records": [*m.more_records, *store],
                "add-readings": ["fleet", "add-readings", m.dir / "fleet-more-checks.csv", *store],
                "add-prediction": ["fleet", "add-prediction", m.dir / "run.h5", *store, *m.other_wheel]}

    def answer(name, data):
        """What a command says, and what the store holds afterwards if it can have changed."""
        (d / "f.sqlite").write_bytes(data)
        (d / "out.csv").unlink(missing_ok=True)
        result = bench.clampfade(*commands[name], cwd=d)
        if result.code == FILE:
            return result, None
        if name not in ("history", "due", "export"):
            after = bench.clampfade(*export, cwd=d)
            if after.code == FILE:
                return after, None  # the damage is told by the next command at the latest
        csv = (d / "out.csv").read_text() if (d / "out.csv").exists() else ""
        return result, (result.code, result.out, result.err, csv)

    expected = {name: answer(name, whole)[1] for name in commands}
    assert all(expected.values())
    for what, count in (("cut short", bench.times(150, 15)), ("with one byte changed", bench.times(700, 40))):
        row = bench.row("damage", f"store of a fleet {what} ({', '.join(commands)})")
        told = 0
        for _ in range(count):
            row.tried += 1
            at = rng.randrange(len(whole))
            byte = bytes([whole[at] ^ rng.choice([1 << rng.randrange(8), rng.randrange(1, 256)])])
            data = whole[:at] + (b"" if what == "cut short" else byte + whole[at + 1:])
            trial = f"store {what} at {at}"
            any_told = False
            for name in commands:
                result, same = answer(name, data)
                if not sound_end(row, result, (0, 1, FILE), f"{trial}, {name}"):
                    continue
                if same is None:
                    any_told = True
                    row.check("f.sqlite" in result.err, f"{trial}: {name} does not name the file: {result}")
                else:
                    row.check(same == expected[name], f"{trial}: {name} gives another answer without a word")
            told += any_told
        row.notes.append(f"{told} told by some command, the others change no answer")
