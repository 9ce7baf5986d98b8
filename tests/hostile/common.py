"""What the parts share: running the program, and counting what holds."""
import os
import subprocess

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
LARGEST = os.path.join(ROOT, "models", "heron-4.yaml")
SMALL = os.path.join(ROOT, "models", "tern-l2.yaml")
SECONDS = 120


def environment(**more):
    env = {key: value for key, value in os.environ.items() if key in ("PATH", "HOME", "ASAN_OPTIONS", "UBSAN_OPTIONS")}
    env.setdefault("ASAN_OPTIONS", "exitcode=86")
    env.setdefault("UBSAN_OPTIONS", "exitcode=86:print_stacktrace=1")
    env.update(LC_ALL="C.UTF-8", TERM="dumb", TZ="UTC", **more)
    return env


def run(words, folder=None, **more):
    """(status, stdout, stderr); a signal is a negative status, a hang is None."""
    try:
        done = subprocess.run(words, cwd=folder, env=environment(**more), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, timeout=SECONDS, check=False)
    except subprocess.TimeoutExpired:
        return None, b"", b"still running after %d seconds" % SECONDS
    return done.returncode, done.stdout, done.stderr


class Tally:
    """Counts checks; those that fail are told at once, the first few of a name in full."""

    def __init__(self):
        self.passed = self.failed = 0
        self.told = {}

    def check(self, holds, name, detail=""):
        if holds:
            self.passed += 1
            return
        self.failed += 1
        self.told[name] = self.told.get(name, 0) + 1
        if self.told[name] <= 5:
            print("FAILED %s%s" % (name, ": " + str(detail) if detail else ""))
