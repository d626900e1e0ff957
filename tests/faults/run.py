#!/usr/bin/env python3
"""Deliberate faults: puts one at a time into a copy of the source and shows which test notices it.

The list is faults.toml beside this script. A test that no fault makes fail proves nothing, and a fault that no test
notices is a test that is missing. Needs Python 3.11, CMake and what the program itself needs; no other package.
"""

import argparse
import collections
import html
import os
import pathlib
import re
import shutil
import subprocess
import sys
import time
import tomllib

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
RESULTS = HERE / "RESULTS.md"
KINDS = {
    "sign": "a term counts the wrong way",
    "factor": "a number or factor is off",
    "exponent": "a power is another one",
    "unit": "a unit is taken for another",
    "dropped": "a mechanism or term is left out",
    "wrong node": "the right thing at the wrong place",
    "off by one": "a count or an end is one off",
    "stale": "what was true before is still used or still told",
    "report": "the run is right and the report is not",
}
KEYS = {"name", "kind", "file", "find", "replace", "why", "test"}
TEST_LIMIT = 300  # s, as in tests/CMakeLists.txt; a fault that makes a run go on for ever is caught by it
BY_LIMIT = "the time limit"

Fault = collections.namedtuple("Fault", sorted(KEYS))


class Wrong(Exception):
    """Something that the user of this script has to put right."""


# ---------------------------------------------------------------------------------------------------------- the list


def read_list():
    with open(HERE / "faults.toml", "rb") as file:
        entries = tomllib.load(file)["fault"]
    for number, entry in enumerate(entries, 1):
        if set(entry) != KEYS:
            raise Wrong(f"faults.toml: entry {number} ({entry.get('name', 'no name')}): keys must be {sorted(KEYS)}")
    return [Fault(**entry) for entry in entries]


def binary_and_case(fault):
    """'unit: stud: sections in series' is a test case of test_unit, 'ctest: name' a test of ctest."""
    binary, _, case = fault.test.partition(": ")
    return binary, case


def known_cases():
    cases = set()
    for path in (ROOT / "tests").rglob("*.cpp"):
        cases.update(re.findall(r'TEST_CASE\("((?:[^"\\]|\\.)*)"', path.read_text(encoding="utf-8")))
    return cases


def check_list(faults):
    """All that can go wrong in the list without building anything."""
    complaints = []
    cases = known_cases()
    seen = set()
    for fault in faults:
        def complain(what):
            complaints.append(f"{fault.name}: {what}")

        if fault.name in seen:
            complain("this name is there twice")
        seen.add(fault.name)
        if fault.kind not in KINDS:
            complain(f"kind '{fault.kind}' is none of: {', '.join(KINDS)}")
        if not fault.why.strip():
            complain("says not why it matters")
        path = ROOT / fault.file
        matches = path.read_text(encoding="utf-8").count(fault.find) if path.is_file() else 0
        if not path.is_file():
            complain(f"there is no file {fault.file}")
        elif matches != 1:
            complain(f"its text stands {matches} times in {fault.file}, not once:\n{fault.find}")
        if fault.find == fault.replace:
            complain("changes nothing")
        binary, case = binary_and_case(fault)
        if binary != "ctest" and case not in cases:
            complain(f"there is no test case '{case}'")
    told = set(read_results())
    for name in sorted(seen - told):
        complaints.append(f"{name}: not in RESULTS.md; run tests/faults/run.py --only {name}")
    for name in sorted(told - seen):
        complaints.append(f"{name}: in RESULTS.md, but not in the list")
    return complaints


# --------------------------------------------------------------------------------------------------- the scratch copy


def copy_source(source):
    """Brings the copy to the state of the tracked files as they lie here; leaves alone what is equal."""
    listed = subprocess.run(["git", "-C", ROOT, "ls-files", "-z"], capture_output=True)
    if listed.returncode != 0:
        raise Wrong("needs a checkout by git: it copies the files that git tracks")
    tracked = {name for name in listed.stdout.decode().split("\0") if name and (ROOT / name).is_file()}
    for path in [p for p in source.rglob("*") if p.is_file()]:
        if str(path.relative_to(source)) not in tracked:
            path.unlink()
    for name in tracked:
        new = (ROOT / name).read_bytes()
        old = source / name
        if not old.is_file() or old.read_bytes() != new:
            old.parent.mkdir(parents=True, exist_ok=True)
            old.write_bytes(new)
            shutil.copymode(ROOT / name, old)


