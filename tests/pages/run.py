#!/usr/bin/python3
"""Installs a build into an empty folder and looks at the manual page and the completions that come with it: in the places
where man and the shells look, without complaints of two formatters and three shells, with every command and option that
`--help` names, and completing what is begun.

usage: run.py --build FOLDER"""
import argparse
import os
import pty
import re
import select
import shutil
import subprocess
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
SECONDS = 60  # for anything that should take one
PLACES = {"man": "share/man/man1/feedtrace.1", "bash": "share/bash-completion/completions/feedtrace",
          "zsh": "share/zsh/site-functions/_feedtrace", "fish": "share/fish/vendor_completions.d/feedtrace.fish"}
# (words, the last one unfinished; all that must be offered to them). The folder holds these files.
FILES = ["heron.yaml", "notes.txt"]
FOLDER = "out"
CASES = [
    (["sw"], {"sweep"}),
    (["sweep", "--pa"], {"--pairs"}),
    (["check", "--format", "s"], {"sarif"}),
    (["check", "-f", "ju"], {"junit"}),
    (["trace", "--format", "s"], set()),
    (["check", "--fail-on", "w"], {"warning"}),
    (["sweep", "--only", "block,st"], {"block,stick"}),
    (["check", "--write", "sar"], {"sarif="}),
    (["explain", "cannot-dri"], set()),
    (["explain", "cannot-dra"], {"cannot-drain", "cannot-draw"}),
    (["check", "he"], {"heron.yaml"}),
    (["check", "--baseline", "no"], {"notes.txt"}),
    (["record", "-o", ""], {FOLDER}),
    # A state may be called as a command is: the place tells, not the word.
    (["trace", "heron.yaml", "sweep", "--pa"], set()),
    (["sweep", "trace", "--pa"], {"--pairs"}),
]


def run(words, **more):
    return subprocess.run(words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=SECONDS,
                          check=False, encoding="utf-8", errors="backslashreplace", **more)


def quiet(words, **more):
    """What a command has to complain about."""
    done = run(words, **more)
    return done.stdout.splitlines() + (["%s: status %d" % (words[0], done.returncode)] if done.returncode else [])


def helped(program):
    """{command: ([words of its arguments], {option}, [lines of the example])} from the program's own help."""
    commands = re.findall(r"^  ([a-z]+) ", run([program, "--help"]).stdout.split("\nCommands:\n")[1].split("\n\n")[0], re.M)
    told = {}
    for command in commands:
        text = run([program, command, "--help"]).stdout
        options, example = text.split("\nOptions:\n")[1].split("\nExample:\n")
        names = re.findall(r"^  (?:(-\w), |    )(--[a-z-]+)", options, re.M)
        told[command] = (text.splitlines()[0].split()[3:-1], {one for both in names for one in both if one},
                         [line.strip() for line in example.splitlines()])
    return told


