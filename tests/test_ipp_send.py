import os
import plistlib
import re
import subprocess
import sys
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import SimpleNamespace

import pytest
from ipp_printers import (
    free_port,
    needs_printer,
    real_printer,
    require_tools,
    service_discovery,
)

from printplan.cli import main
from printplan.errors import RecordError
from printplan.pixels.render import render
from printplan.record.ipp import http as ipp_http
from printplan.record.ipp import jobs as ipp_jobs
from printplan.record.ipp.http import exchange, printer_address
from printplan.record.ipp.job_ticket import JobTicket, job_ticket
from printplan.record.ipp.jobs import (
    SentJob,
    job_now,
    open_page,
    print_job,
    printer_attributes,
    send_plan,
    validate_job,
    watch_job,
)
from printplan.record.ipp.keywords import (
    GroupTag,
    JobState,
    Operation,
    PrintRenderingIntent,
    Status,
    ValueTag,
)
from printplan.record.ipp.message import (
    Attribute,
    Group,
    Localised,
    Message,
    Range,
    Resolution,
    Value,
    encode_message,
    members_of,
)
from printplan.record.ipp.support import PrinterWords
from printplan.record.ipp.timed_line import Patience

TESTS_OF_IPPTOOL = Path("/usr/share/cups/ipptool")
PATIENCE_S = 30

# The IPP printer of these tests is a program of its own, on the loopback interface;
# it starts only where service discovery runs.
pytestmark = pytest.mark.xdist_group("ipp-printer")


@pytest.fixture(scope="module")
def discovery(tmp_path_factory):
    # A socket's path is at most 108 letters long, so it cannot lie just anywhere.
    with service_discovery(tmp_path_factory.mktemp("bus")) as env:
        yield env


@pytest.fixture(scope="module")
def printer(discovery, tmp_path_factory):
    folder = tmp_path_factory.mktemp("printer")
    with real_printer(folder, discovery, "/bin/true") as made:
        yield made


@pytest.fixture(scope="module")
def bowl(studio):
    """The demo's plan for an A4 sheet, which that printer takes."""
    (path,) = (it for it in studio.plan_paths if it.stem.startswith("red-bowl"))
    return path


@pytest.fixture(scope="module")
def bowl_page(bowl, tmp_path_factory):
    """The file that printplan itself makes of that plan."""
    sheet = open_page(bowl)
    with sheet.master:
        return render(sheet, tmp_path_factory.mktemp("page") / "bowl.pdf").path


def command(monkeypatch, capsys, *arguments):
    """Exit status and what the command line says."""
    monkeypatch.setattr(sys, "argv", ["printplan", *map(str, arguments)])
    with pytest.raises(SystemExit) as end:
        main()
    said = capsys.readouterr()
    return end.value.code or 0, said.out, said.err


WORDS = ["--media-source", "main", "--media-type", "photographic-satin"]
DECIDES = ["--without", "printer-resolution", "--without", "print-rendering-intent"]


@needs_printer
def test_printer_is_asked_before_anything_is_guessed(
    printer, bowl, monkeypatch, capsys
):
    """The book's words are no keywords: the user is told those of the printer."""
    status, said, problem = command(
        monkeypatch, capsys, "send", bowl, "--to", printer.uri, "--dry-run"
    )
    assert (status, said) == (2, "")
    assert "media-source front slot; media-type Baryta, heavy;" in problem
    assert "It takes media-source: auto, main, photo; media-type: auto," in problem
    assert printer.spooled() == []


@needs_printer
def test_dry_run_asks_the_printer_and_sends_nothing(printer, bowl, monkeypatch, capsys):
    asked = printer.log.read_text(encoding="utf-8").count("operation-id=Validate-Job")
    arguments = ["send", bowl, "--to", printer.uri, *WORDS, *DECIDES, "--dry-run"]
    status, said, problem = command(monkeypatch, capsys, *arguments)
    assert (status, problem) == (0, "")
    assert '"media-source": "main"' in said
    assert said.endswith("The printer would take this job. Nothing was sent.\n")
    log = printer.log.read_text(encoding="utf-8")
    assert log.count("operation-id=Validate-Job") == asked + 1
    assert "operation-id=Print-Job" not in log
    assert printer.spooled() == []


