"""Set-up: makes .venv beside this checkout, installs what is pinned, and hands the command over to it.

Runs as `python3 lib COMMAND ...` on a machine with Python and nothing else. Standard library alone, and old
syntax, so that an old Python prints a refusal instead of a syntax error. Knows nothing of jobs.
"""
from __future__ import print_function

import hashlib
import io
import os
import re
import subprocess
import sys
import threading
import time

OLDEST = (3, 11)
ROOM_MB = 1500  # measured: about 900 MB with the test packages, and what is fetched on the way

LIB = os.path.dirname(os.path.abspath(__file__))
TOP = os.path.dirname(LIB)


NO_VENV = (
    "This Python comes without the part that makes its own folder of packages; install it (Debian and "
    "Ubuntu: sudo apt install python3-venv) and start the same command again."
)


WHEELS = "STAGEFLOOR_WHEELS"  # in the environment: a folder of wheels to install from, without a network

LAUNCHERS = {"win32": "Stagefloor.bat", "darwin": "Stagefloor.command", "linux": "Stagefloor.desktop"}


class SetUpProblem(Exception):
    """One sentence for the user: what is wrong, where, what to do."""


def venv_python(venv, platform):
    """The path of the Python inside a venv; `platform` as in sys.platform."""
    if platform == "win32":
        return venv + "\\Scripts\\python.exe"
    return venv + "/bin/python"


def site_packages(venv, platform, version):
    """The folder into which a venv's packages go; `version` as in sys.version_info."""
    if platform == "win32":
        return venv + "\\Lib\\site-packages"
    return "%s/lib/python%d.%d/site-packages" % (venv, version[0], version[1])


def stamp_text(requirements, version):
    """What the stamp of a finished set-up says: the Python it was made for and a digest of what is pinned."""
    with open(requirements, "rb") as pinned:
        digest = hashlib.sha256(pinned.read()).hexdigest()
    return "python %d.%d, %s %s\n" % (version[0], version[1], os.path.basename(requirements), digest)


def is_ready(venv, stamp, wanted):
    """Whether a set-up was finished for exactly this: its stamp is written last, after everything else."""
    try:
        with io.open(os.path.join(venv, stamp), encoding="utf-8") as written:
            return written.read() == wanted and os.path.exists(venv_python(venv, sys.platform))
    except (IOError, OSError, UnicodeDecodeError):
        return False


def refusal(version):
    """The sentence for a Python that is too old, or an empty text."""
    if tuple(version[:2]) >= OLDEST:
        return ""
    return (
        "This workbook needs Python %d.%d or newer and was started with Python %d.%d; install a newer one "
        "and start the same command with it, for example: python3.12 lib open" % (OLDEST + tuple(version[:2]))
    )


def missing_part(platform):
    """The sentence for a Python that can't make a venv, or an empty text."""
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError:
        if platform.startswith("linux"):
            return NO_VENV
        return (
            "This Python comes without the modules venv and ensurepip; install the complete Python from "
            "python.org and start the same command again."
        )
    return ""


def install_trouble(output, log):
    """The sentence that fits what the installer said when it failed; `log` is where all of it was written."""
    if "No space left" in output or "Errno 28" in output or "WinError 112" in output:
        return no_room(TOP)
    if "DO NOT MATCH THE HASHES" in output:
        return (
            "A fetched package is not the one that requirements.txt lists, so nothing more was installed; "
            "start the same command again, and if it stays so, ask whoever looks after your package index."
        )
    offline = (
        "NewConnectionError", "NameResolutionError", "ConnectTimeout", "ReadTimeout", "ProxyError",
        "SSLError", "Temporary failure in name resolution", "Connection refused", "Connection broken",
        "getaddrinfo failed", "Network is unreachable", "Max retries exceeded",
    )  # fmt: skip
    if any(word in output for word in offline):
        return (
            "The package index can't be reached from here; connect this machine to the internet (or set "
            "pip's proxy) and start the same command again, what was fetched already is kept."
        )
    if "Permission denied" in output or "Errno 13" in output or "WinError 5" in output:
        return not_writable(TOP)
    missing = "No matching distribution" in output or "Could not find a version" in output
    if missing and os.environ.get(WHEELS):
        return (
            "The folder %s lacks a package for this computer and this Python (last lines in %s); fill it on a "
            "computer of the same kind with a network: python3 lib wheels FOLDER" % (os.environ[WHEELS], log)
        )
    if missing:
        return (
            "The package index that pip uses here lacks a pinned package (last lines in %s); check pip's "
            "index settings, or start the same command with another Python from %d.%d on." % ((log,) + OLDEST)
        )
    return "The set-up stopped while installing; the reason is in the last lines of %s. Start it again." % log


