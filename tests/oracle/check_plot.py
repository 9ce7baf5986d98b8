#!/usr/bin/python3
"""Reads the picture that `curve` draws as a person with a ruler would, and holds it against the table of the same run: each
point of each line, scaled back by the ticks of the axes and their numbers, is the table's; each change has its mark. Also:
the picture is well-formed XML (by Python's expat), its axes say what they show and in which unit, the cautions are there,
and no words run out of it.

    check_plot.py --program FEEDTRACE
"""
import argparse
import csv
import os
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
SVG = "{http://www.w3.org/2000/svg}"
UNITS = {"psi": (0, 6894.757293168361), "bar": (0, 1e5), "kPa": (0, 1e3), "mm": (0, 1e-3), "in": (0, 0.0254),
         "degC": (273.15, 1), "L/min": (0, 1e-3 / 60)}  # SI = zero + shown x one; NIST SP 811 (2008)
PIXEL = 0.02  # of a coordinate: they are written to a hundredth, and so are those of the ticks
COLUMN = 7  # pixels that a letter takes at most, about

CASES = [  # model, state, what varies, what is shown, units, fault, the axis' name
    ("tern-l2", "line_150", "line 55 to 300", "T_sup,T_c1,line", "psi,mm", None, "line"),
    ("tern-l2", "line_90", "line 300 psi to 55 psi", "supply,clutch", "bar,mm", None, "line"),
    ("tern-l2", "line_90", "leak clutch 0.5 mm to 6 mm", "clutch,body.ex,T_sup", "kPa,in", None, "leak clutch, diameter"),
    ("tern-l2", "line_90", "temperature 0 degC to 100 degC", "T_sup", "psi,mm", "leak clutch at 1 mm", "temperature of the oil"),
    ("heron-4", "drive_2", "leak H130 0.1 to 3 mm", None, "psi,mm", None, "leak H130, diameter"),
    ("heron-4", "drive_2", "H130 0.2 to 4 mm", "T_band,T_lr", "bar,mm", "leak H130 at 1.3 mm", "diameter of H130"),
    ("tern-l2", "line_150", "wear feed_limit 0.02 to 0.1 mm", "T_sup", "psi,mm", None, "wear feed_limit, gap"),
    ("heron-4", "drive_2", "weaken line 3 to 20 L/min", "T_line,T_band", "psi,L/min", None, "capacity of line"),
]


class Picture:
    def __init__(self, path):
        self.root = tree.parse(path).getroot()
        self.wide, self.high = (float(self.root.get(k)) for k in ("width", "height"))
        self.texts = list(self.root.iter(SVG + "text"))
        self.words = [t.text or "" for t in self.texts]

    def of(self, name):
        return [g for g in self.root.iter() if g.get("class") == name]

    def scale(self, axis):
        """shown = f(pixel), from the first and the last tick; all between must agree."""
        at = []
        for g in self.of("tick-" + axis):
            x, y = re.match(r"M(\S+) (\S+)[hv]", g.find(SVG + "path").get("d")).groups()
            at.append((float(x if axis == "x" else y), float(g.find(SVG + "text").text)))
        (p0, v0), (p1, v1) = at[0], at[-1]
        slope = (v1 - v0) / (p1 - p0)
        for p, v in at:
            if abs(v0 + (p - p0) * slope - v) > abs(slope) * PIXEL:
                raise ValueError("tick %g stands where %g would" % (v, v0 + (p - p0) * slope))
        return (lambda pixel: v0 + (pixel - p0) * slope), abs(slope) * PIXEL

    def lines(self):
        """{name: [(pixel, pixel)]}"""
        found = {}
        for g in self.of("line"):
            path = g.find(SVG + "path").get("d").replace("h0", "")
            found[g.find(SVG + "title").text] = [tuple(map(float, p.split())) for p in re.split("[ML]", path)[1:]]
        return found


def wanted_points(rows, value, column):
    """(value or None, pressure or None) in the order of the line: before each change stands a point that the table does not
    have."""
    points = []
    for r in rows:
        if r["change"]:
            points.append((None, None))
        if r[column]:
            points.append((float(r[value]), float(r[column])))
    return points


def si(unit, shown):
    zero, one = UNITS[unit]
    return zero + one * shown