# What the printer's own reader says of our request, in the words of its log: A4 in
# portrait (ISO 216), the printer's margins, a landscape page, high quality.
AS_THE_PRINTER_READS_IT = [
    "operation-id=Print-Job(0002)",
    "ipp-attribute-fidelity (boolean) true",
    "document-format (mimeMediaType) application/pdf",
    "job-name (nameWithoutLanguage) red-bowl-on-heron-baryta",
    "copies (integer) 1",
    "sides (keyword) one-sided",
    (
        "media-col (collection) {media-size={x-dimension=21000 y-dimension=29700} "
        "media-top-margin=635 media-bottom-margin=635 media-left-margin=340 "
        "media-right-margin=340 media-source=main media-type=photographic-satin}"
    ),
    "orientation-requested (enum) landscape",
    "print-quality (enum) high",
    "print-color-mode (keyword) color",
]


@pytest.mark.slow
@needs_printer
def test_page_arrives_byte_for_byte(printer, bowl, bowl_page, monkeypatch, capsys):
    status, said, problem = command(
        monkeypatch, capsys, "send", bowl, "--to", printer.uri, *WORDS, *DECIDES
    )
    assert (status, problem) == (0, "")
    assert "Job 1 is completed" in said
    (kept,) = printer.spooled()
    assert kept.read_bytes() == bowl_page.read_bytes()
    log = printer.log.read_text(encoding="utf-8")
    request = log[log.index(AS_THE_PRINTER_READS_IT[0]) :]
    for line in AS_THE_PRINTER_READS_IT:
        assert line in request


@needs_printer
def test_refused_media_col_reaches_the_user(printer, studio, bowl_page):
    """An A3 sheet, sent without asking first, to a printer that takes up to A4."""
    sheet = open_page(studio.plan_path)
    sheet.master.close()
    ticket = job_ticket(sheet.plan)
    refused = (
        "client-error-attributes-or-values-not-supported.*media-col.*29700.*"
        "In Python: without"
    )
    with pytest.raises(RecordError, match=refused):
        print_job(printer.address, ticket, "too large", bowl_page)
    with pytest.raises(RecordError, match=refused):
        validate_job(printer.address, ticket, "too large")
    assert not any("too" in path.name for path in printer.spooled())


@needs_printer
def test_refused_document_format_reaches_the_user(printer):
    ticket = JobTicket(attributes=(), media="", document_format="image/x-none")
    refused = "not-supported .*: document-format image/x-none. Make the file with"
    with pytest.raises(RecordError, match=refused):
        validate_job(printer.address, ticket, "no page")


@pytest.mark.slow
@needs_printer
def test_job_that_fails_at_the_printer_is_no_success(
    discovery, bowl, tmp_path, monkeypatch, capsys
):
    with real_printer(tmp_path, discovery, "/bin/false") as broken:
        status, said, problem = command(
            monkeypatch, capsys, "send", bowl, "--to", broken.uri, *WORDS, *DECIDES
        )
    assert status == 2
    assert "completed" not in said
    assert problem.startswith("The print was not made. Job 1 is aborted")


def as_ipptool_tells(content):
    """A value in the form that ipptool gives to other programs."""
    match content:
        case Range(low, high):
            return {"lower": low, "upper": high}
        case Resolution(across, along, unit):
            return {"xres": across, "yres": along, "units": {3: "dpi", 4: "dpcm"}[unit]}
        case Localised(language, text):
            return {"lang": language, "string": text}
        case tuple():
            return {it.name: told(it) for it in members_of(content)}
        case _:
            return content


def told(attribute):
    values = [as_ipptool_tells(it) for it in attribute.contents]
    return values[0] if len(values) == 1 else values


@needs_printer
def test_answer_is_read_as_ipptool_reads_it(printer, discovery):
    """Another program's reader of the same printer's answer, attribute by attribute."""
    asked = TESTS_OF_IPPTOOL / "get-printer-attributes.test"
    done = subprocess.run(
        ["ipptool", "-X", printer.uri, asked],
        env=discovery,
        capture_output=True,
        check=True,
    )
    groups = plistlib.loads(done.stdout)["Tests"][0]["ResponseAttributes"]
    theirs = next(it for it in groups if "printer-name" in it)
    ours = printer_attributes(printer.address)
    # Times have passed meanwhile; octet strings have no form of their own there.
    timed = re.compile("printer-(up-time|.*date-time|current-time|input-tray|supply)")
    compared = {name for name in ours if not timed.fullmatch(name)} & set(theirs)
    assert {name: told(ours[name]) for name in compared} == {
        name: theirs[name] for name in compared
    }
    assert len(compared) > 60
    assert {"media-size-supported", "copies-supported"} <= set(compared)


