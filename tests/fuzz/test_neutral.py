"""Texts that a spreadsheet program would run are neutral in an export, and come back to the letter."""

from hypothesis import given
from hypothesis import strategies as st

from plaitlog.service.usecases.spreadsheets.neutral import neutral, plain

SIGNS = "=+-@\t\r"
tricky = st.text(alphabet="=+-@\t\r\n '\"a1＝＋\u200b\ufeff\xa0", max_size=8)
texts = st.one_of(tricky, st.text(), st.builds("{}{}".format, tricky, st.text()))


@given(texts)
def test_every_text_comes_back(text: str) -> None:
    assert plain(neutral(text)) == text


@given(texts)
def test_also_one_that_was_made_neutral_before_and_before_that(text: str) -> None:
    assert plain(plain(plain(neutral(neutral(neutral(text)))))) == text


@given(texts)
def test_what_is_neutral_begins_with_no_sign_whatever_blanks_and_quotes_a_program_passes_over(
    text: str,
) -> None:
    cell = neutral(text)
    assert not cell.startswith(tuple(SIGNS))
    assert cell.startswith("'") or not cell.lstrip(" \t\r\n'\"").startswith(tuple(SIGNS))


@given(st.text(alphabet=st.characters(categories=["L", "N"])))
def test_plain_texts_stay_as_they_are(text: str) -> None:
    assert neutral(text) == plain(text) == text


def test_the_signs_of_the_standard_are_covered_one_by_one() -> None:
    for sign in SIGNS:
        assert neutral(f"{sign}cmd") == f"'{sign}cmd"
    assert neutral("12-3") == "12-3"
    assert neutral("'tis") == "'tis"
    assert plain("'tis") == "'tis"
