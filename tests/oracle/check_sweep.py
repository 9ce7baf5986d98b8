#!/usr/bin/python3
"""Holds sweeps against the plain reference of the trace, which knows nothing of lanes, jobs, fingerprints or neighbourhoods.

    check_sweep.py --program PATH [--pairs N] [--seed S] [MODEL...]

Every single fault that the sweep lists is evaluated by the reference in every state. A fault's differences from healthy must be
those that its group tells (gear, devices, valves), and two faults must be in one group exactly when all their differences are
the same. Of a sample of pairs the reference tells whether the pair is the union of its two faults; the sweep must have left out
exactly these. By pressure every single fault must change what `whatif` says, figure for figure: that holds the jobs, warm
starts and groups of a sweep against solves of one fault each, whose pressures check_pressures.py holds against other solvers.
The last line is `N passed, N failed`.
"""
import argparse
import json
import multiprocessing
import os
import random
import subprocess
import sys
import tempfile

import circuit
import compare
import reference

MODELS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "models")
CHANGES = {"actuator": "actuators", "valve": "valves"}
PRESSED = ("settled", "solved", "gear", "actuator", "valve", "pressure", "fill", "drain", "damping")
BY_PRESSURE = (("tern-l2.yaml",), ("plover-late.yaml", "--only", "block,stick,lose,weaken"), ("heron-4.yaml", "--element", "H130"))


def run(program, *words):
    done = subprocess.run([program, *words, "--format", "json"], stdout=subprocess.PIPE, check=True)
    return json.loads(done.stdout.decode("utf-8"))


def sweep(program, path, *more):
    return run(program, "sweep", path, "--structure", *more)


def answer(task):
    """{state: {path: leaf}} of a model under faults; the gears that an unsure answer leaves open do not count."""
    tree, fault = task
    states = reference.evaluate(tree, fault)["states"]
    out = {}
    for name, state in states.items():
        for key in ("race", "hunting"):
            state.pop(key, None)
        state.get("gear", {}).pop("possible", None)
        out[name] = compare.flat(state)
    return out


def difference(healthy, faulty):
    return {state: {path: faulty[state].get(path) for path in set(healthy[state]) | set(faulty[state])
                    if healthy[state].get(path) != faulty[state].get(path)} for state in healthy}


def told(state):
    """What a sweep's state says of gear, devices and valves, as paths of the reference."""
    out = {}
    for change in state["changes"]:
        if change["what"] == "gear":
            out["gear", "structure"] = change["now"]
        elif change["what"] in CHANGES:
            out[CHANGES[change["what"]], change["subject"], "structure"] = change["now"]
    return out


def tellable(rows):
    return {path: now for path, now in rows.items() if path[0] in ("gear", "actuators", "valves")}


def check_singles(program, path, pool, tree, healthy):
    answers = sweep(program, path)
    faults = answers["faults"]
    differences = dict(zip(faults, (difference(healthy, a) for a in pool.map(answer, [(tree, f) for f in faults], 4))))
    wrong, places = [], {}
    for row, group in enumerate(answers["groups"]):
        for fault in group["faults"]:
            places[fault] = row
            for state, rows in differences[fault].items():
                listed = group["states"].get(state)
                if tellable(rows) != (told(listed) if listed else {}):
                    wrong.append("%s in %s: reference %s, sweep %s" % (fault, state, tellable(rows), listed and told(listed)))
                if rows and not listed and any(path[0] == "passages" and "past" not in path for path in rows):
                    wrong.append("%s in %s: the sweep tells nothing of %s" % (fault, state, rows))
    if sorted(places) != sorted(faults):
        wrong.append("faults and groups do not hold the same")
    for i, a in enumerate(faults):
        for b in faults[:i]:
            equal, together = differences[a] == differences[b], places[a] == places[b]
            leaks = any(c["what"] == "cross-leak" for f in (a, b) for s in answers["groups"][places[f]]["states"].values() for c in s["changes"])
            if together and not equal or equal and not together and not leaks:
                wrong.append("%s and %s: %s effect, %s" % (a, b, "equal" if equal else "other", "one group" if together else "two groups"))
    return len(faults), wrong, differences


