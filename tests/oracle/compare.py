#!/usr/bin/python3
"""Holds a program's `trace --structure` against the reference on random models.

    compare.py --program PATH --seed S --models N [--jobs J] [--keep DIR] [--first K] [--shrink]
    compare.py --program PATH --model FILE [--fault "..."]      one model, all that differs

Exit status 1 when anything differs. Models that differ stay in the --keep folder; --shrink leaves
beside each a smaller one that still differs (takes out entries as long as the difference stays).
"""
import argparse
import json
import multiprocessing
import os
import subprocess
import sys
import tempfile

import yaml

import circuit
import random_models
import reference

SHRUNK = ("joints", "screens", "holes", "check_balls", "valves", "solenoids", "actuators", "feeds", "gears", "passages", "states", "circuits")
OPTIONAL = ("leaks_to", "limited_by", "fed_by", "under", "along", "plug", "exhaust", "release", "also_feeds", "temperature", "after",
            "volume", "strength", "orifice", "diameter", "spring", "travel", "plus", "at_most", "either")     # where entries do without
TIME_LIMIT = 60


class Refused(Exception):
    """The program gave no answer: its words."""


def ask_program(program, path, fault):
    """The program's `states`."""
    command = [program, "trace", path, "--structure", "--format", "json"] + (["--fault", fault] if fault else [])
    try:
        done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=TIME_LIMIT)
    except subprocess.TimeoutExpired:
        raise Refused("no answer in %d s" % TIME_LIMIT)
    if done.returncode not in (0, 3):
        raise Refused("exit status %d: %s" % (done.returncode, done.stderr.decode("utf-8", "replace")[:600]))
    try:
        return json.loads(done.stdout.decode("utf-8"))["states"]
    except (ValueError, KeyError) as error:
        raise Refused("no JSON with states: %r" % error)


def flat(value, path=()):
    """{path: leaf} of nested dicts; a list is a leaf, and each dict is there by itself too."""
    if isinstance(value, dict):
        out = {path: "{}"}
        for key, inner in value.items():
            out.update(flat(inner, path + (key,)))
        return out
    return {path: value}


def differences(expected, found):
    """Lines that say what differs, most telling first."""
    for state in expected.values():
        state.pop("race", None)                   # findings in the program
        state.pop("hunting", None)
    want, have = flat(expected), flat(found)
    rank = {"settled": 0, "valves": 1, "passages": 2, "actuators": 3, "gear": 4}
    leaf = {"structure": 0, "condition": 0, "feeds": 1, "past": 2}
    key = lambda path: (path[:1], rank.get(path[1] if len(path) > 1 else "", 5), max([leaf.get(p, 0) for p in path[1:]] or [0]))
    lines = []
    for path in sorted(set(want) | set(have), key=key):
        a, b = want.get(path, "(nothing)"), have.get(path, "(nothing)")
        if a != b or type(a) is not type(b):
            lines.append("%s: reference %s, program %s" % (" ".join(path), json.dumps(a), json.dumps(b)))
    return lines


def check(program, path, tree, fault):
    """Differences of one model under one fault expression."""
    expected = reference.evaluate(tree, fault)["states"]
    try:
        return differences(expected, ask_program(program, path, fault))
    except Refused as refusal:
        return ["program refused: %s" % refusal]


def kind_of(lines):
    """Refusals and differences are told apart when a model shrinks."""
    return lines[0].startswith("program refused") if lines else None


def without(tree, section, key):
    """A copy without one entry and without what names it in states and gears."""
    smaller = json.loads(json.dumps(tree))
    del smaller[section][key]
    if not smaller[section]:
        del smaller[section]
    for state in smaller.get("states", {}).values():
        if section in ("valves", "solenoids", "feeds"):
            state.pop(key, None)
        if section == "states" and state.get("after") == key:
            del state["after"]
    if section == "solenoids":
        smaller.get("defaults", {}).pop(key, None)
        if not smaller.get("defaults", True):
            del smaller["defaults"]
    if section == "actuators":
        for gear, entry in list(smaller.get("gears", {}).items()):
            for devices in (entry.values() if isinstance(entry, dict) else [entry]):
                devices[:] = [d for d in devices if d != key]
        smaller.pop("clash", None)
    if section == "gears":
        for state in smaller["states"].values():
            if state.get("gear") == key:
                state["gear"] = next(iter(smaller["gears"]))
    return smaller


