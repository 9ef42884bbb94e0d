import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager, suppress
from importlib.metadata import PackageNotFoundError
from pathlib import Path

import pytest

import printplan
from printplan.errors import RecordError
from printplan.workbook import launch as launch_module
from printplan.workbook.launch import PLACED_NAME, copy_notebooks

NAMES = ["1-print.ipynb", "2-look.ipynb"]
STARTS_WITHIN_S = 60.0


def notebook(text):
    cell = {"cell_type": "markdown", "id": "a", "metadata": {}, "source": text}
    return json.dumps(
        {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    )


@pytest.fixture
def package(tmp_path, monkeypatch):
    """Two notebooks of a package at version 3.1, to be changed at will."""
    folder = tmp_path / "package"
    folder.mkdir()
    for name in NAMES:
        (folder / name).write_text(notebook(f"first {name}"))
    monkeypatch.setattr(
        launch_module, "notebook_sources", lambda: sorted(folder.glob("*.ipynb"))
    )
    monkeypatch.setattr(launch_module, "version", lambda _name: "3.1")
    return folder


@pytest.fixture
def work(tmp_path):
    return tmp_path / "made" / "work"


def names_of(paths):
    return [path.name for path in paths]


def content(folder):
    """All files of a folder but the list of what was put there."""
    return {
        path.name: path.read_text()
        for path in folder.iterdir()
        if path.name != PLACED_NAME
    }


def test_notebooks_are_copied_in_order(package, work):
    assert names_of(copy_notebooks(work)) == NAMES
    assert content(work) == content(package)


@pytest.mark.usefixtures("package")
def test_second_copy_changes_nothing(work):
    copy_notebooks(work)
    before = {path.name: path.stat().st_mtime_ns for path in work.glob("*.ipynb")}
    assert names_of(copy_notebooks(work)) == NAMES
    after = {path.name: path.stat().st_mtime_ns for path in work.glob("*.ipynb")}
    assert after == before


def test_untouched_copy_becomes_the_new_version(package, work):
    copy_notebooks(work)
    (package / NAMES[0]).write_text(notebook("second"))
    assert names_of(copy_notebooks(work)) == NAMES
    assert content(work) == content(package)


def test_edited_notebook_is_opened_again(package, work):
    """Running a notebook saves its results in it: that is no reason for another."""
    copy_notebooks(work)
    (work / NAMES[0]).write_text("mine")
    for _ in range(2):
        assert names_of(copy_notebooks(work)) == NAMES
    assert content(work) == content(package) | {NAMES[0]: "mine"}


def test_new_version_goes_beside_an_edited_notebook_once(package, work):
    copy_notebooks(work)
    (work / NAMES[0]).write_text("mine")
    (package / NAMES[0]).write_text(notebook("second"))
    beside = ["1-print-3.1.ipynb", NAMES[1]]
    assert names_of(copy_notebooks(work)) == beside
    assert content(work) == content(package) | {
        NAMES[0]: "mine",
        beside[0]: notebook("second"),
    }
    (work / beside[0]).write_text("mine too")
    assert names_of(copy_notebooks(work)) == beside
    (package / NAMES[0]).write_text(notebook("third"))
    assert names_of(copy_notebooks(work)) == ["1-print-3.1-2.ipynb", NAMES[1]]
    kept = content(work)
    assert (kept[NAMES[0]], kept[beside[0]]) == ("mine", "mine too")
    assert kept["1-print-3.1-2.ipynb"] == notebook("third")


def test_untouched_copy_beside_becomes_the_new_version(package, work):
    copy_notebooks(work)
    (work / NAMES[0]).write_text("mine")
    for text in ("second", "third"):
        (package / NAMES[0]).write_text(notebook(text))
        assert names_of(copy_notebooks(work))[0] == "1-print-3.1.ipynb"
        assert content(work)["1-print-3.1.ipynb"] == notebook(text)
    assert len(list(work.glob("*.ipynb"))) == 3


def test_older_version_opens_the_notebook_that_began_as_it(package, work):
    copy_notebooks(work)
    (work / NAMES[0]).write_text("mine")
    first = (package / NAMES[0]).read_text()
    (package / NAMES[0]).write_text(notebook("second"))
    copy_notebooks(work)
    (package / NAMES[0]).write_text(first)
    assert names_of(copy_notebooks(work)) == NAMES


def test_notebook_that_was_deleted_comes_back(package, work):
    copy_notebooks(work)
    (work / NAMES[0]).unlink()
    assert names_of(copy_notebooks(work)) == NAMES
    assert content(work) == content(package)


@pytest.mark.parametrize("kept", [None, b"\xff\xfe", b"nonsense\n\n"])
@pytest.mark.usefixtures("package")
def test_without_its_list_nothing_is_overwritten(work, kept):
    copy_notebooks(work)
    if kept is None:
        (work / PLACED_NAME).unlink()
    else:
        (work / PLACED_NAME).write_bytes(kept)
    (work / NAMES[0]).write_text("mine")
    opened = names_of(copy_notebooks(work))
    assert opened == ["1-print-3.1.ipynb", NAMES[1]]
    assert content(work)[NAMES[0]] == "mine"


@pytest.mark.usefixtures("package")
def test_notebook_of_the_users_own_stays(work):
    work.mkdir(parents=True)
    (work / NAMES[1]).write_text("mine")
    assert names_of(copy_notebooks(work)) == [NAMES[0], "2-look-3.1.ipynb"]
    assert content(work)[NAMES[1]] == "mine"


@pytest.mark.usefixtures("package")
def test_folder_that_cannot_be_made_is_named(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordError, match=r"file/work .*Choose a folder of your own"):
        copy_notebooks(tmp_path / "file" / "work")


@pytest.mark.usefixtures("package")
def test_folder_in_the_place_of_a_notebook_is_no_notebook(work):
    (work / NAMES[0]).mkdir(parents=True)
    with pytest.raises(RecordError, match="Choose a folder of your own"):
        copy_notebooks(work)


@pytest.mark.usefixtures("package")
def test_full_disk_leaves_no_part_of_a_notebook(work, monkeypatch):
    def full_disk(path, data):
        with path.open("xb") as file:
            file.write(data[:10])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(RecordError, match="No space left"):
        copy_notebooks(work)
    assert list(work.iterdir()) == []


def test_edited_notebook_stays_where_printplan_is_not_installed(
    package, work, monkeypatch
):
    def not_installed(name):
        raise PackageNotFoundError(name)

    monkeypatch.setattr(launch_module, "version", not_installed)
    copy_notebooks(work)
    (work / NAMES[0]).write_text("mine")
    (package / NAMES[0]).write_text(notebook("second"))
    with pytest.raises(RecordError, match="pip install"):
        copy_notebooks(work)
    assert content(work)[NAMES[0]] == "mine"


def test_installation_without_notebooks_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr(launch_module, "files", lambda _name: tmp_path / "printplan")
    with pytest.raises(RecordError, match="Install printplan again"):
        launch_module.notebook_sources()


def test_notebooks_are_found_in_a_wheel_and_in_a_checkout(tmp_path, monkeypatch):
    monkeypatch.setattr(launch_module, "files", lambda _name: tmp_path / "printplan")
    checkout, wheel = tmp_path / "notebooks", tmp_path / "printplan" / "notebooks"
    for folder in (checkout, wheel):
        folder.mkdir(parents=True)
        for name in reversed(NAMES):
            (folder / name).write_text(notebook(name))
        assert launch_module.notebook_sources() == [folder / name for name in NAMES]


LAUNCH = """
import sys
from pathlib import Path
from printplan.workbook import launch

source, folder = map(Path, sys.argv[1:])
launch.notebook_sources = lambda: [source]
print("ended", launch.launch(folder, browser=False))
"""


@contextmanager
def launcher(source, work, environment, log):
    """The launcher in a session of its own, as a terminal would start it."""
    paths = [environment.get("PYTHONPATH", ""), Path(printplan.__file__).parent.parent]
    environment["PYTHONPATH"] = os.pathsep.join(str(path) for path in paths if path)
    with (
        log.open("wb") as output,
        subprocess.Popen(
            [sys.executable, "-c", LAUNCH, str(source), str(work)],
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env=os.environ | environment,
            start_new_session=True,
        ) as process,
    ):
        try:
            yield process
        finally:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)


