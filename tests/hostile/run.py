#!/usr/bin/python3
"""Tries to make the program crash, hang, lie or leave half a file.

usage: run.py [--program FILE] [--plain FILE] [--every] [PART...]

PART is allocations, calls, inputs or text; all of them without one. --program is built with sanitizers, --plain without
(allocations and system calls are counted in it). --every leaves out no allocation and no call; it takes ten minutes.
The fuzz targets have a script of their own, scripts/fuzz."""
import argparse
import concurrent.futures
import os
import sys
import time

import allocations
import calls
import inputs
import text
from common import ROOT

PARTS = {"allocations": allocations.test, "calls": calls.test, "inputs": inputs.test, "text": text.test}


def main():
    parser = argparse.ArgumentParser(description="Tries to break the program.")
    parser.add_argument("--program", default=os.environ.get("FEEDTRACE", os.path.join(ROOT, "build/test/feedtrace")))
    parser.add_argument("--plain", default=os.path.join(ROOT, "build/clang/feedtrace"))
    parser.add_argument("--every", action="store_true")
    parser.add_argument("parts", nargs="*", metavar="PART")
    args = parser.parse_args()
    unknown = set(args.parts) - set(PARTS)
    if unknown:
        sys.exit("run.py: there is no part %s" % ", ".join(sorted(unknown)))
    program, plain = os.path.abspath(args.program), os.path.abspath(args.plain)
    start = time.monotonic()
    passed = failed = 0
    with concurrent.futures.ProcessPoolExecutor(2) as pool:
        jobs = [(name, pool.submit(PARTS[name], program, plain, args.every)) for name in args.parts or PARTS]
        for name, job in jobs:
            tally = job.result()
            passed += tally.passed
            failed += tally.failed
            print("%s: %d passed, %d failed, after %d s" % (name, tally.passed, tally.failed, time.monotonic() - start), flush=True)
    print("%d passed, %d failed" % (passed, failed))
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