def edits(tree):
    """Everything that could be taken out: (section, key, part or None, index or None)."""
    found = []
    for section in SHRUNK:
        for key, entry in tree.get(section, {}).items():
            found.append((section, key, None, None))
            if isinstance(entry, dict):
                found += [(section, key, option, None) for option in OPTIONAL if option in entry]
                for part in ("passages", "ends", "rest", "stroked"):
                    found += [(section, key, part, i) for i in reversed(range(len(entry.get(part, []))))]
    return found


def edited(tree, section, key, part, i):
    """A copy with that taken out; KeyError, IndexError or StopIteration when it is not there any more."""
    if part is None:
        return without(tree, section, key)
    smaller = json.loads(json.dumps(tree))
    if i is None:
        del smaller[section][key][part]
    else:
        del smaller[section][key][part][i]
    return smaller


def shrink(program, path, tree, fault, lines):
    """Takes out entry after entry while a difference of the same kind stays; writes PATH.small.yaml."""
    small = path[:-5] + ".small.yaml"

    def still(smaller):
        try:
            with open(small, "w", encoding="utf-8") as out:
                yaml.dump(smaller, out, Dumper=random_models.PlainDumper, sort_keys=False, default_flow_style=None, width=200)
            found = check(program, small, circuit.load(small), fault)
        except Exception:                         # the smaller model makes no sense to the reference
            return None
        return found if found and kind_of(found) == kind_of(lines) else None

    progress = True
    while progress:
        progress = False
        for edit in edits(tree):
            try:
                smaller = edited(tree, *edit)
            except (KeyError, IndexError, StopIteration):
                continue
            found = still(smaller)
            if found:
                tree, lines, progress = smaller, found, True
    still(tree)
    return small, lines


def work(job):
    """One model with all its faults: (scenarios, [(path, fault, lines)])."""
    program, seed, number, folder = job
    name, text, faults = random_models.make(seed, number)
    path = os.path.join(folder, name + ".yaml")
    with open(path, "w", encoding="utf-8") as out:
        out.write(text)
    tree = yaml.load(text, Loader=yaml.BaseLoader)
    found, scenarios = [], 0
    for fault in [None] + faults:
        scenarios += len(tree["states"])
        lines = check(program, path, tree, fault)
        if lines:
            found.append((path, fault, lines))
    if not found:
        os.remove(path)
    return scenarios, found


def show(path, fault, lines, most=8):
    print("%s%s" % (path, "  --fault '%s'" % fault if fault else ""))
    for line in lines[:most]:
        print("    " + line)
    if len(lines) > most:
        print("    and %d more" % (len(lines) - most))


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--program", required=True)
    parser.add_argument("--seed", default="1")
    parser.add_argument("--models", type=int, default=50)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", help="folder for the models that differ")
    parser.add_argument("--first", type=int, default=5, help="how many differences to print")
    parser.add_argument("--shrink", action="store_true", help="make the printed models smaller")
    parser.add_argument("--model", help="compare this model only")
    parser.add_argument("--fault")
    options = parser.parse_args()
    if options.model:
        tree = circuit.load(options.model)
        lines = check(options.program, options.model, tree, options.fault)
        if lines:
            show(options.model, options.fault, lines, len(lines))
        print("1 models, %d scenarios compared, %d differ" % (len(tree["states"]), bool(lines)))
        sys.exit(1 if lines else 0)
    folder = options.keep or tempfile.mkdtemp(prefix="compare-")
    os.makedirs(folder, exist_ok=True)
    jobs = [(options.program, options.seed, number, folder) for number in range(options.models)]
    scenarios, differ, printed = 0, 0, 0
    with multiprocessing.Pool(options.jobs) as pool:
        for n, found in pool.imap(work, jobs):
            scenarios += n
            for i, (path, fault, lines) in enumerate(found):
                states = {line.split()[0] for line in lines}
                differ += 1 if kind_of(lines) else len(states)
                if i == 0 and printed < options.first:
                    printed += 1
                    show(path, fault, lines)
                    if options.shrink:
                        small, fewer = shrink(options.program, path, circuit.load(path), fault, lines)
                        show(small, fault, fewer)
                    sys.stdout.flush()
    if not differ and not options.keep:
        os.rmdir(folder)
    print("%d models, %d scenarios compared, %d differ" % (options.models, scenarios, differ))
    sys.exit(1 if differ else 0)


if __name__ == "__main__":
    main()
