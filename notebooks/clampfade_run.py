"""Runs scenarios and studies through the program `clampfade` and opens what it wrote. No physics here.

    import clampfade_run as cf
    wheel = cf.read("../scenarios/painted-steel-duals.yaml")
    bare = cf.changed(wheel, {"joint/stack/*/*_side/thickness": "0 um", "duty/calendar/weeks": 4})
    print(cf.run(bare).clamp_cold.isel(time=-1).min())

A scenario is the path of a YAML file or a dictionary with the same keys (scenarios/SCHEMA.md); a quantity is text with its
unit ("475 lbf*ft"). The program is the one named in the call, else in the environment variable CLAMPFADE, else found on
PATH, else in the folder build/ of this source tree. Needs Debian's python3-yaml, python3-h5py and python3-xarray.
"""
import copy
import json
import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any, Iterator, Mapping, NamedTuple

import xarray as xr
import yaml

from clampfade_io import load

ROOT = Path(__file__).resolve().parent.parent
"""The source tree, in which shipped scenarios and a built program are looked for."""
SCENARIOS = ROOT / "scenarios"
"""The shipped scenarios."""

Scenario = str | os.PathLike | Mapping[str, Any]


class ClampfadeError(RuntimeError):
    """The program refused or failed. Its text is what the program wrote; `exit_code` as the program's help lists it:
    2 bad input, 3 the numerics failed, 4 a file, 70 a fault of the program, negative: ended by that signal."""

    def __init__(self, command: list[str], exit_code: int, messages: str):
        super().__init__(f"{Path(command[0]).name} {command[1]} ended with exit code {exit_code}\n{messages.strip()}")
        self.exit_code = exit_code
        self.messages = messages


def find_program(program: str | os.PathLike | None = None) -> Path:
    """The program to call: `program`, else $CLAMPFADE, else on PATH, else build/clampfade. Raises FileNotFoundError; a
    program that was named and is not there is an error, so that no other one answers for it."""
    named = program or os.environ.get("CLAMPFADE")
    if named:
        found = shutil.which(named)
        if found is None:
            raise FileNotFoundError(f"clampfade: no program at {named}")
        return Path(found).resolve()
    for place in (shutil.which("clampfade"), ROOT / "build" / "clampfade"):
        if place and os.access(place, os.X_OK):
            return Path(place)
    raise FileNotFoundError("clampfade: not on PATH and not in build/. Build it (README.md), or name it in the environment "
                            "variable CLAMPFADE")


class _Loader(yaml.SafeLoader):
    """Plain YAML 1.2: a time of day or a date stays text, and `on` and `yes` are words."""

    yaml_implicit_resolvers: dict = {}


_Loader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"^(true|false)$"), list("tf"))
_Loader.add_implicit_resolver("tag:yaml.org,2002:int", re.compile(r"^[-+]?(0|[1-9][0-9]*)$"), list("-+0123456789"))
_Loader.add_implicit_resolver("tag:yaml.org,2002:float", re.compile(
    r"^[-+]?([0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?=[eE]))([eE][-+]?[0-9]+)?$"), list("-+.0123456789"))
_Loader.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"^(~|null|)$"), ["~", "n", ""])


