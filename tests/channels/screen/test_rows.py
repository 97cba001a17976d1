"""The words on the window, row by row."""

from tocsin.channels.screen.rows import view_rows
from tocsin.model.display.view_model import ViewModel


def test_no_number_of_a_result_is_parted_from_its_unit():
    """A line broken there begins with "s."."""
    said = (
        "Broke off 1.8 s early. The way home took 20.2 s.", "2 of 2 clean: probably 34 to 100 %.", "3 shots, 2 so far",
    )  # fmt: skip
    rows = view_rows(ViewModel(phase="over", heading="Casting Day", title="Match over", result=said), focused=True)
    assert [row.text.replace("\N{NO-BREAK SPACE}", "_") for row in rows if row.name.startswith("result")] == [
        "Broke off 1.8_s early. The way home took 20.2_s.", "2 of 2 clean: probably 34 to 100_%.", "3 shots, 2 so far",
    ]  # fmt: skip
