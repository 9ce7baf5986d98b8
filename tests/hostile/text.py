"""Texts that a terminal, a browser or a format could take as an order, in a model and in arguments: nothing of them may
leave as it came. And long texts, and very many findings."""
import json
import os
import re
import tempfile
import unicodedata
import xml.etree.ElementTree as tree

from common import HERE, Tally, run

# Written into the model as escapes of YAML's double quotes.
EVIL = ('\\e[31mred\\e]0;title\\a \\x9B2J \\u202Eright to left\\u202C \\u2066isolate\\u2069 \\uFEFF \\u200B \\u2028 \\u2029 \\x7F \\r over '
        '</script><script>alert(1)</script> <!-- --> ]]> <![CDATA[ &amp; &#x1b; \\"quotes\\" \'single\' \\\\N \\\\G | { } =1+1 %n%s \\n second line \\t')
ALLOWED = {0x200C, 0x200D}
BREAKS = {"csv": "\r\n", "json": "\n"}

MODEL = """feedtrace: 1
model: hostile
title: "%(evil)s"
note: "%(evil)s"
layers: [{id: case, kind: casting, title: "%(evil)s"}, {id: plate, kind: plate}, {id: body, kind: casting}]
circuits:
  line: {title: "%(evil)s", note: "%(evil)s", passages: [case.line, body.line], fed_by: [line]}
  out: {title: "%(evil)s", passages: [body.out, case.out]}
holes:
  H1: {joins: [case.line, body.line], diameter: 8, title: "%(evil)s"}
  H2: {joins: [case.out, body.out], diameter: 4, title: "%(evil)s"}
valves:
  lever: {kind: manual, title: "%(evil)s", ports: {in: body.line, d: body.out, x: sump}, positions: {P: [[d, x]], D: [[in, d]]}}
solenoids: {sol: {kind: bleed, title: "%(evil)s", normally: open, joins: [body.out, sump]}}
actuators: {clutch: {kind: clutch, apply: case.out, applies_at: 40, title: "%(evil)s"}}
feeds: {line: {into: case.line, title: "%(evil)s"}}
taps: {T1: {on: case.out, title: "%(evil)s"}}
gears: {neutral: [], first: [clutch]}
states:
  park: {lever: P, line: 55, sol: off, title: "%(evil)s", note: "%(evil)s", gear: neutral}
  drive: {lever: D, line: 90, sol: on, gear: first, expect: {out: trapped}}
"""