def check(program, folder, case):
    """Yields (line, passed)."""
    model, state, vary, show, units, fault, axis = case
    path = os.path.join(folder, model + ".yaml")
    base = os.path.join(folder, "curve")
    command = [program, "curve", path, "--in", state, "--vary", vary, "--units", units, "-o", base + ".svg", "--write",
               "csv=%s.csv" % base]
    command += ["--show", show] if show else []
    command += ["--fault", fault] if fault else []
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=120)
    name = "%s, %s" % (model, vary)
    yield "%s: status %d %s" % (name, done.returncode, done.stderr), done.returncode == 0
    picture = Picture(base + ".svg")
    with open(base + ".csv", encoding="utf-8", newline="") as f:
        rows = list(csv.DictReader(f))
    value = next(iter(rows[0]))
    (x_name,) = [w for w in picture.words if re.fullmatch(re.escape(axis) + r" \((\S+)\)", w)]
    (y_name,) = [w for w in picture.words if re.fullmatch(r"pressure \((\S+)\)", w)]
    x_unit, y_unit = (re.search(r"\((\S+)\)", n).group(1) for n in (x_name, y_name))
    yield "%s: axes %s, %s" % (name, x_name, y_name), y_unit in units.split(",")
    x_of, x_near = picture.scale("x")
    y_of, y_near = picture.scale("y")
    columns = [c for c in rows[0] if c.endswith("_Pa") and c != value]
    lines = picture.lines()
    yield "%s: a line for each column" % name, [c[:-3] for c in columns] == list(lines)
    for column in columns:
        found, wanted = lines[column[:-3]], wanted_points(rows, value, column)
        wanted = wanted if any(p for _, p in wanted) or found else []
        fits = len(found) == len(wanted)
        for (x, y), (v, p) in zip(found, wanted):
            fits = fits and (v is None or (abs(si(x_unit, x_of(x)) - v) <= x_near * UNITS[x_unit][1]
                                           and abs(si(y_unit, y_of(y)) - p) <= y_near * UNITS[y_unit][1]))
        yield "%s: %d points of %s" % (name, len(found), column), fits
    marks = [float(re.match(r"M(\S+) ", m.get("d")).group(1)) for m in picture.of("change")]
    places = [float(r[value]) for r in rows if r["change"]]
    yield "%s: %d changes marked" % (name, len(marks)), len(marks) == len(places) and all(
        abs(si(x_unit, x_of(m)) - v) <= x_near * UNITS[x_unit][1] for m, v in zip(marks, places))
    told = " ".join(" ".join(picture.words).split())
    yield "%s: what changes is listed" % name, all(r["change"] in told for r in rows if r["change"])
    yield "%s: cautions, trust" % name, all(w in told for w in ("Depressurise before a port is opened", "A model is a simplification",
                                                               "uncertain by up to a third"))
    yield "%s: words stay inside" % name, all(
        not 0 <= float(t.get("x")) <= picture.wide or not t.get("text-anchor") == "start"
        or float(t.get("x")) + COLUMN * len(t.text or "") <= picture.wide and float(t.get("y")) < picture.high for t in picture.texts)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    program = os.path.abspath(parser.parse_args().program)
    counts = {True: 0, False: 0}
    with tempfile.TemporaryDirectory() as folder:
        for model in ("tern-l2", "heron-4"):
            with open(os.path.join(ROOT, "models", model + ".yaml"), encoding="utf-8") as f:
                text = f.read()
            # a title that XML could take for its own, and longer than the picture is wide
            text = re.sub(r"^title: .*$", lambda _: 'title: "<b> & \\"q\\" \' ]]> \\u00e9\\u6cb9 %s"' % ("long " * 40), text, flags=re.M)
            with open(os.path.join(folder, model + ".yaml"), "w", encoding="utf-8") as f:
                f.write(text)
        for case in CASES:
            try:
                for line, passed in check(program, folder, case):
                    print(("ok     " if passed else "FAILED ") + line)
                    counts[bool(passed)] += 1
            except Exception as why:  # a picture that cannot be read has failed, and the others go on
                print("FAILED %s: %r" % (case[2], why))
                counts[False] += 1
    print("%d passed, %d failed" % (counts[True], counts[False]))
    sys.exit(1 if counts[False] else 0)


if __name__ == "__main__":
    main()