class _Dumper(yaml.SafeDumper):
    """One that writes no anchors, which the program does not read."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def _files_absolute(item: Any, folder: Path) -> None:
    """Names of files are relative to the scenario; a dictionary has no folder of its own."""
    for key, value in list(item.items()) if isinstance(item, dict) else enumerate(item) if isinstance(item, list) else []:
        if isinstance(value, str) and (key == "file" or key == "records"):
            item[key] = str((folder / value).resolve())
        else:
            _files_absolute(value, folder)


def read(path: str | os.PathLike) -> dict[str, Any]:
    """The scenario of a YAML file as a dictionary, with the files that it names as absolute paths. Raises OSError, and
    ValueError for what is not a map in YAML. What the keys mean is left to the program."""
    try:
        scenario = yaml.load(Path(path).read_text(encoding="utf-8"), Loader=_Loader)
    except yaml.YAMLError as error:
        raise ValueError(f"{path}: {error}") from error
    if not isinstance(scenario, dict):
        raise ValueError(f"{path}: not a scenario, which is a map of keys")
    _files_absolute(scenario, Path(path).resolve().parent)
    return scenario


def write(scenario: Mapping[str, Any], path: str | os.PathLike) -> None:
    """Writes a dictionary as the YAML file of a scenario; a file that is there is replaced. Raises OSError, and
    yaml.YAMLError for values that are neither text, numbers, true or false, lists nor maps."""
    Path(path).write_text(yaml.dump(dict(scenario), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=120),
                          encoding="utf-8")


class _Place(NamedTuple):
    """An item by what holds it, and what to take out with it: of a step of the day the whole entry of the list."""

    holder: Any
    key: Any
    out_of: tuple[Any, Any]

    def is_there(self) -> bool:
        return isinstance(self.holder, list) or self.key in self.holder


def _branches(item: Any) -> list[tuple[str, _Place]]:
    """Everything that a step of a path can lead to by name."""
    if isinstance(item, dict):
        return [(str(key), _Place(item, key, (item, key))) for key in item]
    branches = []
    for i, entry in enumerate(item if isinstance(item, list) else ()):
        names = [entry[key] for key in ("part", "name") if isinstance(entry.get(key), str)] if isinstance(entry, dict) else []
        if names:
            branches.append((names[0], _Place(item, i, (item, i))))
        elif isinstance(entry, dict) and len(entry) == 1 and isinstance(next(iter(entry.values())), dict):
            key = next(iter(entry))
            branches.append((key, _Place(entry, key, (item, i))))
    return branches


def _places(item: Any, steps: list[str], wild: bool = False) -> Iterator[_Place]:
    """Every place that the steps lead to. The rules are the program's own (SCHEMA.md, `vary/*`)."""
    step, rest = steps[0], steps[1:]
    star = "*" in step
    pattern = re.escape(step).replace(r"\*", ".*")
    found = [place for name, place in _branches(item) if re.fullmatch(pattern, name)]
    if not star and len(found) > 1:
        raise KeyError(f"{len(found)} entries are called '{step}': use their numbers, or a * for all of them")
    if not found and isinstance(item, list):
        if step == "*":
            found = [_Place(item, i, (item, i)) for i in range(len(item))]
        elif step.isdigit() and 1 <= int(step) <= len(item):
            found = [_Place(item, int(step) - 1, (item, int(step) - 1))]
    if not found and not wild and not star:
        if rest or not isinstance(item, dict):
            there = ", ".join(name for name, _ in _branches(item))
            raise KeyError(f"nothing is called '{step}' here; there is {there or 'nothing with a name'}")
        found = [_Place(item, step, (item, step))]  # a key that may be put there
    for place in found:
        if rest:
            yield from _places(place.holder[place.key], rest, wild or star)
        else:
            yield place


def _all_places(scenario: Any, path: str) -> list[_Place]:
    try:
        places = list(_places(scenario, path.split("/")))
    except KeyError as error:
        raise KeyError(f"{path}: {error.args[0]}") from None
    if not places:
        raise KeyError(f"{path}: leads to nothing")
    return places


def values(scenario: Mapping[str, Any], path: str) -> list[Any]:
    """Everything that stands at a path, such as `joint/stack/*/*_side/thickness`. Raises KeyError where nothing does."""
    found = [place.holder[place.key] for place in _all_places(scenario, path) if place.is_there()]
    if not found:
        raise KeyError(f"{path}: is not given")
    return found


