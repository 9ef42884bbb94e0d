"""A table of prints is read row by row; what is wrong in one names it."""

import codecs

import pytest

from printplan.errors import RecordError
from printplan.record.run.places import name_plans, read_row_plans, run_folder
from printplan.record.run.table import MOST_ROWS, read_run_table
from printplan.units import LengthUnit


@pytest.fixture
def written(tmp_path):
    def write(text, encoding="utf-8"):
        path = tmp_path / "show.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    return write


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("bom", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_mark_and_line_end_is_read(written, mark, bom, end):
    lines = [
        mark.join(("Master", " PAPER ", "width", "copies", "note")),
        mark.join(('"a, b; c.tif"', "Fen Cotton 310", "30 cm", "2", "«né»")),
        mark.join(("d.tif", "", "12 in", "", "")),
        mark * 4,
    ]
    path = written(bom + end.join(lines) + end)
    first, second = read_run_table(path)
    assert first.wish.master.file == str(path.parent / "a, b; c.tif")
    assert (first.wish.paper, first.wish.width_mm) == ("Fen Cotton 310", 300.0)
    assert (first.copies, first.note, first.number) == (2, "«né»", 2)
    assert (second.wish.width_mm, second.copies, second.note) == (304.8, None, "")


def test_every_column_reaches_the_wish(written):
    path = written(
        "master,height,paper,printer,setup,sheet,feed,border,distance\n"
        "a.tif,20cm,P,S,best,A3,front slot,5,1000 mm\n"
    )
    (row,) = read_run_table(path)
    wish = row.wish
    assert (wish.height_mm, wish.border_mm, wish.distance_mm) == (200.0, 5.0, 1000.0)
    assert (wish.paper, wish.printer, wish.setup) == ("P", "S", "best")
    assert (wish.media_size, wish.feed) == ("A3", "front slot")


def test_bare_numbers_are_in_the_studio_s_unit(written):
    path = written("master,width,border\na.tif,10,0.5\n")
    (row,) = read_run_table(path, lengths_in=LengthUnit.INCHES)
    assert (row.wish.width_mm, row.wish.border_mm) == (254.0, 12.7)


def test_decimal_comma_is_read_where_it_cannot_be_thousands(written):
    rows = read_run_table(written("master;width\na.tif;29,7 cm\nb.tif;1,000 mm\n"))
    assert rows[0].wish.width_mm == 297.0
    assert "Row 3, column width" in rows[1].problem.problem


@pytest.mark.parametrize(
    ("row", "problem", "remedy"),
    [
        ("a.tif,wide,,,", "Row 2, column width: ", "300 mm"),
        ("a.tif,-3,,,", "Row 2, column width: ", "300 mm"),
        ("a.tif,10,20,,", "column height: A width is given", "Give one length"),
        ("a.tif,,,2.5,", "column copies: ", "whole number"),
        ("a.tif,,,0,", "column copies: ", "1"),
        ("a.tif,,,100000,", "column copies: ", "9999"),
        (",10,,,", "column master: It is empty", "Name the photograph"),
        ("a.tif,10,,,,x", "Row 2 has 6 cells", "quotation marks"),
        ("a.tif,10,,,p.toml", "column master: A row that names a plan", "that plan"),
    ],
)
def test_wrong_cell_names_row_and_column(written, row, problem, remedy):
    good = "b.tif,10,,,"
    read = read_run_table(written(f"master,width,height,copies,plan\n{row}\n{good}\n"))
    assert problem in read[0].problem.problem
    assert remedy in read[0].problem.remedy
    assert read[0].wish is None
    assert read[1].problem is None


def test_the_same_print_twice_is_told(written):
    rows = read_run_table(
        written("master,width,note\na.tif,10cm,x\n\nb.tif,,\na.tif,100 mm,y\n")
    )
    assert [it.number for it in rows] == [2, 4, 5]
    assert "Row 5 asks for the same print as row 2" in rows[2].problem.problem
    assert "copies" in rows[2].problem.remedy


@pytest.mark.parametrize(
    ("text", "problem", "remedy"),
    [
        (b"", "is empty", "export it again"),
        (b"\n\n", "has no rows", "master, width"),
        (b"master\n", "no row below", "one row for each"),
        (b"width,paper\n1,2\n", "no column called master", "names the photograph"),
        (b"master,widht\na,1\n", 'called "widht"', "width"),
        (b"master,paper,Paper\na,1,2\n", "two columns", "Delete one"),
        (b"master\n\xe9.tif\n", "not UTF-8", "UTF-8"),
        ("master\na.tif\n".encode("utf-16"), "not UTF-8", "UTF-8"),
        (codecs.BOM_UTF8 + b"master\na\0.tif\n", "zero bytes", "UTF-8"),
        (b'master\n"a.tif\n', "is no CSV", "quotation mark"),
        (b"master\n" + b"a.tif\n" * (MOST_ROWS + 1), "more than", "several tables"),
        (b"master\n" + b"a" * 200_000 + b"\n", "is no CSV", "again"),
        (b"x" * 5_000_000, "longer than 4 MB", "meant"),
    ],
)
def test_what_is_no_table_is_refused(written, text, problem, remedy):
    with pytest.raises(RecordError) as refused:
        read_run_table(written(text))
    assert problem in refused.value.problem
    assert remedy in refused.value.remedy


def test_formula_stays_text(written):
    (row,) = read_run_table(
        written('master,note\n=cmd(),"=HYPERLINK(""http://example.test"")"\n')
    )
    assert row.note == '=HYPERLINK("http://example.test")'
    assert row.wish.master.file.endswith("/=cmd()")


def test_same_wish_keeps_its_plan_and_another_gets_its_own(written):
    path = written("master,width,copies\na.tif,100,1\nb.tif,,1\n")
    folder = run_folder(path)
    first = name_plans(folder, read_run_table(path))
    assert [it.name for it in first.values()] == ["a-100-mm.toml", "b.toml"]
    listed = (folder / "run.toml").read_bytes()
    # Another order, other copies, the same length in another unit, and one more.
    path = written("master,width,copies\nb.tif,,3\na.tif,10 cm,2\na.tif,120,1\n")
    second = name_plans(folder, read_run_table(path))
    assert [second[2], second[3]] == [first[3], first[2]]
    assert second[4].name == "a-120-mm.toml"
    assert listed != (folder / "run.toml").read_bytes()
    assert len(read_row_plans(folder)) == 3


def test_name_that_a_file_has_is_not_given(written):
    path = written("master\na.tif\n")
    folder = run_folder(path)
    folder.mkdir()
    (folder / "a.toml").write_text("mine")
    assert name_plans(folder, read_run_table(path))[2].name == "a-2.toml"
    assert (folder / "a.toml").read_text() == "mine"


def test_list_that_leads_out_of_its_folder_is_refused(written):
    path = written("master\na.tif\n")
    folder = run_folder(path)
    name_plans(folder, read_run_table(path))
    listed = folder / "run.toml"
    listed.write_text(listed.read_text().replace('"a.toml"', '"../a.toml"'))
    with pytest.raises(RecordError, match="no plan in its folder"):
        name_plans(folder, read_run_table(path))
