#!/usr/bin/python3
"""Holds `trace --format json` to what must be true of any model, on random ones, from one end of the program to the other:
the order of a file's entries does not matter, and neither do the units in which it is written. No outside number is
needed; the factors of the units are those of tests/data/units.csv, which names its sources.

    check_properties.py --program PATH [--models N] [--seed S] [--keep DIR]

Half of the models are those of random_models.py (all kinds of parts, several states, many sizes assumed), half those of
random_networks.py (every size known). Each is written three times anew: its entries in another order, the same figures
with other units behind each, and as bare numbers under a `units:` of its own. Then all answers must be the same: words
exactly, numbers to TOLERANCE. States for which the answer says itself that the order decides (valves that race or hunt,
a second solution) are left out of the first comparison, and counted.
"""
import argparse
import collections
import csv
import json
import os
import random
import re
import subprocess
import sys
import tempfile

import yaml

import random_models
import random_networks

DATA = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "data")
TOLERANCE = 1e-6  # relative, of pressures, flows and travels; figures are printed with about ten digits
LEAST = {"pressure_pa": 100.0, "flow_m3_s": 1e-7, "travel": 1.0}  # smaller ones as of these
BY_ORDER = {"race", "hunting", "two-solutions"}
# Order means something in these: castings and plates as they lie, sources first and upstream first, ports as in the bore.
ORDERED = {"layers", "feeds", "gears", "along"}
DIMENSIONS = {  # what a bare number of a model without `units:` means, another unit, and the keys that have it
    "pressure": ("psi", "kPa", ["limit", "cracks_at", "applies_at", "pressure", "base", "at_most"]),
    "length": ("mm", "in", ["diameter", "open_diameter", "window_diameter", "travel", "bore", "gap", "land"]),
    "area": ("mm2", "in2", ["area"]),
    "flow": ("L/min", "gal/min", ["capacity"]),
    "force": ("N", "lbf", ["preload"]),
    "spring_rate": ("N/mm", "lbf/in", ["rate"]),
    "volume": ("cm3", "in3", ["volume"]),
    "density": ("kg/m3", "lb/ft3", ["density"]),
    "viscosity": ("cSt", "in2/s", []),
    "temperature": ("degC", "degF", ["temperature"]),
}
OF_KEY = {key: dim for dim, row in DIMENSIONS.items() for key in row[2]}


def factors():
    """{unit: factor to SI}"""
    with open(os.path.join(DATA, "units.csv"), encoding="utf-8") as f:
        rows = csv.DictReader(line for line in f if not line.startswith("#"))
        found = {row["unit"]: float(row["factor"]) for row in rows}
    return dict(found, cm3=found["mL"])


FACTORS = factors()


# --- the same model, written otherwise


def shuffled(value, rng, key=None):
    """The entries of every mapping and of every list whose order says nothing, in another order."""
    if isinstance(value, dict):
        keys = list(value)
        if key not in ORDERED:
            rng.shuffle(keys)
        return {k: shuffled(value[k], rng, k) for k in keys}
    if isinstance(value, list):
        inner = [shuffled(one, rng, key) for one in value]
        if key not in ORDERED:
            rng.shuffle(inner)
        return inner
    return value


def reordered(tree, rng):
    other = shuffled({k: v for k, v in tree.items() if k != "feedtrace"}, rng)
    return dict({"feedtrace": tree["feedtrace"]}, **other)  # which must come first


def converted(text, dim, bare):
    """A quantity in the other unit of its dimension; other texts (`off`, a detent) as they are."""
    own, other, _ = DIMENSIONS[dim]
    match = re.fullmatch(r"([-+.\d]+(?:e[-+]?\d+)?)(?: (.+))?", text)
    if not match:
        return text
    value, unit = float(match[1]), match[2] or own
    if dim == "temperature":
        value = value * 1.8 + 32
    else:
        value *= FACTORS[unit] / FACTORS[other]
    return "%.17g%s" % (value, "" if bare else " " + other)


def in_other_units(value, dims, bare, key=None):
    """@param dims {key: dimension} of the figures in here"""
    if isinstance(value, dict):
        if key == "viscosity":  # temperature: viscosity
            return {converted(k, "temperature", bare): converted(v, "viscosity", bare) for k, v in value.items()}
        return {k: in_other_units(v, dims, bare, k) for k, v in value.items()}
    if isinstance(value, list):
        return [in_other_units(one, dims, bare, key) for one in value]
    return converted(value, dims[key], bare) if key in dims else value


