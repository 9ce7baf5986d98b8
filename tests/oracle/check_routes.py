#!/usr/bin/python3
"""Holds a program's `route --format json` against networkx on random models.

    check_routes.py --program PATH [--seed S] [--models N]

Which passages are live and what may conduct comes from the reference; reach, single points (dominators), the smallest cut
(maximum flow) and the best route (shortest among the strongest) from networkx 2.8 and from brute force over strengths.
Exit status 1 when anything differs.
"""
import argparse
import collections
import json
import os
import subprocess
import sys
import tempfile

import networkx
import yaml

import circuit
import random_models
import reference

JOINED = 5                                        # a lossless joint: stronger than main
WORDS = {"main": 4, "open": 3, "orifice": 2, "leak": 1}
MOST_TARGETS = 4


class Apart(circuit.Circuit):
    """A circuit in which lossless joints are elements of their own."""

    def number_nodes(self):
        self.held = [{p} for p in self.model.passages + [circuit.SUMP]]
        self.node = {next(iter(one)): i for i, one in enumerate(self.held)}
        self.n_nodes = len(self.held)

    def add_elements(self):
        for name, (a, b, strength) in self.model.joints.items():
            if strength is None and name not in self.faults.blocked:
                self.add(name, a, b, JOINED)
        super().add_elements()


def settled_states(model, faults, healthy):
    """{state: (conditions by passage, sets of positions)} and the answers."""
    kept, ours = {}, reference.answer

    def keeping(settling):
        found = ours(settling)
        kept[id(found)] = settling.sets
        return found

    reference.answer = keeping
    try:
        answers = reference.run(model, faults, list(model.states), healthy)
    finally:
        reference.answer = ours
    states = {s: ({p: one["condition"] for p, one in a["passages"].items()}, kept[id(a)]) for s, a in answers.items() if a["settled"]}
    return states, answers


Way = collections.namedtuple("Way", "name a b one_way strength sure")


def ways_of(model, faults, state, condition, sets):
    """What may conduct between live passages."""
    apart = Apart(model, faults, state)
    live = {p for p, word in condition.items() if word in reference.LIVE}
    ways = []
    for e in apart.elements:
        (a,), (b,) = apart.held[e.a], apart.held[e.b]
        if a in live and b in live and e.may_conduct(sets):
            ways.append(Way(e.name, a, b, e.one_way, e.strength, e.sure(sets)))
    return live, ways


def graph(ways, capacity=False):
    """Elements as vertices ("e", i); with capacities each is an entry and an exit joined by an edge of 1."""
    g = networkx.DiGraph()
    for i, w in enumerate(ways):
        enter, leave = ("e", i), (("x", i) if capacity else ("e", i))
        if capacity:
            g.add_edge(enter, leave, capacity=1)
        for a, b in [(w.a, w.b)] + ([] if w.one_way else [(w.b, w.a)]):
            g.add_edge(("p", a), enter)
            g.add_edge(leave, ("p", b))
    return g


def identity(name, a, b):
    return (name, frozenset((a, b)))


def of_program(rows):
    """Elements of the program's JSON. Several elements may stand between the same two passages under one name."""
    return collections.Counter(identity("fault" if row["kind"] == "leak" else row["element"], row["from"], row["to"]) for row in rows)


def singles(ways, source, target):
    g = graph(ways)
    if ("p", source) not in g or ("p", target) not in g:
        return None
    idom = networkx.immediate_dominators(g, ("p", source))
    if ("p", target) not in idom:
        return None
    found, at = [], idom[("p", target)]
    while at != ("p", source):
        if at[0] == "e":
            found.append(ways[at[1]])
        at = idom[at]
    return collections.Counter(identity(w.name, w.a, w.b) for w in found)


def best(ways, source, target):
    """(sure, strength, number of elements) of the best route."""
    for sure in (True, False):
        for strength in range(JOINED, 0, -1):
            g = graph([w for w in ways if w.strength >= strength and (w.sure or not sure)])
            if ("p", source) in g and ("p", target) in g and networkx.has_path(g, ("p", source), ("p", target)):
                return sure, strength, networkx.shortest_path_length(g, ("p", source), ("p", target)) // 2
    return None


def route_says(route, ways, source, target):
    """(sure, strength, n) of a route of the program, or what is wrong with it."""
    at, sure, strength, seen = source, True, JOINED, {source}
    joints = {w.name for w in ways if w.strength == JOINED}
    for step in route["steps"]:
        name = "fault" if step["kind"] == "leak" else step["element"]
        fits = [w for w in ways if w.name == name and ((w.a, w.b) == (step["from"], step["to"]) or
                                                       (not w.one_way and (w.b, w.a) == (step["from"], step["to"])))]
        if step["from"] != at or not fits or step["to"] in seen:
            return "step %s from %s to %s" % (name, step["from"], step["to"])
        at = step["to"]
        seen.add(at)
        sure = sure and step["sure"]
        strength = min(strength, JOINED if name in joints else WORDS[step["strength"]])
    return (sure, strength, len(route["steps"])) if at == target else "ends at %s" % at


