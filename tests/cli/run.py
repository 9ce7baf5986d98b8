#!/usr/bin/python3
"""Runs the program as a user does.

tests/cli/NAME/   `cmd` is one shell line, run in that folder. FEEDTRACE is the program, SCRATCH an empty folder for what it
                  writes. `stdout`, `stderr` and `status` are what must come out; missing: nothing, nothing, 0.
tests/bad/*.yaml  models with something wrong: a line that earns a finding or an error ends in `# expect: code` or
                  `# expect: code, code`. `check --format json` must report these codes on these lines and nothing else.
                  A model without such a comment must be free of findings. Files in folders below are read by `extends` only.
                  That sizes are assumed (a note) is passed over unless it is wanted.
models/*.yaml     must be free of findings, but for that note; models/faulty/*.yaml must earn the finding that their first line names, and no
                  other unless that line says `what follows`.

usage: run.py [--program FILE] [--update] [NAME...]     NAME: of a folder of tests/cli or a model, without the folders above it
"""
import argparse
import concurrent.futures
import difflib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
BAD = os.path.join(ROOT, "tests", "bad")
SECONDS = 120  # for one run; a program built with sanitizers is slow
EXPECTED_FINDING = re.compile(r"# Expected finding: ([a-z-]+)")
EXPECT = re.compile(r"(?:^|\s)#\s*expect:\s*(.*?)\s*$")
NO_ANSWER = {"not-settled", "not-solved"}  # with these the status is 3
ASSUMED = "assumed-sizes"  # a note that most small models earn
LINE_BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")  # as YAML 1.1 has it


def run(command, program, folder, scratch):
    """(status, stdout, stderr) of a shell line or a list of words; the user's own settings stay out of it."""
    env = {key: value for key, value in os.environ.items()
           if key in ("PATH", "HOME", "ASAN_OPTIONS", "UBSAN_OPTIONS", "LSAN_OPTIONS")}
    env.setdefault("ASAN_OPTIONS", "exitcode=86")  # a sanitizer's report must not look like a status of the program
    env.setdefault("UBSAN_OPTIONS", "exitcode=86:print_stacktrace=1")
    env.update(FEEDTRACE=program, SCRATCH=scratch, LC_ALL="C.UTF-8", TERM="dumb", TZ="UTC")
    words = command if isinstance(command, list) else ["bash", "-c", command]
    try:
        done = subprocess.run(words, cwd=folder, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, timeout=SECONDS, check=False)
    except subprocess.TimeoutExpired:
        return None, b"", b"still running after %d seconds\n" % SECONDS
    return done.returncode, done.stdout, done.stderr


def read(path):
    """The file's bytes; none when it is missing."""
    try:
        with open(path, "rb") as stream:
            return stream.read()
    except FileNotFoundError:
        return b""


def lines(data):
    return data.decode("utf-8", "backslashreplace").splitlines()


def run_folder(name, program, update):
    """What differs in the test of one folder, as lines; empty: passed."""
    folder = os.path.join(HERE, name)
    command = read(os.path.join(folder, "cmd")).decode().strip()
    if not command:
        return ["there is no cmd"]
    scratch = tempfile.mkdtemp(prefix="cli-")
    try:
        status, out, err = run(command, program, folder, scratch)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    if status is None:
        return lines(err)
    found = {"stdout": out, "stderr": err, "status": b"%d\n" % status if status else b""}
    differences = []
    for part, data in found.items():
        path = os.path.join(folder, part)
        wanted = read(path)
        if part == "status":
            wanted = wanted if int(wanted or b"0") else b""
        if data == wanted:
            continue
        if update and not (part == "status" and status == 86):  # never take a sanitizer's report for what is wanted
            if data:
                with open(path, "wb") as stream:
                    stream.write(data)
            else:
                os.remove(path)
        else:
            differences += difflib.unified_diff(lines(wanted), lines(data), part + " wanted", part + " found", lineterm="")
            if lines(wanted) == lines(data):
                differences.append(part + ": line ends differ")
    return differences


def expectations(path):
    """{(line, code)} of the `# expect:` comments of a file."""
    text = read(path).decode("utf-8", "replace")
    found = set()
    for number, line in enumerate(LINE_BREAK.split(text), 1):
        match = EXPECT.search(line)
        if match:
            found |= {(number, code) for code in re.split(r"\s*,\s*", match.group(1))}
    return found


