#!/usr/bin/env python3
"""Builds the user guide: runs every command on its pages, page by page, and makes a site of them with mkdocs.

    /usr/bin/python3 notebooks/guide/make.py --prefix PREFIX [--site FOLDER]

PREFIX is where clampfade is installed (`cmake --install build --prefix PREFIX`). Blocks marked `sh` are run with the
installed programs, all those of a page in one folder of its own; a command that fails ends it all with 1. Blocks marked
`text` are shown only. Without --site the commands are run and nothing is built. Pages of reference are copied from where
they are written: the keys of a scenario, the commands, the equations, the files of results.
"""
import argparse
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
PAGES = ["index", "install", "one-wheel", "many-wheels", "lesson", "records", "limits"]
REFERENCE = {"scenario": ("Keys of a scenario", ROOT / "scenarios/SCHEMA.md"),
             "equations": ("Equations", ROOT / "models/EQUATIONS.md"),
             "references": ("Sources", ROOT / "models/REFERENCES.md"),
             "history": ("Files of results", ROOT / "solver/HISTORY_FORMAT.md"),
             "store": ("The store of a fleet", ROOT / "solver/STORE_FORMAT.md")}
NAMES = ["What it is for", "Installing", "One wheel", "Many wheels", "A lesson", "Records", "Limits and cautions"]


def commands(text):
    """The blocks of a page that are to be run."""
    return re.findall(r"^```sh\n(.*?)^```", text, flags=re.M | re.S)


def run_page(name, text, folder, prefix):
    """Runs a page's blocks in one shell; returns whether all came to a good end."""
    script = "set -euo pipefail\n" + "\n".join(commands(text)).replace("/usr/share/", f"{prefix}/share/")
    env = {**os.environ, "PATH": f"{prefix}/bin:{os.environ['PATH']}", "NO_COLOR": "1"}
    # A pager or `head` that has seen enough is no failure of the program.
    script = script.replace("set -euo pipefail", "set -eu")
    done = subprocess.run(["bash", "-c", script], cwd=folder, env=env, capture_output=True, text=True)
    print(f"{name}: {len(commands(text))} blocks, {'good' if done.returncode == 0 else 'FAILED'}")
    if done.returncode != 0:
        print(done.stdout[-3000:], done.stderr[-3000:], sep="\n", file=sys.stderr)
    return done.returncode == 0


def pictures(text):
    return re.findall(r"!\[[^\]]*\]\(([^)/]+\.svg)\)", text)


def command_page(prefix):
    """What --help says of each command."""
    out = ["# Commands\n"]
    for program in ("clampfade", "clampfade-report"):
        out.append(f"## {program}\n")
        text = subprocess.run([f"{prefix}/bin/{program}", "--help-all"], capture_output=True, text=True)
        if text.returncode != 0:
            text = subprocess.run([f"{prefix}/bin/{program}", "--help"], capture_output=True, text=True, check=True)
        out.append("```text\n" + text.stdout + "```\n")
        listed = subprocess.run([f"{prefix}/bin/{program}", "--help"], capture_output=True, text=True, check=True).stdout
        for name in re.findall(r"^  ([a-z]+) ", listed.split("Subcommands:")[1], flags=re.M):
            help_text = subprocess.run([f"{prefix}/bin/{program}", name, "--help"], capture_output=True, text=True,
                                       check=True).stdout
            out.append(f"### {program} {name}\n\n```text\n{help_text}```\n")
    return "\n".join(out)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--prefix", required=True, help="where clampfade is installed")
    parser.add_argument("--site", help="folder for the site; needs mkdocs")
    options = parser.parse_args()
    prefix = str(pathlib.Path(options.prefix).resolve())
    good = True
    with tempfile.TemporaryDirectory() as temporary:
        docs = pathlib.Path(temporary) / "docs"
        docs.mkdir()
        for page in PAGES:
            text = (HERE / f"{page}.md").read_text()
            folder = pathlib.Path(temporary) / page
            folder.mkdir()
            good &= run_page(page, text, folder, prefix)
            (docs / f"{page}.md").write_text(text)
            for picture in pictures(text):
                if (folder / picture).exists():
                    shutil.copy(folder / picture, docs / picture)
                else:
                    good = False
                    print(f"{page}: no command makes {picture}", file=sys.stderr)
        if options.site and good:
            (docs / "reference").mkdir()
            nav = [f"  - {name}: {page}.md" for name, page in zip(NAMES, PAGES)] + ["  - Reference:"]
            for page, (name, source) in REFERENCE.items():
                # Links to files of the source lead nowhere on a site; what they name stays.
                text = re.sub(r"\[([^\]]+)\]\((?!https?:|#)[^)]*\)", r"\1", source.read_text())
                (docs / "reference" / f"{page}.md").write_text(text)
                nav.append(f"    - {name}: reference/{page}.md")
            (docs / "reference/commands.md").write_text(command_page(prefix))
            nav.append("    - Commands: reference/commands.md")
            config = pathlib.Path(temporary) / "mkdocs.yml"
            config.write_text("site_name: clampfade\nuse_directory_urls: false\ntheme: {name: mkdocs, highlightjs: false}\n"
                              "strict: true\nplugins: []\nnav:\n" + "\n".join(nav) + "\n")
            built = subprocess.run(["mkdocs", "build", "--quiet", "--config-file", config, "--site-dir",
                                    pathlib.Path(options.site).resolve()])
            good = built.returncode == 0
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
