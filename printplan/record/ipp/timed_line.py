"""How long may a printer take, and how much may it say?"""

from __future__ import annotations

import socket
from concurrent.futures import Future
from dataclasses import dataclass
from io import BufferedReader, RawIOBase
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from printplan.errors import RecordError

if TYPE_CHECKING:
    import ssl
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """
    How long one request may take.

    Attributes
    ----------
    silence_s : float
        Longest wait, in seconds, for a byte to be given or taken.
    least_s : float
        Longest time of a request that sends nothing, from the look-up of the
        printer's name to the last byte of its answer.
    slowest_bytes_per_s : float
        What is sent gives more time: its length at this rate.
    """

    silence_s: float
    least_s: float
    slowest_bytes_per_s: float = 100_000.0

    def overall_s(self, length: int) -> float:
        """Longest time of a request of so many bytes, in seconds."""
        return self.least_s + length / self.slowest_bytes_per_s


FOR_QUESTIONS: Final = Patience(silence_s=60.0, least_s=120.0)
"""For a request without a page: some printers wake up slowly. Our choice."""

FOR_PAGES: Final = Patience(silence_s=180.0, least_s=600.0)
"""For a page: a printer with little memory takes no more of it while it cleans its
heads, and some answer when all is on paper. 100 kB/s is a tenth of what the slowest
network in use gives (common practice, no source). Our choice."""

_LAST_LOOK_S = 1.0
"""For an answer that may lie there, when a printer takes no more. Our choice."""


_Address: TypeAlias = tuple[
    socket.AddressFamily,
    socket.SocketKind,
    int,
    str,
    tuple[str, int] | tuple[str, int, int, int] | tuple[int, bytes],
]
"""What the system says of one address of a host."""


class TimedLine:
    """
    A connection that ends in time, whatever the other side does.

    Parameters
    ----------
    patience : Patience
        How long all of it may take; the time runs from here on.
    length : int
        Bytes that will be sent.
    most_bytes : int
        More are not taken from the other side.

    Attributes
    ----------
    is_open : bool
        Whether the connection, encrypted if it is to be, was made.

    Notes
    -----
    It stands in the place of a socket in `http.client.HTTPConnection`, which keeps a
    time limit for each call alone: a byte a second would hold it for ever.
    """

    def __init__(self, patience: Patience, length: int, *, most_bytes: int) -> None:
        self.patience = patience
        self.overall_s = patience.overall_s(length)
        self.is_open = False
        self._end_s = monotonic() + self.overall_s
        self._left_bytes = most_bytes
        self._most_bytes = most_bytes
        self._socket = socket.socket()  # until the printer's address is known

    @property
    def left_s(self) -> float:
        """Seconds until all must have ended."""
        return self._end_s - monotonic()

    def open(self, host: str, port: int, context: ssl.SSLContext | None) -> None:
        """
        Connect.

        Parameters
        ----------
        context : SSLContext or None
            For an encrypted connection.

        Raises
        ------
        OSError
            If that fails at every address of the host, or takes too long.
        """
        addresses = self._addresses(host, port)
        for number, (family, kind, protocol, _, address) in enumerate(addresses, 1):
            self.hang_up()
            self._socket = socket.socket(family, kind, protocol)
            try:
                self._ready().connect(address)
                break
            except OSError:
                if number == len(addresses):
                    raise
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if context is not None:
            # The handshake as a whole keeps to the time that is set.
            self._socket = context.wrap_socket(self._ready(), server_hostname=host)
        self.is_open = True

    def _addresses(self, host: str, port: int) -> Sequence[_Address]:
        """Look a name up, in a thread: the system's call knows no time limit."""
        found: Future[Sequence[_Address]] = Future()

        def look_up() -> None:
            try:
                found.set_result(
                    socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
                )
            except (OSError, UnicodeError) as error:
                found.set_exception(error)

        Thread(target=look_up, name="printer's address", daemon=True).start()
        return found.result(timeout=self._wait_s())

    def look_once_more(self) -> None:
        """Give a moment for an answer that may lie there already."""
        self._end_s = monotonic() + _LAST_LOOK_S

    def sendall(self, data: bytes | memoryview) -> None:
        """Send all; each part of it has to be taken in time."""
        rest = memoryview(data).cast("B")
        while rest:
            rest = rest[self._ready().send(rest) :]

    def makefile(self, _mode: str) -> BufferedReader:
        """What the other side says."""
        return BufferedReader(_Incoming(self))

    def receive_into(self, buffer: memoryview) -> int:
        """Take what the other side says next."""
        count = self._ready().recv_into(buffer)
        self._left_bytes -= count
        if self._left_bytes < 0:
            raise RecordError(
                f"The printer answered more than {self._most_bytes / 1e6:g} MB.",
                remedy="Check that this is the address of a printer.",
            )
        return count

    def close(self) -> None:
        """Leave the line open: an answer may still be read. See `hang_up`."""

    def hang_up(self) -> None:
        """End the connection."""
        self._socket.close()

    def _ready(self) -> socket.socket:
        self._socket.settimeout(self._wait_s())
        return self._socket

    def _wait_s(self) -> float:
        left_s = self.left_s
        if left_s <= 0:
            raise TimeoutError
        return min(self.patience.silence_s, left_s)


class _Incoming(RawIOBase):
    """The listening end of a line."""

    def __init__(self, line: TimedLine) -> None:
        self._line = line

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        return self._line.receive_into(memoryview(buffer).cast("B"))