class Scratch:
    """A copy of the source and its build."""

    def __init__(self, folder, jobs):
        self.source = folder / "source"
        self.build = folder / "build"
        self.jobs = jobs
        self.log = folder / "build.log"
        self.source.mkdir(parents=True, exist_ok=True)
        copy_source(self.source)
        command = ["cmake", "-S", self.source, "-B", self.build, "-DCMAKE_BUILD_TYPE=Release"]
        if not (self.build / "CMakeCache.txt").is_file():
            if shutil.which("ninja"):
                command += ["-G", "Ninja"]
            if shutil.which("ccache"):
                command.append("-DCMAKE_CXX_COMPILER_LAUNCHER=ccache")
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)

    def make(self, *targets):
        """Whether these targets, or everything, could be built."""
        command = ["cmake", "--build", self.build, "-j", str(self.jobs)]
        with open(self.log, "wb") as log:
            return subprocess.run(command + (["--target", *targets] if targets else []), stdout=log,
                                  stderr=subprocess.STDOUT).returncode == 0

    def targets(self, binary):
        return ["test_verification", "clampfade-report"] if binary == "ctest" else ["test_" + binary]

    def failing(self, binary, case):
        """The test cases that fail of the one named; None if there is none of that name."""
        if binary == "ctest":
            return self.ctest(["-R", f"^{re.escape(case)}$"])
        command = [self.build / "tests" / ("test_" + binary), "-r=xml", "-tc=" + case.replace(",", "\\,")]
        try:
            done = subprocess.run(command, cwd=self.build / "tests", capture_output=True, timeout=TEST_LIMIT)
        except subprocess.TimeoutExpired:
            return [f"{binary}: {case} ({BY_LIMIT})"]
        return doctest_failures(binary, done)

    def ctest(self, selection):
        """The failing tests of ctest. The list's own test is left out: any fault changes a text that it looks for."""
        command = ["ctest", "--test-dir", self.build, "-E", "^fault_list$", *selection]
        done = subprocess.run(command, capture_output=True, text=True)
        if "No tests were found" in done.stdout + done.stderr:
            return None
        found = re.findall(r"^\s*\d+ - (.*) \((?:Failed|Timeout|.*[Ee]xception.*|SEGFAULT|.*aborted.*)\)", done.stdout,
                           re.MULTILINE)
        if done.returncode != 0 and not found:
            raise Wrong(f"ctest says nothing of use:\n{done.stdout[-2000:]}{done.stderr}")
        return ["ctest: " + name for name in found]


def doctest_failures(binary, done):
    text = done.stdout.decode(errors="replace")
    failed = []
    cases = re.split(r"<TestCase (?=name=)", text)[1:]
    ran = 0
    for case in cases:
        if "skipped=\"true\"" in case.split(">", 1)[0]:
            continue
        ran += 1
        name = html.unescape(re.match(r'name="([^"]*)"', case)[1])
        if 'test_case_success="true"' not in case:  # also where the program died in it
            failed.append(f"{binary}: {name}")
    if not failed and done.returncode != 0:
        raise Wrong(f"test_{binary} leaves with {done.returncode} and names no test case:\n{text[-2000:]}")
    return failed if ran else None


# ------------------------------------------------------------------------------------------------------------ the run


def try_fault(scratch, fault):
    """What noticed the fault: a list of tests; [] if it went unseen."""
    path = scratch.source / fault.file
    sound = path.read_text(encoding="utf-8")
    if sound.count(fault.find) != 1:
        raise Wrong(f"{fault.name}: its text does not stand exactly once in {fault.file}")
    binary, case = binary_and_case(fault)
    try:
        path.write_text(sound.replace(fault.find, fault.replace), encoding="utf-8")
        if not scratch.make(*scratch.targets(binary)):
            tail = scratch.log.read_text(errors="replace")[-2000:]
            raise Wrong(f"{fault.name}: does not compile, so it is no fault that a test could catch:\n{tail}")
        failed = scratch.failing(binary, case)
        if failed:
            return failed
        # Not the test that should have: does any?
        if not scratch.make():
            raise Wrong(f"{fault.name}: does not compile, so it is no fault that a test could catch")
        return scratch.ctest(["--stop-on-failure"])
    finally:
        path.write_text(sound, encoding="utf-8")


def check_sound(scratch):
    """Without a fault no test may fail, or its failing says nothing."""
    print("building the sound program", flush=True)
    if not scratch.make():
        raise Wrong(f"the sound program does not compile; see {scratch.log}")
    print("running the tests on it", flush=True)
    failed = scratch.ctest([])
    if failed:
        raise Wrong("these tests fail without any fault: " + ", ".join(failed))


def read_results():
    """Row of RESULTS.md by the name of its fault."""
    rows = {}
    if RESULTS.is_file():
        for line in RESULTS.read_text(encoding="utf-8").splitlines():
            found = re.match(r"\| `([^`]+)` \|", line)
            if found:
                rows[found[1]] = line
    return rows