def changed(scenario: Scenario, changes: Mapping[str, Any]) -> dict[str, Any]:
    """A deep copy of a scenario with other values: `{path: value}`, in the order given. A path has steps with / between
    them: keys, entries of a list by name (a part's, a step's of the day) or by number from 1; * stands for any
    characters of a step and takes every entry that has what follows, as in `vary`. The last key may be a new one; a + at
    the end adds an entry to a list. The value None takes out what stands there. Raises KeyError for a path that leads nowhere."""
    out = copy.deepcopy(dict(scenario)) if isinstance(scenario, Mapping) else read(scenario)
    for path, value in changes.items():
        if path.endswith("/+"):
            for entries in values(out, path.removesuffix("/+")):
                if not isinstance(entries, list):
                    raise KeyError(f"{path}: not a list")
                entries.append(copy.deepcopy(value))
            continue
        # From the end, so that entries taken out of a list do not move those still to come.
        for place in reversed(_all_places(out, path)):
            if value is not None:
                place.holder[place.key] = copy.deepcopy(value)
            elif place.is_there():
                del place.out_of[0][place.out_of[1]]
            else:
                raise KeyError(f"{path}: is not given")
    return out


def _call(command: list[str]) -> str:
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", errors="replace", check=False)
    if done.returncode != 0:
        raise ClampfadeError(command, done.returncode, done.stderr or done.stdout)
    return done.stdout


def _result(command: str, scenario: Scenario, options: list[str], output: str | os.PathLike | None, force: bool,
            program: str | os.PathLike | None) -> xr.Dataset:
    tool = str(find_program(program))
    with tempfile.TemporaryDirectory(prefix="clampfade-") as folder:
        if isinstance(scenario, Mapping):
            source = Path(folder) / "scenario.yaml"
            write(scenario, source)
        else:
            source = Path(scenario)
        target = Path(output) if output is not None else Path(folder) / "result.h5"
        _call([tool, command, str(source), "-o", str(target), "--quiet", *options, *(["--force"] if force else [])])
        return load(target)


def run(scenario: Scenario, *, output: str | os.PathLike | None = None, force: bool = False,
        program: str | os.PathLike | None = None) -> xr.Dataset:
    """Simulates a scenario and returns its history (solver/HISTORY_FORMAT.md), SI. The file is kept only where `output`
    names one, and replaces another only with `force`. Raises ClampfadeError with the program's messages,
    FileNotFoundError without a program."""
    return _result("simulate", scenario, [], output, force, program)


def study(scenario: Scenario, kind: str = "sweep", *, count: int | None = None, seed: int | None = None,
          sensitivity: bool = False, jobs: int | None = None, output: str | os.PathLike | None = None,
          force: bool = False, program: str | os.PathLike | None = None) -> xr.Dataset:
    """Runs a study and returns it: `sweep` for all values that the scenario's `vary` lists, `sample` for `count` wheels
    with values that its `scatter` draws from `seed`; `sensitivity` draws `count` base wheels and the cases that
    `clampfade_io.shares` needs. `jobs` cases at a time, as many as processors if left out. Otherwise as `run`."""
    if kind not in ("sweep", "sample"):
        raise ValueError(f"a study is a sweep or a sample, not '{kind}'")
    if kind == "sweep" and (count is not None or seed is not None or sensitivity):
        raise ValueError("count, seed and sensitivity belong to a sample")
    options = [f"--{name}={value}" for name, value in (("count", count), ("seed", seed), ("jobs", jobs)) if value is not None]
    return _result(kind, scenario, options + (["--sensitivity"] if sensitivity else []), output, force, program)


def check(scenario: Scenario, *, program: str | os.PathLike | None = None) -> dict[str, Any]:
    """What follows from a scenario without running it, as `clampfade check --json` prints it, SI. Raises as `run`."""
    tool = str(find_program(program))
    with tempfile.TemporaryDirectory(prefix="clampfade-") as folder:
        source = Path(folder) / "scenario.yaml" if isinstance(scenario, Mapping) else Path(scenario)
        if isinstance(scenario, Mapping):
            write(scenario, source)
        return json.loads(_call([tool, "check", str(source), "--json"]))
