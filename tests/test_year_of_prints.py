"""The invented year is invented, always the same, and tells what it is meant to."""

import pytest

from printplan.demo.inks import INKED_PAPERS
from printplan.demo.year_of_prints import (
    EDITION,
    INVENTED,
    SETTINGS_KEPT_ON,
    make_year_of_prints,
    year_of_prints,
)
from printplan.errors import RecordError
from printplan.record.journal.entry import CAUSES, Outcome
from printplan.record.journal.misprints import before_after, overall_rate
from printplan.record.journal.view import read_journal


@pytest.fixture(scope="module")
def year(tmp_path_factory):
    path = tmp_path_factory.mktemp("year") / "journal.db"
    make_year_of_prints(path)
    with read_journal(path) as journal:
        yield journal


def test_every_row_and_the_file_say_that_they_are_invented(year):
    assert "invented" in INVENTED.lower()
    assert year.note() == INVENTED
    assert {kept.entry.note for kept in year.entries()} == {INVENTED}
    assert {edition.note for edition in year.editions()} == {INVENTED}
    assert all("invented" in kept.entry.cost.basis for kept in year.entries())


def test_misprints_fall_as_common_practice_has_it(year):
    """About 23 % before consistent settings, under 5 % after: no source."""
    parts = before_after(year.entries(), SETTINGS_KEPT_ON)
    assert parts.before.share == pytest.approx(0.23, abs=0.01)
    assert parts.after.share < 0.05
    assert parts.fall.low > 0
    assert overall_rate(year.entries()).prints == 260


def test_year_is_on_the_studios_papers_and_working_days(year):
    entries = [kept.entry for kept in year.entries()]
    # The studio's other papers came into its book after that year.
    papers = {"Alder Satin 260", "Heron Baryta 315", "Fen Cotton 310"}
    assert {it.paper for it in entries} == papers
    assert papers < {paper.name for paper in INKED_PAPERS}
    assert {it.printed_at.year for it in entries} == {2024}
    assert {it.printed_at.weekday() for it in entries} == set(range(5))
    assert {it.cause for it in entries} - {""} < set(CAUSES)
    assert {it.outcome for it in entries} == set(Outcome)


def test_edition_shows_a_spoiled_number(year):
    (edition,) = year.editions()
    assert edition.title == EDITION
    assert [it.number for it in edition.issued] == list(range(1, 12))
    assert 0 < len(edition.spoiled) < 4


def test_same_seed_gives_the_same_year():
    assert year_of_prints() == year_of_prints()
    assert year_of_prints(1) != year_of_prints(2)


def test_any_seed_gives_the_same_shares():
    lost = [it.outcome for it in year_of_prints(7)].count(Outcome.MISPRINT)
    assert lost == [it.outcome for it in year_of_prints()].count(Outcome.MISPRINT)


def test_year_replaces_no_file(tmp_path):
    path = tmp_path / "journal.db"
    path.write_text("mine")
    with pytest.raises(RecordError, match="choose another name"):
        make_year_of_prints(path)
    assert path.read_text() == "mine"
