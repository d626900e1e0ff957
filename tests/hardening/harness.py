"""What all parts of the fault run share: running the programs, comparing files of results, and the table."""

import os
import pathlib
import resource
import shutil
import subprocess
import sys

try:
    import h5py
    import numpy
except ImportError:
    sys.exit("the fault run needs h5py; on Debian: /usr/bin/python3 with the package python3-h5py")

SOURCE = pathlib.Path(__file__).resolve().parents[2]
SCENARIOS = SOURCE / "scenarios"

INPUT, NUMERICS, FILE, BUG = 2, 3, 4, 70
SEAL_BYTES = 88  # "\nclampfade seal sha256 ", 64 digits, "\n"

# What a program says when it did not see something coming.
UNFORESEEN = ("terminate called", "fault of the program", "fault of this program", "Traceback", "HDF5-DIAG",
              "AddressSanitizer", "runtime error:")


class Row:
    """A line of the table. `broke` takes what went wrong, in words that name the trial."""

    def __init__(self, part, what):
        self.part, self.what = part, what
        self.tried = 0
        self.faults = []
        self.notes = []

    def broke(self, text):
        self.faults.append(text)
        print(f"  BROKE [{self.part}] {self.what}: {text}", flush=True)

    def check(self, holds, text):
        if not holds:
            self.broke(text)
        return holds


class Result:
    def __init__(self, args, code, out, err):
        self.args, self.code, self.out, self.err = args, code, out, err

    def __str__(self):
        return f"{' '.join(map(str, self.args[1:]))[-150:]} -> {self.code}, stderr {self.err[-300:]!r}"


class Bench:
    """Programs, a folder to work in, and the rows."""

    def __init__(self, program, report, work, full):
        self.program, self.report_program = str(program), str(report)
        self.work = pathlib.Path(work)
        self.full = full
        self.rows = []
        self.environment = dict(os.environ, CLAMPFADE_CATALOGUE=str(SOURCE / "models" / "catalogue"), NO_COLOR="1",
                                LC_ALL="C.UTF-8")

    def times(self, full, quick):
        return full if self.full else quick

    def row(self, part, what):
        row = Row(part, what)
        self.rows.append(row)
        print(f"[{part}] {what}", flush=True)
        return row

    def folder(self, name):
        """A fresh folder that others may enter, so that another user can be tried."""
        path = self.work / name
        shutil.rmtree(path, ignore_errors=True)
        path.mkdir(parents=True)
        path.chmod(0o755)
        return path

    def start(self, args, cwd, limit=None, environment=None, **more):
        def before():
            if limit is not None:
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))

        more.setdefault("stdout", subprocess.PIPE)
        more.setdefault("stderr", subprocess.PIPE)
        return subprocess.Popen([str(a) for a in args], cwd=cwd, stdin=subprocess.DEVNULL, preexec_fn=before,
                                env=environment or self.environment, **more)

    def run(self, args, cwd, limit=None, timeout=300, **more):
        child = self.start(args, cwd, limit, **more)
        try:
            out, err = child.communicate(timeout=timeout)
        except subprocess.TimeoutExpired:
            child.kill()
            out, err = child.communicate()
            err = (err or b"") + b"\n(the fault run gave up waiting)"
        return Result(args, child.returncode, (out or b"").decode("utf-8", "replace"),
                      (err or b"").decode("utf-8", "replace"))

    def clampfade(self, *args, cwd, **more):
        return self.run([self.program, *args], cwd, **more)

    def report(self, *args, cwd, **more):
        return self.run([self.report_program, *args], cwd, **more)

    def must(self, result):
        """Of what the fault run builds on."""
        if result.code != 0:
            sys.exit(f"the fault run cannot begin: {result}")
        return result


def sound_end(row, result, allowed, trial):
    """Whether a program ended as a program may: by itself, with a code that was foreseen, and not without a word."""
    good = row.check(result.code in allowed, f"{trial}: exit {result.code} and not {allowed}: {result}")
    good &= row.check(result.code in (0, 1) or result.err.strip() != "", f"{trial}: exit {result.code} without a word")
    for word in UNFORESEEN:
        good &= row.check(word not in result.err, f"{trial}: {word!r} in {result}")
    return good


def content(path):
    """Everything in a file of results that two runs must share: datasets to the bit, and attributes but the clock's."""
    found = {}

    def look(name, item):
        for key, value in item.attrs.items():
            if key not in ("created_utc", "DIMENSION_LIST", "REFERENCE_LIST", "block"):
                found[f"{name}@{key}"] = numpy.asarray(value).tobytes() if not isinstance(value, str) else value
        if isinstance(item, h5py.Dataset):
            value = item[()]
            found[name] = ((str(item.dtype), item.shape), value.tobytes() if item.dtype.kind != "O" else
                           [bytes(v) if isinstance(v, bytes) else str(v) for v in numpy.asarray(value).ravel()])

    with h5py.File(path, "r", locking=False) as file:
        look("", file)
        file.visititems(look)
    return found


def difference(path, whole):
    """Names of what is not the same in two files, in words; empty if nothing."""
    a, b = content(path), content(whole)
    names = [n for n in sorted(a.keys() | b.keys()) if a.get(n) != b.get(n)]
    return ", ".join(names[:5]) + (" ..." if len(names) > 5 else "")


def attribute(path, name):
    with h5py.File(path, "r", locking=False) as file:
        value = file.attrs[name]
    return value.decode() if isinstance(value, bytes) else str(value)


def sealed(path):
    """Whether the last line is the SHA-256 of what stands before it."""
    import hashlib
    data = pathlib.Path(path).read_bytes()
    line = b"\nclampfade seal sha256 " + hashlib.sha256(data[:-SEAL_BYTES]).hexdigest().encode() + b"\n"
    return data.endswith(line)


def table(rows, seconds):
    lines = ["| part | what was tried | how often | broke | notes |", "|---|---|---|---|---|"]
    for r in rows:
        lines.append(f"| {r.part} | {r.what} | {r.tried} | {len(r.faults)} | {'; '.join(r.notes)} |")
    lines.append(f"\n{sum(r.tried for r in rows)} trials in {seconds:.0f} s, {sum(len(r.faults) for r in rows)} broke.")
    return "\n".join(lines)
