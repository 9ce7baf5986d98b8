#!/usr/bin/python3
"""One state of a unit solved by ngspice and by scipy too, from the balances that `solve --export` prints: how long
they take against the program, and whether they find the same pressures.

    others.py SOLVE UNIT STATE...

SOLVE is the bench's program. Times are processor time; ngspice's is that of its process less that of one with an
empty circuit. Both others begin at the program's answer put off by a share that is printed, for from nothing they mostly
find none. Exit status 1 when an answer differs by more than 1e-6.
"""
import json
import os
import random
import re
import resource
import subprocess
import sys
import tempfile
import time

import numpy
import scipy.optimize

PSI = 6894.757293168361
L_PER_MIN = 1e-3 / 60
TOLERANCE, LEAST = 1e-6, 0.1  # relative; psi
ALWAYS, OPENS, REST, STROKED, OUTWARD, WHILE_SHUT = range(6)  # in the order of enum share_by
EMPTY = "empty\nR0 a 0 1\nV0 a 0 1\n"
OPTIONS = (".options reltol=1e-11 abstol=1e-14 vntol=1e-11 gmin=1e-18 itl1=5000\n.control\nset numdgt=15\nop\n%s\n.endc\n.end\n")


class Balances:
    """psi and L/min. The last node is sump."""

    def __init__(self, exported):
        flows, movers = exported["flows"], exported["movers"]
        self.n = len(exported["nodes"])
        self.answer = numpy.array([n["pressure"] for n in exported["nodes"]]) / PSI
        self.leak = numpy.array([n["weight"] for n in exported["nodes"]]) * exported["leakdown"] * PSI / L_PER_MIN
        self.fixed = {s["node"]: s["pressure"] / PSI for s in exported["sources"] if not s["limited"]}
        self.inflow = {s["node"]: s["flow"] / L_PER_MIN for s in exported["sources"] if s["limited"]}
        self.flows = [f for f in flows if f["share"] > 0 and f["a"] != f["b"]]
        self.movers = movers
        self.free = [i for i in range(self.n) if i not in self.fixed]
        f = self.flows
        self.a = numpy.array([x["a"] % (self.n + 1) for x in f])
        self.b = numpy.array([x["b"] % (self.n + 1) for x in f])
        self.gap = numpy.array([x["gap"] for x in f])
        self.one_way = numpy.array([x["one_way"] for x in f])
        self.by = numpy.array([x["share_by"] if x["mover"] >= 0 else ALWAYS for x in f])
        self.mover = numpy.array([max(x["mover"], 0) for x in f])
        self.lap = numpy.array([x["lap"] for x in f])
        self.share = numpy.array([x["share"] for x in f])
        self.gain = numpy.array([self.gain_of(x) for x in f])
        self.transition = numpy.array([x["transition"] / PSI if not x["gap"] else 1 for x in f])
        self.weights = numpy.zeros((max(len(movers), 1), self.n + 1))
        self.offset = numpy.zeros(max(len(movers), 1))
        for i, m in enumerate(movers):
            self.offset[i] = m["at"] if m["never"] else m["offset"]
            for unknown, weight in [] if m["never"] else m["terms"]:
                self.weights[i, unknown] += weight * PSI

    @staticmethod
    def gain_of(flow):
        return flow["gain"] * (PSI if flow["gap"] else PSI ** 0.5) / L_PER_MIN

    def shares(self, p, dp):
        u = numpy.clip(self.offset + self.weights @ p, 0, 1)[self.mover]
        by, lap = self.by, self.lap
        share = numpy.select(
            [by == OPENS, by == REST, by == STROKED, by == OUTWARD, by == WHILE_SHUT],
            [u, numpy.clip((1 - lap - 2 * u) / (1 - lap), 0, 1), numpy.clip((2 * u - 1 - lap) / (1 - lap), 0, 1),
             numpy.where(dp > 0, 1, u), 1 - u], 1.0)
        return numpy.where(self.one_way & (dp <= 0), 0, share) * self.share

    def imbalances(self, values):
        p = numpy.zeros(self.n + 1)
        p[list(self.fixed)] = list(self.fixed.values())
        p[self.free] = values
        dp = p[self.a] - p[self.b]
        q = self.shares(p, dp) * self.gain * numpy.where(self.gap, dp, dp / (dp * dp + self.transition ** 2) ** 0.25)
        into = numpy.bincount(self.b, q, self.n + 1) - numpy.bincount(self.a, q, self.n + 1)
        into[:self.n] -= self.leak * p[:self.n]
        for node, flow in self.inflow.items():
            into[node] += flow
        return into[self.free]

    def share_text(self, i, name, dp):
        u = "%.17g" % self.offset[self.mover[i]]
        for k in numpy.flatnonzero(self.weights[self.mover[i]]):
            u += "+(%.17g)*V(%s)" % (self.weights[self.mover[i], k], name(k))
        u = "max(0,min(1,%s))" % u
        lap = self.lap[i]
        text = {ALWAYS: "1", OPENS: u, REST: "max(0,min(1,(%.17g-2*%s)/%.17g))" % (1 - lap, u, 1 - lap),
                STROKED: "max(0,min(1,(2*%s-%.17g)/%.17g))" % (u, 1 + lap, 1 - lap),
                OUTWARD: "(%s > 0 ? 1 : %s)" % (dp, u), WHILE_SHUT: "(1-%s)" % u}[self.by[i]]
        return "(%s > 0 ? %s : 0)" % (dp, text) if self.one_way[i] else text

    def netlist(self, near):
        def name(k):
            return "0" if k == self.n else "n%d" % k
        lines = ["unit"]
        for i in range(len(self.flows)):
            a, b = name(self.a[i]), name(self.b[i])
            dp = "(V(%s)-V(%s))" % (a, b)
            law = dp if self.gap[i] else "%s/pow(%s*%s+%.17g,0.25)" % (dp, dp, dp, self.transition[i] ** 2)
            lines.append("B%d %s %s I=%s*%.17g*%s" % (i, a, b, self.share_text(i, name, dp), self.gain[i] * self.share[i], law))
        lines += ["V%d %s 0 %.17g" % (k, name(k), v) for k, v in self.fixed.items()]
        lines += ["I%d 0 %s %.17g" % (k, name(k), q) for k, q in self.inflow.items()]
        lines += ["Rz%d %s 0 %.17g" % (k, name(k), 1 / max(self.leak[k], 1e-16)) for k in self.free]
        if near is not None:
            lines += [".nodeset V(%s)=%.9g" % (name(k), near[k]) for k in self.free]
        return "\n".join(lines) + "\n" + OPTIONS % "\n".join("print V(%s)" % name(k) for k in self.free)


