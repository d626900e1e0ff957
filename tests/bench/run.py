#!/usr/bin/env python3
"""Benchmarks in one run on one machine: prints the ratios and writes them to RESULTS.md beside this.

    /usr/bin/python3 tests/bench/run.py [--build FOLDER] [--quick] [--only NAME ...]

Builds what it needs in FOLDER (build-bench unless named). README.md says what each part is and which packages it needs.
Contestants take turns, so that a noisy machine disturbs them alike; each figure is the least of its runs, the median
beside it. Nothing here fails because something is slow.
"""
import argparse
import ctypes
import datetime
import json
import math
import os
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile
import time

# Before numpy is loaded: threads that wait for each other would count as processor time.
for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[variable] = "1"

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
RESULTS = HERE / "RESULTS.md"
PAINTED = ROOT / "scenarios" / "painted-steel-duals.yaml"


class Wrong(Exception):
    """Something that the user of this script has to put right."""


# ------------------------------------------------------------------------------------------------------------ helpers


def say(text):
    print(text, flush=True)


def least(values):
    return min(values)


def both(values, unit=1.0, digits=3):
    """Least and median."""
    return f"{min(values) / unit:.{digits}g} ({statistics.median(values) / unit:.{digits}g})"


def table(head, rows):
    """A table of Markdown, wide enough to be read as it stands."""
    cells = [head] + [[str(c) for c in row] for row in rows]
    widths = [max(len(row[i]) for row in cells) for i in range(len(head))]
    line = lambda row: "| " + " | ".join(c.ljust(w) for c, w in zip(row, widths)) + " |"
    return "\n".join([line(cells[0]), "|" + "|".join("-" * (w + 2) for w in widths) + "|"] + [line(r)
                                                                                              for r in cells[1:]])


def exponent(points):
    """p of y ~ x^p by least squares of the logarithms."""
    xs, ys = [math.log(x) for x, _ in points], [math.log(y) for _, y in points]
    mx, my = statistics.mean(xs), statistics.mean(ys)
    return sum((x - mx) * (y - my) for x, y in zip(xs, ys)) / sum((x - mx) ** 2 for x in xs)


def changed(text, *changes):
    for old, new in changes:
        if text.count(old) != 1:
            raise Wrong(f"{PAINTED.name}: {old!r} stands there {text.count(old)} times instead of once")
        text = text.replace(old, new)
    return text


