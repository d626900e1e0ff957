"""Draws cold clamp against time, stud by stud, and the loss budget of a history. Usage: clamp_picture.py FILE.h5 OUT.svg

Reads the history only; needs Debian's python3-h5py and python3-matplotlib.
"""
import sys

import h5py
import matplotlib

matplotlib.use("svg")
matplotlib.rcParams["svg.hashsalt"] = "clampfade"  # the same picture, the same file
import matplotlib.pyplot as plt
import numpy as np

INK, GREY, ACCENT = "#1f2a36", "#8a96a3", "#b3541e"


def main(path, out):
    with h5py.File(path) as f:
        days = f["time"][:] / 86400
        clamp = f["clamp_cold"][:] / 1e3
        required = float(np.ravel(f["joint/required_clamp"][()])[0]) / 1e3
        mechanisms = [m.decode() if isinstance(m, bytes) else m for m in f["mechanism"][:]]
        cost = f["loss_clamp"][-1].mean(axis=0) / 1e3
        title = f.attrs["title"]
        title = title.decode() if isinstance(title, bytes) else title
    fig, (left, right) = plt.subplots(1, 2, figsize=(9.5, 3.8), width_ratios=[3, 2], layout="constrained")
    left.plot(days, clamp, color=INK, lw=0.8, alpha=0.55)
    left.plot([], [], color=INK, lw=0.8, label=f"each of the {clamp.shape[1]} studs")
    left.axhline(required, color=ACCENT, lw=1.6, ls="--", label=f"required clamp {required:.0f} kN")
    below = np.flatnonzero(clamp.min(axis=1) < required)
    if below.size:
        left.axvline(days[below[0]], color=ACCENT, lw=0.9)
        left.annotate(f"weakest stud passes it\non day {days[below[0]]:.0f}", (days[below[0]], clamp.max() * 0.97),
                      xytext=(6, 0), textcoords="offset points", va="top", color=ACCENT, fontsize=9)
    left.set(xlabel="days since tightening", ylabel="cold clamp load, kN", ylim=(0, None), xlim=(0, days[-1]))
    left.legend(frameon=False, loc="upper right", bbox_to_anchor=(1, 0.84), fontsize=9)
    order = [i for i in np.argsort(cost) if cost[i] > 5e-3 * cost.sum()]
    right.barh([mechanisms[i].replace("_", " ") for i in order], cost[order], color=GREY)
    for row, i in enumerate(order):
        right.annotate(f"{cost[i]:.1f}", (cost[i], row), xytext=(4, 0), textcoords="offset points", va="center", fontsize=9)
    right.set(xlabel="clamp load taken, mean stud, kN", xlim=(0, cost.max() * 1.18))
    for axes in (left, right):
        axes.spines[["top", "right"]].set_visible(False)
    fig.suptitle(f"{title} (demo values)", fontsize=11, color=INK)
    fig.savefig(out, metadata={"Date": None})


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(sys.argv[1], sys.argv[2])
