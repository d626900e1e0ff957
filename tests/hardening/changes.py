"""Input that changes between a run and what goes on with it, and files that are taken away under a run."""

import shutil
import signal
import time

from harness import FILE, SOURCE, attribute, difference, sealed, sound_end
from material import edit
from stopping import stopped


def resume_keeps_to_its_scenario(bench, m):
    """A history holds the scenario as run; what became of the files does not matter to it."""
    row = bench.row("changes", "scenario, trace and catalogue change between simulate and resume: as if they had not")
    here = bench.folder("changes")
    shutil.copytree(SOURCE / "models/catalogue", here / "catalogue")
    environment = dict(bench.environment, CLAMPFADE_CATALOGUE=str(here / "catalogue"))
    for name in ("trace-day.yaml", "trace-day.csv"):
        shutil.copy(SOURCE / "scenarios" / name, here / name)
    bench.must(bench.clampfade("simulate", "trace-day.yaml", "-o", "whole.h5", "--quiet", cwd=here,
                               environment=environment))
    stopped_bench = bench.environment
    bench.environment = environment
    path = stopped(bench, [bench.program, "simulate", "trace-day.yaml", "-o", here / "s.h5", "--quiet"], here / "s.h5",
                   "stopped")
    bench.environment = stopped_bench
    content_before = path.read_bytes()
    changes = {
        "scenario changed": lambda: (here / "trace-day.yaml").write_text("schema: 1\n"),
        "scenario gone": lambda: (here / "trace-day.yaml").unlink(),
        "trace changed": lambda: (here / "trace-day.csv").write_text("time_s,speed_m_s\n0,1\n10,2\n"),
        "trace gone": lambda: (here / "trace-day.csv").unlink(),
        "catalogue changed": lambda: [f.write_text(f.read_text().replace("0.", "0.1")) for f in
                                      (here / "catalogue").rglob("*.yaml")],
        "catalogue gone": lambda: shutil.rmtree(here / "catalogue"),
    }
    for what, change in changes.items():
        change()
        path.write_bytes(content_before)
        row.tried += 1
        result = bench.clampfade("resume", "s.h5", "--quiet", cwd=here, environment=environment)
        if row.check(result.code == 0, f"{what}: {result}"):
            row.check(difference(path, here / "whole.h5") == "", f"{what}: {difference(path, here / 'whole.h5')}")


def study_refuses_another(bench, m):
    """A study goes on only as the study it is; its cases would not go together else."""
    row = bench.row("changes", "scenario, trace and catalogue change before a sweep goes on: refused, the file stays")
    here = bench.folder("changes")
    shutil.copytree(SOURCE / "models/catalogue", here / "catalogue")
    environment = dict(bench.environment, CLAMPFADE_CATALOGUE=str(here / "catalogue"))
    text = (SOURCE / "scenarios/trace-day.yaml").read_text()
    shutil.copy(SOURCE / "scenarios/trace-day.csv", here / "trace-day.csv")
    (here / "t.yaml").write_text(text)
    args = [bench.program, "sweep", "t.yaml", "-o", "s.h5", "--quiet", "--jobs", "1", "--vary",
            "vehicle/load=40 kN..46 kN:12"]
    old = bench.environment
    bench.environment = environment
    path = stopped(bench, args[:4] + [here / "s.h5"] + args[5:], here / "s.h5", "stopped")
    before = path.read_bytes()
    trace = (here / "trace-day.csv").read_text().splitlines(keepends=True)
    # The last figure of a row in the middle, a little more.
    middle = len(trace) // 2
    digit = max(i for i, c in enumerate(trace[middle]) if c.isdigit())
    changed = trace[middle][:digit] + str((int(trace[middle][digit]) + 1) % 10) + trace[middle][digit + 1:]
    catalogue = {f: f.read_text() for f in (here / "catalogue").rglob("*.yaml")}

    def other_catalogue():
        for f, content in catalogue.items():
            f.write_text(content.replace("[20 degC, 205 GPa]", "[20 degC, 204 GPa]"))

    def as_before():
        (here / "t.yaml").write_text(text)
        (here / "trace-day.csv").write_text("".join(trace))
        for f, content in catalogue.items():
            f.write_text(content)

    for what, change in (("a title", lambda: (here / "t.yaml").write_text(edit(text, "\ntitle: ", "\ntitle: Other "))),
                         ("one figure of the trace", lambda: (here / "trace-day.csv").write_text(
                             "".join(trace[:middle]) + changed + "".join(trace[middle + 1:]))),
                         ("values of the catalogue", other_catalogue)):
        as_before()
        change()
        path.write_bytes(before)
        row.tried += 1
        result = bench.run(args, here)
        if row.check(result.code == FILE, f"{what}: goes on with another study: {result}"):
            row.check("another study" in result.err and path.read_bytes() == before, f"{what}: {result}")
    as_before()
    row.tried += 1
    result = bench.run(args, here)
    row.check(result.code == 0, f"the same study does not go on: {result}")
    bench.must(bench.run([*args[:4], "whole.h5", *args[5:]], here))
    row.check(difference(path, here / "whole.h5") == "", f"differs: {difference(path, here / 'whole.h5')}")
    bench.environment = old