def compare(answer, ways, live, source, target):
    """Lines that say what differs."""
    wanted = singles(ways, source, target) if source in live and target in live else None
    if (wanted is not None) != answer["reached"]:
        return ["reached: networkx %s, program %s" % (wanted is not None, answer["reached"])]
    if wanted is None:
        return []
    lines = []
    if of_program(answer["single_points"]) != wanted:
        lines.append("single points: networkx %s, program %s" % (wanted, of_program(answer["single_points"])))
    value = networkx.maximum_flow_value(graph(ways, True), ("p", source), ("p", target))
    if len(answer["cut"]) != value:
        lines.append("smallest cut: networkx %s, program %s" % (value, answer["cut"]))
    gone, left = of_program(answer["cut"]), []
    for w in ways:
        if gone[identity(w.name, w.a, w.b)]:
            gone[identity(w.name, w.a, w.b)] -= 1
        else:
            left.append(w)
    if singles(left, source, target) is not None:
        lines.append("the cut %s leaves a way" % answer["cut"])
    ranks = [route_says(r, ways, source, target) for r in [answer["route"]] + answer["alternatives"]]
    if ranks[0] != best(ways, source, target):
        lines.append("best route: networkx %s, program %s" % (best(ways, source, target), ranks[0]))
    lines += ["a wrong route: %s" % r for r in ranks if isinstance(r, str)]
    order = [(not r[0], -r[1], r[2]) for r in ranks if not isinstance(r, str)]
    if order != sorted(order):
        lines.append("order of routes: %s" % ranks)
    written = [json.dumps(r["steps"]) for r in [answer["route"]] + answer["alternatives"]]
    if len(set(written)) != len(written):
        lines.append("a route twice")
    return lines


def ask(program, path, source, target, fault):
    command = [program, "route", path, source, target, "--format", "json"] + (["--fault", fault] if fault else [])
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=60)
    if done.returncode not in (0, 3):
        raise SystemExit("%s: exit status %d: %s" % (" ".join(command), done.returncode, done.stderr.decode()[:600]))
    return json.loads(done.stdout.decode())["states"]


def check_model(program, path, tree, fault, counts):
    model, none = circuit.Model(tree), circuit.Faults(circuit.Model(tree), None)
    states, answers = settled_states(model, none, None)
    faults = none
    if fault:
        faults = circuit.Faults(model, fault)
        states, _ = settled_states(model, faults, answers)
    sources = [f["into"] for f in model.feeds.values() if "into" in f][:1]
    targets = list(dict.fromkeys([a["apply"] for a in model.actuators.values()] + model.passages[::-1]))[:MOST_TARGETS]
    lines = []
    graphs = {s: ways_of(model, faults, s, condition, sets) for s, (condition, sets) in states.items()}
    for source in sources:
        for target in targets:
            if source == target:
                continue
            found = ask(program, path, source, target, fault)
            for state, (live, ways) in graphs.items():
                if not found[state]["settled"]:
                    lines.append("%s: not settled in the program" % state)
                    continue
                counts["routes"] += 1
                counts["reached"] += found[state]["reached"]
                counts["single points"] += len(found[state].get("single_points", ()))
                counts["alternatives"] += len(found[state].get("alternatives", ()))
                lines += ["%s, %s to %s: %s" % (state, source, target, line)
                          for line in compare(found[state], ways, live, source, target)]
    return lines


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--program", required=True)
    parser.add_argument("--seed", default="1")
    parser.add_argument("--models", type=int, default=100)
    options = parser.parse_args()
    counts, bad = collections.Counter(), 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(options.models):
            name, text, faults = random_models.make(options.seed, number)
            path = os.path.join(folder, name + ".yaml")
            with open(path, "w", encoding="utf-8") as out:
                out.write(text)
            tree = yaml.load(text, Loader=yaml.BaseLoader)
            # A detent twice in one window list would be two elements in the reference and one in the program.
            usable = [None] + [f for f in faults if "misadjust" not in f][:2]
            for fault in usable:
                lines = check_model(options.program, path, tree, fault, counts)
                if lines:
                    bad += 1
                    print("%s%s" % (name, "  --fault '%s'" % fault if fault else ""))
                    for line in lines[:6]:
                        print("    " + line)
    print("%d models: %s; %d with differences" % (options.models, ", ".join("%d %s" % (n, what) for what, n in counts.items()), bad))
    if not counts["reached"] or not counts["single points"] or not counts["alternatives"]:
        print("nothing was put to the test")
        bad += 1
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
