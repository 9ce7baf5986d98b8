#!/usr/bin/python3
"""The bytes of a sweep depend on the model alone: not on the number of processes, nor on how it is cut into parts and in
which order these are joined, nor on the locale or the folder. usage: same.py"""
import os
import subprocess

HERE = os.path.dirname(os.path.abspath(__file__))
MODELS = os.path.normpath(os.path.join(HERE, "..", "..", "..", "models"))
PROGRAM, SCRATCH = os.environ["FEEDTRACE"], os.environ["SCRATCH"]
SWEEPS = [["tern-l2.yaml"], ["tern-l2.yaml", "--pairs"], ["heron-4.yaml", "--structure"], ["heron-4.yaml", "--only", "break"],
          ["heron-4.yaml", "--pairs", "--only", "lose,break,unplug"],
          ["heron-4.yaml", "--pairs", "--element", "J_line_man", "--only", "block", "--in", "drive_2"]]


def run(*words, folder=HERE, **env):
    return subprocess.run([PROGRAM, *words], cwd=folder, env={**os.environ, **env}, stdout=subprocess.PIPE, check=True).stdout


for model, *more in SWEEPS:
    words = ["sweep", os.path.join(MODELS, model), *more]
    for form in ("text", "json", "csv") if model == "tern-l2.yaml" else ("json",):  # the others are made from what JSON holds
        whole = run(*words, "-f", form, "-j", "1")
        ways = {"-j 2": run(*words, "-f", form, "-j", "2"), "-j 7": run(*words, "-f", form, "-j", "7"),
                "LC_ALL": run(*words, "-f", form, LC_ALL="tr_TR.UTF-8", LANG="de_DE.UTF-8"), "folder": run(*words, "-f", form, folder="/")}
        for n in 3, 4:
            parts = [os.path.join(SCRATCH, "part%d.json" % i) for i in range(1, n + 1)]
            for i, part in enumerate(parts, 1):
                run(*words, "--shard", "%d/%d" % (i, n), "-o", part, "-f", "json")
            ways["%d parts" % n] = run("merge", "-f", form, *parts)
            ways["%d parts backwards" % n] = run("merge", "-f", form, *reversed(parts))
        other = [way for way, answer in ways.items() if answer != whole]
        print(model, *more, form + ":", "other bytes with " + ", ".join(other) if other else "the same bytes in %d ways" % len(ways))
