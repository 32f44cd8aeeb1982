"""Says what this machine lacks for setting the station up, before anything is installed.

`make` runs it with whatever Python is there (3.6 or later, no packages), so it keeps to old
syntax. All that is missing is named at once, each with the command that puts it right.

Prints the Python to use on standard output, everything else on standard error.
Exit: 0 all is there, 2 something is missing.

    python3 preflight.py                      check; print the Python to use
    python3 preflight.py --missing-packages   print the system packages that are missing, if any
"""

import os
import platform
import shutil
import subprocess
import sys

LOWEST = (3, 10)
BEYOND = (3, 13)
CANDIDATES = ("python3.12", "python3.11", "python3.10", "python3", "python")
FREE_BYTES_NEEDED = 4 * 1000**3  # .venv takes 1.8 GB, fetching and unpacking it as much again

# library: (Debian package, Fedora package, what for)
LIBRARIES = {
    "libGL.so.1": ("libgl1", "mesa-libGL", "OpenCV"),
    "libglib-2.0.so.0": ("libglib2.0-0", "glib2", "OpenCV"),
    "libgthread-2.0.so.0": ("libglib2.0-0", "glib2", "OpenCV"),
}
PORTAUDIO = ("libportaudio.so.2", "libportaudio2", "portaudio")


class Machine:
    """What can be asked of this machine; tests ask another one."""

    def version_of(self, command):
        """Return (major, minor) of a Python command, None if it does not run.

        A command may be on the path and still not run: version managers leave such stubs.
        """
        code = "import sys; print(sys.version_info[0], sys.version_info[1])"
        answer = self._ask(command, code)
        return None if answer is None else tuple(int(part) for part in answer.split())

    def path_of(self, command):
        """Return where the Python behind a command really is."""
        return self._ask(command, "import sys; print(sys.executable)") or command

    def has_modules(self, python, modules):
        """Return whether that Python can import all of `modules`."""
        return self._ask(python, "import " + ", ".join(modules) + "; print(1)") is not None

    def has_library(self, python, name):
        """Return whether that Python can load the shared library `name`."""
        return self._ask(python, "import ctypes; ctypes.CDLL(%r); print(1)" % name) is not None

    def free_bytes(self):
        """Return the free room on the disk of this folder."""
        return shutil.disk_usage(os.path.dirname(os.path.abspath(__file__))).free

    def system(self):
        """Return the system's and the processor's name, such as ("Linux", "x86_64")."""
        return platform.system(), platform.machine()

    def has_command(self, name):
        """Return whether a command is on the path."""
        return shutil.which(name) is not None

    def _ask(self, python, code):
        try:
            run = subprocess.run(
                [python, "-c", code],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                timeout=60,
            )
        except (OSError, subprocess.TimeoutExpired):
            return None
        return run.stdout.decode().strip() if run.returncode == 0 else None


class Report:
    """What was found: the Python to use, what is missing, what is only worth a word."""

    def __init__(self):
        """Start with nothing found."""
        self.python = None
        self.missing = []
        self.notices = []
        self.packages = []  # the system's packages that would mend it, no repeats


def install_command(machine, debian, fedora):
    """Return the command that installs a package on this system, and the package's name here."""
    if machine.has_command("apt-get"):
        return "sudo apt-get install " + debian, debian
    if machine.has_command("dnf"):
        return "sudo dnf install " + fedora, fedora
    return "install the package that holds it (Debian calls it %s)" % debian, debian


def choose_python(machine, wanted, report):
    """Find the first Python in range that works, or say which ones are not."""
    seen = []
    for command in (wanted,) if wanted else CANDIDATES:
        version = machine.version_of(command)
        if version is None:
            continue
        if LOWEST <= version < BEYOND:
            report.python = machine.path_of(command)
            return version
        seen.append("%s is %d.%d" % (command, *version))
    command, package = install_command(machine, "python3 python3-venv", "python3.12")
    found = "; here " + ", ".join(seen) if seen else ""
    if wanted and not seen:
        found = "; PYTHON=%s does not run" % wanted
    report.missing.append(
        "Python 3.10, 3.11 or 3.12%s. %s, or name one: make PYTHON=/path/to/python3.12"
        % (found, command)
    )
    if not seen:
        report.packages.extend(package.split())
    return None


def examine(machine, wanted=None):
    """Look at the machine and return the report; `wanted` is a Python that the user named."""
    report = Report()
    version = choose_python(machine, wanted, report)
    python = report.python or sys.executable

    def lacks(what, debian, fedora):
        command, package = install_command(machine, debian, fedora)
        if package not in report.packages:
            report.packages.append(package)
        return "%s. %s" % (what, command)

    if version and not machine.has_modules(python, ("venv", "ensurepip")):
        name = "python%d.%d" % version
        what = "Python's venv and ensurepip modules (%s)" % report.python
        report.missing.append(lacks(what, name + "-venv", name))

    system, processor = machine.system()
    if system == "Linux":
        for library, (debian, fedora, user) in LIBRARIES.items():
            if not machine.has_library(python, library):
                what = "the library %s, which %s needs" % (library, user)
                report.missing.append(lacks(what, debian, fedora))
        if processor not in ("x86_64", "AMD64"):
            report.missing.append(
                "a processor that the pose package is built for: x86_64, here %s" % processor
            )
        library, debian, fedora = PORTAUDIO
        if not machine.has_library(python, library):
            report.notices.append(
                lacks("no PortAudio: sound goes through the mixer, later", debian, fedora)
            )

    free = machine.free_bytes()
    if free < FREE_BYTES_NEEDED:
        report.missing.append(
            "room on the disk: %.1f GB free, %.0f GB needed. Free some, or move this folder"
            % (free / 1e9, FREE_BYTES_NEEDED / 1e9)
        )
    return report


def main(arguments, machine=None):
    """Run the check; return the exit code."""
    report = examine(machine or Machine(), os.environ.get("PYTHON"))
    if arguments == ["--missing-packages"]:
        for package in report.packages:
            print(package)
        return 0
    if arguments:
        sys.stderr.write("preflight.py: takes --missing-packages or nothing\n")
        return 2
    for notice in report.notices:
        sys.stderr.write("notice: %s\n" % notice)
    if report.missing:
        sys.stderr.write("Landing Station cannot be set up yet. Missing:\n")
        for line in report.missing:
            sys.stderr.write("  - %s\n" % line)
        return 2
    print(report.python)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
