"""Printers that do what no printer should, each for one connection after another."""

import gzip
import socket
import struct
import threading
import time
from contextlib import contextmanager, suppress

from printplan.record.ipp.keywords import GroupTag, ValueTag
from printplan.record.ipp.message import (
    Attribute,
    Group,
    Message,
    Value,
    encode_message,
)

# A byte every so often: faster than the client's limit of silence, for ever.
TRICKLE_S = 0.05

JOB = encode_message(
    Message(
        code=0,
        groups=(
            Group(
                GroupTag.JOB_ATTRIBUTES,
                (
                    Attribute("job-id", (Value(ValueTag.INTEGER, 7),)),
                    Attribute("job-state", (Value(ValueTag.ENUM, 3),)),
                ),
            ),
        ),
    )
)
"""A good answer."""

OK = b"HTTP/1.1 200 OK\r\n"
IPP = b"Content-Type: application/ipp\r\n"


def whole(body, *, status=OK, headers=b""):
    length = b"Content-Length: %d\r\n" % len(body)
    return status + IPP + headers + length + b"\r\n" + body


def hear_head(line):
    """The head of a request, and what came with it of the body."""
    heard = b""
    while b"\r\n\r\n" not in heard:
        more = line.recv(65536)
        if not more:
            break
        heard += more
    return heard


def hear_all(line):
    heard = hear_head(line)
    head, _, body = heard.partition(b"\r\n\r\n")
    (length,) = (
        int(it.split(b":")[1])
        for it in head.split(b"\r\n")
        if it.lower().startswith(b"content-length:")
    )
    count = len(body)
    while count < length and (more := line.recv(1 << 20)):
        count += len(more)
    return count


def hold(line):
    """Say nothing more, until the other side hangs up."""
    line.settimeout(30)
    with suppress(OSError):
        while line.recv(65536):
            pass


def says(*parts, then=hold, hears=hear_all):
    """A printer that hears a request, and says this."""

    def act(line):
        hears(line)
        for part in parts:
            line.sendall(part)
        then(line)

    return act


def trickles(*parts, hears=hear_all):
    """One that says it byte by byte, and the last part again for ever."""

    def act(line):
        hears(line)
        for part in (*parts[:-1],):
            for byte in part:
                line.sendall(bytes([byte]))
                time.sleep(TRICKLE_S)
        while True:
            for byte in parts[-1]:
                line.sendall(bytes([byte]))
                time.sleep(TRICKLE_S)

    return act


def floods(*parts, hears=hear_all):
    """One that says the first parts once, and the last for ever."""

    def act(line):
        hears(line)
        for part in parts[:-1]:
            line.sendall(part)
        while True:
            line.sendall(parts[-1])

    return act


def end(line):
    line.close()


def reset(line):
    """Hang up without the farewell of the protocol (SO_LINGER of 0 seconds)."""
    line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    line.close()


def idle(_line):
    """Neither speak nor hear, with the line open."""
    time.sleep(9)


def nothing(_line):
    """Hear nothing."""


def half_the_page(line):
    hear_head(line)
    count = 0
    while count < 500_000 and (more := line.recv(65536)):
        count += len(more)


def sips(line):
    """Take the page a byte at a time."""
    line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
    while line.recv(1):
        time.sleep(TRICKLE_S)


def field(tag, name, octets, *, length=None):
    length = len(octets) if length is None else length
    named = struct.pack(">BH", tag, len(name)) + name
    return named + struct.pack(">H", length) + octets


HEAD = struct.pack(">BBHi", 1, 1, 0, 1)
NESTED = b"".join(
    [
        field(0x34, b"media-col", b""),
        *[field(0x4A, b"", b"m") + field(0x34, b"", b"") for _ in range(100_000)],
    ]
)
CHUNKED = OK + IPP + b"Transfer-Encoding: chunked\r\n\r\n"
MESSAGE = field(0x47, b"attributes-charset", b"utf-8")


def chunk(data):
    return b"%x\r\n%s\r\n" % (len(data), data)


# Each with the words that tell of it; "" where it is a good answer after all. The third
# part says whether the printer may have the page.
NO, MAY = "The page was not sent", "Look at the printer before you send it again"
REFUSED = ""