def raw(data, breaks="\n"):
    """What of the output could be taken as an order, or is no text: a description, or an empty text."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        return "no UTF-8: %s" % error
    for character in text:
        category = unicodedata.category(character)
        if character not in breaks and ord(character) not in ALLOWED and category in ("Cc", "Cf", "Cs", "Zl", "Zp"):
            return "U+%04X leaves as it came" % ord(character)
    return ""


def good(tally, name, found, breaks="\n"):
    status, out, err = found
    wrong = raw(out, breaks) or raw(err)
    tally.check(status in (0, 1, 2) and not wrong, name, "status %s, %s, %s" % (status, wrong, err[:300]))


def formats(tally, program, folder):
    model = folder + "/model.yaml"
    with open(model, "w", encoding="utf-8") as stream:
        stream.write(MODEL % {"evil": EVIL})
    accepted = run([program, "check", model])
    tally.check(accepted[0] in (0, 1), "the model with hostile texts can be read", accepted)
    for words in (["check"], ["trace"], ["trace", "-v"], ["whatif"], ["route"], ["sweep"], ["curve"], ["limits"]):
        more = {"whatif": ["block H2"], "route": ["line", "clutch"], "sweep": ["-j", "1"],
                "curve": ["--in", "drive", "--vary", "line 20 to 90", "--points", "3"]}.get(words[0], [])
        for kind in ("text", "json", "csv", "sarif", "junit"):
            found = run([program] + words + ["--format", kind, "--color", "always", model] + more)
            if found[0] == 2 and b"--format" in found[2]:  # a format that this command does not have
                continue
            status, out, err = found
            if kind == "text":
                out = uncoloured(out)
            good(tally, "%s as %s" % (" ".join(words), kind), (status, out, uncoloured(err)), BREAKS.get(kind, "\n"))
            if kind in ("json", "sarif"):
                parsed(tally, "%s as %s" % (" ".join(words), kind), out, json_read)
            if kind == "junit":
                parsed(tally, "%s as %s" % (" ".join(words), kind), out, tree.fromstring)
                tally.check(b"<script" not in out, "no script in " + kind)
    drawings(tally, program, model)
    curves(tally, program, model)


def uncoloured(data):
    """Without the colours that the program adds itself; those in the model are not of this form."""
    return re.sub(rb"\x1b\[(?:0|1|1;31|1;33|36|32)m", b"", data)


def json_read(out):
    return [json.loads(line) for line in out.splitlines() if line] if out.startswith(b'{"') and out.count(b"\n{") else json.loads(out)


def parsed(tally, name, out, reader):
    try:
        reader(out)
        tally.check(True, name)
    except (ValueError, tree.ParseError) as error:
        tally.check(False, name + " can be read back", error)


def drawings(tally, program, model):
    folder = os.path.dirname(model)
    for state in ("park", "drive"):
        for more in ([], ["--fault", "block H2"], ["--all"]):
            name = "draw %s %s" % (state, " ".join(more))
            found = run([program, "draw", model, "--in", state] + more)
            good(tally, name + " as DOT", found, "\n\t")
            found = run([program, "draw", model, "--in", state, "-o", folder + "/x.svg"] + more)
            good(tally, name + " as SVG", found)
            with open(folder + "/x.svg", "rb") as stream:
                svg = stream.read()
            wrong = raw(svg)
            tally.check(not wrong and b"<script" not in svg and b"]]>" not in svg, name + " as SVG", wrong)
            parsed(tally, name + " as SVG", svg, tree.fromstring)
            root = tree.fromstring(svg)
            odd = {one.tag.split("}")[-1] for one in root.iter()} - {"svg", "g", "title", "polygon", "path", "text", "ellipse", "polyline", "a"}
            tally.check(not odd, name + ": elements", odd)


def curves(tally, program, model):
    """The picture of a curve, with the model's texts and with words of the user."""
    file = os.path.dirname(model) + "/curve.svg"
    for more in ([], ["--fault", "leak clutch at 1 mm"]):
        found = run([program, "curve", model, "--in", "drive", "--vary", "line 20\tto 90", "--points", "3", "-o", file] + more)
        good(tally, "a curve as SVG", found)
        with open(file, "rb") as stream:
            svg = stream.read()
        wrong = raw(svg)
        tally.check(found[0] == 0 and not wrong and b"<script" not in svg and b"]]>" not in svg, "a curve as SVG", wrong)
        parsed(tally, "a curve as SVG", svg, tree.fromstring)
        odd = {one.tag.split("}")[-1] for one in tree.fromstring(svg).iter()} - {"svg", "g", "title", "path", "text", "rect"}
        tally.check(not odd, "a curve as SVG: elements", odd)


