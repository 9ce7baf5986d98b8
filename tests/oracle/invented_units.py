"""Small invented units: a model being written, what `curve` and `limits` say of it, and the laws written anew from their
sources. For check_curves.py, which names them."""
import csv
import io
import json
import math
import os
import subprocess

from random_networks import viscosity

PSI = 6894.757293168361  # Pa
CD = 0.611  # von Mises: pi / (pi + 2)
EXACT = 1e-7  # relative, of a pressure against the whole law
LOOSE = 1e-5  # relative, against a closed form that leaves out the laminar end
CLAIMED = 0.0101  # relative: `limits` bisects to a hundredth
STEP, PLACE = 0.0101, 0.000501  # of a step and of the value: `curve` says no wider where something changes
HEAD = "feedtrace: 1\nmodel: %s\nnote: Invented for this check.\n"
LAYERS = "layers: [{id: case, kind: casting}, {id: plate, kind: plate}, {id: body, kind: casting}]\n"


class Oil:
    def __init__(self, rng, thick=1):
        self.density = rng.uniform(820, 880)
        self.points = ((40, thick * rng.uniform(28, 40)), (100, thick * rng.uniform(6, 8)))
        self.celsius = rng.uniform(60, 110)

    def text(self):
        return "fluid: {density: %r kg/m3, viscosity: {40 degC: %r cSt, 100 degC: %r cSt}, temperature: %r degC}\n" % (
            self.density, self.points[0][1], self.points[1][1], self.celsius)

    def nu(self, celsius=None):
        return viscosity(self.celsius if celsius is None else celsius, self.points)

    def gain(self, d):
        """m3/s per Pa^0.5 of an orifice of d m."""
        return CD * math.pi / 4 * d ** 2 * math.sqrt(2 / self.density)

    def orifice(self, d, dp, celsius=None):
        reynolds = (CD / 0.2) ** 2
        transition = self.density / 2 * (reynolds * self.nu(celsius) / (CD * d)) ** 2
        return self.gain(d) * dp / (dp * dp + transition * transition) ** 0.25

    def gap(self, bore, gap, land, celsius=None):
        """m3/s per Pa of a concentric annular gap."""
        return math.pi * bore * gap ** 3 / (12 * self.density * self.nu(celsius) * land)


class Unit:
    """A model being written, and what the program says of it."""

    def __init__(self, tool, name, oil):
        self.tool, self.name, self.oil = tool, name, oil
        self.sections, self.passages, self.leakdown = {}, [], 0

    def add(self, section, name, text, *values):
        self.sections.setdefault(section, []).append("  %s: %s\n" % (name, text % values if values else text))

    def hole(self, name, a, b, d, more=""):
        for p in (a, b):
            if p != "sump" and p not in self.passages:
                self.passages.append(p)
        self.add("holes", name, "{joins: [%s, %s], diameter: %r m, orifice: true%s}", a, b, d, more)

    def source(self, into, capacity=None):
        self.add("feeds", "line", "{into: %s%s}" % (into, "" if capacity is None else ", capacity: %r m3/s" % capacity))

    def write(self):
        text = HEAD % self.name + ("" if self.leakdown is None else "leakdown: %r\n" % self.leakdown) + self.oil.text() + LAYERS
        text += "circuits: {oil: {passages: [%s]}}\n" % ", ".join(self.passages)
        for section in ("joints", "holes", "valves", "solenoids", "actuators", "feeds", "taps", "gears", "states"):
            if section in self.sections:
                text += section + ":\n" + "".join(self.sections[section])
        self.path = os.path.join(self.tool.folder, self.name + ".yaml")
        with open(self.path, "w", encoding="utf-8") as f:
            f.write(text)

    def ask(self, *words):
        done = subprocess.run([self.tool.program] + list(words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                              timeout=300)
        if done.returncode != 0:
            raise RuntimeError("%s: status %d\n%s" % (" ".join(words), done.returncode, done.stderr))
        return done.stdout

    def curve(self, vary, show, points=9, state="s"):
        """[(value, {shown: Pa})] of the table, SI."""
        text = self.ask("curve", self.path, "--in", state, "--vary", vary, "--show", ",".join(show), "--points", str(points),
                        "--format", "csv")
        rows = list(csv.DictReader(io.StringIO(text)))
        value = next(iter(rows[0]))
        rows = [r for r in rows if not r["change"]]  # a change has a row of its own
        assert len(rows) == points, text
        return [(float(r[value]), {s: float(r[s + "_Pa"]) for s in show}) for r in rows]

    def events(self, name, vary, wanted, state="s", points=2, whole=None):
        """Holds the changes on the way against [(place, words)], in their order; each lies within STEP of a step of the table and
        within PLACE of its value. With two points all of them lie between the same two rows."""
        words = ["curve", self.path, "--in", state, "--vary", vary, "--points", str(points), "--show", "line", "--format"]
        answer = json.loads(self.ask(*words, "json"))
        rows = [r for r in csv.DictReader(io.StringIO(self.ask(*words, "csv"))) if r["change"]]
        found = answer["events"]
        told = "; ".join("%.6g: %s" % (e["at"], e["change"]) for e in found)
        step = abs(answer["points"][1]["value"] - answer["points"][0]["value"])
        fits = len(found) == len(wanted) == len(rows)
        for e, (place, what), row in zip(found, wanted, rows):
            low, high = sorted((e["still_at"], e["at"]))
            fits = (fits and low * (1 - 1e-6) <= place <= high * (1 + 1e-6) and high - low <= min(STEP * step, PLACE * (whole or high))
                    and what in e["change"] and row["change"] == e["change"])
        self.tool.check(fits, "%s: %s in %s" % (name, ", ".join("%.6g" % w for w, _ in wanted), told))

    def limits(self, element, fault):
        """{side: answer} of one row."""
        table = json.loads(self.ask("limits", self.path, "--element", element, "--format", "json"))["limits"]
        (row,) = [r for r in table if r["fault"] == fault]
        return row


class Tool:
    def __init__(self, program, folder):
        self.program, self.folder = program, folder
        self.passed = self.failed = 0

    def check(self, passed, line):
        self.passed += passed
        self.failed += not passed
        print(("ok     " if passed else "FAILED ") + line)

    def near(self, name, found, wanted, tolerance):
        worst = max(abs(f - w) / abs(w) for f, w in zip(found, wanted))
        self.check(len(found) == len(wanted) and worst <= tolerance, "%s: off by %.2g" % (name, worst))

    def side(self, name, side, wanted, what, state="s"):
        """The size at which something is lost lies between the two that `limits` prints, which are a hundredth apart."""
        low, high = sorted((side["holds_m"], side.get("lost_at_m", math.nan)))
        fits = side["lost"] and low * (1 - 1e-9) <= wanted <= high * (1 + 1e-9) and high - low <= CLAIMED * high
        self.check(bool(fits) and what in side["what"] and side["state"] == state,
                   "%s: %.6g in %.6g .. %.6g m, %s: %s" % (name, wanted, low, high, side.get("state"), side.get("what")))