def wait_for(found, process, log):
    """Ask until there is an answer."""
    end_s = time.monotonic() + STARTS_WITHIN_S
    while not (answer := found()):
        assert process.poll() is None, log.read_text()
        assert time.monotonic() < end_s, log.read_text()
        time.sleep(0.02)
    return answer


def free_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


def lab_address(port, token):
    """A call of JupyterLab's own interface; None as long as it does not listen."""

    def call(path, method="GET"):
        request = urllib.request.Request(
            f"http://127.0.0.1:{port}{path}",
            method=method,
            headers={"Authorization": f"token {token}"},
        )
        try:
            with urllib.request.urlopen(request, timeout=5) as found:  # noqa: S310
                return json.load(found)
        except (urllib.error.URLError, ConnectionError):
            return None

    return call


@pytest.mark.slow
def test_jupyterlab_starts_on_the_first_notebook(tmp_path, work):
    port, token = free_port(), "for-this-test"
    config, home = tmp_path / "config", tmp_path / "home"
    config.mkdir()
    home.mkdir()
    settings = {"ServerApp": {"port_retries": 0}}
    (config / "jupyter_server_config.json").write_text(json.dumps(settings))
    source = tmp_path / "1 print.ipynb"
    source.write_text(notebook("first"))
    work.mkdir(parents=True)
    # Such a file in the user's folder must not be imported by JupyterLab.
    (work / "json.py").write_text("raise SystemExit('the wrong json')")
    environment = {
        "HOME": str(home),
        "JUPYTER_CONFIG_DIR": str(config),
        "JUPYTER_DATA_DIR": str(tmp_path / "data"),
        "JUPYTER_RUNTIME_DIR": str(tmp_path / "runtime"),
        "JUPYTER_PORT": str(port),
        "JUPYTER_TOKEN": token,
    }
    log, lab = tmp_path / "log", lab_address(port, token)
    with launcher(source, work, environment, log) as process:
        assert set(wait_for(lambda: lab("/api"), process, log)) == {"version"}
        there = [item["name"] for item in lab("/api/contents")["content"]]
        assert sorted(there) == ["1 print.ipynb", "json.py"]
        with suppress(ValueError):  # an empty answer
            lab("/api/shutdown", method="POST")
        process.wait(timeout=30)
    said = log.read_text()
    assert "ended 0" in said, said
    assert f"http://127.0.0.1:{port}/lab/tree/1%20print.ipynb" in said
    assert "Traceback" not in said