def registered(name):
    """Keywords of an attribute, as ipptool's own test of printers lists them."""
    text = (TESTS_OF_IPPTOOL / "ipp-everywhere.test").read_text(encoding="utf-8")
    (words,) = re.findall(rf'{name}-supported .*ALL-VALUES "/\^\((.+)\)\$/"', text)
    return set(words.split("|"))


@needs_printer
def test_keywords_are_the_registered_ones():
    """PWG 5100.13 as another project keeps it."""
    require_tools()
    assert set(PrintRenderingIntent) == registered("print-rendering-intent")
    assert {"color"} <= registered("print-color-mode")


def test_tags_are_those_of_the_encoding():
    """RFC 8010, 3.5.1 and 3.5.2; from memory."""
    groups = ["OPERATION", "JOB", "END_OF", "PRINTER", "UNSUPPORTED"]
    assert [it.name for it in GroupTag] == [f"{it}_ATTRIBUTES" for it in groups]
    assert list(GroupTag) == [1, 2, 3, 4, 5]
    assert {it.name.lower(): hex(it) for it in ValueTag} == {
        "unsupported": "0x10",
        "unknown": "0x12",
        "no_value": "0x13",
        "integer": "0x21",
        "boolean": "0x22",
        "enum": "0x23",
        "octet_string": "0x30",
        "date_time": "0x31",
        "resolution": "0x32",
        "range_of_integer": "0x33",
        "begin_collection": "0x34",
        "text_with_language": "0x35",
        "name_with_language": "0x36",
        "end_collection": "0x37",
        "text_without_language": "0x41",
        "name_without_language": "0x42",
        "keyword": "0x44",
        "uri": "0x45",
        "uri_scheme": "0x46",
        "charset": "0x47",
        "natural_language": "0x48",
        "mime_media_type": "0x49",
        "member_attr_name": "0x4a",
    }


# Printers that answer badly.


class ActionsTaken(BaseHTTPRequestHandler):
    def do_POST(self):
        server = self.server
        if server.hear:
            length = int(self.headers["Content-Length"])
            server.heard.append(self.rfile.read(length))
        status, kind, body = server.answers.pop(0)
        time.sleep(server.pause_s)
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)
        self.close_connection = True

    def log_message(self, *_):
        pass


@pytest.fixture
def bad_printer():
    """A printer that answers what it is told to."""
    server = ThreadingHTTPServer(("localhost", 0), ActionsTaken)
    server.daemon_threads = True
    # A client that hangs up is what some tests are about.
    server.handle_error = lambda *_: None
    server.heard, server.answers = [], []
    server.hear, server.pause_s = True, 0
    server.address = printer_address(f"ipp://localhost:{server.server_port}/ipp/print")
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    yield server
    server.shutdown()
    thread.join()
    server.server_close()


IPP = "application/ipp"


def ipp(code, **groups):
    """A whole answer."""
    made = [
        Group(GroupTag[name], tuple(attributes)) for name, attributes in groups.items()
    ]
    return 200, IPP, encode_message(Message(code=code, groups=tuple(made)))


def attribute(name, tag, *contents):
    return Attribute(name, tuple(Value(tag, content) for content in contents))


def job(state, *reasons):
    return ipp(
        Status.SUCCESSFUL_OK,
        JOB_ATTRIBUTES=[
            attribute("job-id", ValueTag.INTEGER, 7),
            attribute("job-state", ValueTag.ENUM, state),
            attribute("job-state-reasons", ValueTag.KEYWORD, *(reasons or ["none"])),
        ],
    )


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ((401, "text/html", b""), r"HTTP 401 .* holds no passwords"),
        ((404, "text/html", b""), r"HTTP 404 .* Check the path"),
        ((426, "text/html", b""), r"HTTP 426 .* ipps://"),
        ((500, "text/html", b""), r"HTTP 500 .* Restart the printer"),
        ((200, "text/html", b"<html>"), r"text/html instead of application/ipp"),
        ((200, IPP, b"\1\1\0\0"), r"ends too early"),
        ((200, IPP, encode_message(Message(code=0, request_id=9))), r"request 9;"),
        (
            ipp(
                Status.CLIENT_ERROR_CONFLICTING_ATTRIBUTES,
                OPERATION_ATTRIBUTES=[
                    attribute("status-message", 0x41, "too thick for the tray")
                ],
                UNSUPPORTED_ATTRIBUTES=[
                    attribute("media-type", ValueTag.KEYWORD, "cardstock"),
                    attribute("media-key", ValueTag.UNSUPPORTED, None),
                ],
            ),
            (
                r"client-error-conflicting-attributes \(too thick for the tray\): "
                r"media-type cardstock; media-key\. .* change one of them"
            ),
        ),
        (ipp(Status.SERVER_ERROR_BUSY), r"server-error-busy\. Wait until"),
        (ipp(0x04F7), r"status 0x04f7\. Look at the printer"),
        (
            ipp(
                Status.SUCCESSFUL_OK,
                PRINTER_ATTRIBUTES=[
                    attribute("printer-is-accepting-jobs", ValueTag.BOOLEAN, False),
                    attribute("printer-state-reasons", ValueTag.KEYWORD, "paused"),
                ],
            ),
            r"takes no jobs now \(paused\)",
        ),
    ],
    ids=range(11),
)
def test_bad_answer_is_put_into_words(bad_printer, answer, said):
    bad_printer.answers = [answer]
    with pytest.raises(RecordError, match=said):
        printer_attributes(bad_printer.address)


