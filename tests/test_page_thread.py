"""One thread talks to the controls, whoever computes."""

import asyncio
from dataclasses import replace
from threading import Event, Thread, get_ident

import ipywidgets as widgets
import pytest

from printplan.errors import SpecError
from printplan.units import LengthUnit
from printplan.workbook.bench import Bench
from printplan.workbook.day_page.print_view import PrintView
from printplan.workbook.latest_only import LatestOnly
from printplan.workbook.page_thread import PageThread, page_thread
from printplan.workbook.panels.check import CheckPanel
from printplan.workbook.panels.jobs import JobsPanel
from printplan.workbook.panels.sharpen import Mode


def in_a_kernel(act):
    """Call something as a cell is: in the thread that runs the kernel's loop."""

    async def cell():
        found = act()
        await asyncio.sleep(0.05)  # what was left to the loop
        return found

    return asyncio.run(cell())


@pytest.fixture
def strangers(monkeypatch):
    """Controls that were set in a thread beside the page's own."""
    own, found = get_ident(), []
    notify = widgets.Widget.notify_change

    def told(self, change):
        if get_ident() != own:
            found.append(f"{type(self).__name__}.{change['name']}")
        notify(self, change)

    monkeypatch.setattr(widgets.Widget, "notify_change", told)
    return found


@pytest.mark.slow
def test_no_thread_sets_controls_beside_the_page_s_own(job, strangers):
    def use():
        with Bench.open(job) as bench:
            view, check = PrintView(bench), CheckPanel(bench)
            assert view.settle()
            assert check.settle()
            view.sharpen.mode.value = Mode.AUTO
            width = view.size.lengths["width_mm"].ui
            for step in range(1, 6):
                width.value = width.value - step
                view.size.unit.value = list(LengthUnit)[step % 2]
            assert view.settle()
            assert check.settle()
            view.proof.lighten.ui.value = 2.0
            view.finish.despite.value = True
            assert view.settle()
            view.finish.make.click()
            assert view.settle()
            assert "SHA-256" in view.finish.result.value
            assert "decision sheet" in view.finish.recorded.value

    in_a_kernel(use)
    assert strangers == []


@pytest.mark.slow
def test_no_thread_sets_the_controls_of_a_list_of_jobs(job, strangers):
    def use():
        (job.parents[1] / "paper-book.toml").write_bytes(
            (job.parents[1] / "book.toml").read_bytes()
        )
        opened = []
        panel = JobsPanel(job.parents[1], opened.append)
        assert panel.settle()
        assert panel.chosen is not None
        panel.width.value = "100 mm"
        panel.duplicate.click()
        assert panel.settle()
        assert "The copy is" in panel.status.value

    in_a_kernel(use)
    assert strangers == []


def test_a_stranger_would_be_found(strangers):
    box = widgets.IntText()
    worker = LatestOnly(lambda number: setattr(box, "value", number), print)
    worker.do(lambda: 7)
    assert worker.settle()
    assert strangers == ["IntText.value"]


def test_what_is_left_to_the_page_is_done_there_in_order():
    def use():
        page, own, done = page_thread(), get_ident(), []
        assert page is page_thread()

        def work():
            for number in range(5):
                page.do(lambda number=number: done.append((number, get_ident())))

        thread = Thread(target=work)
        thread.start()
        assert page.wait_for(lambda: len(done) == 5, 10)
        thread.join()
        assert done == [(number, own) for number in range(5)]

    in_a_kernel(use)


def test_loop_acts_without_anybody_waiting():
    done = []

    async def cell():
        page = page_thread()
        Thread(target=lambda: page.do(lambda: done.append(get_ident()))).start()
        for _ in range(200):
            if done:
                return
            await asyncio.sleep(0.01)

    asyncio.run(cell())
    assert done == [get_ident()]


def test_without_a_page_whoever_asks_acts():
    page, done = PageThread(None), []
    thread = Thread(target=lambda: page.do(lambda: done.append(get_ident())))
    thread.start()
    thread.join()
    assert done == [thread.ident]


def test_waiting_ends_in_time():
    assert not PageThread(None).wait_for(lambda: False, 0.05)
    assert in_a_kernel(lambda: page_thread().wait_for(lambda: True, 0))


def test_error_of_a_job_is_shown_by_the_page():
    error = SpecError("No.", remedy="Yes.")

    def use():
        told = []
        worker = LatestOnly(
            print, lambda it: told.append((it, get_ident())), page=page_thread()
        )

        def fail():
            raise error

        worker.do(fail)
        assert worker.settle(10)
        return told

    assert in_a_kernel(use) == [(error, get_ident())]


def test_result_is_dropped_if_another_job_waits_when_it_is_ready():
    def use():
        shown, gate = [], Event()
        worker = LatestOnly(shown.append, print, page=page_thread())
        worker.do(lambda: gate.wait(10) and "first")
        worker.do(lambda: "second")
        worker.do(lambda: "third")
        gate.set()
        assert worker.settle(10)
        return shown

    assert in_a_kernel(use)[-1] == "third"


@pytest.mark.slow
def test_thousand_toggles_and_moves_leave_the_plan_that_was_chosen(job):
    """The unit tells lengths, and changes none; see tests/browser for a real page."""

    def use():
        with Bench.open(job) as bench:
            view = PrintView(bench)
            view.sharpen.mode.value = Mode.AUTO
            before = bench.spec
            for step in range(500):
                view.size.unit.value = list(LengthUnit)[(step + 1) % 2]
                if step % 100 == 0:
                    assert view.settle()
            view.size.unit.value = before.lengths_in
            assert view.settle()
            after = bench.spec
            assert replace(after, sharpen=before.sharpen) == before

    in_a_kernel(use)