@pytest.mark.parametrize("user", [0, 1000])
@pytest.mark.parametrize(("browser", "more"), [(True, []), (False, ["--no-browser"])])
@pytest.mark.usefixtures("package")
def test_browser_opens_only_where_permitted(
    work, tmp_path, monkeypatch, browser, more, user
):
    """And root, the only user of a container, says that it knows it is root."""
    monkeypatch.setattr(os, "geteuid", lambda: user)
    stand_in = tmp_path / "stand-in"
    stand_in.mkdir()
    script = "import sys; open('told', 'w').write('|'.join(sys.argv[1:])); sys.exit(3)"
    (stand_in / "jupyterlab.py").write_text(script)
    monkeypatch.setenv("PYTHONPATH", str(stand_in))
    assert launch_module.launch(work, browser=browser) == 3
    address = f"--LabApp.default_url=/lab/tree/{NAMES[0]}"
    assert (work / "told").read_text().split("|") == [
        address,
        *more,
        *(["--allow-root"] if user == 0 else []),
    ]


@pytest.mark.usefixtures("package")
def test_pages_without_code_are_shown_by_voila(work, tmp_path, monkeypatch):
    stand_in = tmp_path / "stand-in"
    stand_in.mkdir()
    script = "import sys; open('told', 'w').write('|'.join(sys.argv[1:])); sys.exit(3)"
    (stand_in / "voila.py").write_text(script)
    monkeypatch.setenv("PYTHONPATH", str(stand_in))
    pages = launch_module.Front.PAGES
    assert launch_module.launch(work, front=pages, browser=False) == 3
    assert (work / "told").read_text().split("|") == [".", "--no-browser"]
    assert (work / NAMES[0]).exists()


@pytest.mark.usefixtures("package")
def test_kernels_get_a_small_heap_unless_a_person_chose_one(
    work, tmp_path, monkeypatch
):
    stand_in = tmp_path / "stand-in"
    stand_in.mkdir()
    (stand_in / "jupyterlab.py").write_text(
        "import json, os; json.dump(dict(os.environ), open('told', 'w'))"
    )
    monkeypatch.setenv("PYTHONPATH", str(stand_in))
    monkeypatch.setenv("MALLOC_ARENA_MAX", "7")
    assert launch_module.launch(work, browser=False) == 0
    told = json.loads((work / "told").read_text())
    wanted = launch_module.kernel_environment() | {"MALLOC_ARENA_MAX": "7"}
    assert {name: told.get(name) for name in wanted} == wanted


@pytest.mark.usefixtures("package")
def test_without_voila_it_says_how_to_get_it(work, monkeypatch):
    monkeypatch.setattr(launch_module, "find_spec", {}.get)
    with pytest.raises(RecordError) as caught:
        launch_module.launch(work, front=launch_module.Front.PAGES)
    assert "printplan[voila]" in caught.value.remedy
    assert not work.exists()


INTERRUPTED = """
import signal, sys, time

def asked(number, frame):
    time.sleep(0.2)
    print("asked and answered", flush=True)
    sys.exit(7)

signal.signal(signal.SIGINT, asked)
print(*sys.argv[1:], flush=True)
time.sleep(60)
"""


def test_interruption_is_left_to_jupyterlab(tmp_path, work):
    """Ctrl-C reaches both; the launcher waits for what JupyterLab makes of it."""
    stand_in, log = tmp_path / "stand-in", tmp_path / "log"
    stand_in.mkdir()
    (stand_in / "jupyterlab.py").write_text(INTERRUPTED)
    source = tmp_path / NAMES[0]
    source.write_text(notebook("first"))
    environment = {"PYTHONPATH": str(stand_in)}
    with launcher(source, work, environment, log) as process:
        began = wait_for(log.read_text, process, log)
        os.killpg(process.pid, signal.SIGINT)
        process.wait(timeout=30)
    assert began.split()[:2] == [
        f"--LabApp.default_url=/lab/tree/{NAMES[0]}",
        "--no-browser",
    ]
    assert log.read_text().splitlines()[1:] == ["asked and answered", "ended 7"]