def taken_away(bench, m):
    """Output, its helper or its folder go while a run works on it."""
    row = bench.row("changes", "output, its .part, its folder or the scenario is moved away or replaced while it runs")
    wheel = m.dir / "away.yaml"
    wheel.write_text((m.dir / "wheel.yaml").read_text().replace("weeks: 1", "weeks: 12"))
    whole = m.dir / "away.h5"
    bench.must(bench.clampfade("simulate", wheel, "-o", whole, "--quiet", "--force", cwd=m.dir))

    def act(what, place, scenario):
        out = place / "out.h5"
        if what == "output removed":
            out.unlink()
        elif what == "output replaced by another file":
            (place / "x").write_bytes(b"something else\n")
            (place / "x").rename(out)
        elif what == "output replaced by a folder":
            out.unlink()
            out.mkdir()
        elif what == ".part removed":
            (place / "out.h5.part").unlink(missing_ok=True)
        elif what == "folder moved away":
            place.rename(place.parent / "elsewhere")
        elif what == "scenario replaced":
            scenario.write_text("schema: 1\n")
        elif what == "scenario removed":
            scenario.unlink()

    for what in ("output removed", "output replaced by another file", "output replaced by a folder", ".part removed",
                 "folder moved away", "scenario replaced", "scenario removed"):
        for i in range(bench.times(5, 1)):
            here = bench.folder("changes")
            place = here / "place"
            place.mkdir()
            scenario = here / "w.yaml"
            shutil.copy(wheel, scenario)
            child = bench.start([bench.program, "simulate", scenario, "-o", "place/out.h5", "--quiet"], here)
            while not (place / "out.h5").exists() and child.poll() is None:
                time.sleep(0.001)
            child.send_signal(signal.SIGSTOP)  # so that it cannot end first
            alive = child.poll() is None and attribute(place / "out.h5", "status") == "running"
            if alive:
                act(what, place, scenario)
            child.send_signal(signal.SIGCONT)
            out, err = child.communicate(timeout=120)
            if not alive:
                continue
            row.tried += 1
            end = type("End", (), {"code": child.returncode, "err": err.decode(), "__str__":
                                   lambda s: f"{s.code} {s.err!r}"})()
            if not sound_end(row, end, (0, FILE), what):
                continue
            if end.code == 0:
                row.check(difference(place / "out.h5", whole) == "", f"{what}: exit 0 with another file")
            else:
                row.check("out.h5" in end.err, f"{what}: names no file: {end}")
                for f in here.rglob("out.h5"):
                    row.check(f.is_dir() or sealed(f) or f.read_bytes() == b"something else\n", f"{what}: a torn file")
            # What was moved away with its folder has no name by which the program could still clear it away.
            left = [str(f.relative_to(here)) for f in here.rglob("*.part") if "elsewhere" not in f.parts]
            row.check(not left, f"{what}: left {left}")


def run(bench, m):
    resume_keeps_to_its_scenario(bench, m)
    study_refuses_another(bench, m)
    taken_away(bench, m)