def check_whole_page(path, told):
    """The page as it is read has every command, option and example in the command's own section, and all that a page
    of this program must have."""
    with open(path, encoding="utf-8") as page:
        wrong = [] if page.read().isascii() else ["the page is not ASCII"]
    shown = run(["groff", "-man", "-Tascii", "-rLL=200n", "-P-cbou", path]).stdout
    sections = dict(re.findall(r"^([A-Z][A-Z ]+)\n(.*?)(?=^[A-Z]|\Z)", shown, re.M | re.S))
    wanted = ["NAME", "SYNOPSIS", "DESCRIPTION", "CAUTIONS", "COMMANDS", "OPTIONS", "FORMATS", "FAULTS", "EXIT STATUS"]
    wrong += ["there is no section " + name for name in wanted if name not in sections]
    if wrong:
        return wrong
    parts = dict(re.findall(r"^   ([a-z]+)\n(.*?)(?=^   [a-z]|\Z)", sections["COMMANDS"], re.M | re.S))
    if list(parts) != list(told):
        return ["commands: %s, not %s" % (list(parts), list(told))]
    for command, (usage, options, example) in told.items():
        words = parts[command].split()
        wrong += ["%s: no %s" % (command, word) for word in ["feedtrace", command] + usage if word not in words]
        # A letter stands beside its option in OPTIONS.
        found = set(re.findall(r"--[a-z-]+", parts[command].split("Options:")[1].split("Example:")[0]))
        wanted = {one for one in options if one.startswith("--")}
        if found != wanted:
            wrong.append("%s: options %s, not %s" % (command, sorted(found), sorted(wanted)))
        for option in options:
            if not re.search(r"^ +(-\w, )?%s\b" % re.escape(option), sections["OPTIONS"], re.M):
                wrong.append("OPTIONS: no %s" % option)
        if example != [line.strip() for line in parts[command].split("Example:")[1].splitlines() if line.strip()]:
            wrong.append("%s: another example" % command)
        if "feedtrace %s " % command not in sections["SYNOPSIS"]:
            wrong.append("SYNOPSIS: no %s" % command)
    for caution in ("goes through skin", "never drive a vehicle", "licensed technician's judgement"):
        if caution not in " ".join(sections["CAUTIONS"].split()):
            wrong.append("CAUTIONS: not that %s" % caution)
    statuses = re.findall(r"^ +(\d) ", sections["EXIT STATUS"], re.M)
    return wrong + ([] if statuses == list("0123") else ["EXIT STATUS: %s" % statuses])


def offered_by_bash(script, words, folder):
    """Readline parts words at `=` too, and wants what stands behind the last one."""
    parted = [part for word in words for part in (re.split("(=)", word) if "=" in word else [word])]
    if len(parted) > 1 and parted[-1] == "":
        parted = parted[:-1] if parted[-2] == "=" else parted
    return set(run(["bash", "--norc", os.path.join(HERE, "bash_replies"), script, "feedtrace"] + parted,
                   cwd=folder).stdout.splitlines())


def offered_by_fish(script, words, folder):
    done = run(["fish", "--no-config", "-c", "source $argv[1]; complete -C $argv[2]", script, " ".join(["feedtrace"] + words)],
               cwd=folder, env=dict(os.environ, HOME=os.path.dirname(script), LC_ALL="C.UTF-8"))
    # It also offers what only holds the letters somewhere.
    return {line.split("\t")[0].rstrip("/") for line in done.stdout.splitlines() if line.startswith(words[-1])}


def check_offers(offered, script, told, folder):
    """The cases of the table, and all commands and options."""
    cases = CASES + [([""], set(told) | {"--help", "--version"})]
    cases += [([command, "-"], options) for command, (_, options, _) in told.items()]
    wrong = []
    for words, wanted in cases:
        found = offered(script, words, folder)
        if words == [""]:  # no shell offers options where nothing is begun, but bash does
            found, wanted = {one for one in found if one[0] != "-"}, set(told)
        if found != wanted:
            wrong.append("feedtrace %s: %s, not %s" % (" ".join(words), sorted(found), sorted(wanted)))
    return wrong


class Terminal:
    """zsh completes only where somebody types."""

    def __init__(self, folder, home):
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.chdir(home)
            os.environ.update(TERM="dumb", HOME=home, ZDOTDIR=home, LC_ALL="C.UTF-8", FOLDER=folder)
            os.execvp("zsh", ["zsh", "-f", "-i"])
        self.type("fpath=($FOLDER $fpath); autoload -Uz compinit; compinit -u -D; PS1=; PS2=; unsetopt prompt_cr prompt_sp; "
                  "LISTMAX=0; zstyle ':completion:*' list-packed no; echo rea''dy\n")
        self.until("ready\r\n")

    def type(self, keys):
        os.write(self.fd, keys.encode())

    def until(self, mark):
        """Everything that is shown up to the mark."""
        shown, end = "", time.monotonic() + SECONDS
        while mark not in shown:
            if not select.select([self.fd], [], [], max(0, end - time.monotonic()))[0]:
                raise TimeoutError("zsh shows no %r: %r" % (mark, shown))
            shown += os.read(self.fd, 65536).decode("utf-8", "replace")
        return shown

    def completed(self, line):
        """The line after the tabulator; control-A and a word before it make it a command that tells what it became."""
        self.type(line + "\t\x01printf '<%s>' \x05; echo end''ed\n")
        shown = self.until("ended\r\n")
        return re.findall("<(.*?)>", shown.split("\n")[-2])

    def close(self):
        os.close(self.fd)
        os.waitpid(self.pid, 0)