def test_printers_words_cannot_move_the_cursor(bad_printer):
    message = attribute("status-message", 0x41, "\x1b[2Jall is well\r\n")
    bad_printer.answers = [
        ipp(Status.SERVER_ERROR_BUSY, OPERATION_ATTRIBUTES=[message])
    ]
    with pytest.raises(RecordError) as caught:
        printer_attributes(bad_printer.address)
    assert "all is well" in caught.value.problem
    assert caught.value.problem.isprintable()


def test_answer_without_end_is_not_kept(bad_printer, monkeypatch):
    monkeypatch.setattr(ipp_http, "LARGEST_ANSWER_BYTES", 1000)
    bad_printer.answers = [(200, IPP, bytes(1001))]
    with pytest.raises(RecordError, match="answered more than"):
        printer_attributes(bad_printer.address)


BRIEF = Patience(silence_s=0.2, least_s=2.0)


def test_silent_printer_is_given_up(bad_printer):
    bad_printer.answers, bad_printer.pause_s = [job(3)], 1
    request = Message(code=Operation.GET_PRINTER_ATTRIBUTES)
    with pytest.raises(RecordError, match=r"no sign for 0\.2 s\. Check that it is"):
        exchange(bad_printer.address, request, patience=BRIEF)


def test_printer_that_is_not_there_is_told():
    nowhere = printer_address(f"ipp://localhost:{free_port()}/ipp/print")
    with pytest.raises(RecordError, match="Nothing takes print jobs at localhost"):
        printer_attributes(nowhere)


def test_unknown_name_is_told():
    """RFC 6761, 6.4: no machine is called invalid."""
    with pytest.raises(RecordError, match="Check its name"):
        printer_attributes(printer_address("ipp://printer.invalid/ipp/print"))


def test_refusal_is_read_though_the_printer_hangs_up_early(bad_printer, tmp_path):
    page = tmp_path / "page.pdf"
    page.write_bytes(bytes(30_000_000))
    bad_printer.hear, bad_printer.answers = False, [(413, "text/html", b"")]
    ticket = JobTicket(attributes=(), media="")
    # The line may break before the answer is through; that is told instead.
    said = "HTTP 413 .* lower resolution|cannot be spoken to"
    with pytest.raises(RecordError, match=said):
        print_job(bad_printer.address, ticket, "long", page)


def test_page_follows_its_ticket_whole(bad_printer, tmp_path):
    content = os.urandom(1_000_003)
    page = tmp_path / "page.pdf"
    page.write_bytes(content)
    bad_printer.answers = [job(JobState.PENDING)]
    ticket = JobTicket(attributes=(), media="")
    sent = print_job(bad_printer.address, ticket, "whole", page)
    assert (sent.job_id, sent.state) == (7, JobState.PENDING)
    assert bad_printer.heard[0].endswith(b"\x03" + content)


@pytest.fixture
def sent(bad_printer, monkeypatch):
    monkeypatch.setattr(ipp_jobs, "_FIRST_PAUSE_S", 0.01)
    return SentJob(printer=bad_printer.address, job_id=7, state=JobState.PENDING)


def test_job_is_followed_to_its_end(bad_printer, sent):
    stopped = job(JobState.PROCESSING_STOPPED, "media-empty")
    bad_printer.answers = [stopped, stopped, job(JobState.COMPLETED)]
    seen = [it.words for it in watch_job(sent, wait_s=PATIENCE_S)]
    assert seen == ["Job 7 is processing-stopped (media-empty).", "Job 7 is completed."]
    assert bad_printer.answers == []


