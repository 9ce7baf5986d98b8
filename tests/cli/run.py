#!/usr/bin/python3
"""Runs the program as a user does.

tests/cli/NAME/   `cmd` is one shell line, run in that folder. FEEDTRACE is the program, SCRATCH an empty folder for what it
                  writes. `stdout`, `stderr` and `status` are what must come out; missing: nothing, nothing, 0.
tests/bad/*.yaml  models with something wrong: a line that earns a finding or an error ends in `# expect: code` or
                  `# expect: code, code`. `check --format json` must report these codes on these lines and nothing else.
                  A model without such a comment must be free of findings. Files in folders below are read by `extends` only.

usage: run.py [--program FILE] [--update] [NAME...]     NAME: of a folder of tests/cli or a file of tests/bad
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
BAD = os.path.join(os.path.dirname(HERE), "bad")
SECONDS = 120  # for one run; a program built with sanitizers is slow
EXPECT = re.compile(r"(?:^|\s)#\s*expect:\s*(.*?)\s*$")
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


def run_bad(name, program):
    """What differs in the findings of one model, as lines; empty: passed."""
    status, out, err = run([program, "check", "--format", "json", name], program, BAD, BAD)
    try:
        answer = json.loads(out.decode("utf-8"))
        findings = answer["findings"]
        found = {(os.path.normpath(one.get("file") or name), one["line"], one["code"]) for one in findings}
        placed = all(one["line"] and one["column"] for one in findings)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        return ["no JSON with findings, status %s: %r" % (status, error)] + lines(out)[:20] + lines(err)[:20]
    wanted = set()
    for file in {name} | {file for file, _, _ in found}:
        wanted |= {(file, line, code) for line, code in expectations(os.path.join(BAD, file))}
    differences = ["%s:%s: %s is wanted and not reported" % one for one in sorted(wanted - found, key=str)]
    differences += ["%s:%s: %s is reported and not wanted: %s" % (one + (message_of(findings, one),))
                    for one in sorted(found - wanted, key=str)]
    if not placed:
        differences.append("a finding has no line or no column")
    worst = max((["note", "warning", "error"].index(one["level"]) for one in findings), default=-1)
    if status not in ([0] if worst < 1 else [1] if worst == 1 else [1, 2]):
        differences += ["status %s" % status] + lines(err)[:20]
    return differences


def message_of(findings, key):
    return next(one.get("message") for one in findings if (one["line"], one["code"]) == key[1:])


def main():
    parser = argparse.ArgumentParser(description="Runs the end-to-end tests.")
    root = os.path.dirname(os.path.dirname(HERE))
    parser.add_argument("--program", default=os.environ.get("FEEDTRACE", os.path.join(root, "build/test/feedtrace")))
    parser.add_argument("--update", action="store_true", help="write down what comes out as what is wanted (read the diff)")
    parser.add_argument("names", nargs="*", metavar="NAME")
    args = parser.parse_args()
    program = os.path.abspath(args.program)
    if not os.access(program, os.X_OK):
        sys.exit("run.py: there is no program %s" % program)

    folders = sorted(name for name in os.listdir(HERE) if os.path.isdir(os.path.join(HERE, name)) and name[0] not in "._")
    bad = sorted(name for name in os.listdir(BAD) if name.endswith(".yaml")) if os.path.isdir(BAD) else []
    if args.names:
        wanted = {os.path.basename(name.rstrip("/")) for name in args.names}
        unknown = wanted - set(folders) - set(bad)
        if unknown:
            sys.exit("run.py: there is no test %s" % ", ".join(sorted(unknown)))
        folders = [name for name in folders if name in wanted]
        bad = [name for name in bad if name in wanted]

    n_failed = 0
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        jobs = [("tests/cli/" + name, pool.submit(run_folder, name, program, args.update)) for name in folders]
        jobs += [("tests/bad/" + name, pool.submit(run_bad, name, program)) for name in bad]
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
