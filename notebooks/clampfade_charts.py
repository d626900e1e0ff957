"""Standard charts of runs and studies, drawn with matplotlib from what a file of results holds. No physics here.

    import clampfade_charts as charts
    charts.plot_clamp(run)                              # one run: every stud
    charts.plot_clamp({"as it is": run, "bare": other}) # several: the weakest stud of each

Every function draws into `ax`, or into a figure of its own, and returns the axes. Runs and studies are datasets of
`clampfade_io.load` or `clampfade_run`; charts are in kN, degC, days and kilometres. Colours are after the Okabe-Ito palette,
which colour-blind people tell apart; lines differ in their dashes and bars in lightness as well. Needs Debian's
python3-matplotlib and python3-xarray.
"""
import functools
import textwrap
from typing import Callable, Mapping

import matplotlib.pyplot as plt
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke
from matplotlib.transforms import ScaledTranslation

from clampfade_io import days_until_below, wheels

DAY, KN, ZERO_C = 86400.0, 1e3, 273.15
INK, MUTED, RULE, WARN = "#1b2430", "#566273", "#d5dbe3", "#a8370b"
LINES = (("#0072b2", "-"), ("#c25400", (0, (6, 2))), ("#00805c", (0, (2, 1.5))), ("#b0568a", (0, (6, 2, 1.5, 2))),
         ("#1f2933", (0, (1, 1))), ("#007c9c", (0, (3, 1, 3, 3))), ("#7d6a00", (0, (4, 1, 1, 1, 1, 1))))
HALO = [withStroke(linewidth=3, foreground="white")]
MECHANISMS = {"embedding": "#56b4e9", "unseated": "#bfc6ce", "coating_creep": "#e69f00", "coating_flow": "#0072b2",
              "coating_breakdown": "#d55e00", "metal_creep": "#8a96a3", "washer_set": "#009e73", "washer_friction": "#cc79a7",
              "stud_yield": "#1f2933", "nut_rotation": "#f0e442", "wear": "#8a4b2a"}
STYLE = {"figure.facecolor": "white", "axes.facecolor": "white", "savefig.facecolor": "white", "figure.dpi": 110,
         "savefig.dpi": 110, "font.size": 11, "axes.titlesize": 12, "axes.titleweight": "bold", "axes.titlelocation": "left",
         "text.color": INK, "axes.labelcolor": INK, "axes.edgecolor": MUTED, "xtick.color": MUTED, "ytick.color": MUTED,
         "xtick.labelcolor": INK, "ytick.labelcolor": INK, "axes.spines.top": False, "axes.spines.right": False,
         "axes.grid": True, "axes.grid.axis": "y", "grid.color": RULE, "axes.axisbelow": True, "legend.frameon": False,
         "legend.fontsize": 10, "legend.handlelength": 3.2, "axes.titlepad": 10}

Runs = xr.Dataset | Mapping[str, xr.Dataset]


def use_style() -> None:
    """Sets matplotlib to the look of these charts, for those that a notebook draws itself too: a light ground at any theme."""
    plt.rcParams.update(STYLE)


def _styled(chart: Callable[..., Axes]) -> Callable[..., Axes]:
    """A chart looks the same whether or not `use_style` was called. Only its own settings are put back: a whole rc_context
    would also undo what a notebook's backend sets when the first figure loads it, and no figure would be shown."""

    @functools.wraps(chart)
    def drawn(*arguments, **named) -> Axes:
        before = {key: plt.rcParams[key] for key in STYLE}
        plt.rcParams.update(STYLE)
        try:
            return chart(*arguments, **named)
        finally:
            plt.rcParams.update(before)

    return drawn


def _axes(ax: Axes | None, size: tuple[float, float] = (7.2, 4.0)) -> Axes:
    return ax if ax is not None else plt.subplots(figsize=size, layout="constrained")[1]


def _named(runs: Runs) -> dict[str, xr.Dataset]:
    return {"": runs} if isinstance(runs, xr.Dataset) else dict(runs)


def _wrapped(text: str, width: int = 62) -> str:
    return "\n".join(textwrap.wrap(text, width))