BEHAVIOURS = {
    # Nothing, or an end, at each stage.
    "hangs up at once": (says(hears=nothing, then=end), "cannot be spoken to", None),
    "resets at once": (says(hears=nothing, then=reset), "cannot be spoken to", None),
    "never hears": (
        says(hears=nothing, then=idle),
        "gave no sign",
        MAY,
    ),
    "hears and is silent": (says(), "gave no sign", MAY),
    "hears and hangs up": (says(then=end), "cannot be spoken to", MAY),
    "hears and resets": (says(then=reset), "cannot be spoken to", MAY),
    "hears the head and hangs up": (says(hears=hear_head, then=end), "cannot be", MAY),
    "hears half the page and hangs up": (
        says(hears=half_the_page, then=end),
        "cannot be spoken to",
        MAY,
    ),
    "hears half the page and stops": (
        says(hears=half_the_page, then=idle),
        "gave no sign",
        MAY,
    ),
    "sips the page": (says(hears=sips), "gave no sign|was not done", MAY),
    "ends in the status line": (says(b"HTTP/1.1 2", then=end), "cannot be", MAY),
    "ends in a header": (says(OK, b"Content-Ty", then=end), "text/plain", MAY),
    "ends after the headers": (says(OK, IPP, b"\r\n", then=end), "too early", MAY),
    "ends in the body": (says(whole(JOB)[:-9], then=end), "too early", MAY),
    "stops in the status line": (says(b"HTTP/1.1 2"), "gave no sign", MAY),
    "stops in a header": (says(OK, b"Content-Ty"), "gave no sign", MAY),
    "stops in the body": (says(whole(JOB)[:-9]), "gave no sign", MAY),
    "stops in a chunk": (says(CHUNKED, b"ff\r\nabc"), "gave no sign", MAY),
    "ends in a chunk": (says(CHUNKED, b"ff\r\nabc", then=end), "cannot be", MAY),
    # For ever, a little at a time.
    "trickles the status line": (trickles(b"H"), "was not done within", MAY),
    "trickles a header": (trickles(OK, b"a"), "was not done within", MAY),
    "trickles headers": (trickles(OK, b"a: b\r\n"), "was not done within", MAY),
    "trickles the body": (
        trickles(OK + IPP + b"Content-Length: 9000\r\n\r\n", b"a"),
        "was not done within",
        MAY,
    ),
    "trickles a body without length": (
        trickles(OK + IPP + b"\r\n", b"a"),
        "was not done within",
        MAY,
    ),
    "trickles chunks": (trickles(CHUNKED, chunk(b"a")), "was not done within", MAY),
    "trickles 100 Continue": (
        trickles(b"HTTP/1.1 100 Continue\r\n\r\n"),
        "was not done within",
        MAY,
    ),
    "trickles before it hears": (
        trickles(b"HTTP/1.1 100 Continue\r\n\r\n", hears=nothing),
        "",
        MAY,
    ),
    # For ever, and fast.
    "floods 100 Continue": (
        floods(b"HTTP/1.1 100 Continue\r\n\r\n" * 500),
        "more than|not done",
        MAY,
    ),
    "floods the status line": (floods(b"H" * 65536), "cannot be spoken to", MAY),
    "floods a header": (floods(OK, b"a" * 65536), "cannot be spoken to", MAY),
    "floods headers": (floods(OK, b"a: b\r\n" * 500), "cannot be spoken to", MAY),
    "floods long headers": (
        floods(OK, b"a: " + b"b" * 60_000 + b"\r\n"),
        "cannot be spoken to",
        MAY,
    ),
    "floods folded headers": (
        floods(OK, b"a: b\r\n", b" b\r\n" * 500),
        "cannot be spoken to",
        MAY,
    ),
    "floods the body": (floods(OK + IPP + b"\r\n", bytes(65536)), "answered more", MAY),
    "floods chunks of a byte": (
        floods(CHUNKED, chunk(b"a") * 5000),
        "more than|not done",
        MAY,
    ),
    "floods big chunks": (floods(CHUNKED, chunk(bytes(65536))), "answered more", MAY),
    "floods a chunk's extension": (
        floods(CHUNKED, b"5;" + b"a" * 65536),
        "cannot be spoken to",
        MAY,
    ),
    "floods trailers": (
        floods(CHUNKED + chunk(JOB) + b"0\r\n", b"a: b\r\n" * 500),
        "more than|not done",
        MAY,
    ),
    "floods before it hears": (
        floods(b"HTTP/1.1 100 Continue\r\n\r\n" * 500, hears=nothing),
        "more than|not done|no sign",
        MAY,
    ),
    # Numbers and letters that are none.
    "speaks no HTTP": (says(b"220 ready\r\n", then=end), "cannot be spoken to", MAY),
    "speaks binary": (says(bytes(range(256)), then=end), "cannot be spoken to", MAY),
    "speaks HTTP/9": (
        says(whole(JOB, status=b"HTTP/9.9 200 OK\r\n")),
        "cannot be spoken to",
        MAY,
    ),
    "has status 99999": (
        says(whole(JOB, status=b"HTTP/1.1 99999 x\r\n")),
        "cannot be spoken to",
        MAY,
    ),
    "has a status of words": (
        says(whole(JOB, status=b"HTTP/1.1 \x1b[2J x\r\n")),
        "cannot be spoken to",
        MAY,
    ),
    "has a reason that acts": (
        says(whole(b"", status=b"HTTP/1.1 500 \x1b]0;x\x07\x9b2J\r\n")),
        "HTTP 500",
        MAY,
    ),
    "has a long reason": (
        says(whole(b"", status=b"HTTP/1.1 500 " + b"x" * 60_000 + b"\r\n")),
        "HTTP 500 x",
        MAY,
    ),
    "has a negative length": (
        says(OK + IPP + b"Content-Length: -5\r\n\r\n" + JOB, then=end),
        "",
        None,
    ),
    "has a length of words": (
        says(OK + IPP + b"Content-Length: many\r\n\r\n" + JOB, then=end),
        "",
        None,
    ),
    "has a length of exabytes": (
        says(OK + IPP + b"Content-Length: 9999999999999999999\r\n\r\n" + JOB),
        "gave no sign",
        MAY,
    ),
    "has two lengths": (
        says(
            OK + IPP + b"Content-Length: 5\r\nContent-Length: 9\r\n\r\n" + JOB, then=end
        ),
        "too early",
        MAY,
    ),
    "has a negative chunk": (
        floods(CHUNKED + b"-1\r\n", bytes(65536)),
        "more than|not done|cannot",
        MAY,
    ),
    "has a chunk of words": (
        says(CHUNKED + b"many\r\n", then=end),
        "cannot be spoken to",
        MAY,
    ),
    "has a chunk of exabytes": (
        floods(CHUNKED + b"fffffffffffffff\r\n", bytes(65536)),
        "more than",
        MAY,
    ),
    "has a gzip'd body": (
        says(whole(gzip.compress(JOB), headers=b"Content-Encoding: gzip\r\n")),
        "in the coding gzip",
        MAY,
    ),
    "has a gzip'd transfer": (
        says(
            OK + IPP + b"Transfer-Encoding: gzip, chunked\r\n\r\n" + gzip.compress(JOB),
            then=end,
        ),
        "cannot be understood",
        MAY,
    ),
    "has a type that acts": (
        says(OK + b"Content-Type: a/\x1b[2J\r\nContent-Length: 0\r\n\r\n"),
        "instead of application/ipp",
        MAY,
    ),
    "sends elsewhere": (
        says(whole(b"", status=b"HTTP/1.1 302 x\r\n", headers=b"Location: /ring\r\n")),
        "HTTP 302",
        MAY,
    ),
    "asks for a password": (
        says(whole(b"", status=b"HTTP/1.1 401 x\r\n")),
        "holds no passwords",
        REFUSED,
    ),
    "refuses before it hears": (
        says(
            whole(b"", status=b"HTTP/1.1 413 x\r\n"),
            hears=hear_head,
            then=idle,
        ),
        "lower resolution",
        REFUSED,
    ),
    "says all is well before it hears": (
        says(whole(JOB), hears=hear_head, then=idle),
        "before it had the whole page",
        MAY,
    ),
    # IPP that is none.
    "answers nothing": (says(whole(b"")), "too early", MAY),
    "answers letters": (says(whole(b"all is well")), "cannot be understood", MAY),
    "answers version 9": (says(whole(b"\x09\x00" + JOB[2:])), "in version 9", MAY),
    "answers another request": (
        says(whole(JOB[:4] + b"\0\0\0\x63" + JOB[8:])),
        "the request 99",
        MAY,
    ),
    "answers a group of no kind": (says(whole(HEAD + b"\0")), "group begins", MAY),
    "answers a length beyond the end": (
        says(whole(HEAD + b"\x02" + field(0x41, b"a", b"", length=65535))),
        "too early",
        MAY,
    ),
    "answers a number of three bytes": (
        says(whole(HEAD + b"\x02" + field(0x21, b"job-id", b"abc") + b"\x03")),
        "3 bytes instead of 4",
        MAY,
    ),
    "nests collections": (
        says(whole(HEAD + b"\x02" + NESTED)),
        "lie in one another",
        MAY,
    ),
    "ends a collection that never began": (
        says(whole(HEAD + b"\x02" + field(0x37, b"a", b"") + b"\x03")),
        "before it began",
        MAY,
    ),
    "answers millions of values": (
        says(whole(HEAD + b"\x02" + field(0x13, b"a", b"") * 2_000_000)),
        "more than 100000 groups and",
        MAY,
    ),
    "answers millions of groups": (
        says(whole(HEAD + b"\x02" * 15_000_000 + b"\x03")),
        "more than",
        MAY,
    ),
    "answers 17 MB": (
        says(whole(HEAD + b"\x02" + field(0x41, b"a", bytes(60_000)) * 290)),
        "answered more than",
        MAY,
    ),
}


@contextmanager
def hostile_printer(act, context=None):
    """The port of a printer that does this with whoever connects, encrypted or not."""
    ended = threading.Event()

    def serve(line):
        with suppress(OSError), line:
            line.settimeout(20)
            if context is None:
                act(line)
                return
            with context.wrap_socket(line, server_side=True) as secret:
                act(secret)

    def listen(server):
        while not ended.is_set():
            try:
                line, _ = server.accept()
            except TimeoutError:
                continue
            threading.Thread(target=serve, args=(line,), daemon=True).start()

    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.1)
        listener = threading.Thread(target=listen, args=(server,), daemon=True)
        listener.start()
        yield server.getsockname()[1]
        ended.set()
        listener.join()