def check(name, program, folder):
    """(findings, what is wrong with the answer itself) of `check` on one model."""
    status, out, err = run([program, "check", "--format", "json", name], program, folder, folder)
    try:
        findings = json.loads(out.decode("utf-8"))["findings"]
        worst = max((["note", "warning", "error"].index(one["level"]) for one in findings), default=-1)
        placed = all(one["line"] and one["column"] and one["code"] for one in findings)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        return [], ["no JSON with findings, status %s: %r" % (status, error)] + lines(out)[:20] + lines(err)[:20]
    wrong = [] if placed else ["a finding has no line, column or code"]
    no_answer = {one["code"] for one in findings} & NO_ANSWER
    if status not in ([3] if no_answer else [0] if worst < 1 else [1] if worst == 1 else [1, 2]):
        wrong += ["status %s" % status] + lines(err)[:20]
    return findings, wrong


def run_model(name, program):
    """What is wrong with the findings of a shipped model, as lines; empty: passed."""
    folder, file = os.path.split(os.path.join(ROOT, "models", name))
    findings, wrong = check(file, program, folder)
    findings = [one for one in findings if one["code"] != ASSUMED or "# Expected finding: " + ASSUMED in
                read(os.path.join(folder, file)).decode("utf-8")]
    if wrong:
        return wrong
    first = (read(os.path.join(folder, file)).decode("utf-8").splitlines() or [""])[0]
    match = EXPECTED_FINDING.match(first)
    if name.startswith("faulty") and not match:
        return ["the first line names no expected finding"]
    code = match.group(1) if match else None
    wrong = ["%s is wanted and not reported" % code] if code and code not in {one["code"] for one in findings} else []
    return wrong + ["%s:%s: %s is reported and not wanted: %s" % (file, one["line"], one["code"], one.get("message"))
                    for one in findings if one["code"] != code and not (code and "what follows" in first)]


def run_bad(name, program):
    """What differs in the findings of one model, as lines; empty: passed."""
    findings, wrong = check(name, program, BAD)
    if not wrong:
        found = {(os.path.normpath(one.get("file") or name), one["line"], one["code"]) for one in findings}
        wrong = compare_bad(name, findings, found)
    return wrong


def compare_bad(name, findings, found):
    wanted = set()
    for file in {name} | {file for file, _, _ in found}:
        wanted |= {(file, line, code) for line, code in expectations(os.path.join(BAD, file))}
    if ASSUMED not in {code for _, _, code in wanted}:
        found = {one for one in found if one[2] != ASSUMED}
    differences = ["%s:%s: %s is wanted and not reported" % one for one in sorted(wanted - found, key=str)]
    differences += ["%s:%s: %s is reported and not wanted: %s" % (one + (message_of(findings, one),))
                    for one in sorted(found - wanted, key=str)]
    return differences


def message_of(findings, key):
    return next(one.get("message") for one in findings if (one["line"], one["code"]) == key[1:])


def models_in(folder):
    return sorted(name for name in os.listdir(folder) if name.endswith(".yaml")) if os.path.isdir(folder) else []


def main():
    parser = argparse.ArgumentParser(description="Runs the end-to-end tests.")
    parser.add_argument("--program", default=os.environ.get("FEEDTRACE", os.path.join(ROOT, "build/test/feedtrace")))
    parser.add_argument("--update", action="store_true", help="write down what comes out as what is wanted (read the diff)")
    parser.add_argument("names", nargs="*", metavar="NAME")
    args = parser.parse_args()
    program = os.path.abspath(args.program)
    if not os.access(program, os.X_OK):
        sys.exit("run.py: there is no program %s" % program)

    folders = sorted(name for name in os.listdir(HERE) if os.path.isdir(os.path.join(HERE, name)) and name[0] not in "._")
    bad = models_in(BAD)
    shipped = models_in(os.path.join(ROOT, "models"))
    shipped += [os.path.join("faulty", name) for name in models_in(os.path.join(ROOT, "models", "faulty"))]
    if args.names:
        wanted = {os.path.basename(name.rstrip("/")) for name in args.names}
        unknown = wanted - set(folders) - set(bad) - {os.path.basename(name) for name in shipped}
        if unknown:
            sys.exit("run.py: there is no test %s" % ", ".join(sorted(unknown)))
        folders = [name for name in folders if name in wanted]
        bad = [name for name in bad if name in wanted]
        shipped = [name for name in shipped if os.path.basename(name) in wanted]

    n_failed = 0
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        jobs = [("tests/cli/" + name, pool.submit(run_folder, name, program, args.update)) for name in folders]
        jobs += [("tests/bad/" + name, pool.submit(run_bad, name, program)) for name in bad]
        jobs += [("models/" + name, pool.submit(run_model, name, program)) for name in shipped]
        for title, job in jobs:
            differences = job.result()
            if differences:
                n_failed += 1
                print("FAILED " + title)
                print("".join("    %s\n" % line for line in differences))
    print("%d passed, %d failed" % (len(jobs) - n_failed, n_failed))
    return 1 if n_failed or not jobs else 0


if __name__ == "__main__":
    sys.exit(main())
