#!/usr/bin/env python3
"""Builds the user guide: runs every command on its pages, page by page, and makes a site of them with mkdocs.

    /usr/bin/python3 notebooks/guide/make.py --prefix PREFIX [--site FOLDER]

PREFIX is where clampfade is installed (`cmake --install build --prefix PREFIX`). Blocks marked `sh` are run with the
installed programs, all those of a page in one folder of its own; a command that fails ends it all with 1. Blocks of other
kinds are shown only. A line `<!-- file PATH LANGUAGE -->` is replaced by that file of the source as a block, so that what is
shown is what the tests compile. Without --site the commands are run and nothing is built. Pages of reference are copied from
where they are written: the keys of a scenario, the commands, the equations, the files of results.
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


# Code and tables that are wider than a small screen scroll by themselves, and the page does not.
STYLE = """
pre { overflow-x: auto; max-width: 100%; }
pre code { white-space: pre; overflow-wrap: normal; word-wrap: normal; word-break: normal; }
div[role=main] table { display: block; overflow-x: auto; max-width: 100%; }
div[role=main] table code { overflow-wrap: normal; word-break: normal; }
div[role=main] img { max-width: 100%; height: auto; }
"""


def with_files(text):
    """The page with the files of the source that it shows."""
    def block(found):
        return f"```{found[2]}\n{(ROOT / found[1]).read_text()}```"
    return re.sub(r"^<!-- file (\S+) (\w+) -->$", block, text, flags=re.M)


def linked(text):
    """A page of reference with its links: to other pages of the site, to the sources by their [key]; links to files that
    have no page lead nowhere, and what they name stays."""
    page_of = {source.name: f"{page}.md" for page, (_, source) in REFERENCE.items()}

    def link(found):
        page = page_of.get(found[2].split("#")[0].split("/")[-1])
        return f"[{found[1]}]({page})" if page else found[1]
    text = re.sub(r"\[([^\]]+)\]\((?!https?:|#)([^)]*)\)", link, text)
    keys = set(re.findall(r"^\| \[([a-z][a-z0-9.-]+)\] \|", REFERENCE["references"][1].read_text(), flags=re.M))
    in_code = False
    lines = []
    for line in text.split("\n"):
        in_code ^= line.startswith("```")
        if in_code or line.startswith("    "):
            lines.append(line)
        elif line.startswith("| [") and line[3:].split("]")[0] in keys:  # the row that explains it
            key = line[3:].split("]")[0]
            lines.append(f'| <a id="{key}"></a>[{key}]' + line[3 + len(key) + 1:])
        else:
            lines.append(re.sub(r"(?<!`)\[([a-z][a-z0-9.-]+)\](?![(`])",
                                lambda found: f"[\\[{found[1]}\\]](references.md#{found[1]})" if found[1] in keys else found[0],
                                line))
    return "\n".join(lines)


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
        listed = subprocess.run([f"{prefix}/bin/{program}", "--help"], capture_output=True, text=True, check=True).stdout
        out.append("```text\n" + listed + "```\n")
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
            text = with_files((HERE / f"{page}.md").read_text())
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
                (docs / "reference" / f"{page}.md").write_text(linked(source.read_text()))
                nav.append(f"    - {name}: reference/{page}.md")
            (docs / "reference/commands.md").write_text(command_page(prefix))
            nav.append("    - Commands: reference/commands.md")
            (docs / "wide.css").write_text(STYLE)
            config = pathlib.Path(temporary) / "mkdocs.yml"
            config.write_text("site_name: clampfade\nuse_directory_urls: false\ntheme: {name: mkdocs, highlightjs: false}\n"
                              "extra_css: [wide.css]\nstrict: true\nplugins: []\nnav:\n" + "\n".join(nav) + "\n")
            built = subprocess.run(["mkdocs", "build", "--quiet", "--config-file", config, "--site-dir",
                                    pathlib.Path(options.site).resolve()])
            good = built.returncode == 0
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
