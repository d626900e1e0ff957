"""Runs the notebooks from their first cell to their last against the built program, in a folder that goes away.

run.py [--keep FOLDER] [NOTEBOOK ...]   all of notebooks/*.ipynb if none is named; the program is that of $CLAMPFADE, or
as clampfade_run.py finds it. With --keep the notebooks as executed are left in FOLDER, to be looked at.

Fails where a cell raises, where a stored notebook holds output, has a cell of code without words before it, or does not
end with the cautions; and where a cell that draws shows no figure. Exits 77 where the packages are not there.
"""
import argparse
import os
import re
import sys
import tempfile
import time
from pathlib import Path

try:
    import nbformat
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError
except ImportError as error:
    print(f"not checked here: {error}; install python3-nbclient and python3-ipykernel")
    sys.exit(77)

DRAWS = re.compile(r"charts\.plot_|plt\.subplots\(")
NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
CAUTIONS = ("This is an estimate from a model, not a release to service.",
            "Follow the instructions of the vehicle maker and the wheel maker, and the local codes. "
            "Leave the work to qualified people.",
            "Never skip a re-check of the nuts on the strength of a prediction alone.")


def faults_as_stored(notebook):
    """What is wrong with a notebook before it is run."""
    faults = []
    for number, cell in enumerate(notebook.cells, 1):
        if cell.cell_type != "code":
            continue
        if cell.outputs or cell.execution_count is not None:
            faults.append(f"cell {number} is stored with output: jupyter nbconvert --clear-output --inplace takes it out")
        if number == 1 or notebook.cells[number - 2].cell_type != "markdown":
            faults.append(f"cell {number} has no words before it that say what it is for")
    last = notebook.cells[-1]
    words = " ".join(last.source.split()) if last.cell_type == "markdown" else ""
    faults += [f"the last cell does not say: {caution}" for caution in CAUTIONS if caution not in words]
    return faults


def faults_as_run(notebook):
    """What is wrong with a notebook that ran to its end: words on standard error are warnings that somebody should see."""
    outputs = [(number, output) for number, cell in enumerate(notebook.cells, 1) if cell.cell_type == "code"
               for output in cell.outputs]
    faults = [f"cell {number} writes to standard error: {output.text.strip()}" for number, output in outputs
              if output.output_type == "stream" and output.name == "stderr"]
    drawn = {number for number, output in outputs if "image/png" in output.get("data", {})}
    draws = {number for number, cell in enumerate(notebook.cells, 1) if cell.cell_type == "code" and DRAWS.search(cell.source)}
    faults += [f"cell {number} draws a chart and shows none" for number in sorted(draws - drawn)]
    if not drawn:
        faults.append("no figure was drawn")
    return faults


def check(path, keep):
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    faults = faults_as_stored(notebook)
    start = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="clampfade-notebook-") as folder:
        client = NotebookClient(notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": folder}})
        try:
            client.execute()
            faults += faults_as_run(notebook)
        except CellExecutionError as error:
            at = next(number for number, cell in enumerate(notebook.cells, 1) for output in cell.get("outputs", ())
                      if output.output_type == "error")
            faults.append(f"cell {at} raises {error.ename}: {error.evalue}")
        left = sorted(p.name for p in Path(folder).iterdir())
        if left:
            faults.append("leaves files where it was opened: " + ", ".join(left))
    if keep:
        keep.mkdir(parents=True, exist_ok=True)
        nbformat.write(notebook, keep / path.name)
    print(f"{path.name}: {'FAILED' if faults else 'passed'}, {time.monotonic() - start:.0f} s")
    for fault in faults:
        print(f"  {fault}")
    return not faults


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--keep", type=Path)
    parser.add_argument("notebooks", nargs="*", type=Path)
    given = parser.parse_args()
    # The kernel opens the notebooks elsewhere; and it runs on this Python, whichever comes first on PATH.
    os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, (str(NOTEBOOKS), os.environ.get("PYTHONPATH"))))
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    os.environ["PYDEVD_DISABLE_FILE_VALIDATION"] = "1"  # the kernel's debugger would warn of Python's frozen modules
    os.environ["PATH"] = os.pathsep.join((str(Path(sys.executable).parent), os.environ.get("PATH", "")))
    paths = given.notebooks or sorted(NOTEBOOKS.glob("*.ipynb"))
    if not paths:
        sys.exit("no notebooks found")
    sys.exit(0 if all([check(path, given.keep) for path in paths]) else 1)


if __name__ == "__main__":
    main()
