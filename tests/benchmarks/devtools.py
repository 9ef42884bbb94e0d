"""A page of a real browser, steered by its DevTools protocol and nothing besides."""

import json
import re
import subprocess
import sys
import tempfile
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import websocket

sys.path[:0] = [str(Path(__file__).parent.parent / "browser")]

from chromium import CHROMIUM_FLAGS, chromium_path  # noqa: E402 - beside the tests
from playwright.sync_api import sync_playwright  # noqa: E402 - after the path

ANSWER_S = 60
OPEN_S = 120


class Tab:
    """A page that was opened by `open_tab`."""

    def __init__(self, address):
        self._socket = websocket.create_connection(
            address, suppress_origin=True, timeout=ANSWER_S
        )
        self._sent = 0

    def send(self, method, **parameters):
        """One command of the protocol, and its result."""
        self._sent += 1
        self._socket.send(
            json.dumps({"id": self._sent, "method": method, "params": parameters})
        )
        while (answer := json.loads(self._socket.recv())).get("id") != self._sent:
            pass
        if "error" in answer:
            raise RuntimeError(f"{method}: {answer['error']['message']}")
        return answer["result"]

    def call(self, function, argument=None):
        """What a function of the page gives, awaited."""
        result = self.send(
            "Runtime.evaluate",
            expression=f"({function})({json.dumps(argument)})",
            awaitPromise=True,
            returnByValue=True,
        )
        if "exceptionDetails" in result:
            raise RuntimeError(result["result"].get("description", "It failed."))
        return result["result"].get("value")

    def wait_for(self, function, argument=None):
        """Ask until it is so."""
        deadline = time.monotonic() + OPEN_S
        while not self.call(function, argument):
            if time.monotonic() > deadline:
                raise TimeoutError(f"Not so within {OPEN_S} s: {function}")
            time.sleep(0.2)

    def press(self, key, code):
        """A key down and up, as from the keyboard."""
        for event in ("keyDown", "keyUp"):
            self.send(
                "Input.dispatchKeyEvent",
                type=event,
                key=key,
                code=key,
                windowsVirtualKeyCode=code,
            )


@contextmanager
def open_tab(address):
    """A page in a browser of its own, as long as it is needed."""
    with sync_playwright() as playwright:
        path = chromium_path(playwright.chromium)
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile,
        Path(profile, "log").open("wb") as log,
        subprocess.Popen(
            [
                path,
                *CHROMIUM_FLAGS,
                "--headless",
                "--remote-debugging-port=0",
                f"--user-data-dir={profile}",
                "--window-size=1600,1000",
                "about:blank",
            ],
            stderr=log,
        ) as browser,
    ):
        try:
            tab = Tab(_page_address(Path(profile, "log")))
            # Without it nothing in the page has the focus.
            tab.send("Emulation.setFocusEmulationEnabled", enabled=True)
            tab.send("Page.navigate", url=address)
            yield tab
        finally:
            browser.terminate()


def _page_address(log):
    deadline = time.monotonic() + ANSWER_S
    while not (found := re.search(r"ws://([^/]+)/", log.read_text(errors="replace"))):
        if time.monotonic() > deadline:
            raise TimeoutError(f"Chromium did not start within {ANSWER_S} s.")
        time.sleep(0.1)
    with urllib.request.urlopen(f"http://{found[1]}/json", timeout=ANSWER_S) as answer:
        pages = [it for it in json.load(answer) if it["type"] == "page"]
    return pages[0]["webSocketDebuggerUrl"]
