#!/usr/bin/python3
"""Writes tests/data/network_models.txt: each network of tests/data/networks.yaml as a model that feedtrace reads, with what
its pressures and flows must be. The unit test pressure_networks solves them.

Run it again after a change of networks.yaml:   tests/oracle/network_models.py
With --check it writes nothing and exits with status 1 when the file is not what it would write.
Lines of the file that begin with `%` are for the test, the others are the model:
  %network ID TOLERANCE        the tolerance is relative
  %p PASSAGE PSI               %q ELEMENT SIGN L/MIN   (an element's part; sign: which way the model's element runs)
"""
import os
import sys

import yaml

DATA = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "data")
STUFF = ("layers:\n  - {id: case, kind: casting}\n  - {id: plate, kind: plate}\n  - {id: body, kind: casting}\n")
DRAIN = 10  # mm: keeps a source that would have to swallow oil above nothing; its own flow is not compared


def ladder(spec):
    """The elements of a network that is given by its rule."""
    elements, before = [], "S"
    for i in range(1, spec["n"] + 1):
        elements.append({"id": "R%d" % i, "a": before, "b": "n%d" % i, "kind": "orifice", "d": spec["rail_d"]})
        elements.append({"id": "G%d" % i, "a": "n%d" % i, "b": "T", "kind": "orifice", "d": spec["rung_d"]})
        before = "n%d" % i
    return elements


class Model:
    def __init__(self, network):
        self.network = network
        rule = network.get("generate")
        self.fixed = (rule or network)["fixed"]
        self.elements = ladder(rule) if rule else network["elements"]
        self.inflow = network.get("inflow", {})
        self.balls = [e for e in self.elements if e["kind"] == "ball"]
        self.pockets = {e["b"] for e in self.balls}
        self.passages, self.parts, self.settings = [], {}, []

    def passage(self, node):
        if self.fixed.get(node) == 0 and node not in {e.get("react") for e in self.elements}:
            return "sump"
        name = ("body." if node in self.pockets else "case.") + node
        if name not in self.passages:
            self.passages.append(name)
        return name

    def add(self, section, name, text):
        self.parts.setdefault(section, []).append("  %s: %s\n" % (name, text))

    def element(self, e):
        a, b, name = self.passage(e["a"]), self.passage(e["b"]), e["id"]
        if e["kind"] == "orifice" and "share" in e:
            self.add("solenoids", name, "{kind: duty, normally: low, supply: %s, output: %s, exhaust: %s, diameter: %r}"
                     % (self.passage("x_" + name), a, b, e["d"]))
            self.settings.append("%s: %r %%" % (name, 100 * (1 - e["share"])))
        elif e["kind"] == "orifice":
            self.add("joints", name, "{joins: [%s, %s], diameter: %r}" % (a, b, e["d"]))
        elif e["kind"] == "ball":
            self.add("holes", name, "{joins: [%s, %s], diameter: %r}" % (a, b, e["d"]))
        elif e["kind"] == "annular":
            self.add("valves", name, "{kind: spool, ports: {a: %s, b: %s, u: %s, v: %s}, rest: [[u, v]], along: [a, b], "
                     "clearance: {bore: %r, gap: %r, land: %r, eccentricity: %r %%}}"
                     % (a, b, self.passage("u_" + name), self.passage("v_" + name), e["d"], e["c"], e["l"],
                        100 * e.get("e", 0)))
        elif e["kind"] == "limiting":
            self.add("valves", name, "{kind: limiting, supply: %s, outlet: %s, reaction: %s, limit: %r, droop: %r %%, "
                     "open_diameter: %r}" % (a, b, self.passage(e["react"]), e["limit"], 100 * e["droop"], e["d"]))
        elif e["kind"] == "relief":
            self.add("valves", name, "{kind: relief, inlet: %s, outlet: %s, cracks_at: %r, diameter: %r}"
                     % (a, b, e["cracks"], e["d"]))

    def check_balls(self):
        """Two balls that share a pocket are one ball between two seats."""
        for pocket in sorted(self.pockets):
            seats = [e["id"] for e in self.balls if e["b"] == pocket]
            self.add("check_balls", "ball_" + pocket, "{seats_on: [%s], lies_in: body.%s}" % (", ".join(seats), pocket))

    def sources(self):
        highest = max(list(self.fixed.values()) + [0])
        for node, psi in self.fixed.items():
            if psi == 0:
                continue
            self.add("feeds", "f_" + node, "{into: %s}" % self.passage(node))
            self.settings.append("f_%s: %r" % (node, psi))
            if psi < highest:
                self.add("joints", "drain_" + node, "{joins: [%s, sump], diameter: %r}" % (self.passage(node), DRAIN))
        for node, flow in self.inflow.items():
            self.add("feeds", "f_" + node, "{into: %s, capacity: %r}" % (self.passage(node), flow))
            self.settings.append("f_%s: 1000" % node)

    def text(self):
        for e in self.elements:
            self.element(e)
        self.check_balls()
        self.sources()
        head = "feedtrace: 1\nmodel: network\n"
        if self.network["id"] != "limit_hold_noflow":  # which has one answer only with the tie-break
            head += "leakdown: 0\n"
        if "nu" in self.network:
            head += "fluid: {density: 850, viscosity: {40 degC: %r cSt, 100 degC: %r cSt}}\n" % self.network["nu"]
        else:
            head += "fluid: {density: 850, viscosity: {40 degC: 34 cSt, 100 degC: 7.2 cSt}, temperature: 80 degC}\n"
        body = STUFF + "circuits:\n  oil: {passages: [%s]}\n" % ", ".join(self.passages)
        for section in ("joints", "holes", "check_balls", "valves", "solenoids", "feeds"):
            if section in self.parts:
                body += section + ":\n" + "".join(self.parts[section])
        return head + body + "states:\n  s: {%s}\n" % ", ".join(self.settings)

    def wanted(self):
        expect = self.network.get("expect_our_law", self.network["expect"])
        lines = ["%%p %s %r\n" % (self.passage(n), p) for n, p in expect.get("p", {}).items()
                 if self.passage(n) != "sump"]
        return "".join(lines + ["%%q %s %r\n" % (i, q) for i, q in expect.get("q", {}).items()])


