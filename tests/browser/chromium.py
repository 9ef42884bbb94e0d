"""Which browser do the tests run in, and how is it started?"""

import shutil
from pathlib import Path

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-color-profile=srgb",
)


def chromium_path(kind):
    """The system's Chromium, or else the one that Playwright has installed."""
    for name in CHROMIUM_NAMES:
        if found := shutil.which(name):
            return found
    own = kind.executable_path
    if not Path(own).exists():
        raise RuntimeError(
            "There is no Chromium. Install Debian's package chromium, or run: "
            "python -m playwright install chromium"
        )
    return own