def _legend(ax: Axes, columns: int = 2, **more: float) -> None:
    """Below the chart, where it hides no line: under the words of the axis, at any size of the chart."""
    below = ax.transAxes + ScaledTranslation(0, -44 / 72, ax.figure.dpi_scale_trans)
    ax.legend(loc="upper left", bbox_to_anchor=(0, 0), bbox_transform=below, ncols=columns, borderaxespad=0,
              columnspacing=1.5, **more)


def _required(ax: Axes, levels: list[float]) -> None:
    for level in sorted({round(v / KN, 2) for v in levels}):
        ax.axhline(level, color=WARN, lw=1.4, ls=(0, (1, 1.2)), zorder=1.5)
        ax.annotate(f"required {level:.0f} kN", (0.01, level), xycoords=("axes fraction", "data"), xytext=(0, -3),
                    textcoords="offset points", ha="left", va="top", color=WARN, fontsize=10,
                    path_effects=HALO)


@_styled
def plot_clamp(runs: Runs, *, title: str | None = None, ax: Axes | None = None) -> Axes:
    """Cold clamp load against days: of one run each stud, the weakest at the end in bold; of several, by name, the weakest
    stud at each instant. With the clamp that is required, and where it is first passed."""
    ax, named = _axes(ax), _named(runs)
    for (name, run), (colour, dashes) in zip(named.items(), LINES * (1 + len(named) // len(LINES))):
        days, clamp = run.time.values / DAY, run.clamp_cold.values / KN
        if len(named) == 1:
            weakest = int(clamp[-1].argmin())
            ax.plot(days, clamp, color=MUTED, lw=0.7, alpha=0.6)
            ax.plot([], [], color=MUTED, lw=0.7, label=f"each of the {clamp.shape[1]} studs")
            ax.plot(days, clamp[:, weakest], color=colour, lw=2, label=f"stud {run.stud.values[weakest]}, weakest at the end")
        else:
            ax.plot(days, clamp.min(axis=1), color=colour, ls=dashes, lw=2, label=name)
        below = days_until_below(run)
        if below is not None:
            level = float(run.joint_required_clamp) / KN
            ax.plot([below], [level], "o", color=colour, ms=7, mec="white", mew=1.2, zorder=3)
            if len(named) == 1:
                ax.annotate(f"below on day {below:.0f}", (below, level), xytext=(8, 14), textcoords="offset points",
                            color=WARN, fontsize=10, path_effects=HALO)
    if len(named) > 1 and any(days_until_below(run) is not None for run in named.values()):
        ax.plot([], [], "o", color=MUTED, mec="white", ms=7, label="first below the required clamp")
    last = max(float(run.time[-1]) for run in named.values()) / DAY
    ax.set(xlabel="days since tightening", ylabel="cold clamp load, kN", xlim=(0, last), ylim=(0, None))
    _required(ax, [float(run.joint_required_clamp) for run in named.values()])
    ax.set_title(title or (_wrapped(next(iter(named.values())).attrs["title"]) if len(named) == 1 else
                           "Clamp load of the weakest stud"))
    _legend(ax)
    return ax


def budget(run: xr.Dataset) -> xr.DataArray:
    """Clamp load that each mechanism has cost by the last record, mean over the studs, N, by `mechanism`: of a run, or of a
    study by case."""
    return run.loss_clamp_end if "loss_clamp_end" in run else run.loss_clamp.isel(time=-1).mean("stud")


@_styled
def plot_budget(runs: Runs | Mapping[str, xr.DataArray], *, title: str | None = None, ax: Axes | None = None) -> Axes:
    """What took the clamp load: a bar for each run, or each array over `mechanism` in N, with the mechanisms side by side."""
    bars = {name: v if isinstance(v, xr.DataArray) else budget(v) for name, v in _named(runs).items()}
    ax = _axes(ax, (7.2, 2.0 + 0.46 * len(bars)))
    longest = max(float(v.sum()) for v in bars.values()) / KN
    shown = [m for m in MECHANISMS if any(m in v.mechanism and abs(float(v.sel(mechanism=m))) > 4e-3 * longest * KN
                                          for v in bars.values())]
    for row, (name, values) in enumerate(bars.items()):
        left = 0.0
        for mechanism in shown:
            width = float(values.sel(mechanism=mechanism)) / KN
            ax.barh(row, width, left=left, color=MECHANISMS[mechanism], edgecolor="white", lw=1, height=0.72)
            if width > 0.07 * longest:
                dark = mechanism in ("coating_flow", "stud_yield", "wear")
                ax.text(left + width / 2, row, f"{width:.1f}", ha="center", va="center", fontsize=10,
                        color="white" if dark else INK)
            left += width
        ax.annotate(f"{float(values.sum()) / KN:.1f}", (left, row), xytext=(5, 0), textcoords="offset points", va="center",
                    fontsize=10, fontweight="bold")
    for mechanism in shown:
        ax.bar(0, 0, color=MECHANISMS[mechanism], label=mechanism.replace("_", " "))
    ax.set(xlabel="clamp load lost by the end, mean of the studs, kN", xlim=(0, longest * 1.12), ylim=(len(bars) - 0.5, -0.5))
    ax.set_yticks(range(len(bars)), [_wrapped(name, 26) for name in bars])
    ax.grid(axis="x")
    ax.grid(False, axis="y")
    ax.set_title(title or "What took the clamp load")
    _legend(ax, 3, handlelength=1.2)
    return ax


@_styled
def plot_temperature(run: xr.Dataset, *, days: tuple[float, float] = (0, 7), title: str | None = None,
                     ax: Axes | None = None) -> Axes:
    """Temperatures of the nodes of the heat network as recorded between two days; peaks between records are not in it."""
    ax = _axes(ax)
    part = run.sel(time=slice(days[0] * DAY, days[1] * DAY))
    for node, (colour, dashes) in zip(part.node.values, LINES * 3):
        ax.plot(part.time / DAY, part.temperature.sel(node=node) - ZERO_C, color=colour, ls=dashes, lw=1.6, label=node)
    ax.set(xlabel="days since tightening", ylabel="temperature, °C", xlim=days)
    ax.set_title(title or "Temperatures at the records")
    _legend(ax, 3)
    return ax


@_styled
def plot_spread(study: xr.Dataset, *, title: str | None = None, ax: Axes | None = None) -> Axes:
    """Of a sample: cold clamp of the weakest stud of each wheel against days, as bands that hold half and nine tenths of
    the wheels. Raises ValueError for another file."""
    ax, drawn = _axes(ax), wheels(study)
    days = drawn.time.values / DAY
    low, lower, middle, upper, high = np.quantile(drawn.clamp_cold_lowest.values / KN, [0.05, 0.25, 0.5, 0.75, 0.95], axis=0)
    ax.fill_between(days, low, high, color="#cfe3f1", lw=0, label="nine tenths of the wheels")
    ax.fill_between(days, lower, upper, color="#7fb2d6", lw=0, label="half of the wheels")
    ax.plot(days, middle, color=INK, lw=1.8, label="median wheel")
    ax.plot(days, drawn.clamp_cold_lowest.values.min(axis=0) / KN, color=WARN, lw=1, ls=(0, (6, 2)), label="lowest of all")
    ax.set(xlabel="days since tightening", ylabel="cold clamp of the weakest stud, kN", xlim=(0, days[-1]), ylim=(0, None))
    _required(ax, list(drawn.required_clamp.values))
    ax.set_title(title or _wrapped(f"Weakest stud of {drawn.sizes['case']} wheels with scattered values"))
    _legend(ax)
    return ax


def scaled(array: xr.DataArray) -> tuple[np.ndarray, str]:
    """Values of an array in a unit for people, and that unit: kN, um or mm, kW, degC and the like from SI."""
    values, unit = np.asarray(array.values, float), array.attrs.get("units", "1")
    largest = float(np.nanmax(np.abs(values))) if values.size else 0.0
    if unit == "K":
        return values - ZERO_C, "°C"
    steps: dict[str, list[tuple[float, float, str]]] = {
        "m": [(1e-3, 1e6, "µm"), (1.0, 1e3, "mm"), (np.inf, 1.0, "m")], "W": [(1e3, 1.0, "W"), (np.inf, 1e-3, "kW")],
        "N": [(1e3, 1.0, "N"), (np.inf, 1e-3, "kN")], "Pa": [(np.inf, 1e-6, "MPa")], "N m": [(np.inf, 1.0, "N·m")],
        "s": [(3600.0, 1.0, "s"), (np.inf, 1 / DAY, "days")]}
    for limit, factor, name in steps.get(unit, [(np.inf, 1.0, unit)]):
        if largest < limit:
            return values * factor, "" if name == "1" else name
    return values, unit


def _with_unit(words: str, unit: str) -> str:
    return f"{words}, {unit}" if unit else words


@_styled
def plot_map(values: xr.DataArray, *, label: str, level: float | None = None, level_label: str = "required clamp",
             title: str | None = None, ax: Axes | None = None) -> Axes:
    """Of a sweep over two axes of numbers: a cell for each case with its value, in SI with `units`, and the line along which
    it is `level`."""
    ax = _axes(ax, (7.2, 4.4))
    below, across = values.dims
    x, x_unit = scaled(values[across])
    y, y_unit = scaled(values[below])
    z, z_unit = scaled(values)
    mesh = ax.pcolormesh(x, y, z, cmap="cividis", shading="nearest")
    for i, j in np.ndindex(z.shape):
        red, green, blue, _ = mesh.cmap(mesh.norm(z[i, j]))
        dark = 0.2126 * red + 0.7152 * green + 0.0722 * blue < 0.45
        ax.text(x[j], y[i], f"{z[i, j]:.0f}", ha="center", va="center", fontsize=10, color="white" if dark else INK, zorder=4)
    if level is not None:
        at = float(scaled(xr.DataArray([level, float(np.nanmax(np.abs(values)))], attrs=values.attrs))[0][0])
        if np.nanmin(z) < at < np.nanmax(z):
            ax.contour(x, y, z, levels=[at], colors="white", linewidths=4)
            ax.contour(x, y, z, levels=[at], colors=WARN, linewidths=2)
            ax.plot([], [], color=WARN, lw=2, label=f"{level_label}, {at:.0f} {z_unit}")
            _legend(ax)
    ax.grid(False)
    ax.figure.colorbar(mesh, ax=ax, label=_with_unit(label, z_unit), pad=0.02)
    ax.set(xlabel=_with_unit(values[across].attrs.get("label", across), x_unit),
           ylabel=_with_unit(values[below].attrs.get("label", below), y_unit))
    ax.set_title(title or label)
    return ax


@_styled
def plot_shares(shares: xr.Dataset, *, title: str | None = None, ax: Axes | None = None) -> Axes:
    """The shares of `clampfade_io.shares` in per cent, with their intervals of 95 %."""
    ax = _axes(ax, (7.2, 1.6 + 0.62 * shares.sizes["input"]))
    ordered = shares.sortby("total", ascending=False)
    rows = np.arange(ordered.sizes["input"])
    for order, words, offset, colour, marker in (("first", "alone (first order)", -0.17, "#0072b2", "o"),
                                                 ("total", "with its interplay (total)", 0.17, "#c25400", "s")):
        value, low, high = (100 * ordered[f"{order}{end}"].values for end in ("", "_low", "_high"))
        ax.hlines(rows + offset, low, high, color=colour, lw=2.4)
        ax.plot(value, rows + offset, marker, color=colour, ms=8, mec="white", label=words)
    ax.axvline(0, color=MUTED, lw=0.8)
    ax.set_yticks(rows, [_wrapped(str(name), 26) for name in ordered.input.values])
    ax.set(xlabel="share of the variance, %, with the interval of 95 %", ylim=(len(rows) - 0.5, -0.5))
    ax.grid(axis="x")
    ax.grid(False, axis="y")
    ax.set_title(title or "What the spread comes from")
    ax.legend(loc="lower right")
    return ax