def ngspice_run(text, path):
    """Output and processor time, s."""
    with open(path, "w", encoding="utf-8") as f:
        f.write(text)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(["ngspice", "-b", path], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=300)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return done.stdout, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def ngspice_solve(balances, near, path):
    text, seconds = ngspice_run(balances.netlist(near), path)
    empty = min(ngspice_run(EMPTY + OPTIONS % "print V(a)", path)[1] for _ in range(3))
    found = {int(k): float(v) for k, v in re.findall(r"^v\(n(\d+)\) = (\S+)$", text, re.M | re.I)}
    if set(found) != set(balances.free):
        return None, max(seconds - empty, 0)
    return numpy.array([found[k] for k in balances.free]), max(seconds - empty, 0)


def scipy_solve(balances, near, _):
    start = time.process_time()
    begin = near[balances.free] if near is not None else numpy.zeros(len(balances.free))
    found = scipy.optimize.root(balances.imbalances, begin, method="hybr", options={"xtol": 1e-13, "maxfev": 20000})
    seconds = time.process_time() - start
    good = numpy.abs(balances.imbalances(found.x)).max() < 1e-8
    return found.x if good else None, seconds


def solver_report(name, solve, begins, balances, seconds, path):
    """@param begins how far from the program's answer, None: from nothing  @return True: an answer that differs"""
    rng = random.Random(4)
    for apart in begins:
        near = None if apart is None else numpy.array([p * rng.uniform(1 - apart, 1 + apart) for p in balances.answer])
        found, spent = solve(balances, near, path)
        begun = "from nothing" if apart is None else "begun within %g %%" % (100 * apart)
        if found is None:
            print("  %-8s %-22s %10.3f ms: no answer" % (name, begun, spent * 1e3))
            continue
        known = balances.answer[balances.free]
        difference = (numpy.abs(found - known) / numpy.maximum(numpy.abs(known), LEAST)).max()
        print("  %-8s %-22s %10.3f ms %10.1f x  differs by %.2g" % (name, begun, spent * 1e3, spent / seconds, difference))
        return apart is not None and difference > TOLERANCE
    return False


def main():
    program, unit, states = sys.argv[1], sys.argv[2], sys.argv[3:]
    differ = 0
    print("\nThe same balances by other solvers, against the program: one state, cold, one start")
    with tempfile.TemporaryDirectory() as folder:
        for state in states:
            exported = json.loads(subprocess.run([program, "--export", unit, state], stdout=subprocess.PIPE, check=True).stdout)
            balances = Balances(exported)
            print("%s, %s: %d pressures, %d flows; %.3f ms" % (os.path.basename(unit), state, len(balances.free),
                                                              len(balances.flows), exported["seconds"] * 1e3))
            print("  the program's answer leaves %.2g L/min" % numpy.abs(balances.imbalances(balances.answer[balances.free])).max())
            for name, solve, begins in (("ngspice", ngspice_solve, (0.1, 1e-4)),
                                        ("scipy", scipy_solve, (None, 0.1, 1e-4))):
                differ += solver_report(name, solve, begins, balances, exported["seconds"], os.path.join(folder, "unit.cir"))
    sys.exit(1 if differ else 0)


if __name__ == "__main__":
    main()
