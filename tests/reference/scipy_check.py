"""One painted stud for a day: SciPy against a history of the program.

scipy_check.py EXPORT CLAMPFADE SCENARIO [ROWS]   programs reference_export and clampfade, scipy_column.yaml beside this,
and the file that takes the rows of the table.

The equations are written here anew, from physics, not from the program's source: settling modes of embedding and paint
with the shift of its polymer, squeeze flow, breakdown, power-law creep, and the column's balance. EXPORT gives the
constants, areas and compliances. Heat of the single node is a closed form. Radau restarts at every span; a mode that
has met its target is a kink that the solver has to find. Exits 1 if the clamp differs by more than LIMIT of the first.
"""
import json
import math
import subprocess
import sys
import tempfile
import time

import h5py
import numpy as np
from scipy.integrate import solve_ivp

LIMIT = 2e-5
R = 8.314462618


class Column:
    """Variables in um: embedding (three modes a place), paint (its modes, film, breakdown share, flow, loss), creep."""

    def __init__(self, data):
        self.d = data
        self.t0 = data["tightening_temperature"]
        self.places = [f["embedding"] for f in data["interfaces"] if f["embedding"] > 0] + [data["thread_embedding"]]
        self.weight = np.array([0.45, 0.45, 0.10])
        self.tau = np.array([60.0, 1e4, 1e6])
        self.turns = np.array([1e3, 1e5, 1e7])
        self.face = next(f for f in data["interfaces"] if "films" in f)
        self.film = self.face["films"][0]
        p = self.film
        self.paint_tau = np.logspace(math.log10(p["shortest"]), math.log10(p["longest"]), p["modes"])
        self.flowing0 = (1 - p["pigment"] - p["compaction_hot"]) * p["thickness"]
        self.creeping = next(q for q in data["parts"] if "creep" in q)
        self.compliance = data["stud"]["compliance"] + sum(q["shape"] / q["youngs"] for q in data["parts"]) + sum(
            k["thickness"] / (k["modulus"] * f["area"]) for f in data["interfaces"] for k in f.get("films", []))
        self.growth = sum(q["expansion"] * q["thickness"] for q in data["parts"]) - data["stud"]["expansion"] * data[
            "stud"]["grip"]
        self.advance = self.compliance * data["clamp"]  # tightened at once to the torque's clamp

    def start(self):
        y = np.zeros(3 * len(self.places) + len(self.paint_tau) + 4 + 1)
        y[-5] = self.flowing0 * 1e6
        return y

    def loss(self, y):
        n = 3 * len(self.places) + len(self.paint_tau)
        return 1e-6 * (y[:n].sum() + y[-3] + y[-2] + y[-1])

    def clamp(self, temperature, y):
        return (self.advance + self.growth * (temperature - self.t0) - self.loss(y)) / self.compliance

    def shift(self, temperature):
        p = self.film
        above = temperature - p["glass_transition"]
        if above >= 0:
            log = -17.44 * above / (51.6 + above)
        else:
            log = p["activation_below"] / (R * math.log(10)) * (1 / temperature - 1 / p["glass_transition"])
        return 10 ** min(16, max(-12, log))

    def rate(self, temperature, cycles, y):
        p = self.film
        f = self.clamp(temperature, y)
        out = np.zeros_like(y)
        ratio = min(1.5, math.sqrt(f / self.d["clamp"]))
        r = 1 / self.tau + cycles / self.turns
        for i, amount in enumerate(self.places):
            own = slice(3 * i, 3 * i + 3)
            out[own] = r * np.maximum(0, self.weight * amount * 1e6 * ratio - y[own])
        first = 3 * len(self.places)
        own = slice(first, first + len(self.paint_tau))
        pressure = f / self.face["area"]
        hot = 1 / (1 + math.exp(-(temperature - p["glass_transition"]) / p["transition_width"]))
        compact = p["compaction_cold"] + (p["compaction_hot"] - p["compaction_cold"]) * hot
        target = p["thickness"] * 1e6 * compact * pressure / (pressure + p["half_pressure"]) / len(self.paint_tau)
        a = self.shift(temperature)
        out[own] = (1 / (self.paint_tau * a) + cycles / p["turns"]) * np.maximum(0, target - y[own])
        film, broken = y[-5], y[-4]
        viscosity = min(1e18, p["viscosity"] * a / self.shift(p["viscosity_at"]))
        out[-5] = -film**3 * 1e-12 * pressure / (viscosity * self.face["width"]**2)
        out[-4] = p["breakdown_rate"] * math.exp(
            -p["breakdown_activation"] / R * (1 / temperature - 1 / p["breakdown_at"])) * (1 - broken)
        out[-3] = -(1 - broken) * out[-5]
        out[-2] = film * out[-4]
        c = self.creeping["creep"]
        out[-1] = 1e6 * self.creeping["thickness"] * c["coefficient"] * (
            f / self.creeping["area"] / 1e6)**c["exponent"] * math.exp(-c["activation"] / (R * temperature))
        return out


