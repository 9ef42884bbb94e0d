"""A Jupyter server of the tests' own: nothing of the user's is read or changed."""

import json
import os
import secrets
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

START_S = 120
STOP_S = 10

# Cells that are out of sight stay in the page, and nothing is saved behind a test.
SETTINGS = {
    "@jupyterlab/notebook-extension:tracker": {"windowingMode": "none"},
    "@jupyterlab/docmanager-extension:plugin": {"autosave": False},
    "@jupyterlab/apputils-extension:notification": {"fetchNews": "false"},
}
LAB_OPTIONS = (
    "--no-browser",
    "--allow-root",
    "--ServerApp.port_retries=0",
    "--LabApp.expose_app_in_browser=True",
    "--LabApp.news_url=None",
    "--LabApp.extension_manager=readonly",
)
VOILA_OPTIONS = ("--no-browser", "--Voila.port_retries=0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """Where a server answers, and the folder that it serves."""

    url: str
    token: str
    folder: Path

    def address(self, path):
        return f"{self.url}/{path}?token={self.token}"


def own_environment(home):
    """The environment of a server whose every setting lies in one folder."""
    folders = {
        f"JUPYTER{name}_DIR": home / f"jupyter{name.lower()}"
        for name in ("_CONFIG", "_DATA", "_RUNTIME", "LAB_SETTINGS", "LAB_WORKSPACES")
    }
    folders |= {"IPYTHONDIR": home / "ipython", "PRINTPLAN_CONFIG": home / "printplan"}
    settings = folders["JUPYTER_CONFIG_DIR"] / "labconfig"
    settings.mkdir(parents=True, exist_ok=True)
    (settings / "default_setting_overrides.json").write_text(json.dumps(SETTINGS))
    return os.environ | {name: str(folder) for name, folder in folders.items()}


@contextmanager
def jupyterlab(home, folder, *options):
    """A JupyterLab over a folder, as long as it is needed."""
    port, token = _free_port(), secrets.token_hex(16)
    command = [
        *("-m", "jupyterlab", *LAB_OPTIONS),
        f"--ServerApp.port={port}",
        f"--ServerApp.root_dir={folder}",
        f"--IdentityProvider.token={token}",
        *options,
    ]
    url = f"http://127.0.0.1:{port}"
    server = Server(url=url, token=token, folder=folder)
    with _running(command, home, folder, server.address("api/status")):
        yield server


@contextmanager
def voila(home, folder):
    """A Voila over a folder, as long as it is needed."""
    port = _free_port()
    command = ["-m", "voila", *VOILA_OPTIONS, f"--Voila.port={port}", str(folder)]
    server = Server(url=f"http://127.0.0.1:{port}", token="", folder=folder)
    with _running(command, home, folder, f"{server.url}/voila/tree"):
        yield server


@contextmanager
def _running(arguments, home, folder, ready_url):
    log_path = home / "server.log"
    with (
        log_path.open("wb") as log,
        subprocess.Popen(
            [sys.executable, *arguments],
            cwd=folder,
            env=own_environment(home),
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
        ) as process,
    ):
        try:
            _wait_until_ready(process, ready_url, log_path)
            yield
        finally:
            process.terminate()
            try:
                process.wait(STOP_S)
            except subprocess.TimeoutExpired:
                process.kill()


def _wait_until_ready(process, url, log_path):
    deadline = time.monotonic() + START_S
    while time.monotonic() < deadline and process.poll() is None:
        try:
            with urllib.request.urlopen(url, timeout=5):  # noqa: S310 - our own address
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            time.sleep(0.1)
    said = log_path.read_text(errors="replace")
    raise RuntimeError(f"{process.args[2]} did not start within {START_S} s:\n{said}")


def _free_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]
