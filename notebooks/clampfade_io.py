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


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    print(load(sys.argv[1]))
