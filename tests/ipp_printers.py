"""Real IPP printers of others' programs, on the loopback interface."""

import os
import socket
import subprocess
import time
from contextlib import closing, contextmanager

import pytest
from outside_tools import missing, need

from printplan.errors import RecordError
from printplan.record.ipp.http import printer_address
from printplan.record.ipp.jobs import printer_attributes

PATIENCE_S = 30

needs_printer = pytest.mark.tools(
    "dbus-daemon", "avahi-daemon", "ippeveprinter", "ipptool"
)

# A bus for the daemons of these tests alone, so that nothing of the machine's own
# is started or stopped.
BUS = """<busconfig>
  <type>system</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
</busconfig>
"""
AVAHI = "[server]\nallow-interfaces=lo\n"


def require_tools():
    need("dbus-daemon", "avahi-daemon", "ippeveprinter", "ipptool")
    if os.geteuid() != 0:
        missing("Service discovery needs root here. Run the tests as root.")


@contextmanager
def running(command, log, **options):
    """A program, as long as the block runs."""
    with log.open("wb") as file:
        program = subprocess.Popen(command, stdout=file, stderr=file, **options)
        try:
            yield program
        finally:
            program.terminate()
            program.wait(timeout=PATIENCE_S)


def wait_for(happened, program, log):
    last = time.monotonic() + PATIENCE_S
    while not happened():
        if program.poll() is not None or time.monotonic() > last:
            pytest.fail(f"{program.args[0]} does not start:\n{log.read_text()}")
        time.sleep(0.05)


@contextmanager
def service_discovery(folder):
    """Environment in which service discovery runs, which the printers want."""
    require_tools()
    if subprocess.run(["avahi-daemon", "--check"], check=False).returncode == 0:
        yield dict(os.environ)
        return
    bus = folder / "socket"
    (folder / "bus.conf").write_text(BUS.format(socket=bus))
    (folder / "avahi.conf").write_text(AVAHI)
    env = os.environ | {"DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={bus}"}
    bus_log, avahi_log = folder / "bus.log", folder / "avahi.log"
    bus_command = ["dbus-daemon", f"--config-file={folder / 'bus.conf'}"]
    avahi_command = ["avahi-daemon", "--no-drop-root", "--no-chroot", "--no-rlimits"]
    avahi_command += ["-f", str(folder / "avahi.conf")]
    with running([*bus_command, "--nofork", "--nopidfile"], bus_log) as daemon:
        wait_for(bus.exists, daemon, bus_log)
        with running(avahi_command, avahi_log, env=env) as avahi:
            started = b"startup complete"
            wait_for(lambda: started in avahi_log.read_bytes(), avahi, avahi_log)
            yield env


class RealPrinter:
    """A printer that keeps what it is sent."""

    def __init__(self, port, spool, log):
        self.uri = f"ipp://localhost:{port}/ipp/print"
        self.address = printer_address(self.uri)
        self.spool = spool
        self.log = log

    def spooled(self):
        """What it kept: a file beside each is what the command made, here nothing."""
        return [path for path in self.spool.iterdir() if path.stat().st_size]


def free_port():
    with closing(socket.socket()) as probe:
        probe.bind(("localhost", 0))
        return probe.getsockname()[1]


@contextmanager
def real_printer(folder, env, command="/bin/true", *, answers=None, name="Tern Loft"):
    """
    A printer that prints with a command of the system.

    It is a colour printer for A4 that takes PDF, or what a file of answers says.
    """
    port, spool, log = free_port(), folder / "spool", folder / "printer.log"
    spool.mkdir()
    kind = ["-f", "application/pdf", "-s", "5,5"]
    kind = kind if answers is None else ["-a", str(answers)]
    arguments = ["-k", "-vv", *kind, "-c", command, "-n", "localhost", "-p", str(port)]
    arguments += ["-d", str(spool), name]
    with running(["ippeveprinter", *arguments], log, env=env) as program:
        made = RealPrinter(port, spool, log)

        def is_there():
            try:
                printer_attributes(made.address)
            except RecordError:
                return False
            return True

        wait_for(is_there, program, log)
        yield made
