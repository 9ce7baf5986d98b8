#!/usr/bin/python3
"""Holds the program's pressures against two solvers that know nothing of it, on random networks of known sizes: ngspice,
which takes each as a netlist, and scipy's hybrid method on the balances.

    check_pressures.py --program PRINT_PRESSURES [--networks N] [--seed S] [--keep DIR]

Each must agree in every passage to TOLERANCE; the program's answer must also balance by the laws as they are written
here. The searches of both begin at the program's answer put off by up to a tenth, for they need to begin near one.
"""
import argparse
import collections
import json
import os
import random
import re
import subprocess
import sys
import tempfile

import scipy.optimize

import random_networks

TOLERANCE = 1e-6  # relative; of pressures under 0.1 psi as of 0.1 psi
LEAST = 0.1
BALANCE = 1e-7  # L/min, by the laws as they are written here


class Refused(Exception):
    """A solver gave no answer: its words."""


def ask_program(program, network, path):
    """{node: psi}."""
    with open(path, "w", encoding="utf-8") as f:
        f.write(random_networks.Model(network.spec).text())
    done = subprocess.run([program, path], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=60)
    if done.returncode != 0:
        raise Refused(done.stderr)
    answer = json.loads(done.stdout)["s"]
    if isinstance(answer, str):
        raise Refused(answer)
    return {passage.split(".")[1]: p / random_networks.PSI for passage, p in answer.items() if p is not None}


def ask_ngspice(network, near, path):
    with open(path, "w", encoding="utf-8") as f:
        f.write(network.netlist(near))
    done = subprocess.run(["ngspice", "-b", path], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=120)
    found = {n: float(v) for n, v in re.findall(r"^v\((\w+)\) = (\S+)$", done.stdout, re.M | re.I)}
    if set(found) != set(network.free):
        raise Refused(done.stdout[-600:])
    return found


def ask_scipy(network, near):
    start = [near[n] for n in network.free]
    found = scipy.optimize.root(network.imbalances, start, method="hybr", options={"xtol": 1e-14, "maxfev": 200000})
    worst = max(map(abs, network.imbalances(found.x)))
    if worst > 1e-8:  # L/min; it says that it stalls also where rounding ends the search
        raise Refused("%s; %.3g L/min do not balance" % (found.message, worst))
    return dict(zip(network.free, found.x))


def worst_difference(found, expected):
    return max((abs(found[n] - expected[n]) / max(abs(expected[n]), LEAST), n) for n in expected)


def ask_from(ask, network, found, rng):
    """What a solver answers that begins near the program's answer, and if it must very near."""
    for apart in (0.1, 0.01, 0.001):
        near = {n: found[n] * rng.uniform(1 - apart, 1 + apart) for n in network.free}
        try:
            return ask(near)
        except Refused as last:
            why = last
    raise why


def check_network(program, network, folder, rng, shares):
    """Yields a line for each of the checks, and whether it passed. @param shares counts where windows stand"""
    name = network.spec["id"]
    base = os.path.join(folder, name)
    try:
        found = ask_program(program, network, base + ".yaml")
    except Refused as why:
        yield "%s: the program: %s" % (name, why), False
        return
    shares.update(network.shares(found))
    worst = max(map(abs, network.imbalances([found[n] for n in network.free])))
    yield "%s, %d nodes: %.2g L/min do not balance" % (name, len(network.free), worst), worst <= BALANCE
    solvers = {"ngspice": lambda near: ask_ngspice(network, near, base + ".cir"), "scipy": lambda near: ask_scipy(network, near)}
    for solver, ask in solvers.items():
        try:
            difference, node = worst_difference(found, ask_from(ask, network, found, rng))
            yield "%s, %d nodes, %s: %.2g at %s" % (name, len(network.free), solver, difference, node), difference <= TOLERANCE
        except Refused as why:
            yield "%s, %d nodes, %s gave no answer: %s" % (name, len(network.free), solver, why), None


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--networks", type=int, default=24)
    parser.add_argument("--seed", type=int, default=4)
    parser.add_argument("--keep")
    args = parser.parse_args()
    shares = collections.Counter()
    counts = {True: 0, False: 0, None: 0}
    with tempfile.TemporaryDirectory() as folder:
        if args.keep:
            os.makedirs(args.keep, exist_ok=True)
        for i in range(args.networks):
            rng = random.Random("%d-%d" % (args.seed, i))
            network = random_networks.random_network(rng, "net%d_%d" % (args.seed, i), 4 + i % 12)
            for line, passed in check_network(args.program, network, args.keep or folder, rng, shares):
                print({True: "ok     ", False: "FAILED ", None: "silent "}[passed] + line)
                counts[passed] += 1
    print("windows: " + ", ".join("%s %s %d" % (kind, stands, n) for (kind, stands), n in sorted(shares.items())))
    print("%d comparisons without an answer of the other solver" % counts[None])
    few = counts[True] < 2.5 * args.networks  # a check of nothing is none
    if few:
        print("FAILED  too few answers to compare with")
    print("%d passed, %d failed" % (counts[True], counts[False] + few))
    sys.exit(1 if counts[False] or few else 0)


if __name__ == "__main__":
    main()
