"""Whatever a printer does, a request ends in time, in an answer or an error of ours."""

import socket
import ssl
import subprocess
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from pathlib import Path
from time import monotonic, sleep

import pytest
from hostile_printers import (
    BEHAVIOURS,
    JOB,
    MAY,
    NO,
    TRICKLE_S,
    hold,
    hostile_printer,
    says,
    whole,
)
from outside_tools import need

from printplan.errors import RecordError
from printplan.record.ipp import timed_line
from printplan.record.ipp.http import exchange, printer_address
from printplan.record.ipp.keywords import Operation
from printplan.record.ipp.message import Message
from printplan.record.ipp.timed_line import FOR_PAGES, Patience

# The rule as it is, with shorter times: 6 MB, more than a line holds on its way, give
# half a second more.
BRIEF = Patience(silence_s=0.6, least_s=1.0, slowest_bytes_per_s=12e6)
PAGE_BYTES = 6_000_000
# A last look for an answer, and the machine's own.
LEEWAY_S = 1.0 + 1.5

BUSY = ("answers millions of values", "answers millions of groups", "answers 17 MB")

REQUEST = Message(code=Operation.PRINT_JOB)


class Outcome:
    """What came of one request."""

    def __init__(self, name, page):
        act, *_ = BEHAVIOURS[name]
        self.error = self.reply = None
        with hostile_printer(act) as port:
            address = printer_address(f"ipp://127.0.0.1:{port}/ipp/print")
            began_s = monotonic()
            try:
                self.reply = exchange(address, REQUEST, page, patience=BRIEF)
            except RecordError as error:
                self.error = error
            self.took_s = monotonic() - began_s


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "page.pdf"
    path.write_bytes(bytes(PAGE_BYTES))
    return path


@pytest.fixture(scope="module")
def outcomes(page):
    """
    Of all of them, several at once; an error that is not ours comes out here.

    Those that keep this interpreter busy come by themselves: side by side they would
    wait for each other, not for a printer.
    """
    with ThreadPoolExecutor(8) as pool:
        futures = {
            name: pool.submit(Outcome, name, page)
            for name in BEHAVIOURS
            if name not in BUSY
        }
        waited = {name: future.result() for name, future in futures.items()}
    return waited | {name: Outcome(name, page) for name in BUSY}


@pytest.mark.slow
@pytest.mark.parametrize("name", BEHAVIOURS)
def test_request_ends_in_time_and_in_words(outcomes, name):
    _, told, fate = BEHAVIOURS[name]
    outcome = outcomes[name]
    assert outcome.took_s < BRIEF.overall_s(PAGE_BYTES) + LEEWAY_S
    if outcome.error is None:
        assert told == ""
        assert outcome.reply.code == 0
        return
    problem, remedy = outcome.error.problem, outcome.error.remedy
    assert any(it in problem + remedy for it in told.split("|"))
    assert (problem + remedy).isprintable()
    assert len(problem) < 600
    assert remedy.endswith(".")
    if fate is not None:
        assert (MAY in remedy) == (fate == MAY)
        assert (NO in problem) == (fate == NO)


def test_sixty_of_them_are_tried():
    assert len(BEHAVIOURS) >= 60


def test_page_for_a_printer_that_is_not_there_was_not_sent(page):
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    address = printer_address(f"ipp://127.0.0.1:{port}/ipp/print")
    with pytest.raises(RecordError, match=NO):
        exchange(address, REQUEST, page, patience=BRIEF)


@pytest.mark.parametrize("host", ["a..b", "x" * 64, "printer.invalid"])
def test_name_that_none_can_have_is_told(host):
    """RFC 1035, 2.3.4: a label has 1 to 63 letters; RFC 6761, 6.4: none is invalid."""
    with pytest.raises(RecordError, match="cannot be spoken to"):
        exchange(printer_address(f"ipp://{host}/"), REQUEST)


def test_look_up_of_a_name_is_not_waited_for_longer(monkeypatch):
    asked = []

    def slow(*_, **__):
        asked.append(monotonic())
        sleep(3)
        return []

    monkeypatch.setattr(timed_line.socket, "getaddrinfo", slow)
    began_s = monotonic()
    with pytest.raises(RecordError, match=r"gave no sign for 0\.6 s"):
        exchange(printer_address("ipp://slow.example/"), REQUEST, patience=BRIEF)
    assert asked
    assert monotonic() - began_s < BRIEF.least_s + 1