def arguments(tally, program, folder):
    model = folder + "/model.yaml"
    words = ["\x1b[31mred\x07", "\u202eright", "a\nb", "</script>", "]]>", "%s%n", "=1+1", "x" * 100000, "\x9b2J", "\u2028"]
    for word in words + [b"\xff\xfe", b"\xc0\xaf", b"\xed\xa0\x80"]:
        for command in (["trace", model, word], ["whatif", model, word], ["route", model, word, word], ["draw", model, "--in", word],
                        ["trace", model, "--fault", word], ["check", word], [word], ["check", "--format", word, model],
                        ["explain", word], ["draw", model, "-o", word], ["draw", model, "--feed", word],
                        ["curve", model, "--in", "drive", "--vary", word], ["curve", model, "--vary", word + (b" 1 to 2" if isinstance(word, bytes) else " 1 to 2")],
                        ["curve", model, "--in", "drive", "--vary", "line 1 to 2", "--show", word], ["limits", model, "--element", word],
                        ["check", "--format", "json", word], ["check", b"--" + (word if isinstance(word, bytes) else word.encode()), model]):
            found = run([program] + command, folder)
            good(tally, "%s with argument %.40r" % (command[0] if isinstance(command[0], str) else "", word), found)
            tally.check(len(found[2]) < 200000, "a message stays readable", len(found[2]))
    evil = "no\x1b[31m\u202e\nfile\xff.yaml".encode("latin-1", "ignore") + b"\xff.yaml"
    with open(os.path.join(folder.encode(), evil), "w", encoding="ascii") as stream:
        stream.write("feedtrace: 1\nmodel: [\n")
    for kind in ("text", "json"):
        found = run([program, "check", "--format", kind, evil], folder)
        good(tally, "a hostile name of a file as " + kind, found)
        if kind == "json":
            parsed(tally, "a hostile name of a file", found[1], json.loads)


def many(tally, program, folder):
    """100 000 findings, and a text of the longest length."""
    model = folder + "/many.yaml"
    n = 100000
    with open(model, "w", encoding="ascii") as stream:
        stream.write("feedtrace: 1\nmodel: many\nlayers: [{id: a, kind: casting}, {id: p, kind: plate}, {id: b, kind: casting}]\n"
                     "feeds: {line: {into: a.line}}\nstates: {run: {line: 50}}\ncircuits:\n  line: {passages: [a.line]}\n  all:\n    passages:\n")
        for i in range(n):
            stream.write("      - b.x%d\n" % i)
    found = run([program, "check", model])
    good(tally, "many findings as text", found)
    tally.check(found[0] == 1 and 30000 < len(found[1]) <= (64 << 10) + 400, "a report is cut to 64 KB", (found[0], len(found[1])))
    tally.check(b"left out" in found[1] or b"more" in found[1], "a cut report says so", found[1][-300:])
    found = run([program, "check", "--limit", "0", model])
    tally.check(found[0] == 1 and len(found[1]) > 64 << 10, "without a limit all of it is printed", len(found[1]))
    found = run([program, "check", "--format", "json", model])
    good(tally, "many findings as JSON", found)
    parsed(tally, "many findings as JSON", found[1], json.loads)
    for length in (65536, 65537, 1 << 20):
        with open(folder + "/long.yaml", "w", encoding="ascii") as stream:
            stream.write('feedtrace: 1\nmodel: long\ntitle: "%s"\nlayers: [{id: %s, kind: casting}]\n' % ("t" * length, "i" * length))
        for kind in ("text", "json"):
            found = run([program, "check", "--format", kind, folder + "/long.yaml"])
            good(tally, "a text of %d bytes as %s" % (length, kind), found)
            tally.check(len(found[2]) < 10000, "an excerpt is cut", len(found[2]))


def kept(tally, program, folder):
    """What the fuzzing kept: each is read, or refused with a place, and the answer is whole."""
    corpus = os.path.join(HERE, "corpus", "model")
    names = sorted(os.listdir(corpus))
    for start in range(0, len(names), 50):
        some = [os.path.join(corpus, name) for name in names[start:start + 50]]
        good(tally, "kept inputs as text", run([program, "check"] + some))
        found = run([program, "check", "--format", "json"] + some)
        good(tally, "kept inputs as JSON", found, BREAKS["json"])
        parsed(tally, "kept inputs", found[1], json.loads)
        tally.check(found[1].count(b'"path"') >= len(some) or found[1].count(b'"model"') >= len(some), "an answer for each kept input")


def test(program, plain, every):
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="hostile-") as folder:
        formats(tally, program, folder)
        arguments(tally, plain, folder)
        many(tally, program, folder)
        kept(tally, program, folder)
    return tally