def rewritten(tree, bare):
    other = in_other_units(tree, OF_KEY, bare)
    sources = {name: "pressure" for name, feed in tree["feeds"].items() if "into" in feed}
    for where in ("states", "defaults"):
        if where in tree:
            other[where] = in_other_units(tree[where], dict(OF_KEY, **sources), bare)
    if bare:
        other = dict({"feedtrace": other.pop("feedtrace"), "units": {dim: row[1] for dim, row in DIMENSIONS.items()}}, **other)
    return other


# --- answers


def answer(program, path):
    """(states, {state: codes that concern its answer})"""
    done = subprocess.run([program, "trace", path, "--format", "json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=120,
                          check=False)
    if done.returncode not in (0, 3):
        raise ValueError("status %d: %s" % (done.returncode, done.stderr.decode("utf-8", "replace")[:600]))
    told = json.loads(done.stdout.decode("utf-8"))
    codes = collections.defaultdict(set)
    for one in told["findings"]:
        for state in [one["state"]] if one["state"] else told["states"]:
            codes[state].add(one["code"])
    return told["states"], codes


def differences(one, other, path=()):
    """Where two answers differ: (path, what, what)."""
    if isinstance(one, dict) and isinstance(other, dict) and set(one) == set(other):
        for key in one:
            yield from differences(one[key], other[key], path + (key,))
    elif isinstance(one, float) and isinstance(other, float):
        least = LEAST.get(path[-1], 0)
        if abs(one - other) > TOLERANCE * max(abs(one), abs(other), least):
            yield path, one, other
    elif one != other:
        yield path, one, other


def write(tree, path):
    with open(path, "w", encoding="utf-8") as out:
        yaml.dump(tree, out, Dumper=random_models.PlainDumper, sort_keys=False, default_flow_style=None, width=200)


def random_tree(seed, number):
    if number % 2:
        rng = random.Random("%s-%d" % (seed, number))
        text = random_networks.Model(random_networks.random_network(rng, "n", 4 + number % 14).spec).text()
    else:
        text = random_models.make(seed, number)[1]
    return yaml.load(text, Loader=yaml.BaseLoader)


def check_model(program, seed, number, folder, counts):
    """Lines that say what is wrong."""
    tree = random_tree(seed, number)
    base = os.path.join(folder, "%s-%03d" % (seed, number))
    rng = random.Random("%s+%d" % (seed, number))
    write(tree, base + ".yaml")
    states, codes = answer(program, base + ".yaml")
    wrong = []
    others = {"order": reordered(tree, rng), "units": rewritten(tree, False), "bare": rewritten(tree, True)}
    for way, other in others.items():
        path = "%s.%s.yaml" % (base, way)
        write(other, path)
        others_states, others_codes = answer(program, path)
        if set(states) != set(others_states):
            wrong.append("%s: other states" % path)
            continue
        for state in states:
            if way == "order" and (codes[state] | others_codes[state]) & BY_ORDER:
                counts["left out"] += 1
                continue
            counts[way] += 1
            counts["pressures"] += sum(p["pressure_pa"] is not None for p in states[state]["passages"].values()
                                       if "pressure_pa" in p)
            wrong += ["%s: %s: %r, not %r" % (path, " ".join((state,) + where), b, a)
                      for where, a, b in differences(states[state], others_states[state])]
    return wrong


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--models", type=int, default=40)
    parser.add_argument("--seed", default="4")
    parser.add_argument("--keep", help="folder for the models")
    args = parser.parse_args()
    counts, n_failed = collections.Counter(), 0
    with tempfile.TemporaryDirectory(prefix="properties-") as folder:
        if args.keep:
            os.makedirs(args.keep, exist_ok=True)
        for number in range(args.models):
            wrong = check_model(args.program, args.seed, number, args.keep or folder, counts)
            n_failed += bool(wrong)
            for line in wrong[:5]:
                print("FAILED  " + line)
    print("compared: %(order)d states in another order (%(left out)d left out), %(units)d in other units, %(bare)d as bare "
          "numbers; %(pressures)d pressures" % counts)
    # A check of nothing is none.
    few = counts["order"] < args.models or counts["pressures"] < 20 * args.models
    if few:
        print("FAILED  too little to compare")
    print("%d passed, %d failed" % (args.models - n_failed, n_failed + few))
    sys.exit(1 if n_failed or few else 0)


if __name__ == "__main__":
    main()
