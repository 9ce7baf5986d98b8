"""Each system call of a run made to fail in turn by strace: an output file is the old one or the new one, whole; nothing
else is left behind; a good status means a good output; the program says what went wrong in words."""
import os
import re
import shutil
import tempfile

from common import LARGEST, SMALL, Tally, run

CALLS = {  # call: errors. EINTR alone must be survived.
    "openat": ["EACCES", "EMFILE", "EIO", "EINTR"],
    "read": ["EIO", "EINTR"],
    "write": ["ENOSPC", "EIO", "EINTR"],
    "fsync": ["EIO", "ENOSPC", "EINVAL"],
    "rename": ["EACCES", "EIO", "ENOSPC"],
    "close": ["EIO"],
    "newfstatat": ["EIO", "EACCES"],
    "readlink": ["EACCES"],
    "pipe2": ["EMFILE"],
    "clone": ["EAGAIN"],
    "dup": ["EMFILE"],
    "fchmod": ["EIO"],
    "poll": ["EINTR"],
    "wait4": ["EINTR"],
}
COMMANDS = {
    "draw": ["draw", SMALL, "-o", "{file}"],
    "draw-png": ["draw", SMALL, "-o", "{file}.png"],
    "write": ["check", SMALL, "-o", "{file}"],
    "trace": ["trace", LARGEST],
    "sweep": ["sweep", SMALL, "--only", "lose", "-j", "2"],
}
# strace leaves out the call that it lets fail, so a pipe would stay open, and who reads it would wait for its time limit.
WITHOUT_CHILDREN = ("write", "trace")
MOST = 10  # calls of one kind in a short run
FOLLOW = ["-f", "--seccomp-bpf"]  # children as well, each counted by itself
OLD = b"the old file\n"


def count(program, words, folder, model):
    """{call: (first number that is the program's own, last number)} of the program's first process."""
    log = os.path.join(folder, "log")
    status, out, err = run(["strace", "-qq"] + FOLLOW + ["-e", "trace=" + ",".join(CALLS), "-o", log, program] + words, folder)
    numbers, first, main, opened = {}, {}, None, False
    with open(log, encoding="utf-8", errors="replace") as stream:
        for line in stream:
            match = re.match(r"(\d+) +(\w+)\(", line)
            if not match:
                continue
            main = main or match.group(1)
            if match.group(1) != main:
                continue
            call = match.group(2)
            numbers[call] = numbers.get(call, 0) + 1
            if not opened and call == "openat" and model in line:  # what came before is the loader of programs
                opened = True
                first = {name: n + 1 for name, n in numbers.items()}
                first["openat"] = numbers["openat"]
    return {call: (first.get(call, 1), n) for call, n in numbers.items()}, (status, out, err)


def judge(tally, name, found, healthy, file, folder, new, allowed):
    status, out, err = found
    with open(file, "rb") as stream:
        content = stream.read()
    names = sorted(os.listdir(folder))
    good = status is not None and 0 <= status <= 3
    good = good and content in (OLD, new) and names == sorted({"log", os.path.basename(file)})
    if good and status == healthy[0]:
        good = out == healthy[1] and content == new and err == healthy[2]
    elif good:  # where writing fails, nobody may be left to be told
        good = status in allowed and (b"error" in err or (not err and ": write " in name)) and err.count(b"\n") <= 6
    tally.check(good, name, "status %s, file %s, names %s, %s" % (
        status, "old" if content == OLD else "new" if content == new else "half", names, err[:300]))


def test(program, plain, every):
    tally = Tally()
    if not shutil.which("strace") or run(["strace", "-qq", "-o", "/dev/null", "true"])[0] != 0:
        print("strace is not there, or may not be used here: nothing was injected")
        tally.check(False, "strace can be used")
        return tally
    n_injected = 0
    for name, words in COMMANDS.items():
        with tempfile.TemporaryDirectory(prefix="hostile-") as folder:
            file = os.path.join(folder, "out.png" if "png" in name else "out.svg" if name == "draw" else "out")
            words = [file if word.startswith("{file}") else word for word in words]
            model = SMALL if SMALL in words else LARGEST
            calls, healthy = count(plain, words, folder, os.path.basename(model))
            new = OLD
            if os.path.exists(file):
                with open(file, "rb") as stream:
                    new = stream.read()
            tally.check(healthy[0] in (0, 1) and (file not in words or new != OLD), "calls %s runs" % name, healthy)
            for call, errors in CALLS.items():
                if call == "close" and name not in WITHOUT_CHILDREN:
                    continue
                first, last = calls.get(call, (1, 0))
                last = last if every else min(last, first + MOST - 1)
                for error in errors:
                    for number in range(first, last + 1):
                        with open(file, "wb") as stream:
                            stream.write(OLD)
                        for follow in (FOLLOW, []) if call == "write" else (FOLLOW,):
                            inject = "inject=%s:error=%s:when=%d" % (call, error, number)
                            found = run(["strace", "-qq", "-e", "trace=" + call, "-e", inject, "-o",
                                         os.path.join(folder, "log")] + follow + [plain] + words, folder)
                            judge(tally, "calls %s: %s number %d: %s" % (name, call, number, error), found, healthy, file,
                                  folder, new, (healthy[0],) if error == "EINTR" else (2, 3))
                            n_injected += 1
    print("%d calls made to fail" % n_injected)
    return tally
