"""The set-up: paths on each system, the stamp, and one sentence for each thing that can go wrong."""

import ast
import errno
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import types
from collections import namedtuple
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
SCRIPT = TOP / "lib" / "__main__.py"
Usage = namedtuple("Usage", "total used free")


@pytest.fixture
def script(tmp_path: Path) -> types.ModuleType:
    """A copy of the script in a checkout of its own, with one tiny pinned requirement."""
    (tmp_path / "lib" / "stagefloor").mkdir(parents=True)
    (tmp_path / "tests").mkdir()
    shutil.copy(SCRIPT, tmp_path / "lib" / "__main__.py")
    pinned = f"no-such-package==1.0 \\\n    --hash=sha256:{'0' * 64}\n"
    (tmp_path / "requirements.txt").write_text(pinned)
    (tmp_path / "tests" / "requirements.txt").write_text(pinned)
    spec = importlib.util.spec_from_file_location("set_up_script", tmp_path / "lib" / "__main__.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def finished(script: types.ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Replace the two slow acts by ones that note that they were called and make what the real ones make."""
    acts: list[str] = []

    def make(venv: str, log: str) -> None:
        acts.append("make")
        shutil.rmtree(venv, ignore_errors=True)
        python = Path(script.venv_python(venv, sys.platform))
        python.parent.mkdir(parents=True)
        python.touch()

    monkeypatch.setattr(script, "make_venv", make)
    monkeypatch.setattr(script, "install", lambda venv, pinned, log: acts.append(Path(pinned).parent.name))
    return acts


# Paths. Source: the venv module's documentation ("bin", or "Scripts" on Windows; "Lib\site-packages" there).


@pytest.mark.parametrize(
    ("platform", "python", "packages"),
    [
        ("linux", "/job/.venv/bin/python", "/job/.venv/lib/python3.12/site-packages"),
        ("darwin", "/job/.venv/bin/python", "/job/.venv/lib/python3.12/site-packages"),
        ("win32", "/job/.venv\\Scripts\\python.exe", "/job/.venv\\Lib\\site-packages"),
    ],
)
def test_paths_on_each_system(script: types.ModuleType, platform: str, python: str, packages: str) -> None:
    assert script.venv_python("/job/.venv", platform) == python
    assert script.site_packages("/job/.venv", platform, (3, 12, 1)) == packages


def test_path_of_packages_is_where_this_python_has_them(script: types.ModuleType) -> None:
    import sysconfig

    assert script.site_packages(sys.prefix, sys.platform, sys.version_info) == sysconfig.get_path("purelib")


def test_hand_over_on_windows_starts_a_process_and_keeps_its_status(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: dict[str, object] = {}

    class Running:
        waits = iter([KeyboardInterrupt(), 7])

        def __init__(self, command: list[str], env: dict[str, str]) -> None:
            started.update(command=command, env=env)

        def wait(self) -> int:
            answer = next(self.waits)
            if isinstance(answer, BaseException):
                raise answer
            return answer

    monkeypatch.setattr(script.sys, "platform", "win32")
    monkeypatch.setattr(script.subprocess, "Popen", Running)
    monkeypatch.setenv("PYTHONHOME", "elsewhere")
    assert script.hand_over("C:\\job\\.venv\\Scripts\\python.exe", ["open", "a job"]) == 7
    assert started["command"] == ["C:\\job\\.venv\\Scripts\\python.exe", "-m", "stagefloor", "open", "a job"]
    environment = started["env"]
    assert isinstance(environment, dict)
    assert environment["PYTHONPATH"] == script.LIB
    assert "PYTHONHOME" not in environment


# An old Python.


def test_old_pythons_can_read_the_script() -> None:
    """Nothing newer than Python 2.7 and 3.5 in the syntax, so that both reach the refusal."""
    text = SCRIPT.read_text(encoding="ascii")
    tree = ast.parse(text, feature_version=(3, 5))
    new_kinds = (
        ast.JoinedStr, ast.AnnAssign, ast.NamedExpr, ast.AsyncFunctionDef, ast.Nonlocal, ast.YieldFrom,
        ast.Starred, ast.MatMult,
    )  # fmt: skip
    for node in ast.walk(tree):
        assert not isinstance(node, new_kinds), ast.dump(node)
        if isinstance(node, ast.FunctionDef):
            parts = node.args
            assert node.returns is None
            assert not parts.kwonlyargs
            assert not parts.posonlyargs
            assert not [part for part in parts.args if part.annotation], node.name
        if isinstance(node, ast.Raise):
            assert node.cause is None
        if isinstance(node, ast.ClassDef):
            assert not node.keywords
    imported = {name.name.split(".")[0] for node in ast.walk(tree) if isinstance(node, ast.Import)
                for name in node.names}  # fmt: skip
    in_old_ones = {"hashlib", "io", "os", "re", "subprocess", "sys", "threading", "time"}
    at_the_top = {name.name for node in tree.body if isinstance(node, ast.Import) for name in node.names}
    assert at_the_top <= in_old_ones
    assert imported <= set(sys.stdlib_module_names)


def test_an_old_python_is_refused_in_one_sentence(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(script.sys, "version_info", (3, 5, 2))
    assert script.main(["open"]) == 2
    said = capsys.readouterr().err
    assert "needs Python 3.11 or newer and was started with Python 3.5" in said
    assert said.count("\n") == 1
    assert script.refusal((2, 7, 18))
    assert script.refusal((3, 10, 9))
    assert not script.refusal((3, 11, 0))
    assert not script.refusal((4, 0, 0))


# The stamp.


def test_a_finished_set_up_is_not_done_again(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    acts = finished(script, monkeypatch)
    python = script.set_up(with_tests=False)
    assert acts == ["make", Path(script.TOP).name]
    assert script.set_up(with_tests=False) == python
    assert len(acts) == 2


def test_a_half_finished_set_up_is_done_again(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    acts = finished(script, monkeypatch)
    fine = script.install

    def cut_short(venv: str, pinned: str, log: str) -> None:
        (Path(venv) / "half").touch()
        raise KeyboardInterrupt

    monkeypatch.setattr(script, "install", cut_short)
    with pytest.raises(KeyboardInterrupt):
        script.set_up(with_tests=False)
    assert not (Path(script.TOP) / ".venv" / "stamp").exists()
    monkeypatch.setattr(script, "install", fine)
    script.set_up(with_tests=False)
    assert acts == ["make", "make", Path(script.TOP).name]
    assert not (Path(script.TOP) / ".venv" / "half").exists()


def test_changed_requirements_and_another_python_are_noticed(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    acts = finished(script, monkeypatch)
    script.set_up(with_tests=False)
    pinned = Path(script.TOP) / "requirements.txt"
    pinned.write_text(pinned.read_text().replace("1.0", "1.1"))
    script.set_up(with_tests=False)
    assert acts.count("make") == 2
    stamp = Path(script.TOP) / ".venv" / "stamp"
    stamp.write_text(script.stamp_text(str(pinned), (3, 99, 0)))
    script.set_up(with_tests=False)
    assert acts.count("make") == 3
    Path(script.venv_python(script.TOP + "/.venv", sys.platform)).unlink()
    script.set_up(with_tests=False)
    assert acts.count("make") == 4


def test_the_tests_packages_have_a_stamp_of_their_own(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    acts = finished(script, monkeypatch)
    script.set_up(with_tests=False)
    script.set_up(with_tests=True)
    assert acts == ["make", Path(script.TOP).name, "tests"]
    script.set_up(with_tests=True)
    assert len(acts) == 3


def test_the_second_start_has_nothing_to_do(script: types.ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    acts = finished(script, monkeypatch)
    shutil.copy(TOP / "requirements.txt", Path(script.TOP) / "requirements.txt")
    script.set_up(with_tests=False)
    before = list(acts)
    script.set_up(with_tests=False)
    assert acts == before != []


def test_two_set_ups_at_once_wait_for_each_other(script: types.ModuleType) -> None:
    lock = Path(script.TOP) / "a.lock"
    waiting = (
        "import importlib.util, sys\n"
        f"spec = importlib.util.spec_from_file_location('s', {script.__file__!r})\n"
        "s = importlib.util.module_from_spec(spec); spec.loader.exec_module(s)\n"
        f"with s.Lock({str(lock)!r}): print('mine')\n"
    )
    with script.Lock(str(lock)):
        other = subprocess.Popen([sys.executable, "-c", waiting], stdout=subprocess.PIPE, text=True)
        assert other.stdout is not None
        assert "waiting for it" in other.stdout.readline()
        assert other.poll() is None
    assert other.communicate(timeout=10)[0] == "mine\n"


# What can go wrong, each in one sentence and with status 2.


def sentence(script: types.ModuleType, capsys: pytest.CaptureFixture[str]) -> str:
    """What the command says when the set-up can't be done."""
    assert script.main(["open"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "Traceback" not in said
    assert not (Path(script.TOP) / ".venv" / "stamp").exists()
    return said


@pytest.mark.slow
def test_no_network(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The real installer against an index that does not answer: port 9, where nothing listens."""
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    for name in ("PIP_FIND_LINKS", "PIP_EXTRA_INDEX_URL", "PIP_CONSTRAINT"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/simple")
    assert "The package index can't be reached" in sentence(script, capsys)


def test_no_room(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: Usage(10**12, 10**12 - 10**6, 10**6))
    assert "too full" in sentence(script, capsys)


def test_the_disk_runs_full_on_the_way(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    finished(script, monkeypatch)

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(script, "install", full)
    assert "too full" in sentence(script, capsys)


def test_a_folder_that_is_not_writable(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refused(*_: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(script, "Lock", refused)
    assert "can't write in" in sentence(script, capsys)


def test_a_python_without_its_venv_part(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    monkeypatch.setattr(script.sys, "platform", "linux")
    assert "python3-venv" in sentence(script, capsys)
    assert "python.org" in script.missing_part("darwin")


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        # The installer's and the system's own wording, from memory of their messages.
        ("ERROR: Could not install packages: [Errno 28] No space left on device", "too full"),
        ("WARNING: Retrying ... NewConnectionError()\nERROR: No matching distribution", "be reached"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "not the one"),
        ("ERROR: Could not install packages: [Errno 13] Permission denied: '/x'", "write in"),
        ("ERROR: No matching distribution found for pandas==3.1.1", "lacks a pinned package"),
        ("something nobody has seen before", "the reason is in the last lines of a.log"),
    ],
)
def test_what_the_installer_says_becomes_a_sentence(
    script: types.ModuleType, said: str, expected: str
) -> None:
    answer = script.install_trouble(said, "a.log")
    assert expected in answer
    assert "\n" not in answer


def test_progress_counts_what_the_installer_tells(script: types.ModuleType, tmp_path: Path) -> None:
    packages = tmp_path / "packages"
    (packages / "pip-25.dist-info").mkdir(parents=True)
    progress = script.Progress(3, str(packages), sys.stdout)
    progress.hear("Ignoring pywin32: markers don't match your environment\n")
    progress.hear("Collecting anywidget==0.11.0 (from -r requirements.txt (line 8))\n")
    assert "fetched 1 of 2 packages, 0:0" in progress.line()
    progress.hear("Collecting numpy==2.0 (from -r requirements.txt (line 9))\n")
    progress.hear("Installing collected packages: anywidget, numpy\n")
    (packages / "numpy-2.0.dist-info").mkdir()
    assert "unpacked 1 of 2 packages" in progress.line()


def test_pinned_files_hold_a_hash_for_each_package() -> None:
    for name in ("requirements.txt", "tests/requirements.txt"):
        text = (TOP / name).read_text(encoding="utf-8")
        blocks = re.split(r"(?m)^(?=[A-Za-z0-9])", text)[1:]
        assert len(blocks) > 20
        assert all("==" in block.splitlines()[0] for block in blocks), name
        assert all("--hash=sha256:" in block for block in blocks), name
        for address in ("file://", "--index-url", "--find-links", "--extra-index-url"):  # of one machine only
            assert address not in text, name


def test_the_two_pinned_files_agree() -> None:
    def versions(name: str) -> dict[str, set[str]]:
        found: dict[str, set[str]] = {}
        for line in (TOP / name).read_text(encoding="utf-8").splitlines():
            if "==" in line and not line.startswith((" ", "#")):
                package, version = line.split(";")[0].rstrip(" \\").split("==")
                found.setdefault(package, set()).add(version.strip())
        return found

    ours, theirs = versions("requirements.txt"), versions("tests/requirements.txt")
    assert {name: (ours[name], theirs[name]) for name in ours.keys() & theirs.keys()
            if not theirs[name] <= ours[name]} == {}  # fmt: skip


def test_git_keeps_lib_and_leaves_out_what_opening_makes(tmp_path: Path) -> None:
    """The usual Python template ignores any folder called lib. In a checkout of its own: the tree may be a plain copy."""
    subprocess.run(["git", "init", "--quiet", tmp_path], check=True)
    shutil.copy(TOP / ".gitignore", tmp_path)
    paths = {
        "lib/stagefloor/entry/lab.py": False, ".venv/bin/python": True, "demo_projects/a/job.json": False,
        "demo_projects/a/.open/b.ipynb": True, "demo_projects/a/history/1.json": True,
        "workbook/.ipynb_checkpoints/x": True,
    }  # fmt: skip
    asked = subprocess.run(
        ["git", "check-ignore", "--no-index", *paths], cwd=tmp_path, stdout=subprocess.PIPE, text=True, check=False
    )
    assert asked.stdout.splitlines() == [path for path, ignored in paths.items() if ignored]


def test_step_test_data_hides_its_code() -> None:
    for path in (TOP / "tests" / "setup" / "steps").glob("*.ipynb"):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "code":
                assert cell["metadata"]["jupyter"]["source_hidden"] is True
                assert cell["outputs"] == []


# The launcher. Sources: the desktop entry specification 1.5 (quoting of Exec), cmd's %~dp0, sh; from memory.


@pytest.mark.skipif(os.name == "nt", reason="needs a shell of the other kind")
def test_the_launcher_of_a_mac_runs_from_wherever_it_was_moved_to(script: types.ModuleType, tmp_path: Path) -> None:
    top = tmp_path / "a 'job' $HOME ü"
    top.mkdir()
    python = tmp_path / "py 'thon"
    python.write_text('#!/bin/sh\necho "$PWD" "$@"\n')
    python.chmod(0o755)
    script.write_launcher(str(top), "darwin", str(python))
    said = subprocess.run([str(top / "Stagefloor.command")], capture_output=True, text=True, cwd="/", check=True).stdout
    assert said == f"{top} lib start\n"


def test_the_launcher_of_linux_names_python_and_folder_in_quotes(script: types.ModuleType) -> None:
    name, text = script.launcher("linux", "/home/a b/50% $x", "/usr/bin/python3")
    assert name == "Stagefloor.desktop"
    assert text.startswith("[Desktop Entry]\nType=Application\n")
    assert 'Exec="/usr/bin/python3" "/home/a b/50%% \\\\$x/lib" start\n' in text
    assert "Terminal=true\n" in text


def test_the_launcher_of_windows_starts_in_its_own_folder_and_waits_after_a_fault(script: types.ModuleType) -> None:
    name, text = script.launcher("win32", "C:\\jobs", "C:\\Python 3\\python.exe")
    assert name == "Stagefloor.bat"
    assert text.split("\r\n") == ["@echo off", 'cd /d "%~dp0"', '"C:\\Python 3\\python.exe" lib start',
                                  "if errorlevel 1 pause", ""]


def test_a_finished_set_up_leaves_a_launcher_and_a_later_one_leaves_it_alone(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    finished(script, monkeypatch)
    script.set_up(with_tests=False)
    path = Path(script.TOP) / script.LAUNCHERS.get(sys.platform, script.LAUNCHERS["linux"])
    assert os.access(path, os.X_OK)
    assert str(path) in capsys.readouterr().out
    script.write_launcher(script.TOP, sys.platform, sys.executable)
    assert capsys.readouterr().out == ""


# A folder of wheels.


@pytest.mark.slow
def test_the_set_up_installs_from_a_folder_of_wheels_without_an_index(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The real installer, with an index where nobody listens and one wheel made here."""
    import hashlib
    import zipfile

    wheels = tmp_path / "the wheels"
    wheels.mkdir()
    wheel = wheels / "no_such_package-1.0-py3-none-any.whl"
    info = "no_such_package-1.0.dist-info"
    with zipfile.ZipFile(wheel, "w") as made:
        made.writestr("no_such_package.py", "found = True\n")
        made.writestr(f"{info}/METADATA", "Metadata-Version: 2.1\nName: no-such-package\nVersion: 1.0\n")
        made.writestr(f"{info}/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n")
        made.writestr(f"{info}/RECORD", f"no_such_package.py,,\n{info}/METADATA,,\n{info}/WHEEL,,\n{info}/RECORD,,\n")
    digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
    Path(script.TOP, "requirements.txt").write_text(f"no-such-package==1.0 \\\n    --hash=sha256:{digest}\n")
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/simple")
    monkeypatch.setenv(script.WHEELS, "")  # put back after the test
    monkeypatch.setattr(script, "hand_over", lambda python, arguments: 0 if arguments == ["start"] else 1)
    assert script.main(["--wheels", str(wheels), "start"]) == 0
    python = script.venv_python(os.path.join(script.TOP, ".venv"), sys.platform)
    assert subprocess.call([python, "-c", "import no_such_package"]) == 0


def test_a_folder_of_wheels_that_is_not_there_or_lacks_one_is_a_sentence(
    script: types.ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert script.main(["--wheels", str(tmp_path / "nowhere"), "open"]) == 2
    assert "Name the folder of wheels" in capsys.readouterr().err
    monkeypatch.setenv(script.WHEELS, "/the/wheels")
    assert "The folder /the/wheels lacks a package" in script.install_trouble("No matching distribution", "a.log")