def test_job_is_not_followed_for_ever(bad_printer, sent):
    bad_printer.answers = [job(JobState.PROCESSING)] * 200
    seen = list(watch_job(sent, wait_s=0.2))
    assert [it.state for it in seen] == [JobState.PROCESSING]
    assert bad_printer.answers != []


def test_a_printer_is_left_in_peace_between_two_questions(
    bad_printer, sent, monkeypatch
):
    pauses = []
    monkeypatch.setattr(ipp_jobs, "sleep", pauses.append)
    processing = [job(JobState.PROCESSING)] * 4
    bad_printer.answers = [*processing, job(JobState.COMPLETED)]
    list(watch_job(sent, wait_s=PATIENCE_S))
    assert len(pauses) == 5
    assert pauses == sorted(pauses)
    assert pauses[0] == 0.01


def test_lost_printer_does_not_hide_that_the_job_was_sent(bad_printer, sent):
    bad_printer.answers = [(500, "text/html", b"")]
    with pytest.raises(RecordError, match=r"Job 7 was sent, and then: .* well print"):
        job_now(sent)
    bad_printer.answers = [ipp(Status.SUCCESSFUL_OK)]
    with pytest.raises(RecordError, match="answers without job-id"):
        job_now(sent)


def test_stopping_while_the_page_goes_says_that_it_may_print(
    bowl, monkeypatch, tmp_path
):
    def stopped(*_):
        raise KeyboardInterrupt

    made = SimpleNamespace(path=tmp_path / "page.pdf", bytes_written=1)
    monkeypatch.setattr(ipp_jobs, "_agreed", lambda *_: None)
    monkeypatch.setattr(ipp_jobs, "render", lambda *_, **__: made)
    monkeypatch.setattr(ipp_jobs, "print_job", stopped)
    said = []
    with pytest.raises(KeyboardInterrupt):
        send_plan(bowl, "ipp://studio.example/", PrinterWords(), report=said.append)
    assert said[-1].startswith("Look at the printer before you send it again")


@pytest.mark.parametrize(
    "uri",
    [
        "http://printer.local/ipp/print",
        "printer.local",
        "ipp:///ipp/print",
        "ipp://printer.local:port/ipp/print",
        "ipp://printer.local:99999/ipp/print",
        "ipp://[::1/ipp/print",
        "ipp://me@printer.local/ipp/print",
        "ipp://printer.local/ipp/print?raw",
        "ipp://printer.local/ipp/two words",
        "ipp://printer.local/ipp\r\nHost: other",
    ],
)
def test_address_that_is_none_is_refused(uri):
    with pytest.raises(RecordError, match="Write ipp://NAME:631/ipp/print"):
        printer_address(uri)


def test_address_is_read_as_the_standard_says():
    """RFC 3510, 4.2: port 631 unless told; RFC 7472: ipps means TLS."""
    plain = printer_address("ipp://[::1]/ipp/print")
    assert (plain.host, plain.port, plain.path, plain.encrypted) == (
        "::1",
        631,
        "/ipp/print",
        False,
    )
    assert printer_address("ipps://printer.local:8631").encrypted


def test_untrusted_certificate_is_no_silent_fallback(bad_printer):
    """A printer that speaks no TLS at all, asked for it."""
    secure = printer_address(f"ipps://localhost:{bad_printer.server_port}/ipp/print")
    with pytest.raises(RecordError, match="no trusted encrypted connection"):
        printer_attributes(secure)
    assert bad_printer.heard == []


@pytest.mark.parametrize("said", [None, True, False])
def test_a_printer_takes_jobs_unless_it_says_that_it_does_not(monkeypatch, said):
    """RFC 8011 asks each to say so (printer-is-accepting-jobs); some say nothing."""
    told = {}
    if said is not None:
        value = Value(ValueTag.BOOLEAN, said)
        told["printer-is-accepting-jobs"] = Attribute(
            "printer-is-accepting-jobs", (value,)
        )
    monkeypatch.setattr(ipp_jobs, "asked_attributes", lambda _: told)
    address = printer_address("ipp://localhost/ipp/print")
    if said is False:
        with pytest.raises(RecordError, match="takes no jobs now"):
            ipp_jobs.printer_attributes(address)
    else:
        assert ipp_jobs.printer_attributes(address) is told