def laminar(spec, all_networks):
    """The linear end of the law, in oil so thick that nothing else is left: sizes are conductances' cube roots."""
    by_id = {n["id"]: n for n in all_networks}
    elements = spec["elements"]
    expect = spec["expect"]
    if spec["id"] == "lam_bridge":
        sizes = {"R1": 1, "R4": 1, "R5": 1, "R2": 0.5 ** (1 / 3), "R3": 0.5 ** (1 / 3)}
        elements = [dict(e, d=sizes[e["id"]]) for e in by_id["bridge_unbalanced"]["elements"]]
    if spec["id"] == "lam_cube":
        elements = by_id["cube"]["elements"]
        near, far, q = expect["p"]["near"], expect["p"]["far"], expect["q_total"] / 3
        expect = {"p": {"v001": near, "v010": near, "v100": near, "v011": far, "v101": far, "v110": far},
                  "q": {"E0000": q, "E0001": q, "E0002": q}}
    nu = (100000.0, 99999.9)
    return dict(spec, elements=elements, expect=expect, nu=nu)


def main():
    with open(os.path.join(DATA, "networks.yaml"), encoding="utf-8") as f:
        data = yaml.safe_load(f)
    networks = data["networks"] + [laminar(s, data["networks"]) for s in data["laminar"]]
    text = "% Made by tests/oracle/network_models.py from tests/data/networks.yaml, which names the sources.\n"
    for n in networks:
        m = Model(n)
        model = m.text()
        text += "%%network %s %r\n%s%s" % (n["id"], float(n["tol_rel"]), model, m.wanted())
    path = os.path.join(DATA, "network_models.txt")
    if sys.argv[1:] == ["--check"]:
        with open(path, encoding="utf-8") as there:
            if there.read() != text:
                sys.exit("tests/data/network_models.txt is stale: run tests/oracle/network_models.py")
        return
    with open(path, "w", encoding="utf-8") as out:
        out.write(text)


if __name__ == "__main__":
    main()
