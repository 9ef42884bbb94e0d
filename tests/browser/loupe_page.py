"""What a person does with a loupe in a browser, in words that tests can use."""

import base64
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from chromium import CHROMIUM_FLAGS, chromium_path
from notebook_page import NotebookPage
from outside_tools import found

WAIT_MS = 60_000

CANVAS = ".printplan-loupe-stage canvas"
STAGE = ".printplan-loupe-stage"

# Base64, since a list of numbers takes a browser seconds to hand over.
PIXELS = """(canvas) => {
  const { width, height } = canvas;
  const { data } = canvas.getContext("2d").getImageData(0, 0, width, height);
  let text = "";
  for (let i = 0; i < data.length; i += 32768) {
    text += String.fromCharCode(...data.subarray(i, i + 32768));
  }
  return [width, height, btoa(text)];
}"""
NEWER = """([selector, after]) => {
  const canvas = document.querySelector(selector);
  return canvas && Number(canvas.dataset.id ?? 0) > after;
}"""

# A request that waits for its turn counts as asked.
ANSWERED = """(selector) => [...document.querySelectorAll(selector)].every(
  ({ dataset }) => dataset.asked && dataset.asked === dataset.answered
)"""


@contextmanager
def screen(chromium, ratio=1.0, size=(1500, 1200)):
    """A browser like another, on a screen of so many device pixels for a CSS pixel."""
    flags = [
        *CHROMIUM_FLAGS,
        f"--force-device-scale-factor={ratio}",
        f"--window-size={size[0]},{size[1]}",
    ]
    kind = chromium.browser_type
    browser = kind.launch(executable_path=found(chromium_path, kind), args=flags)
    try:
        yield browser
    finally:
        browser.close()


class LoupePage(NotebookPage):
    """A notebook in JupyterLab with a loupe in it."""

    def __init__(self, browser, server, name):
        super().__init__(browser.new_context(no_viewport=True).new_page(), server)
        self.page.set_default_timeout(WAIT_MS)
        self.open(Path(name)).run_all()

    def run_all(self):
        """Run every cell, and wait for the first picture."""
        super().run_all()
        self.wait_for_frame()
        self.settle()
        return self

    def shown(self):
        """What the painted picture is: its number, scale, zoom and centre."""
        data = self.page.locator(CANVAS).first.evaluate("(it) => ({ ...it.dataset })")
        centre = tuple(float(number) for number in data["centre"].split())
        return {
            "id": int(data["id"]),
            "shown": int(data["shown"]),
            "scale": float(data["scale"]),
            "zoom": data["zoom"],
            "centre": centre,
        }

    def wait_for_frame(self, after=0):
        """Wait until a picture is painted that is newer than another."""
        self.page.wait_for_function(NEWER, arg=[CANVAS, after])

    def settle(self):
        """Wait until every picture that was asked for has come."""
        self.page.wait_for_function(ANSWERED, arg=CANVAS)

    def press(self, *keys):
        """Press keys on the picture and wait for what they ask for."""
        before = self.shown()["id"]
        self.page.locator(STAGE).first.focus()
        for key in keys:
            self.page.keyboard.press(key)
        self.wait_for_frame(before)
        self.settle()
        return self.shown()

    def pixels(self):
        """The canvas as it was painted: uint8, rows × columns × 3."""
        width, height, text = self.page.locator(CANVAS).first.evaluate(PIXELS)
        flat = np.frombuffer(base64.b64decode(text), np.uint8)
        return flat.reshape(height, width, 4)[..., :3]

    def button(self, name):
        return self.page.locator(".printplan-loupe").first.get_by_role(
            "button", name=name, exact=True
        )
