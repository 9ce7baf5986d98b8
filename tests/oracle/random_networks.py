"""Random networks of known sizes, as a model that feedtrace reads, as a netlist and as equations.

The laws are written here once more from their sources, so that nothing of the program stands on both sides: orifice with
a smooth laminar end (H. E. Merritt, Hydraulic Control Systems, 1967, ch. 3, from memory), laminar annular gap, Walther's
viscosity line (ASTM D341); that valves open linearly is the program's own rule. Pressures in psi, flows in L/min.
"""
import math

import network_models

PSI = 6894.757293168361  # Pa
DENSITY = 850.0  # kg/m3
CD = 0.611
TEMPERATURE = 80.0  # degC
SEAT = 100 / PSI  # psi over which a ball between two seats shuts one of them


def viscosity(celsius=TEMPERATURE, points=((40, 34.0), (100, 7.2))):
    """m2/s, on the line through both points (cSt)."""
    def w(nu):
        return math.log10(math.log10(nu + 0.7))
    (t1, nu1), (t2, nu2) = points
    x, x1, x2 = (math.log10(t + 273.15) for t in (celsius, t1, t2))
    y = w(nu1) + (w(nu2) - w(nu1)) * (x - x1) / (x2 - x1)
    return (10 ** 10 ** y - 0.7) * 1e-6


NU = viscosity()
GAIN = CD * math.pi / 4 * 1e-6 * math.sqrt(2 / DENSITY * PSI) * 60000  # L/min of a hole of 1 mm at 1 psi


def transition(d):
    """psi, below which the flow through a hole of d mm is laminar."""
    speed = (CD / 0.2) ** 2 * NU / (CD * d * 1e-3)
    return DENSITY / 2 * speed ** 2 / PSI


def gap_conductance(e):
    """L/min per psi."""
    return (math.pi * e["d"] * e["c"] ** 3 * 1e-9 * (1 + 1.5 * e.get("e", 0) ** 2)
            / (12 * DENSITY * NU * e["l"]) * PSI * 60000)


class Law:
    """A flow from a to b: its law, and a share as an expression of node pressures that Python and a netlist both read."""

    def __init__(self, a, b, d=None, conductance=None, share="1"):
        self.a, self.b, self.d, self.conductance, self.share = a, b, d, conductance, share
        self.kind = None
        self.code = compile(share, "share", "eval")

    def share_at(self, p):
        return eval(self.code, {"V": lambda value: value, "min": min, "max": max}, p)  # nodes' names are its variables

    def flow(self, p):
        dp = p[self.a] - p[self.b]
        if self.conductance is not None:
            return self.conductance * dp
        return self.share_at(p) * GAIN * self.d ** 2 * dp / (dp * dp + transition(self.d) ** 2) ** 0.25

    def netlist(self, name):
        dp = "(V(%s)-V(%s))" % (self.a, self.b)
        if self.conductance is not None:
            return "R%s %s %s %.17g" % (name, self.a, self.b, 1 / self.conductance)
        return "B%s %s %s I=(%s)*%.17g*%s/pow(%s*%s+%.17g,0.25)" % (
            name, self.a, self.b, self.share, GAIN * self.d ** 2, dp, dp, dp, transition(self.d) ** 2)


def ramp(expression, low, high):
    return "max(0,min(1,(%s-(%.17g))/(%.17g)))" % (expression, low, high - low)


def laws_of(e, pockets):
    """The flows of an element."""
    a, b = e["a"], e["b"]
    if e["kind"] == "annular":
        return [Law(a, b, conductance=gap_conductance(e))]
    if e["kind"] == "ball":
        seats = pockets[b]
        here = ramp("V(%s)-V(%s)" % (a, b), -1e-9, 1e-9)  # its flow at no difference is nothing, so no edge shows
        if len(seats) == 1:
            return [Law(a, b, e["d"], share=here)]
        other = [s for s in seats if s != a][0]
        return [Law(a, b, e["d"], share="max(%s,%s)" % (here, ramp("V(%s)-V(%s)" % (a, other), -SEAT, 0)))]
    if e["kind"] == "limiting":
        react = "V(%s)" % e["react"]
        laws = [Law(a, b, e["d"], share=ramp("-" + react, -e["limit"], -e["limit"] * (1 - e["droop"])))]
        if "exhaust" in e:
            laws.append(Law(b, e["exhaust"], e["d"], share=ramp(react, 1.02 * e["limit"], 1.07 * e["limit"])))
        return laws
    if e["kind"] == "relief":
        return [Law(a, b, e["d"], share=ramp("V(%s)" % a, e["cracks"], 1.05 * e["cracks"]))]
    if e["kind"] == "spool":  # its outlet pushes it against its spring
        x = "((%.17g*V(%s)-%.17g)/%.17g)" % (e["area"] * 1e-6 * PSI, b, e["preload"], e["rate"] * e["travel"])
        x = "max(0,min(1,%s))" % x
        return [Law(a, b, e["d"], share="max(0,min(1,1-2*%s))" % x),
                Law(b, e["exhaust"], e["d"], share="max(0,min(1,2*%s-1))" % x)]
    return [Law(a, b, e["d"], share="%.17g" % e.get("share", 1))]