def check_zsh(path, told, folder):
    wrong = []
    terminal = Terminal(os.path.dirname(path), folder)
    try:
        for words, wanted in CASES:
            begun = os.path.commonprefix(sorted(wanted)) or words[-1]
            found = terminal.completed(" ".join(["feedtrace"] + words))[1:]
            # A list goes on behind a comma, a folder behind a slash.
            if [one.rstrip(",/") for one in found] != words[:-1] + [begun]:
                wrong.append("feedtrace %s: %s, not %s" % (" ".join(words), found, words[:-1] + [begun]))
        for command, (_, options, _) in told.items():
            for option in sorted(one for one in options if one.startswith("--")):
                # But for its last letter; an option that takes a word may end in `=`.
                found = terminal.completed("feedtrace %s %s" % (command, option[:-1]))[1:]
                longer = [one for one in options if one.startswith(option[:-1]) and one != option]
                if not longer and [one.rstrip("=") for one in found] != [command, option]:
                    wrong.append("feedtrace %s %s: %s" % (command, option[:-1], found))
    finally:
        terminal.close()
    return wrong


def main():
    parser = argparse.ArgumentParser(description="Looks at the manual page and the completions that a build installs.")
    parser.add_argument("--build", required=True)
    build = parser.parse_args().build
    prefix, folder = tempfile.mkdtemp(prefix="pages-"), tempfile.mkdtemp(prefix="pages-")
    os.mkdir(os.path.join(folder, FOLDER))
    for name in FILES:
        open(os.path.join(folder, name), "w", encoding="utf-8").close()
    try:
        complaints = quiet(["cmake", "--install", build, "--prefix", prefix])
        complaints = [] if os.path.exists(os.path.join(prefix, "bin/feedtrace")) else complaints
        at = {name: os.path.join(prefix, place) for name, place in PLACES.items()}
        complaints += ["%s is not installed" % place for name, place in PLACES.items() if not os.path.isfile(at[name])]
        results = [("installed", complaints)]
        if not complaints:
            told = helped(os.path.join(prefix, "bin/feedtrace"))
            results += [
                ("page to mandoc", quiet(["mandoc", "-T", "lint", at["man"]])),
                ("page to groff", quiet(["groff", "-man", "-ww", "-z", "-Tutf8", at["man"]])),
                ("page is whole", check_whole_page(at["man"], told)),
                ("bash reads", quiet(["bash", "-n", at["bash"]])),
                ("bash completes", check_offers(offered_by_bash, at["bash"], told, folder)),
                ("fish reads", quiet(["fish", "--no-execute", at["fish"]])),
                ("fish completes", check_offers(offered_by_fish, at["fish"], told, folder)),
                ("zsh reads", quiet(["zsh", "-n", at["zsh"]])),
                ("zsh completes", check_zsh(at["zsh"], told, folder)),
            ]
    finally:
        shutil.rmtree(prefix, ignore_errors=True)
        shutil.rmtree(folder, ignore_errors=True)
    for title, wrong in results:
        if wrong:
            print("FAILED %s\n%s" % (title, "".join("    %s\n" % line for line in wrong)))
    n_failed = sum(bool(wrong) for _, wrong in results)
    print("%d passed, %d failed" % (len(results) - n_failed, n_failed))
    return 1 if n_failed else 0


if __name__ == "__main__":
    sys.exit(main())
