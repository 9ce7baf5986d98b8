"""What stands where a model is expected or an output is to go: FIFO, folder, device, links; and signals in the middle of
writing."""
import os
import shutil
import signal
import subprocess
import tempfile

from common import SMALL, Tally, environment, run

OLD = b"the old file\n"


def refused(tally, name, found, word):
    status, out, err = found
    tally.check(status == 2 and not out and word in err and err.count(b"\n") <= 4, name, found)


def models(tally, program, folder):
    """Each ends at once, with what it is."""
    os.mkfifo(folder + "/fifo.yaml")
    refused(tally, "a FIFO as model", run([program, "check", folder + "/fifo.yaml"]), b"not a regular file")
    refused(tally, "a folder as model", run([program, "check", folder]), b"a folder")
    refused(tally, "a device as model", run([program, "check", "/dev/zero"]), b"not a regular file")
    refused(tally, "no such model", run([program, "check", folder + "/none.yaml"]), b"No such file")
    refused(tally, "a name that is no folder", run([program, "check", SMALL + "/x.yaml"]), b"Not a directory")
    refused(tally, "a name that is too long", run([program, "check", "x" * 5000 + ".yaml"]), b"too long")
    os.symlink("circle.yaml", folder + "/circle.yaml")
    refused(tally, "a link to itself", run([program, "check", folder + "/circle.yaml"]), b"cannot read")
    os.symlink(SMALL, folder + "/link.yaml")
    through, plain = run([program, "trace", folder + "/link.yaml"]), run([program, "trace", SMALL])
    tally.check(through == plain and plain[0] == 0, "a link to a model", through)
    open(folder + "/empty.yaml", "wb").close()
    refused(tally, "an empty file", run([program, "check", folder + "/empty.yaml"]), b"empty")
    with open(folder + "/sparse.yaml", "wb") as stream:
        stream.truncate(300 << 20)
    refused(tally, "a file over the limit", run([program, "check", folder + "/sparse.yaml"]), b"256 MB")
    with open(folder + "/zeros.yaml", "wb") as stream:
        stream.truncate(200 << 20)
    refused(tally, "NUL bytes", run([program, "check", folder + "/zeros.yaml"]), b"U+0000")
    os.remove(folder + "/sparse.yaml")
    os.remove(folder + "/zeros.yaml")
    with open(folder + "/deep.yaml", "w", encoding="ascii") as stream:
        stream.write("feedtrace: 1\nmodel: " + "[" * 1000000)
    refused(tally, "deep nesting", run([program, "check", folder + "/deep.yaml"]), b"32 levels")
    with open(folder + "/tags.yaml", "w", encoding="ascii") as stream:
        stream.write("%TAG !a! tag:a\n" * 200000 + "--- {}\n")
    refused(tally, "many directives", run([program, "check", folder + "/tags.yaml"]), b"directive")
    for i in range(40):
        with open("%s/chain%d.yaml" % (folder, i), "w", encoding="ascii") as stream:
            stream.write("feedtrace: 1\nmodel: chain%d\nextends: chain%d.yaml\n" % (i, i + 1))
    shutil.copy(SMALL, folder + "/chain40.yaml")
    refused(tally, "a long chain of files", run([program, "check", folder + "/chain0.yaml"]), b"extends")
    with open(folder + "/secret.yaml", "w", encoding="ascii") as stream:
        stream.write("password: hunter2hunter2\n")
    with open(folder + "/reads.yaml", "w", encoding="ascii") as stream:
        stream.write("feedtrace: 1\nmodel: reads\nextends: secret.yaml\n")
    found = run([program, "check", folder + "/reads.yaml"])
    tally.check(found[0] == 2 and b"hunter2hunter2" not in found[1] + found[2], "no excerpt of a file that is no model", found)
    faults = " + ".join("block H%d" % i for i in range(17))
    refused(tally, "too many faults", run([program, "whatif", SMALL, faults]), b"16")


def read(path):
    with open(path, "rb") as stream:
        return stream.read()


def outputs(tally, program, folder):
    model = folder + "/model.yaml"
    shutil.copy(SMALL, model)
    before = read(model)
    os.symlink("model.yaml", folder + "/to_model")
    os.link(model, folder + "/hard")
    for name in ("model.yaml", "./model.yaml", "to_model", "hard"):
        refused(tally, "output onto an input: " + name, run([program, "check", "model.yaml", "-o", name], folder), b"files that are read")
        tally.check(read(model) == before, "an input is left alone: " + name)
    os.symlink("target", folder + "/to_target")
    with open(folder + "/target", "wb") as stream:
        stream.write(OLD)
    os.chmod(folder + "/target", 0o640)
    status, _, err = run([program, "check", "model.yaml", "-o", "to_target"], folder)
    tally.check(status == 0 and os.path.islink(folder + "/to_target") and read(folder + "/target") not in (OLD, b""),
                "output through a link", (status, err))
    tally.check(os.stat(folder + "/target").st_mode & 0o777 == 0o640, "permissions stay")
    refused(tally, "output onto a folder", run([program, "check", model, "-o", folder]), b"a folder")
    refused(tally, "output into a folder that is not there", run([program, "check", model, "-o", folder + "/no/x"]), b"No such file")
    refused(tally, "output onto a full device", run([program, "check", model, "-o", "/dev/full"]), b"No space left")
    tally.check(run([program, "check", model, "-o", "/dev/null"])[0] == 0 and not os.path.isfile("/dev/null"), "output onto a device")
    os.symlink("loop", folder + "/loop")
    refused(tally, "output onto a link to itself", run([program, "check", model, "-o", folder + "/loop"]), b"cannot write")
    tally.check(not [name for name in os.listdir(folder) if name.endswith(".tmp")], "nothing is left behind")


def signals_as_usual():
    """A test run in the background, or that outlives its terminal, hands on that it ignores these."""
    for number in (signal.SIGINT, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def signals(tally, plain, folder):
    """Ended while the new file is written but not yet in its place."""
    target = folder + "/out.svg"
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL):
        with open(target, "wb") as stream:
            stream.write(OLD)
        name = signal.Signals(number).name
        done = subprocess.run(["strace", "-qq", "-o", "/dev/null", "-e", "trace=fsync", "-e", "inject=fsync:signal=%s:when=1" % name,
                               plain, "draw", SMALL, "-o", target], env=environment(), stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE, check=False, preexec_fn=signals_as_usual)
        left = sorted(os.listdir(folder))
        tally.check(done.returncode == -number and read(target) == OLD, name + " while writing keeps the old file", done)
        if number != signal.SIGKILL:
            tally.check(left == ["out.svg"], name + " while writing leaves nothing behind", left)
    status, _, err = run([plain, "draw", SMALL, "-o", target])
    tally.check(status == 0 and read(target).startswith(b"<?xml"), "a run after a kill", (status, err))


def test(program, plain, every):
    tally = Tally()
    for part, which in ((models, program), (outputs, program), (signals, plain)):
        with tempfile.TemporaryDirectory(prefix="hostile-") as folder:
            part(tally, which, folder)
    return tally