class Network:
    """{"id", "elements", "fixed": {node: psi}, "inflow": {node: L/min}} with its laws."""

    def __init__(self, spec):
        self.spec = spec
        pockets = {}
        for e in spec["elements"]:
            if e["kind"] == "ball":
                pockets.setdefault(e["b"], []).append(e["a"])
        self.laws = []
        for e in spec["elements"]:
            for law in laws_of(e, pockets):
                law.kind = e["kind"]
                self.laws.append(law)
        nodes = {n for law in self.laws for n in (law.a, law.b)}
        self.free = sorted(nodes - set(spec["fixed"]))

    def imbalances(self, values):
        """What flows into each free node, L/min."""
        p = dict(self.spec["fixed"], **dict(zip(self.free, values)))
        into = dict.fromkeys(p, 0.0)
        for law in self.laws:
            q = law.flow(p)
            into[law.a] -= q
            into[law.b] += q
        for node, q in self.spec["inflow"].items():
            into[node] += q
        return [into[n] for n in self.free]

    def shares(self, p):
        """(kind, "shut", "part-way" or "open") of each window that moves."""
        p = dict(self.spec["fixed"], **p)
        for law in self.laws:
            if "V(" in law.share:
                share = law.share_at(p)
                yield law.kind, "shut" if share <= 0 else "open" if share >= 1 else "part-way"

    def netlist(self, near):
        """Volt = psi, ampere = L/min. @param near {node: psi} where the search begins"""
        lines = [self.spec["id"]]
        fixed = dict(self.spec["fixed"])
        # Sump is no ground here: a source of nothing, so that every node has a name.
        lines += ["Vfix%d %s 0 %.17g" % (i, n, v) for i, (n, v) in enumerate(fixed.items())]
        lines += [law.netlist("%d" % i) for i, law in enumerate(self.laws)]
        lines += ["Iin%d 0 %s %.17g" % (i, n, q) for i, (n, q) in enumerate(self.spec["inflow"].items())]
        lines += ["Rz%d %s 0 1e16" % (i, n) for i, n in enumerate(self.free)]
        lines += [".nodeset V(%s)=%.6g" % (n, near[n]) for n in self.free]
        lines += [".options reltol=1e-11 abstol=1e-14 vntol=1e-11 gmin=1e-18 itl1=5000", ".control", "set numdgt=15", "op"]
        lines += ["print V(%s)" % n for n in self.free]
        return "\n".join(lines + [".endc", ".end"]) + "\n"


class Model(network_models.Model):
    """The same as a model file. Nodes' names are those of the passages after their dot."""

    def element(self, e):
        name = e["id"]
        if e["kind"] == "spool":
            self.add("valves", name, "{kind: spool, ports: {in: %s, out: %s, x: %s}, rest: [[in, out]], stroked: [[out, x]], "
                     "window_diameter: %r, ends: [{port: out, pushes: stroke, area: %r}], spring: {preload: %r, rate: %r}, "
                     "travel: %r}" % (self.passage(e["a"]), self.passage(e["b"]), self.passage(e["exhaust"]), e["d"],
                                      e["area"], e["preload"], e["rate"], e["travel"]))
        elif e["kind"] == "limiting" and "exhaust" in e:
            self.add("valves", name, "{kind: limiting, supply: %s, outlet: %s, reaction: %s, exhaust: %s, limit: %r, "
                     "droop: %r %%, open_diameter: %r}" % (self.passage(e["a"]), self.passage(e["b"]), self.passage(e["react"]),
                                                          self.passage(e["exhaust"]), e["limit"], 100 * e["droop"], e["d"]))
        else:
            super().element(e)


# --- at random


