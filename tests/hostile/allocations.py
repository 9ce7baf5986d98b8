"""Each allocation of a run made to fail in turn, once alone and once with all that follow: the program ends with status
3 and one line, or does all that it was asked for; never a crash, a hang, half a file, or a good status without the output.
The runs are forked by alloc_fail.c."""
import os
import subprocess
import tempfile

from common import HERE, LARGEST, Tally, environment

COMMANDS = {  # name: arguments, and how many failing allocations a short run tries
    "check": (["check", LARGEST], 250),
    "trace": (["trace", LARGEST], 250),
    "trace-json": (["trace", "--format", "json", LARGEST], 250),
    "draw": (["draw", LARGEST, "-o", "{file}"], 250),
    "whatif": (["whatif", LARGEST, "lose B2"], 80),
    "route": (["route", LARGEST, "line", "fwd_clutch"], 80),
    "curve": (["curve", LARGEST, "--in", "drive_2", "--vary", "leak H130 0.9 to 1.2 mm", "--points", "2", "-o", "{file}"], 80),
    "limits": (["limits", LARGEST, "--in", "drive_2", "--element", "H130"], 60),
    "sweep": (["sweep", LARGEST, "--only", "lose", "-j", "2"], 80),
}


def build(folder):
    library = os.path.join(folder, "alloc_fail.so")
    subprocess.run(["gcc", "-std=c17", "-Wall", "-Wextra", "-Werror", "-O2", "-fPIC", "-shared",
                    os.path.join(HERE, "alloc_fail.c"), "-o", library], check=True)
    return library


def rows(library, program, words, file, first, last, step, lasting):
    env = environment(LD_PRELOAD=library, ALLOC_FIRST=str(first), ALLOC_LAST=str(last), ALLOC_STEP=str(step),
                      ALLOC_LASTING="1" if lasting else "0", ALLOC_FILE=file)
    done = subprocess.run([program] + words, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, check=False)
    made = [line.split("\t") for line in done.stdout.decode("utf-8", "replace").splitlines()]
    if done.returncode or any(len(row) != 7 for row in made):
        raise RuntimeError("the runs of %s broke down: %s %s" % (words, done.returncode, done.stderr))
    return made


def one_line(text):
    return text.startswith("feedtrace: error") and text.count("\\n") == 1 and text.endswith("\\n")


def messages(text):
    """A line of words, perhaps with its help line."""
    return "error" in text and text.endswith("\\n") and text.count("\\n") <= 4


def judge(tally, name, row, healthy):
    number, _, how, out, file, left, err = row
    if how == "exit 3":
        holds = (one_line(err) or messages(err)) and file == "none" and left == "0"
    else:
        holds = how == healthy[2] and (out, file, left, err) == (healthy[3], healthy[4], healthy[5], healthy[6])
    tally.check(holds, "allocations %s" % name, "number %s: %s, file %s, %s names left, %s" % (number, how, file, left, err[:300]))


def test(program, plain, every):
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="hostile-") as folder:
        library = build(folder)
        for name, (words, wanted) in COMMANDS.items():
            os.mkdir(os.path.join(folder, name))
            file = os.path.join(folder, name, "out.svg")
            words = [file if word == "{file}" else word for word in words]
            healthy = rows(library, plain, words, file, 0, 0, 1, False)[0]
            if healthy[2] not in ("exit 0", "exit 1") or ("{file}" in COMMANDS[name][0] and healthy[4] == "none"):
                tally.check(False, "allocations %s" % name, "it does not run: %s" % healthy)
                continue
            last = int(healthy[1])
            step = 1 if every else max(1, last // wanted)
            tried = 0
            for lasting in (False, True):
                for row in rows(library, plain, words, file, 1 + (step // 2 if lasting else 0), last, step, lasting):
                    judge(tally, name, row, healthy)
                    tried += 1
            print("%s: %d of %d allocations failed, one in %d, alone and with all after them" % (name, tried, last, step))
    return tally
