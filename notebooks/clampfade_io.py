"""Opens a file of results, a history, a plan, a study or a fit, as one labelled xarray.Dataset. No physics, nothing converted: SI.

    import clampfade_io
    d = clampfade_io.load("scatter.h5")
    d.clamp_cold_lowest.isel(time=-1).quantile(0.05, dim="case")

Dimensions carry the names of the file's axes, coordinates their values, every array its `units` and `long_name`; what
stands in a group has the group's name before its own (`input_torque`, `steps_smallest`). The attributes of the dataset are
those of the file; `filetype` says which kind it is. Needs Debian's python3-h5py and python3-xarray.

Usage: clampfade_io.py FILE.h5  (prints what is in it)
"""
import sys

import h5py
import numpy as np
import xarray as xr

KINDS = ("clampfade-history", "clampfade-plan", "clampfade-study", "clampfade-fit")
_OF_HDF5 = {"CLASS", "NAME", "DIMENSION_LIST", "REFERENCE_LIST", "DIMENSION_LABELS", "valid_rows"}


def _text(value):
    return value.decode() if isinstance(value, bytes) else value


def _name(path):
    return path.strip("/").replace("/", "_")


def _attributes(item):
    return {key: _text(value) for key, value in item.attrs.items() if key not in _OF_HDF5 and not key.startswith("_")}


def _is_scale(dataset):
    return h5py.h5ds.is_scale(dataset.id)


def _values(dataset):
    return dataset.asstr()[:].astype(object) if h5py.check_string_dtype(dataset.dtype) else dataset[:]


def load(path):
    """The whole file in memory. Raises ValueError for what clampfade has not written, OSError for what cannot be read."""
    with h5py.File(path, "r") as file:
        kind = _text(file.attrs.get("filetype", ""))
        if kind not in KINDS:
            raise ValueError(f"{path}: not a file of clampfade's results ({kind or 'no filetype'})")
        found = {}
        file.visititems(lambda name, item: found.update({name: item}) if isinstance(item, h5py.Dataset) else None)
        # Of a growing axis, and all along it, only so many rows are good.
        rows = {name: int(d.attrs["valid_rows"]) for name, d in found.items() if "valid_rows" in d.attrs}
        arrays, coordinates = {}, {}
        for name, dataset in found.items():
            if name.startswith("checkpoint/") or name == "single":
                continue
            scales = [_name(d[0].name) if len(d) else None for d in dataset.dims]
            if _is_scale(dataset):
                scales = [_name(name)]
            dims = tuple(s or f"{_name(name)}_{k}" for k, s in enumerate(scales))
            values = _values(dataset)
            axis = name if _is_scale(dataset) else dataset.dims[0][0].name.strip("/") if len(dataset.dims[0]) else ""
            values = values[: rows.get(axis, len(values))]
            if dims == ("single",):
                dims, values = (), values[0]
            array = xr.Variable(dims, values, _attributes(dataset))
            # What lies along an axis and tells its places another way is a coordinate of it as well.
            aside = name == "distance" and dims == ("time",)
            (coordinates if _is_scale(dataset) or aside else arrays)[_name(name)] = array
        return xr.Dataset(arrays, coordinates, _attributes(file))


def days_until_below(run):
    """Days until a stud of a run fell below the required clamp for the first time, by the run's events; None if it never did."""
    if "event_kind" not in run:
        return None
    times = run.event_time.values[run.event_kind.values == "below required clamp"]
    return float(times.min()) / 86400 if times.size else None


def retorques(run):
    """Places on `time` of the records just before and just after each retorque of a run, in pairs, by time."""
    if "event_kind" not in run:
        return []
    instants = run.event_time.values[run.event_kind.values == "retorque"]
    places = [np.flatnonzero(run.time.values == instant) for instant in instants]
    return [(int(p[0]), int(p[-1])) for p in places if p.size >= 2]


def wheels(study):
    """The complete cases of a sample that are wheels drawn independently; of a sample for sensitivities the base cases and
    those with all inputs drawn anew. Raises ValueError for another file."""
    if study.attrs.get("kind") != "sample":
        raise ValueError("not a sample, whose cases are wheels drawn at random")
    good = study.status.values == 1
    if "design" in study:
        good &= study.design.values < 2
    return study.isel(case=np.flatnonzero(good))


def shares(study, outcome, draws=400):
    """Of a sample for sensitivities: the share of the variance of `outcome`, one number a case, that each input is behind,
    alone (`first`) and together with what it does by way of the others (`total`), each with the ends of an interval of
    95 % from `draws` draws of cases with replacement (the bootstrap's percentiles).

    First order by Saltelli et al., Computer Physics Communications 181 (2010), table 2 (b); total by Jansen, Computer
    Physics Communications 117 (1999). Blocks in which a case has failed are left out. Raises ValueError without a design,
    and where fewer than two blocks are left or the outcome does not vary."""
    if "design" not in study:
        raise ValueError("not a sample for sensitivities: draw it with sensitivity=True")
    names = study.attrs["inputs"].split("\n")
    design, values = study.design.values, np.where(study.status.values == 1, np.asarray(outcome, float), np.nan)
    table = np.array([values[design == k] for k in range(len(names) + 2)])
    table = table[:, np.isfinite(table).all(axis=0)]
    if table.shape[1] < 2 or np.ptp(table[:2]) == 0:
        raise ValueError("too few complete cases, or an outcome that does not vary")

    def estimate(rows):
        base, anew, mixed = rows[0], rows[1], rows[2:]
        variance = rows[:2].var(axis=(0, -1))
        centre = rows[:2].mean(axis=(0, -1))
        first = ((anew - centre[..., None]) * (mixed - base)).mean(axis=-1) / variance
        return np.stack([first, ((base - mixed) ** 2).mean(axis=-1) / (2 * variance)])

    blocks = table.shape[1]
    picks = np.random.default_rng(1).integers(blocks, size=(draws, blocks))
    with np.errstate(invalid="ignore", divide="ignore"):
        low, high = np.nanpercentile(estimate(table[:, picks]), [2.5, 97.5], axis=-1)
    labels = [study[f"input_{name}"].attrs.get("label", name) for name in names]
    point = estimate(table)
    data = {f"{order}{end}": ("input", array[k]) for k, order in enumerate(("first", "total"))
            for end, array in (("", point), ("_low", low), ("_high", high))}
    return xr.Dataset(data, {"input": labels}, {"blocks": blocks})


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    print(load(sys.argv[1]))
