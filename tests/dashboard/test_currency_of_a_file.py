"""The form about a file asks for the rate of its currency only where other files have another."""

from dashboard.parts.start import form
from etl.entry.incoming_choice import Choice

HELD = Choice(kind="parts", currency="USD", columns={"unit_price": "Price"})


def labels(reporting):
    return [box.label for box in form._currency(0, HELD, reporting).children]


def test_a_rate_is_asked_where_the_currency_is_not_the_reporting_one():
    assert labels("") == ["Amounts are in"]
    assert labels("EUR") == ["Amounts are in", "One USD in EUR"]


def test_what_is_typed_becomes_the_choice():
    typed = {"0 currency": "usd", "0 rate": "0.85", "1 rate": "7"}
    made = Choice.model_validate(form.chosen(0, HELD, typed))
    assert (made.currency, made.rate) == ("USD", "0.85")