def cooling(first, rate, above, middle, rise, bend, duration):
    """Temperature of a lump over a span whose air follows a parabola about its middle: T' = rate (air + above - T)."""
    def follows(t):  # what solves it once the start is forgotten
        late = t - duration / 2
        return (middle + above + late * (rise + late * bend) - (rise + 2 * late * bend) / rate + 2 * bend / rate**2)
    return lambda t: follows(t) + (first - follows(0)) * math.exp(-rate * t)


def main():
    export, program, scenario, *rows_file = sys.argv[1:]
    rows = []
    data = json.loads(subprocess.run([export, "column", scenario], check=True, capture_output=True, text=True).stdout)
    with tempfile.TemporaryDirectory() as folder:
        history = folder + "/history.h5"
        subprocess.run([program, "simulate", scenario, "-o", history, "--quiet"], check=True, stdout=subprocess.DEVNULL)
        with h5py.File(history) as h:
            times, clamps, temperatures = h["time"][:], h["clamp"][:, 0], h["temperature"][:, 0]
    column = Column(data)
    heat = data["heat"]
    y, now, temperature = column.start(), 0.0, column.t0
    worst, warmest, compared = abs(column.clamp(temperature, y) - clamps[0]) / clamps[0], 0.0, 1
    begun = time.time()
    for span in data["spans"]:
        give = heat["still"] + heat["moving"] * span["air"]
        at = cooling(temperature, give / heat["capacity"], span["brake_heat"] / give, *span["ambient"], span["duration"])
        inside = [(i, t - now) for i, t in enumerate(times) if now < t <= now + span["duration"] + 1e-6]
        local = 0.0
        for index, until in inside + [(None, span["duration"])]:
            until = min(until, span["duration"])
            if until - local > 1e-9:
                got = solve_ivp(lambda t, v: column.rate(at(t), span["cycle_rate"], v), (local, until), y,
                                method="Radau", rtol=1e-9, atol=1e-9)
                if not got.success:
                    raise RuntimeError(got.message)
                y, local = got.y[:, -1], until
            if index is not None:
                expected = column.clamp(at(until), y)
                worst = max(worst, abs(expected - clamps[index]) / clamps[0])
                rows.append({"test": "scipy: a painted, creeping stud for a day with 120 stops",
                             "quantity": f"hours {(now + until) / 3600:.3g}: clamp [N]",
                             "source": "SciPy 1.10.1, Radau at 1e-9", "expected": expected, "computed": clamps[index],
                             "tolerance": LIMIT * clamps[0]})
                warmest = max(warmest, abs(at(until) - temperatures[index]))
                compared += 1
        temperature = at(span["duration"])
        now += span["duration"]
    n = 3 * len(column.places)
    print(f"compared {compared} clamps, first {clamps[0]:.1f} N, last {clamps[compared - 1]:.1f} N; losses in um: "
          f"embedding {y[:n].sum():.4f}, paint {y[n:-5].sum():.4f}, flow {y[-3]:.4f}, breakdown {y[-2]:.4f}, creep "
          f"{y[-1]:.4f}; {time.time() - begun:.0f} s")
    print(f"largest difference of clamp over the first {worst:.2e}, of temperature {warmest:.1e} K")
    if rows_file:
        with open(rows_file[0], "w") as out:
            json.dump(rows, out, indent=1)
            out.write("\n")
    return 0 if worst < LIMIT and compared > 20 else 1


if __name__ == "__main__":
    sys.exit(main())