def no_room(folder):
    """The sentence for a full disk."""
    return (
        "The disk that holds %s is too full for the set-up, which needs about %d MB; make room and start the "
        "same command again." % (folder, ROOM_MB)
    )


def not_writable(folder):
    """The sentence for a folder in which the user may not write."""
    return (
        "The set-up can't write in %s; copy the workbook to a folder of your own (or close the programs that "
        "use it) and start the same command from there." % folder
    )


class Progress(object):
    """Prints how far the installer is: packages fetched or unpacked, of all, and the time gone."""

    def __init__(self, total, packages, out):
        self.total, self.packages, self.out = total, packages, out
        self.fetched, self.unpacking = 0, False
        self.started = self.told = time.time()
        self.before = self.count()
        self.last = ""

    def count(self):
        """How many packages stand in the folder of packages now."""
        try:
            return len([name for name in os.listdir(self.packages) if name.endswith(".dist-info")])
        except OSError:
            return 0

    def hear(self, line):
        """Take note of one line of the installer."""
        if line.startswith("Collecting ") or line.startswith("Requirement already satisfied"):
            self.fetched += 1
        elif line.startswith("Ignoring "):
            self.total -= 1
        elif line.startswith("Installing collected packages"):
            self.unpacking = True

    def line(self):
        """The progress in words."""
        gone = int(time.time() - self.started)
        if self.unpacking:
            text = "unpacked %d" % max(0, self.count() - self.before)
        else:
            text = "fetched %d" % min(self.fetched, self.total)
        return "Setting up: %s of %d packages, %d:%02d" % (text, self.total, gone // 60, gone % 60)

    def tell(self, last=False):
        """Print the line: in place on a terminal, every ten seconds elsewhere."""
        if self.out.isatty():
            line = self.line()
            self.out.write("\r" + line.ljust(len(self.last)) + ("\n" if last else ""))
            self.last = line
        elif last or time.time() - self.told >= 10:
            self.told = time.time()
            self.out.write(self.line() + "\n")
        self.out.flush()


class Lock(object):
    """Only one set-up at a time in this folder; the system frees it when its owner ends, however it ends."""

    def __init__(self, path):
        self.path = path
        self.file = None

    def __enter__(self):
        self.file = open(self.path, "a+")
        told = False
        while not self._try():
            if not told:
                print("Another set-up is at work in this folder; waiting for it.")
                sys.stdout.flush()
                told = True
            time.sleep(0.5)
        return self

    def _try(self):
        try:
            if sys.platform == "win32":
                import msvcrt

                self.file.seek(0)
                msvcrt.locking(self.file.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(self.file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except (IOError, OSError):
            return False

    def __exit__(self, *_exception):
        self.file.close()


def make_venv(venv, log):
    """A fresh venv; whatever a set-up that was cut short left behind is cleared away first."""
    import shutil

    if shutil.disk_usage(os.path.dirname(venv)).free < ROOM_MB * 1000000:
        raise SetUpProblem(no_room(os.path.dirname(venv)))
    print("Setting up the workbook in %s; this happens once and takes a few minutes." % venv)
    sys.stdout.flush()
    made = subprocess.Popen(
        [sys.executable, "-m", "venv", "--clear", venv], stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    output = made.communicate()[0].decode("utf-8", "replace")
    if made.returncode != 0:
        with io.open(log, "w", encoding="utf-8") as kept:
            kept.write(output)
        if "ensurepip is not available" in output:
            raise SetUpProblem(NO_VENV)
        raise SetUpProblem(install_trouble(output, log))


def install(venv, requirements, log):
    """Install the pinned packages into the venv, telling how far it is. Raises SetUpProblem if that fails."""
    with io.open(requirements, encoding="utf-8") as pinned:
        total = len(re.findall(r"(?m)^[A-Za-z0-9].*==", pinned.read()))
    packages = site_packages(venv, sys.platform, sys.version_info)
    progress = Progress(total, packages, sys.stdout)
    command = [
        venv_python(venv, sys.platform), "-m", "pip", "install", "--require-hashes", "-r", requirements,
        "--no-input", "--disable-pip-version-check", "--progress-bar", "off", "--retries", "3",
        "--no-warn-script-location",
    ]  # fmt: skip
    if os.environ.get(WHEELS):
        command += ["--no-index", "--find-links", os.environ[WHEELS]]
    installer = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=clean_environment(os.environ)
    )
    heard = []
    finished = threading.Event()

    def keep_telling():
        while not finished.wait(1):
            progress.tell()

    teller = threading.Thread(target=keep_telling)
    teller.daemon = True
    teller.start()
    try:
        with io.open(log, "w", encoding="utf-8") as kept:
            for raw in installer.stdout:
                line = raw.decode("utf-8", "replace")
                heard.append(line)
                kept.write(line)
                progress.hear(line)
        installer.wait()
    finally:
        finished.set()
        teller.join()
        if installer.poll() is None:
            installer.terminate()
    progress.tell(last=True)
    if installer.returncode != 0:
        raise SetUpProblem(install_trouble("".join(heard), log))


def clean_environment(environment):
    """The environment without what another Python's settings would bring into ours."""
    kept = dict(environment)
    for name in ("PYTHONPATH", "PYTHONHOME", "PYTHONSTARTUP", "VIRTUAL_ENV", "__PYVENV_LAUNCHER__"):
        kept.pop(name, None)
    kept["PYTHONNOUSERSITE"] = "1"
    return kept


def set_up(with_tests):
    """Bring .venv to what is pinned; returns its Python. Reads two small files if all is there already."""
    venv = os.path.join(TOP, ".venv")
    parts = [("stamp", os.path.join(TOP, "requirements.txt"))]
    if with_tests:
        parts.append(("stamp-tests", os.path.join(TOP, "tests", "requirements.txt")))
    wanted = [(stamp, pinned, stamp_text(pinned, sys.version_info)) for stamp, pinned in parts]
    python = venv_python(venv, sys.platform)
    if all(is_ready(venv, stamp, text) for stamp, _pinned, text in wanted):
        return python
    if os.path.realpath(sys.prefix) == os.path.realpath(venv):
        raise SetUpProblem(
            "The workbook's packages have changed and can't be renewed by the Python that uses them; start "
            "the same command with the Python of your system (deactivate, then python3 lib ...)."
        )
    lacking = missing_part(sys.platform)
    if lacking:
        raise SetUpProblem(lacking)
    log = os.path.join(TOP, ".venv-set-up.log")
    try:
        with Lock(os.path.join(TOP, ".venv-set-up.lock")):
            for stamp, pinned, text in wanted:
                if is_ready(venv, stamp, text):
                    continue
                if stamp == "stamp":
                    make_venv(venv, log)
                install(venv, pinned, log)
                with io.open(os.path.join(venv, stamp + ".new"), "w", encoding="utf-8") as written:
                    written.write(text)
                os.replace(os.path.join(venv, stamp + ".new"), os.path.join(venv, stamp))
            write_launcher(TOP, sys.platform, sys.executable)
    except (IOError, OSError) as trouble:
        if getattr(trouble, "errno", None) == 28:
            raise SetUpProblem(no_room(TOP))
        raise SetUpProblem(not_writable(TOP))
    return python


def launcher(platform, top, python):
    """Name and text of the file that starts the workbook by a double click; `platform` as in sys.platform."""
    name = LAUNCHERS.get(platform, LAUNCHERS["linux"])
    if platform == "win32":
        # %~dp0 is the folder of the file itself, so that the workbook may be moved
        text = '@echo off\ncd /d "%%~dp0"\n"%s" lib start\nif errorlevel 1 pause\n' % python.replace("%", "%%")
        return name, text.replace("\n", "\r\n")
    if platform == "darwin":
        return name, '#!/bin/sh\ncd "$(dirname "$0")" || exit 1\nexec %s lib start\n' % shell_word(python)

    def word(text):
        # by the desktop entry specification: quoted with escapes, and these escaped once more as part of a value
        for sign in ("\\", '"', "`", "$"):
            text = text.replace(sign, "\\" + sign)
        return '"%s"' % text.replace("%", "%%").replace("\\", "\\\\")

    return name, (
        "[Desktop Entry]\nType=Application\nName=Stagefloor\nComment=Floor boxes, from the site visit to closeout\n"
        "Terminal=true\nExec=%s %s start\n" % (word(python), word(os.path.join(top, "lib")))
    )


def shell_word(text):
    """A text as one word of a shell."""
    return "'" + text.replace("'", "'\\''") + "'"


def write_launcher(top, platform, python):
    """Write the launcher, if it is not there as it should be; a folder that can't be written goes without one."""
    name, text = launcher(platform, top, python)
    path = os.path.join(top, name)
    try:
        if os.path.exists(path):
            with io.open(path, encoding="utf-8", newline="") as written:
                if written.read() == text:
                    return
        with io.open(path, "w", encoding="utf-8", newline="") as writing:
            writing.write(text)
        os.chmod(path, 0o755)
        print("To start it by a double click from now on: %s" % path)
        sys.stdout.flush()
    except (IOError, OSError, UnicodeError):
        return


def fetch_wheels(python, folder):
    """Fill a folder with the pinned packages for this kind of computer; returns the exit status."""
    command = [
        python, "-m", "pip", "download", "--require-hashes", "-r", os.path.join(TOP, "requirements.txt"),
        "--only-binary", ":all:", "-d", folder, "--no-input", "--disable-pip-version-check",
    ]  # fmt: skip
    status = subprocess.call(command, env=clean_environment(os.environ))
    if status == 0:
        print("The packages are in %s. On a computer of the same kind, without a network:" % folder)
        print("python3 lib --wheels FOLDER start")
    return status


def hand_over(python, arguments):
    """Run the command with the venv's Python in our place; returns its exit status where there is no exec."""
    environment = clean_environment(os.environ)
    # A variable, not a .pth file: it still holds after the folder was moved, and kernels inherit it.
    environment.update(PYTHONPATH=LIB, PYTHONUTF8="1")
    command = [python, "-m", "stagefloor"] + arguments
    if sys.platform != "win32":
        sys.stdout.flush()
        os.execve(python, command, environment)
    running = subprocess.Popen(command, env=environment)
    while True:
        try:
            return running.wait()
        except KeyboardInterrupt:  # the command heard it too, and ends in its own time
            continue


def main(arguments):
    """Set up, hand over; returns the exit status. 2 with one sentence for what the user can mend."""
    sentence = refusal(sys.version_info)
    if arguments[:1] == ["--wheels"]:
        if len(arguments) < 3 or not os.path.isdir(arguments[1]):
            sys.stderr.write("Name the folder of wheels and a command: python3 lib --wheels FOLDER start\n")
            return 2
        os.environ[WHEELS] = os.path.abspath(arguments[1])
        arguments = arguments[2:]
    if not sentence:
        try:
            if arguments[:1] == ["wheels"]:
                if len(arguments) != 2:
                    raise SetUpProblem("Name one folder for the wheels: python3 lib wheels FOLDER")
                return fetch_wheels(set_up(with_tests=False), arguments[1])
            return hand_over(set_up(with_tests=arguments[:1] == ["test"]), arguments)
        except SetUpProblem as problem:
            sentence = str(problem)
        except KeyboardInterrupt:
            sentence = "\nThe set-up was stopped; the same command starts it anew."
    sys.stderr.write(sentence + "\n")
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