class Bench:
    """Programs, a folder for what they write, and runs of the simulator that several parts want."""

    def __init__(self, build, quick, folder):
        self.build, self.quick, self.folder = pathlib.Path(build).resolve(), quick, pathlib.Path(folder)
        self.clampfade = self.build / "clampfade"
        self.programs = self.build / "tests" / "bench"
        self.kept = {}

    def contest(self, problem, stops, solver, tolerance, *more):
        """What bench_contest prints; None where the integrator gives up or takes more than two minutes."""
        command = [self.programs / "bench_contest", problem, str(stops), solver, repr(tolerance), *more]
        try:
            out = subprocess.run(command, capture_output=True, text=True, timeout=120)
        except subprocess.TimeoutExpired:
            return None
        return json.loads(out.stdout) if out.returncode == 0 else None

    def simulate(self, name, text):
        """One run; returns wall and processor time [s], memory [B] and the history's path."""
        scenario, history, used = (self.folder / f"{name}{end}" for end in (".yaml", ".h5", ".json"))
        scenario.write_text(text)
        done = subprocess.run([self.programs / "bench_child", used, self.clampfade, "simulate", scenario, "-o", history,
                               "--quiet", "--force"], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        if done.returncode != 0:
            raise Wrong(f"{name}: clampfade simulate ended with {done.returncode}:\n{done.stderr}")
        return {**json.loads(used.read_text()), "history": history}

    def runs(self, contestants, times):
        """Runs {name: text} by turns, `times` each, but none that is already there. Returns {name: [results]}."""
        for _ in range(times):
            for name, text in contestants.items():
                have = self.kept.setdefault((name, text), [])
                # What takes minutes is not repeated as often: its noise is small against it.
                if len(have) < times and sum(r["wall"] for r in have) < (5 if self.quick else 60):
                    have.append(self.simulate(name, text))
                    say(f"  {name}: {have[-1]['wall']:.2f} s, processor {have[-1]['cpu']:.2f} s, "
                        f"{have[-1]['memory'] / 1e6:.1f} MB")
        return {name: self.kept[name, text] for name, text in contestants.items()}


def weeks_text(weeks, *more):
    return changed(PAINTED.read_text(), ("weeks: 26", f"weeks: {weeks}"), *more)


# ------------------------------------------------------------------------------------------------- inside the program


def part_steps(bench):
    """Time of a step, of a span against the least it can cost, of a day, of the heat of a day."""
    command = [bench.programs / "bench_clampfade", "--benchmark_format=json", "--benchmark_filter=-write_history",
               "--benchmark_enable_random_interleaving=true", f"--benchmark_repetitions={3 if bench.quick else 7}",
               f"--benchmark_min_time={0.02 if bench.quick else 0.2}"]
    data = json.loads(subprocess.run(command, capture_output=True, text=True, check=True, cwd=bench.folder).stdout)
    times, extra = {}, {}
    for b in data["benchmarks"]:
        if b["run_type"] == "iteration":
            times.setdefault(b["run_name"], []).append(b["cpu_time"])
            extra[b["run_name"]] = b
    rows = []
    floor = {}
    for rig in ("one_stud", "ten_tied"):
        name = f"least/{rig}"
        floor[rig] = least(times[name]) / extra[name]["spans"]
        states = extra[name]["states"]
        rows.append([f"floor, {rig}: a span", f"{floor[rig]:.3f} us", "1", f"{states:.0f} states, "
                     f"{1e3 * floor[rig] / states:.2f} ns a span and state"])
        name = f"one_step/{rig}"
        rows.append([f"Wheel::step, {rig}", f"{both(times[name])} us", f"{least(times[name]) / floor[rig]:.0f}",
                     "one step over a span"])
        name = f"spans/{rig}"
        spans = extra[name]["spans"]
        per = least(times[name]) / spans
        rows.append([f"SpanSystem, {rig}: a span", f"{both([t / spans for t in times[name]])} us",
                     f"{per / floor[rig]:.0f}",
                     f"{extra[name]['steps_per_span']:.2f} steps a span, {extra[name]['rejected_per_span']:.2f} "
                     f"rejected"])
    for rig in ("one_stud", "ten_untied", "ten_tied"):
        name = f"day/{rig}"
        spans = extra[name]["spans"]
        per = least(times[name]) / spans
        below = floor["one_stud" if rig == "one_stud" else "ten_tied"]
        rows.append([f"first day of run(), {rig}", f"{both(times[name], 1e3)} ms", f"{per / below:.0f}",
                     f"{spans:.0f} spans, {per:.1f} us each, {extra[name]['steps']:.0f} steps; tightening, budget, "
                     f"watches"])
    name = "heat_of_a_day"
    spans = extra[name]["spans"]
    rows.append(["heat of a day", f"{both(times[name], 1e3)} ms",
                 f"{least(times[name]) / spans / floor['ten_tied']:.0f}",
                 f"{least(times[name]) / spans:.2f} us a span"])
    text = ("The floor keeps as many variables as the wheel: one exponential a mode and span for all studs, and the "
            "multiply-adds over all variables of all studs, in a loop compiled to vectors (tests/bench/floor.cpp). "
            "Processor "
            "time, least and (median).\n\n" + table(["what", "time", "over the floor's span", "of it"], rows))
    name = "day/ten_tied"
    ratio = least(times[name]) / extra[name]["spans"] / floor["ten_tied"]
    return "Inside the program", text, [("a span of a day of ten tied studs over the floor", f"{ratio:.0f}")]


def part_history(bench):
    """Speed of writing a history."""
    command = [bench.programs / "bench_clampfade", "--benchmark_format=json", "--benchmark_filter=write_history",
               f"--benchmark_repetitions={3 if bench.quick else 7}", "--benchmark_min_time=0.1"]
    data = json.loads(subprocess.run(command, capture_output=True, text=True, check=True, cwd=bench.folder).stdout)
    runs = [b for b in data["benchmarks"] if b["run_type"] == "iteration"]
    times = [b["real_time"] * 1e-6 for b in runs]
    cpu = [b["cpu_time"] * 1e-6 for b in runs]
    rows, size = runs[0]["rows"], runs[0]["bytes"]
    text = (f"{rows:.0f} hourly rows of ten studs and four films, {size / 1e6:.2f} MB on disk, digest included: "
            f"{both(times)} s wall, that is {rows / least(times):.0f} rows/s and {size / 1e6 / least(times):.1f} MB/s; "
            f"processor {both(cpu)} s, {rows / least(cpu):.0f} rows/s and {size / 1e6 / least(cpu):.1f} MB/s.")
    return "Writing a history", text, [("history", f"{rows / least(times):.0f} rows/s, "
                                                   f"{size / 1e6 / least(times):.1f} MB/s")]


# ---------------------------------------------------------------------------------------------------- other integrators


def error(run, reference):
    """Largest difference of any stud's clamp at the end of any span over the largest first clamp (contest.hpp)."""
    scale = 120e3 if len(reference["clamps"]) == reference["spans"] else 123e3
    return max(abs(a - b) for a, b in zip(run["clamps"], reference["clamps"])) / scale


OWN = 1e-6  # the program's default tolerance, which the others have to match
AS_GOOD = 1.25  # an error this much larger still counts as the same


PROBLEMS = {"all-one": "every mechanism, one stud", "all-ten": "every mechanism, ten tied",
            "painted-one": "painted, one stud",
            "painted-ten": "painted, ten tied"}
TOLERANCES = (1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 3e-7, 1e-7, 3e-8, 1e-8, 1e-9)


def as_good(bench, problem, stops, solver, reference, target, grid):
    """The loosest tolerance of the grid whose error is about `target`, and its run; None if a minute finds none."""
    begun = time.time()
    for tolerance in grid:
        if time.time() - begun > 60:
            say(f"    {PROBLEMS[problem]}, {stops} stops, {solver}: given up after a minute")
            return None
        run = bench.contest(problem, stops, solver, tolerance)
        if run is None:
            continue
        e = error(run, reference)
        say(f"    {PROBLEMS[problem]}, {stops} stops, {solver} at {tolerance:g}: error {e:.1e}, {run['steps']} steps, "
            f"{run['seconds']:.3f} s")
        if e <= AS_GOOD * target:
            return tolerance, run
    return None


def part_cvode(bench):
    """Against CVODE's BDF on the same right-hand side at equal accuracy."""
    rows, ratios, trials = [], [], []
    grid = TOLERANCES[2::2] if bench.quick else TOLERANCES
    for problem in list(PROBLEMS)[-1:] if bench.quick else PROBLEMS:
        name, ten = PROBLEMS[problem], problem.endswith("ten")
        trial_stops, stops = (1, 3) if bench.quick else (2, 30) if ten else (10, 100)
        reference = bench.contest(problem, trial_stops, "own", 1e-9)
        target = error(bench.contest(problem, trial_stops, "own", OWN), reference)
        width = reference["variables"] // (10 if ten else 1)
        solvers = ["band:4", "diagonal", "diagonal@2", "gmres", "gmres@2", "gmres-band:4"]
        if not bench.quick:
            solvers += [f"band:{width - 1}"] if ten else []
            # The dense factors of the painted ring's 960 variables would take minutes for the one stop.
            solvers += ["dense"] if reference["variables"] < 400 else []
        tried = {}
        for solver in solvers:
            found = as_good(bench, problem, trial_stops, solver, reference, target, grid)
            if found is None:
                trials.append([name, trial_stops, solver, "never as accurate", "", "", "", ""])
                continue
            tolerance, run = found
            tried[solver] = run["seconds"]
            trials.append([name, trial_stops, solver, f"{tolerance:g}", f"{run['seconds']:.3g}", run["steps"],
                           run["rates"],
                           f"{error(run, reference):.1e}"])
        fastest = sorted(tried, key=tried.get)[:1 if bench.quick else 3]

        reference = bench.contest(problem, stops, "own", 1e-9)
        own = bench.contest(problem, stops, "own", OWN)
        target = error(own, reference)
        say(f"  {name}, {stops} stops: program at {OWN:g}: error {target:.1e}, {own['seconds']:.3f} s")
        good = {}
        for solver in fastest:
            found = as_good(bench, problem, stops, solver, reference, target, grid)
            if found is not None:
                good[solver] = found
        rows.append([name, f"program at {OWN:g}", "", f"{target:.1e}", own["steps"],
                     f"{stops} stops, {own['spans']} spans, "
                     f"{own['variables']} variables"])
        line = len(rows) - 1
        if not good:
            rows.append([name, "CVODE", "-", "-", "-", "as accurate as the program at no tolerance tried"])
            continue
        best = min(good, key=lambda s: good[s][1]["seconds"])
        ours, theirs = [own], [good[best][1]]
        for _ in range(1 if bench.quick else 3):
            ours.append(bench.contest(problem, stops, "own", OWN))
            theirs.append(bench.contest(problem, stops, best, good[best][0]))
        seconds = lambda runs: [r["seconds"] for r in runs]
        split = [bench.contest(problem, stops, best, good[best][0], "split") for _ in range(2)]
        without = [r["seconds"] - r["rate_seconds"] - r["jacobian_seconds"] for r in split]
        rows[line][2] = both(seconds(ours))
        for solver, (tolerance, run) in good.items():
            rows.append([name, f"CVODE {solver} at {tolerance:g}", both(seconds(theirs)) if solver == best
                         else f"{run['seconds']:.3g}",
                         f"{error(run, reference):.1e}", run["steps"],
                         f"{run['rates']} right-hand sides, {run['jacobians']} Jacobians"])
        rows.append([name, f"CVODE {best}, its own part", both(without), "", "",
                     "without right-hand side and Jacobian"])
        ratio = least(seconds(theirs)) / least(seconds(ours))
        free = least(without) / least(seconds(ours))
        ratios.append((f"CVODE BDF at its best over the program, {name}, {stops} stops", f"{ratio:.1f} ({best})"))
        ratios.append((f"the same if its right-hand side cost nothing, {name}", f"{free:.2f}"))
        ratios.append((f"steps of CVODE over the program's, {name}", f"{good[best][1]['steps'] / own['steps']:.1f}"))
    text = ("Which linear solver: a few stops with each, at the loosest tolerance at which it is as accurate as the "
            "program. band:K knows K diagonals to either side of the "
            "analytic Jacobian, "
            "gmres-band:K preconditions GMRES with such a matrix by differences, @2 keeps BDF to second order.\n\n" +
            table(["problem", "stops", "linear solver", "tolerance", "seconds", "steps", "right-hand sides",
                   "error"], trials) +
            "\n\nThe fastest, at equal accuracy. Error: largest difference of any stud's clamp at the end of any "
            "span, over the "
            "first clamp, against the program at 1e-9. CVODE gets the loosest tolerance whose error is about the "
            "program's, and "
            "restarts at each span as the program does; the winner is timed again by turns. The right-hand side of "
            "tests/reference/loss_ode solves a dense balance of forces each time and was not written for speed: its "
            "own part "
            "leaves it out altogether, which no integrator can. Processor seconds inside the integration, heat apart: "
            "least and "
            "(median).\n\n" + table(["problem", "who", "seconds", "error", "steps", "of it"], rows))
    return "Against CVODE", text, ratios


class TooLong(Exception):
    pass


class Problem:
    """The contest's day through its library: compiled right-hand side and Jacobian for SciPy."""

    def __init__(self, bench, problem, stops):
        import numpy
        self.np = numpy
        lib = self.lib = ctypes.CDLL(str(bench.programs / "libbench_contest_c.so"))
        real, pointer = ctypes.c_double, ctypes.c_void_p
        for name, result, arguments in (("new", pointer, [ctypes.c_char_p, ctypes.c_int]), ("delete", None, [pointer]),
                                        ("size", ctypes.c_long, [pointer]), ("studs", ctypes.c_long, [pointer]),
                                        ("start", None, [pointer, pointer]), ("next", real, [pointer]),
                                        ("rate", None, [pointer, real, pointer, pointer]),
                                        ("jacobian", None, [pointer, real, pointer, pointer]),
                                        ("clamp", None, [pointer, real, pointer, pointer])):
            function = getattr(lib, "contest_" + name)
            function.restype, function.argtypes = result, arguments
        self.p = lib.contest_new(problem.encode(), stops)
        self.n, self.studs = lib.contest_size(self.p), lib.contest_studs(self.p)
        self.until = math.inf
        self.rates = 0

    def close(self):
        self.lib.contest_delete(self.p)

    def rate(self, t, y):
        if time.perf_counter() > self.until:
            raise TooLong
        self.rates += 1
        y = self.np.ascontiguousarray(y, dtype=float)
        out = self.np.empty(self.n)
        self.lib.contest_rate(self.p, float(t), y.ctypes.data, out.ctypes.data)
        return out

    def jacobian(self, t, y):
        y = self.np.ascontiguousarray(y, dtype=float)
        out = self.np.empty((self.n, self.n))
        self.lib.contest_jacobian(self.p, float(t), y.ctypes.data, out.ctypes.data)
        return out

    def clamp(self, t, y):
        y = self.np.ascontiguousarray(y, dtype=float)
        out = self.np.empty(self.studs)
        self.lib.contest_clamp(self.p, float(t), y.ctypes.data, out.ctypes.data)
        return list(out)


def scipy_day(bench, name, stops, method, tolerance, limit):
    """The day by SciPy; None if it takes longer than `limit` [s] or fails."""
    from scipy.integrate import solve_ivp
    problem = Problem(bench, name, stops)
    y = problem.np.empty(problem.n)
    problem.lib.contest_start(problem.p, y.ctypes.data)
    clamps, spans, steps, seconds, in_stops = [], 0, 0, 0.0, 0.0
    problem.until = time.perf_counter() + limit
    try:
        while (duration := problem.lib.contest_next(problem.p)) >= 0:
            begun = time.process_time()
            got = solve_ivp(problem.rate, (0.0, duration), y, method=method, rtol=tolerance, atol=tolerance,
                            jac=problem.jacobian)
            took = time.process_time() - begun
            if not got.success:
                return None
            y = got.y[:, -1].copy()
            seconds += took
            in_stops += took if duration < LONGEST_OF_A_STOP else 0
            steps += len(got.t) - 1
            spans += 1
            clamps += problem.clamp(duration, y)
    except (TooLong, ValueError):
        return None
    finally:
        problem.close()
    return {"seconds": seconds, "stop_seconds": in_stops, "clamps": clamps, "spans": spans, "steps": steps,
            "rates": problem.rates}


LONGEST_OF_A_STOP = 600  # s; a longer span is a park


def part_scipy(bench):
    """Against SciPy's stiff methods on the same compiled right-hand side."""
    try:
        import scipy
    except ImportError:
        raise Wrong("SciPy is not there: install python3-scipy and run this with /usr/bin/python3")
    rows, ratios = [], []
    for problem in list(PROBLEMS)[:1] if bench.quick else PROBLEMS:
        name, ten = PROBLEMS[problem], problem.endswith("ten")
        stops, limit = (1, 5) if bench.quick else (3, 40) if ten else (10, 40)
        reference = bench.contest(problem, stops, "own", 1e-9)
        own = bench.contest(problem, stops, "own", OWN)
        target = error(own, reference)
        rows.append([name, f"program at {OWN:g}", "", f"{target:.1e}", own["steps"],
                     f"{stops} stops, {own['spans']} spans"])
        line = len(rows) - 1
        good = {}
        for method in ("LSODA", "BDF", "Radau"):
            for tolerance in TOLERANCES[:-1:2] if bench.quick else TOLERANCES[:-1]:
                run = scipy_day(bench, problem, stops, method, tolerance, limit)
                if run is None:
                    say(f"    {method} at {tolerance:g}: failed, or longer than {limit} s")
                    rows.append([name, f"{method} at {tolerance:g}", f"> {limit}", "-", "-", "failed, or too long"])
                    break
                e = error(run, reference)
                say(f"    {name} {method} at {tolerance:g}: error {e:.1e}, {run['steps']} steps, {run['seconds']:.2f} "
                    f"s")
                if e <= AS_GOOD * target:
                    good[method] = (tolerance, run)
                    rows.append([name, f"{method} at {tolerance:g}", f"{run['seconds']:.3g}", f"{e:.1e}", run["steps"],
                                 f"{run['rates']} right-hand sides"])
                    break
        if not good:
            continue
        best = min(good, key=lambda m: good[m][1]["seconds"])
        tolerance, first = good[best]
        ours, theirs = [own], [first]
        for _ in range(1 if bench.quick else 2):
            ours += [bench.contest(problem, stops, "own", OWN) for _ in range(3)]
            theirs.append(scipy_day(bench, problem, stops, best, tolerance, 10 * limit))
        rows[line][2] = both([r["seconds"] for r in ours])
        ratio = least(r["seconds"] for r in theirs) / least(r["seconds"] for r in ours)
        per = [least(r["stop_seconds"] for r in side) / stops for side in (theirs, ours)]
        rows.append([name, f"{best} by turns with the program", both([r["seconds"] for r in theirs]), "", "",
                     f"a stop, parks apart: {1e3 * per[0]:.3g} ms, program {1e3 * per[1]:.3g} ms, ratio "
                     f"{per[0] / per[1]:.1f}"])
        ratios.append((f"SciPy {best} over the program, {name}, day of {stops} stops", f"{ratio:.1f}"))
        ratios.append((f"the same a stop, {name}", f"{per[0] / per[1]:.1f}"))
    text = (f"SciPy {scipy.__version__}, solve_ivp with the compiled right-hand side and Jacobian of "
            f"tests/reference/loss_ode "
            "(so its Python is the integrator alone), restarted at each span, the loosest tolerance whose error is "
            "about the "
            "program's. Few stops, because more take too long: the time of a stop is that of its spans over the "
            "number of "
            "stops, and a whole day of 770 stops would take 770 times that, an extrapolation. Processor seconds: "
            "least and (median)."
            "\n\n" + table(["problem", "who", "seconds", "error", "steps", "of it"], rows))
    return "Against SciPy", text, ratios


# ------------------------------------------------------------------------------------------------------ whole programs


def compare_histories(one, other):
    """Runs in a process of its own (see `main`): prints the differences of two histories as JSON."""
    import h5py
    import numpy as np
    with h5py.File(one) as a, h5py.File(other) as b:
        ta, tb = np.round(a["time"][:], 3), np.round(b["time"][:], 3)
        _, ia, ib = np.intersect1d(ta, tb, return_indices=True)
        clamp = np.abs(a["clamp"][:][ia] - b["clamp"][:][ib])
        by = np.max(clamp, axis=1)
        shares = []
        for h in (a, b):
            cost = h["loss_clamp"][-1]
            shares.append(cost / np.sum(cost, axis=1, keepdims=True))
        out = {"records": len(ia), "of": len(ta), "clamp": float(clamp.max() / a["clamp"][0].max()),
               "at": float(ta[ia][by.argmax()]), "share": float(np.max(np.abs(shares[0] - shares[1])))}
    print(json.dumps(out))


def part_envelope(bench):
    """solution.resolution: envelope against every-stop."""
    # Appended: the shipped scenario says nothing about its solution.
    shipped = "every: 1 h, at: [5 min, 80 km], layers: true"

    def as_asked(weeks, records, resolution):
        text = weeks_text(weeks, *([] if records == shipped else [(shipped, records)]))
        return text + f"\nsolution: {{resolution: {resolution}}}\n"

    rows, ratios = [], []
    cases = [(1, shipped, "hour"), (2, "every: 7 d", "week")] if bench.quick else [
        (26, shipped, "hour"), (104, shipped, "hour"), (104, "every: 7 d", "week")]
    for weeks, records, every_so in cases:
        names = {r: f"{r}-{weeks}-{every_so}" for r in ("every-stop", "envelope")}
        got = bench.runs({name: as_asked(weeks, records, r) for r, name in names.items()}, 3)
        every, short = got[names["every-stop"]], got[names["envelope"]]
        out = subprocess.run([sys.executable, __file__, "--compare", every[0]["history"], short[0]["history"]],
                             capture_output=True, text=True)
        if out.returncode != 0:
            raise Wrong("comparing histories needs python3-h5py and /usr/bin/python3:\n" + out.stderr)
        d = json.loads(out.stdout)
        ratio = {k: least(r[k] for r in every) / least(r[k] for r in short) for k in ("wall", "cpu")}
        rows.append([weeks, every_so, both([r["wall"] for r in every]), both([r["wall"] for r in short]),
                     f"{ratio['wall']:.1f}", f"{ratio['cpu']:.1f}", f"{d['clamp']:.1e} at day {d['at'] / 86400:.1f}", f"{d['share']:.1e}",
                     f"{d['records']} of {d['of']}"])
        what = f"{weeks} weeks, records each {every_so}"
        ratios.append((f"every stop over envelope, {what}, wall", f"{ratio['wall']:.1f}"))
        ratios.append((f"largest difference of clamp, {what}", f"{d['clamp']:.1e} of the first"))
        ratios.append((f"largest difference of a mechanism's share at the end, {what}", f"{d['share']:.1e}"))
    text = (f"`{PAINTED.name}`, every stop against `solution: {{resolution: envelope}}`. Clamp: largest difference of "
            f"any stud at "
            "any record that both have, over the first clamp. Share: largest difference of any mechanism's part of "
            "the clamp "
            "lost, any stud, last record. Records each hour are what the scenario ships with. Seconds: least and "
            "(median).\n\n" +
            table(["weeks", "records each", "every stop, wall s", "envelope, wall s", "ratio wall", "ratio processor",
                   "clamp", "share", "records"],
                  rows))
    return "Envelope against every stop", text, ratios


def coating_entry(modes):
    """The scenario's coating with another number of modes, as an entry of the scenario's own."""
    text = (ROOT / "models" / "catalogue" / "coatings.yaml").read_text()
    entry = re.search(r"^    thermoplastic topcoat:.*\n(?:^      .*\n)+", text, re.M)[0]
    return "catalogue:\n  coatings:\n" + changed(entry, ("modes: 16", f"modes: {modes}")) + "\n"


def part_growth(bench):
    """Growth of time and peak memory."""
    quick = bench.quick
    studs_text = lambda n: weeks_text(1, ("count: 10", f"count: {n}"), ("bolt_circle: 285.75 mm",
                                                                        "bolt_circle: 500 mm"),
                                      ("friction: 0.15", f"friction: {1.5 / n:.4g}"),
                                      *([("ring_coupling: {active: true,", "ring_coupling: {active: false,")] if n < 3
                                        else []))

    def layers_text(n):
        lines, left = [], n
        for line in weeks_text(1).splitlines():
            if "_side: {coating:" in line:
                left -= 1
                if left < 0:
                    continue
            lines.append(line)
        return "\n".join(lines) + "\n"

    # One stud has no ring and no matrix: another program than the others, so no exponent takes it in.
    series = [
        ("weeks", (1, 2) if quick else (1, 4, 26, 104), lambda n: (f"weeks-{n}", weeks_text(n))),
        ("studs", (1, 5, 10) if quick else (1, 5, 10, 20), lambda n: (f"studs-{n}", studs_text(n))),
        ("coated faces", (1, 4) if quick else (0, 1, 2, 3, 4), lambda n: (f"faces-{n}", layers_text(n))),
        ("creep modes of the coating", (4, 16) if quick else (4, 8, 16, 32, 64),
         lambda n: (f"modes-{n}", coating_entry(n) + weeks_text(1))),
    ]
    parts, ratios = [], []
    for what, sizes, of in series:
        texts = [of(n) for n in sizes]
        got = bench.runs(dict(texts), 2 if quick else 3)
        rows, cpu, memory = [], [], []
        for n, (name, _) in zip(sizes, texts):
            runs = got[name]
            rows.append([n, both([r["wall"] for r in runs]), both([r["cpu"] for r in runs]),
                         f"{max(r['memory'] for r in runs) / 1e6:.1f}",
                         len(runs)])
            if n > 0 and not (what == "studs" and n < 3):
                cpu.append((n, least(r["cpu"] for r in runs)))
                memory.append((n, max(r["memory"] for r in runs)))
        p, q = exponent(cpu), exponent(memory)
        last = exponent(cpu[-2:])
        parts.append(table([what, "wall s", "processor s", "peak MB", "runs"], rows) +
                     f"\n\nProcessor time ~ {what}^{p:.2f} (last two alone {last:.2f}), peak memory ~ {what}^{q:.2f}.")
        ratios.append((f"exponent of time with {what}", f"{p:.2f}"))
        ratios.append((f"exponent of peak memory with {what}", f"{q:.2f}"))
    text = (f"`{PAINTED.name}` as it is shipped, by envelope, through `clampfade simulate`, history included; one week "
            f"where something other than "
            f"its length is "
            "varied. Studs stand on a bolt circle of 500 mm, faces the rougher the fewer they are, so that none "
            "slips. An "
            "exponent below one means that a fixed part is still seen. Least and (median).\n\n" + "\n\n".join(parts))
    return "Growth", text, ratios


PARTS = {"steps": part_steps, "cvode": part_cvode, "scipy": part_scipy, "envelope": part_envelope,
         "growth": part_growth,
         "history": part_history}


# ---------------------------------------------------------------------------------------------------------------- file


def machine(bench):
    model = next((l.split(":", 1)[1].strip() for l in open("/proc/cpuinfo") if l.startswith("model name")), "unknown")
    git = lambda *a: subprocess.run(["git", "-C", ROOT, *a], capture_output=True, text=True).stdout.strip()
    commit = git("rev-parse", "--short=12", "HEAD") + (" with changes" if git("status", "--porcelain", "-uno") else "")
    cache = (bench.build / "CMakeCache.txt").read_text()
    value = lambda key: (re.search(rf"^{key}:\w+=(.*)$", cache, re.M) or [None, "?"])[1]
    compiler = subprocess.run([value("CMAKE_CXX_COMPILER"), "--version"], capture_output=True,
                              text=True).stdout.splitlines()[0]
    version = lambda package: subprocess.run(["dpkg-query", "-W", "-f=${Version}", package], capture_output=True,
                                             text=True).stdout.strip() or "not a package"
    libraries = ", ".join(f"{p} {version(p)}" for p in ("libeigen3-dev", "libboost-dev", "libhdf5-dev",
                                                        "libsundials-dev",
                                                        "python3-scipy", "python3-numpy", "libbenchmark-dev", "libc6"))
    # The cache holds CMake's own flags; what was really used stands in the commands.
    flags = "flags unknown"
    for command in json.loads((bench.build / "compile_commands.json").read_text()):
        if command["file"].endswith("solver/wheel.cpp"):
            flags = " ".join(w for w in command["command"].split() if re.match(r"-(O|m|f|std)", w))
            break
    load = os.getloadavg()
    return {"commit": commit,
            "lines": [f"- machine: {model}, {os.cpu_count()} cores, load {load[0]:.1f} at the start",
                      f"- compiler: {compiler}, "
                      f"{value('CMAKE_BUILD_TYPE')} {flags}", f"- libraries: {libraries}",
                      f"- commit: {commit}"]}


INTRODUCTION = """# Results of the benchmarks

Written by `tests/bench/run.py`; what each part is stands in [README.md](README.md). Times are of one machine on one
day, good for ratios; figures in brackets are medians.
"""


def old_sections():
    if not RESULTS.exists():
        return {}
    pieces = re.split(r"^## (.*)\n", RESULTS.read_text(), flags=re.M)
    return {title: body.strip() for title, body in zip(pieces[1::2], pieces[2::2])}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--build", default=str(ROOT / "build-bench"), help="build folder")
    parser.add_argument("--no-build", action="store_true", help="take the folder as it is")
    parser.add_argument("--quick", action="store_true", help="a smoke run in under two minutes; RESULTS.md stays")
    parser.add_argument("--only", action="append", choices=sorted(PARTS),
                        help="one part; the others of RESULTS.md stay")
    parser.add_argument("--compare", nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.compare:
        compare_histories(*options.compare)
        return 0
    if not options.no_build:
        subprocess.run(["cmake", "-S", ROOT, "-B", options.build, "-G", "Ninja", "-DCMAKE_BUILD_TYPE=Release",
                        "-DCLAMPFADE_BENCH=ON"], check=True, stdout=subprocess.DEVNULL)
        subprocess.run(["cmake", "--build", options.build, "--target", "bench"], check=True)
    begun = time.time()
    sections, ratios = {}, []
    with tempfile.TemporaryDirectory(dir=options.build) as folder:
        bench = Bench(options.build, options.quick, folder)
        about = machine(bench)
        date = datetime.datetime.now(datetime.timezone.utc).strftime("%Y-%m-%d %H:%M UTC")
        for name in options.only or PARTS:
            say(f"{name} ...")
            part_begun = time.time()
            title, text, found = PARTS[name](bench)
            stamp = f"Taken {date} at {about['commit']}, {time.time() - part_begun:.0f} s."
            sections[title] = f"{text}\n\n{stamp}"
            ratios += found
            say(f"\n{text}\n")
    short = table(["ratio", "value"], ratios)
    say(short)
    say(f"\n{time.time() - begun:.0f} s in all")
    if options.quick:
        return 0
    kept = old_sections()
    if options.only:
        # The table of ratios keeps the rows of the parts that were not run.
        was = [tuple(c.strip() for c in row.strip("|").split("|")) for row in kept.get("Ratios", "").splitlines()[2:]
               if row.startswith("|")]
        merged = dict(was)
        merged.update(dict(ratios))
        short = table(["ratio", "value"], list(merged.items()))
    command = "/usr/bin/python3 tests/bench/run.py" + "".join(f" --only {n}" for n in options.only or ())
    whole = {"Machine": "\n".join(about["lines"] + [f"- command: `{command}`", f"- date: {date}"]), "Ratios": short}
    if options.only:
        whole.update({t: b for t, b in kept.items() if t not in whole})
    whole.update(sections)
    RESULTS.write_text(INTRODUCTION + "".join(f"\n## {title}\n\n{body}\n" for title, body in whole.items()))
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except Wrong as e:
        sys.exit(f"run.py: {e}")