def check_pairs(program, path, pool, tree, healthy, differences, rng, n):
    answers = sweep(program, path, "--pairs")
    news = {}
    for group in answers["groups"]:
        for pair in group["pairs"]:
            news.setdefault(pair, set()).update(group["states"])
    faults = answers["faults"]
    pairs = sorted({" + ".join(sorted(rng.sample(faults, 2))) for _ in range(n)} | set(rng.sample(sorted(news), min(n, len(news)))))
    excluded = [pair for pair in pairs if subprocess.run([program, "whatif", path, pair], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode == 2]
    wrong = ["%s: they exclude each other" % pair for pair in excluded if pair in news]
    pairs = [pair for pair in pairs if pair not in excluded]
    for pair, found in zip(pairs, pool.imap(answer, [(tree, pair) for pair in pairs], 4)):
        a, b = pair.split(" + ")
        both = difference(healthy, found)
        for state, rows in both.items():
            one, other = differences[a][state], differences[b][state]
            union = rows == {**one, **other} and all(other[k] == one[k] for k in set(one) & set(other))
            if union != (state not in news.get(pair, ())):
                wrong.append("%s in %s: reference %s the union" % (pair, state, "is" if union else "is not"))
    return len(pairs), wrong


def figures(state):
    """What pressures say of a state, as both commands tell it; the gears that an unsure answer leaves open stand in one only."""
    return sorted((c["what"], c["subject"] or "", c["was"].split(" (")[0], c["now"].split(" (")[0])
                  for c in (state["changes"] if state else ()) if c["what"] in PRESSED)


def check_pressed(program, path, pool, more):
    answers = run(program, "sweep", path, *more)
    faults = {fault: group for group in answers["groups"] for fault in group["faults"]}
    wrong, n = [], 0
    for fault, alone in zip(faults, pool.starmap(run, [(program, "whatif", path, fault) for fault in faults], 4)):
        for name, state in alone["states"].items():
            told, there = figures(faults[fault]["states"].get(name)), figures(state)
            n += len(there)
            if told != there:
                wrong.append("%s in %s: whatif %s, sweep %s" % (fault, name, there, told))
    if answers["sweep"]["by"] != "pressure" or not n:
        wrong.append("%s is not swept by pressure, or nothing shows there" % path)
    return len(faults), wrong


def twins(folder, n):
    """Devices that differ in nothing but their names: what a fault does to one must not pass for what it does to another."""
    lines = ["feedtrace: 1", "model: twins", "note: Invented.", "units: {pressure: psi, length: mm, flow: L/min, volume: cm3}",
             "layers: [{id: a, kind: casting}, {id: p, kind: plate}, {id: b, kind: casting}]", "circuits:",
             "  line: {fed_by: [line], passages: [a.line]}",
             "  clutches: {fed_by: [line], passages: [%s]}" % ", ".join("b.c%d" % i for i in range(n)), "holes:"]
    lines += ["  H%d: {joins: [a.line, b.c%d], diameter: 2}" % (i, i) for i in range(n)] + ["actuators:"]
    lines += ["  c%d: {kind: clutch, apply: b.c%d, applies_at: 40, volume: 20}" % (i, i) for i in range(n)]
    lines += ["feeds: {line: {into: a.line, capacity: 20}}", "taps: {T: a.line}",
              "gears: {drive: [%s]}" % ", ".join("c%d" % i for i in range(n)), "states: {s1: {line: 90, gear: drive}}"]
    path = os.path.join(folder, "twins.yaml")
    with open(path, "w") as stream:
        stream.write("\n".join(lines) + "\n")
    return path


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", required=True)
    parser.add_argument("--pairs", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("models", nargs="*", default=["tern-l2.yaml", "faulty/race.yaml", "faulty/crossfeed.yaml", "faulty/tie-up.yaml"])
    args = parser.parse_args()
    passed = failed = 0
    with multiprocessing.Pool(min(2, os.cpu_count() or 1)) as pool:
        for model in args.models:
            path = os.path.join(MODELS, model)
            tree = circuit.load(path)
            healthy = answer((tree, None))
            n, wrong, differences = check_singles(args.program, path, pool, tree, healthy)
            n_pairs, wrong_pairs = check_pairs(args.program, path, pool, tree, healthy, differences, random.Random(args.seed), args.pairs)
            for line in (wrong + wrong_pairs)[:30]:
                print(line)
            print("%s: %d faults, %d pairs, %d differences" % (model, n, n_pairs, len(wrong) + len(wrong_pairs)))
            failed += bool(wrong) + bool(wrong_pairs)
            passed += (not wrong) + (not wrong_pairs)
        scratch = tempfile.TemporaryDirectory()
        for model, *more in BY_PRESSURE + ((twins(scratch.name, 8),),):
            n, wrong = check_pressed(args.program, os.path.join(MODELS, model), pool, more)
            for line in wrong[:30]:
                print(line)
            print("%s %s: %d faults by pressure, %d differences" % (os.path.basename(model), " ".join(more), n, len(wrong)))
            failed += bool(wrong)
            passed += not wrong
    print("%d passed, %d failed" % (passed, failed))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