def test_page_that_crawls_at_an_allowed_rate_arrives(tmp_path):
    """Longer than a request without a page may take, and never silent for long."""
    page = tmp_path / "page.pdf"
    length = 30_000_000
    page.write_bytes(bytes(length))
    patience = Patience(silence_s=0.8, least_s=0.8, slowest_bytes_per_s=6e6)

    def hear_slowly(line):
        count = 0
        while count < length and (more := line.recv(1 << 18)):
            count += len(more)
            sleep(len(more) / 20e6)

    began_s = monotonic()
    with hostile_printer(says(whole(JOB), hears=hear_slowly)) as port:
        address = printer_address(f"ipp://127.0.0.1:{port}/")
        reply = exchange(address, REQUEST, page, patience=patience)
    assert reply.code == 0
    assert monotonic() - began_s > patience.least_s


def trickled_handshake(line):
    for byte in b"\x16\x03\x03\x40\x00" + bytes(1000):
        line.sendall(bytes([byte]))
        sleep(TRICKLE_S)


@pytest.mark.parametrize("act", [hold, trickled_handshake])
def test_encryption_that_is_never_agreed_is_given_up(act, page):
    began_s = monotonic()
    with hostile_printer(act) as port:
        address = printer_address(f"ipps://127.0.0.1:{port}/")
        with pytest.raises(RecordError, match=NO):
            exchange(address, REQUEST, page, patience=BRIEF)
    assert monotonic() - began_s < BRIEF.overall_s(PAGE_BYTES) + LEEWAY_S


@pytest.fixture
def trusted(tmp_path, monkeypatch):
    """A certificate that this process trusts, made by another program."""
    need("openssl")
    made = tmp_path / "both.pem"
    subject = ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"]
    out = ["-keyout", made, "-out", tmp_path / "certificate.pem"]
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", *subject, *out],
        check=True,
        capture_output=True,
    )
    certificate = (tmp_path / "certificate.pem").read_bytes()
    made.write_bytes(made.read_bytes() + certificate)
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "certificate.pem"))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(made)
    return context


@pytest.mark.tools("openssl")
@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("", ""),
        ("trickles the body", "was not done within"),
        ("never hears", "gave no sign"),
        ("hears and resets", "cannot be spoken to"),
        ("hears half the page and hangs up", "cannot be spoken to"),
        ("floods 100 Continue", "more than|not done"),
        ("refuses before it hears", "lower resolution"),
    ],
)
def test_encrypted_line_ends_in_time_too(trusted, page, name, told):
    act = BEHAVIOURS[name][0] if name else says(whole(JOB))
    began_s = monotonic()
    with hostile_printer(act, trusted) as port:
        address = printer_address(f"ipps://localhost:{port}/")
        if not name:
            assert exchange(address, REQUEST, page).code == 0
            return
        with pytest.raises(RecordError, match=told) as caught:
            exchange(address, REQUEST, page, patience=BRIEF)
    refused = "lower resolution" in told
    assert (MAY in caught.value.remedy) != refused
    assert monotonic() - began_s < BRIEF.overall_s(PAGE_BYTES) + LEEWAY_S


@pytest.mark.slow
def test_damaged_answers_are_a_printer_or_refused_in_words(monkeypatch):
    monkeypatch.syspath_prepend(str(Path(__file__).parent / "fuzz"))
    fuzz = import_module("answers")
    assert fuzz.ended(fuzz.sound()) == fuzz.READ
    ends = Counter(fuzz.ended(fuzz.case(seed)) for seed in range(1000))
    assert set(ends) == {fuzz.READ, fuzz.REFUSED}
    assert min(ends.values()) > 100


def test_hundreds_of_megabytes_have_the_time_they_take():
    """300 MB at 1 Mbit/s, a poor wireless line (common practice, no source)."""
    assert FOR_PAGES.overall_s(300_000_000) > 300_000_000 / (1e6 / 8)