def write_results(faults, caught):
    """Rows of this run, and of earlier ones for faults that were not tried now."""
    rows = {name: row for name, row in read_results().items() if name in {f.name for f in faults}}
    for fault in faults:
        if fault.name in caught:
            by = "; ".join(caught[fault.name]) or "**UNSEEN**"
            rows[fault.name] = f"| `{fault.name}` | {fault.kind} | {fault.file} | {fault.why} | {by} |"
    unseen = sum("**UNSEEN**" in row for row in rows.values())
    kinds = collections.Counter(f.kind for f in faults if f.name in rows)
    text = ["# Which test catches which fault", "", "Written by `run.py`; do not edit. A fault is a change of the text "
            "in faults.toml, made in a copy of the source.", "",
            f"{len(rows)} faults, {len(rows) - unseen} caught, {unseen} unseen: "
            + ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items())) + ".", "",
            "| fault | kind | file | what goes wrong | caught by |", "|---|---|---|---|---|"]
    text += [rows[f.name] for f in faults if f.name in rows]
    RESULTS.write_text("\n".join(text) + "\n", encoding="utf-8")


def run(arguments, faults):
    chosen = [f for f in faults if not arguments.only or f.name in arguments.only]
    chosen.sort(key=lambda f: f.file.endswith(".hpp"))  # last: they build much anew
    unknown = set(arguments.only) - {f.name for f in chosen}
    if unknown:
        raise Wrong(f"no such fault: {', '.join(sorted(unknown))}")
    scratch = Scratch(pathlib.Path(arguments.build_dir).resolve(), arguments.jobs)
    check_sound(scratch)
    caught = {}
    bad = []
    began = time.monotonic()
    for number, fault in enumerate(chosen, 1):
        start = time.monotonic()
        try:
            found = try_fault(scratch, fault)
        except Wrong as wrong:
            bad.append(str(wrong))
            print(f"{number}/{len(chosen)} {wrong}", flush=True)
            continue
        caught[fault.name] = found
        verdict = "caught by " + "; ".join(found) if found else "UNSEEN"
        if not found:
            bad.append(f"{fault.name}: unseen; a test is missing")
        elif fault.test not in found and fault.test + f" ({BY_LIMIT})" not in found:
            bad.append(f"{fault.name}: caught by {found[0]}, but the list names {fault.test}")
        print(f"{number}/{len(chosen)} {fault.name}: {verdict} ({time.monotonic() - start:.0f} s)", flush=True)
        write_results(faults, caught)
    scratch.make()  # leaves the copy sound, for the next run
    print(f"\n{len(chosen)} faults, {sum(map(bool, caught.values()))} caught, in "
          f"{(time.monotonic() - began) / 60:.0f} min")
    for complaint in bad:
        print(complaint)
    return 1 if bad else 0


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="examples:\n"
               "  python3 tests/faults/run.py --list\n"
               "  python3 tests/faults/run.py --only stud-head-length\n"
               "  python3 tests/faults/run.py --build-dir /tmp/faults --jobs 4      all of them; takes its time\n"
               "  python3 tests/faults/run.py --check                               the list alone, in a moment\n"
               "\n"
               "exit code: 0 every fault was caught by the test that the list names, 1 otherwise, 2 wrong command line")
    parser.add_argument("--only", metavar="NAME", action="append", default=[],
                        help="try this fault alone; may be repeated")
    parser.add_argument("--list", action="store_true", help="show the faults and leave")
    parser.add_argument("--check", action="store_true",
                        help="see that every fault can still be made and stands in RESULTS.md; build nothing")
    parser.add_argument("--build-dir", metavar="DIR", default="/tmp/clampfade-faults",
                        help="for the copy and its build; kept, so that a second run starts sooner (%(default)s)")
    parser.add_argument("--jobs", metavar="N", type=int, default=os.cpu_count() or 1,
                        help="compilers at a time (%(default)s)")
    arguments = parser.parse_args()
    faults = read_list()
    if arguments.list:
        for fault in faults:
            print(f"{fault.name:32} {fault.kind:12} {fault.file:28} {fault.test}")
        return 0
    complaints = check_list(faults)
    if arguments.check:
        for complaint in complaints:
            print(complaint)
        print(f"{len(faults)} faults, {len(complaints)} complaints")
        return 1 if complaints else 0
    return run(arguments, faults)


if __name__ == "__main__":
    try:
        sys.exit(main())
    except (Wrong, tomllib.TOMLDecodeError) as wrong:
        sys.exit(f"run.py: {wrong}")
