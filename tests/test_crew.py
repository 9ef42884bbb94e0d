"""Work is shared out among processes; one that dies costs what it held, no more."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import crew_acts
import pytest

import printplan
from printplan.errors import RecordError
from printplan.record.run.crew import Crew, cluster_crew, cores, outcomes, own_crew

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Processes are killed by other means there."
)


@pytest.fixture(scope="module")
def crew():
    with own_crew(2) as crew:
        yield crew


def found(crew, act, tasks=range(1, 9)):
    return {it.task: it.found or it.error for it in outcomes(crew, act, tasks)}


def test_all_is_done_once(crew):
    assert found(crew, crew_acts.tenfold) == {it: 10 * it for it in range(1, 9)}


def test_processors_are_shared_out(crew):
    told = found(crew, crew_acts.threads_of)
    share = max(1, cores() // 2)
    assert {threads for threads, _, _ in told.values()} == {str(share)}
    assert os.getpid() not in {process for _, process, _ in told.values()}


def test_dead_worker_costs_what_it_held(crew):
    told = found(crew, crew_acts.dies_at_three)
    died = told.pop(3)
    assert "died" in died.problem
    assert "makes only what is missing" in died.remedy
    assert told == {it: 10 * it for it in (1, 2, 4, 5, 6, 7, 8)}
    # The next one finds two whole processes again.
    assert found(crew, crew_acts.tenfold, range(4)) == {0: None} | {
        it: 10 * it for it in (1, 2, 3)
    }


def test_worker_that_dies_between_two_prints_costs_none(crew):
    for _, process, _ in found(crew, crew_acts.threads_of, range(4)).values():
        try:
            os.kill(process, signal.SIGKILL)
        except ProcessLookupError:  # it is the same as the one before
            continue
    time.sleep(0.3)
    assert found(crew, crew_acts.tenfold) == {it: 10 * it for it in range(1, 9)}


def test_refusals_and_faults_leave_the_others_alone(crew):
    told = found(crew, crew_acts.refuses_at_three)
    assert (told[3].problem, told[3].remedy) == ("It is 3.", "Give 2.")
    assert "fault in printplan (ZeroDivisionError: of ours)" in told[4].problem
    assert [told[it] for it in (1, 2, 5, 8)] == [10, 20, 50, 80]


def test_any_executor_serves():
    with ThreadPoolExecutor(3) as pool:
        assert found(Crew(pool, at_once=3, threads=1), crew_acts.tenfold)[7] == 70


def test_executor_that_does_not_mend_itself_ends_in_words():
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        told = found(Crew(pool, at_once=1, threads=1), crew_acts.dies_at_three)
    assert told[1] == 10
    assert {told[it].problem for it in range(3, 9)} == {told[3].problem}


def test_what_is_broken_off_clears_up_at_once(tmp_path):
    began_s = time.monotonic()
    path = tmp_path / "half"

    def has_begun():
        if path.exists():
            raise KeyboardInterrupt
        return False

    def work():
        with own_crew(2) as crew:
            list(outcomes(crew, crew_acts.writes_until_told, [path], has_begun))

    with pytest.raises(KeyboardInterrupt):
        work()
    assert not path.exists()
    assert time.monotonic() - began_s < 20


@pytest.mark.parametrize("count", [0, 257])
def test_absurd_number_of_workers_is_refused(count):
    with pytest.raises(RecordError, match="1 to 256"), own_crew(count):
        pass


@pytest.mark.slow
def test_cluster_that_is_not_there_is_refused(monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("printplan.record.run.crew._JOIN_S", 1)
    with (
        pytest.raises(RecordError, match="No scheduler answers"),
        cluster_crew("tcp://127.0.0.1:9"),
    ):
        pass
    with pytest.raises(RecordError, match="No scheduler"), cluster_crew("nonsense://"):
        pass


def test_missing_library_is_told(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(RecordError, match="extra called cluster"),
        cluster_crew("tcp://127.0.0.1:9"),
    ):
        pass


def test_script_without_a_guard_is_told_what_to_do(tmp_path):
    """Each process reads the script that started it."""
    script = tmp_path / "script.py"
    script.write_text(
        "import crew_acts\n"
        "from printplan.record.run.crew import outcomes, own_crew\n"
        "with own_crew(1) as crew:\n"
        "    for it in outcomes(crew, crew_acts.tenfold, [1]):\n"
        "        print(it.found or it.error)\n"
    )
    paths = [str(Path(printplan.__file__).parents[1]), str(Path(__file__).parent)]
    done = subprocess.run(
        [sys.executable, script],
        check=False,
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(paths)},
        timeout=60,
    )
    assert "died" in done.stdout
    assert "if __name__ == '__main__':" in done.stderr