class Maker:
    def __init__(self, rng, name, size):
        self.rng, self.name, self.size = rng, name, size
        self.elements = []
        self.nodes = []
        self.pockets = []  # no hole joins two of them

    def add(self, a, b, kind="orifice", **more):
        e = dict({"id": "E%d" % len(self.elements), "a": a, "b": b, "kind": kind}, **more)
        self.elements.append(e)
        return e

    def size_of(self, low, high):
        return round(self.rng.uniform(low, high), 3)

    def node(self):
        self.nodes.append("n%d" % len(self.nodes))
        return self.nodes[-1]

    def hung(self, low=0.8, high=4.0):
        """A node behind a hole from one that is there."""
        before = self.rng.choice(self.nodes)
        node = self.node()
        self.add(before, node, d=self.size_of(low, high))
        return node

    def drained(self, node, low=0.4, high=2.0):
        self.add(node, "T", d=self.size_of(low, high))
        return node

    def limiting(self, line):
        """With its reaction end behind an orifice and something that its outlet feeds."""
        rng, outlet = self.rng, self.node()
        react = self.node()
        more = {"exhaust": "T"} if rng.random() < 0.5 else {}
        self.add(line, outlet, "limiting", d=self.size_of(2, 5), limit=self.size_of(40, 110), droop=rng.choice((0.02, 0.05, 0.1)),
                 react=react, **more)
        self.add(outlet, react, d=self.size_of(0.6, 1.2))
        self.drained(react, 0.3, 0.5)  # a worn end
        self.drained(outlet, 0.8, 2)
        if more and rng.random() < 0.6:
            self.add(line, outlet, d=self.size_of(0.8, 2))  # past the valve: its exhaust has work to do

    def spool(self, line):
        rng, outlet = self.rng, self.node()
        self.add(line, outlet, "spool", d=self.size_of(2, 5), exhaust="T", area=round(rng.uniform(40, 120), 1),
                 preload=round(rng.uniform(8, 30), 2), rate=round(rng.uniform(0.5, 2), 2), travel=round(rng.uniform(3, 6), 1))
        self.drained(outlet, 0.5, 1.5)

    def shuttle(self):
        inlets = self.rng.sample([n for n in self.nodes[1:] if n not in self.pockets], 2)
        pocket = self.node()
        self.pockets.append(pocket)
        for inlet in inlets:
            self.add(inlet, pocket, "ball", d=self.size_of(1.5, 4))
        self.drained(pocket)

    def ball(self):
        """A hole that passes oil one way only, and another way to its pocket."""
        inlet = self.rng.choice([n for n in self.nodes if n not in self.pockets])
        pocket = self.hung(0.6, 1.5)
        self.pockets.append(pocket)
        self.add(inlet, pocket, "ball", d=self.size_of(1.5, 4))
        if self.rng.random() < 0.7:
            self.drained(pocket)

    def spec(self):
        rng = self.rng
        line = self.node()
        fixed = {"T": 0, line: round(rng.uniform(90, 280), 2)}
        for _ in range(self.size):
            self.hung()
        for _ in range(self.size // 2):  # loops
            a, b = rng.sample(self.nodes, 2)
            self.add(a, b, d=self.size_of(0.4, 3))
        for node in rng.sample(self.nodes[1:], self.size // 2):
            self.drained(node)
        for node in rng.sample(self.nodes[1:], 2):
            self.drained(node, 0.2, 0.5)  # leaks
        self.drained(self.nodes[-1])
        self.limiting(line)
        if rng.random() < 0.7:
            self.spool(line)
        inflow = {}
        if rng.random() < 0.7:  # a pump at its capacity
            pump = self.node()
            inflow[pump] = round(rng.uniform(3, 9), 2)  # far from the 1000 psi where the model's pump would hold
            self.drained(pump, 1.8, 2.6)
            self.add(pump, rng.choice(self.nodes[1:-1]), d=self.size_of(0.5, 1.5))
        a, b = rng.sample(self.nodes[1:], 2)
        self.add(a, b, "annular", d=self.size_of(8, 14), c=self.size_of(0.02, 0.06), l=self.size_of(3, 8),
                 e=rng.choice((0, 0.5, 1)))
        if rng.random() < 0.5:
            node = rng.choice(self.nodes[1:])
            self.add(node, "T", "relief", d=self.size_of(2, 5), cracks=self.size_of(30, 90))
        if rng.random() < 0.5:
            self.add(rng.choice(self.nodes[1:]), "T", d=self.size_of(1, 2), share=round(rng.uniform(0.2, 0.8), 2))
        for _ in range(3):
            self.ball()
        if rng.random() < 0.6:
            self.shuttle()
        return {"id": self.name, "elements": self.elements, "fixed": fixed, "inflow": inflow}


def random_network(rng, name, size):
    return Network(Maker(rng, name, size).spec())
