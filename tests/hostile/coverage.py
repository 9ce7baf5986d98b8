"""Adds up what gcov counted: lines and branches, by part of the program, folder and file.

usage: coverage.py BUILD [FILE...]    FILE: of src/, what of it was never reached"""
import collections
import glob
import gzip
import json
import os
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
PARTS = {  # those with goals of their own: all lines, 98 % of the branches
    "loader": ["base/source.c", "model/tree.c", "model/tree_keys.c", "model/tree_merge.c", "model/tree_text.c", "model/read",
               "model/names.c", "model/claim"],
    "quantities": ["base/units.c"],
    "writer": ["base/outfile.c"],
    "printer": ["base/escape.c", "base/text.c"],
}


def counts(build):
    """{file: ({line: count}, {(line, branch): count})}"""
    files = collections.defaultdict(lambda: (collections.Counter(), collections.Counter()))
    data = [os.path.abspath(name) for name in glob.glob(build + "/CMakeFiles/feedtrace_core.dir/src/**/*.gcda", recursive=True)]
    data += [os.path.abspath(name) for name in glob.glob(build + "/CMakeFiles/feedtrace_core.dir/src/**/*.gcno", recursive=True)]
    data = sorted({name.rsplit(".", 1)[0] + ".gcno" for name in data})
    with tempfile.TemporaryDirectory(prefix="coverage-") as folder:
        for name in data:
            subprocess.run(["gcov", "--json-format", "--branch-probabilities", name], cwd=folder, check=True,
                           stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            for made in glob.glob(folder + "/*.gcov.json.gz"):
                with gzip.open(made, "rt", encoding="utf-8") as stream:
                    add(files, json.load(stream))
                os.remove(made)
    return files


def add(files, report):
    for file in report["files"]:
        name = os.path.relpath(os.path.join(report["current_working_directory"], file["file"]), ROOT)
        if not name.startswith("src/") or not os.path.exists(os.path.join(ROOT, name)):  # a build made before it went
            continue
        lines, branches = files[name[4:]]
        for line in file["lines"]:
            lines[line["line_number"]] += line["count"]
            for i, branch in enumerate(line["branches"]):
                branches[line["line_number"], i] += branch["count"]


def source(name):
    with open(os.path.join(ROOT, "src", name), encoding="utf-8") as stream:
        return stream.read().split("\n")


def without_assertions(name, branches):
    """The branch of an assert() that does not hold is one that must never be taken."""
    text = source(name)
    return {key: n for key, n in branches.items() if "assert(" not in text[key[0] - 1]}


def tell(title, files, names):
    n = collections.Counter()
    for name in names:
        lines, branches = files[name]
        branches = without_assertions(name, branches)
        n["lines"] += len(lines)
        n["lines hit"] += sum(count > 0 for count in lines.values())
        n["branches"] += len(branches)
        n["branches hit"] += sum(count > 0 for count in branches.values())
    print("%-32s lines %6.2f %% of %5d   branches %6.2f %% of %5d" % (
        title, 100.0 * n["lines hit"] / max(1, n["lines"]), n["lines"],
        100.0 * n["branches hit"] / max(1, n["branches"]), n["branches"]))


def missed(name, lines, branches):
    text = source(name)
    branches = without_assertions(name, branches)
    for line in sorted(lines):
        ways = [n for (at, _), n in sorted(branches.items()) if at == line]
        if not lines[line]:
            print("  %s:%d: never: %s" % (name, line, text[line - 1].strip()))
        elif 0 in ways:
            print("  %s:%d: %d of %d ways: %s" % (name, line, sum(n > 0 for n in ways), len(ways), text[line - 1].strip()))


def main():
    files = counts(sys.argv[1])
    for part, beginnings in PARTS.items():
        names = sorted(name for name in files if name.startswith(tuple(beginnings)))
        tell(part, files, names)
        for name in names:
            tell("  " + name, files, [name])
    for folder in sorted({name.split("/")[0] for name in files}):
        tell("src/" + folder, files, [name for name in files if name.startswith(folder + "/")])
    tell("the whole program", files, list(files))
    for wanted in sys.argv[2:]:
        name = wanted.removeprefix("src/")
        if name in files:
            missed(name, *files[name])


if __name__ == "__main__":
    main()
