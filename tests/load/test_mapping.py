import datetime as dt
import re

import pytest

from etl.errors import InputError
from etl.load.columns import LOGS
from etl.load.mapping import parse_mapping
from etl.load.plan import make_plan
from etl.load.recognise import Feed, date_in_name, log_by_name, recognise
from etl.load.typing import build_clean

ENTRY = '[[file]]\nmatch = "north*.csv"\nlog = "installations"\n'


def test_parse_mapping_reads_every_key():
    mapping = parse_mapping('currency = "GBP"\n' + ENTRY + """
delimiter = ";"
encoding = "cp1252"
header_row = 3
sheet = "Orders"
date_formats = ["%d.%m.%Y"]
decimal = ","
thousands = "."
two_digit_year_pivot = 60
exported_on = 2026-10-31
ignore = ["Clerk"]
no_date = ["9999-12-31"]
[file.columns]
installed_on = "Fitted"
service_point = ["Asset", "Position"]
[file.constants]
part_number = 7
[file.extract]
hose_id = { column = "text", pattern = 'H(\\d+)' }
[file.units]
age_at_installation = "h"
[file.skip]
state = ["void", ""]
[[file]]
match = "north*.csv"
log = "replacements"
[file.words.reason]
BRKDN = "failed"
"" = "unknown"
""")
    entry, other = mapping.file
    assert mapping.currency == "GBP"
    assert entry.sources() == {"installed_on": ("Fitted",), "service_point": ("Asset", "Position")}
    assert entry.exported_on == dt.date(2026, 10, 31)
    options = entry.options()
    assert options.date_formats == ("%d.%m.%Y", "%Y-%m-%d")
    assert (options.decimal, options.thousands, options.two_digit_year_pivot) == (",", ".", 60)
    assert options.units == {"age_at_installation": "h"}
    assert options.no_date == ("9999-12-31",)
    assert other.options().words == {"reason": {"BRKDN": "failed", "": "unknown"}}


@pytest.mark.parametrize(("text", "said"), [
    ("currency = ", "not readable as TOML"),
    ('curency = "GBP"', "Did you mean 'currency'?"),
    ('[[file]]\nmatch = "a"', "log: Field required"),
    ('[[file]]\nmatch = "a"\nlog = "instalations"', "Did you mean 'installations'?"),
    (ENTRY + 'date_format = ["%d.%m.%Y"]', "Did you mean 'date_formats'?"),
    (ENTRY + 'date_formats = ["dd.mm.yyyy"]', "is not a date format such as '%d.%m.%Y'"),
    (ENTRY + 'decimal = ";"', "decimal"),
    (ENTRY + 'decimal = ","\nthousands = ","', "are both ','"),
    (ENTRY + 'delimiter = "::"', "is not one delimiter"),
    (ENTRY + "header_row = 0", "header_row"),
    (ENTRY + '[file.columns]\ninstaled_on = "x"', "Did you mean 'installed_on'?"),
    (ENTRY + '[file.columns]\ninstalled_on = "x"\nhose_id = "X "', "is mapped to both"),
    (ENTRY + '[file.columns]\nhose_id = "x"\n[file.constants]\nhose_id = "y"', "filled twice"),
    (ENTRY + "[file.columns]\nhose_id = []", "names no column"),
    (ENTRY + '[file.units]\nhose_id = "h"', "hose_id has no unit"),
    (ENTRY + '[file.units]\nage_at_installation = "psi"', "unit 'psi' cannot be turned into"),
    (ENTRY + "[file.extract]\nhose_id = { column = 'a', pattern = '(' }", "regular expression"),
    (ENTRY + "[file.extract]\nhose_id = { column = 'a', pattern = 'a' }", "exactly one group"),
    (ENTRY + '[file.skip]\nremove = ["x"]\nno_date = ["9999-12-31"]', "Move the line up"),
    (ENTRY + 'date_formats = ["%d.%m.%Y%"]', "is not a date format"),
    (ENTRY + "[file.constants]\ninstalled_on = 2020-01-01T10:00:00", "must be a text"),
    (ENTRY.replace("installations", "replacements") + '[file.words.reason]\nX = "faild"',
     "[[file]] 1 (north*.csv): words.reason turns 'X' into 'faild', which is not one of failed"),
    (ENTRY.replace("installations", "replacements") + '[file.words.reason]\nX = "failed"\n'
     '" x" = "planned"', "words.reason gives ' x' two meanings"),
    (f"a = {'[' * 3000}", "not readable as TOML (it nests too deeply)"),
    (f"a = {'{a = ' * 2000}", "not readable as TOML (it nests too deeply)"),
    (f"a = {'9' * 5000}", "not readable as TOML (a number in it has too many digits)"),
    (ENTRY + "[file.keep]\nx = 'a{9999999999}'", "is not a regular expression"),
    (ENTRY + f"[file.keep]\nx = '{'(' * 1500}{')' * 1500}'", "is not a regular expression"),
    (ENTRY + "[file.extract]\nhose_id = { column = 'a', pattern = '(a{9999999999})' }",
     "is not a regular expression"),
    (ENTRY + "exported_on = 86400", "a day, written as 2026-10-31"),
    (ENTRY + "exported_on = 20261031", "a day, written as 2026-10-31"),
    ('[[swap]]\non = 0\nplaces = ["A", "B"]', "a day, written as 2026-10-31"),
], ids=lambda text: text.removeprefix(ENTRY)[:30].replace("\n", " "))
def test_parse_mapping_names_the_fault_and_the_nearest_name(text, said):
    with pytest.raises(InputError, match=r"^columns\.toml: ") as caught:
        parse_mapping(text)
    assert said in str(caught.value)


@pytest.mark.parametrize(("file", "log"), [
    ("installations.csv", "installations"), ("Installations_2026.XLSX", "installations"),
    ("installations-north.tsv", "installations"), ("service points 2.csv", "service_points"),
    ("Service-Points.csv", "service_points"), ("parts(1).csv", "parts"),
    ("partsbook.csv", None), ("my_installations.csv", None), ("x.csv", None),
])
def test_log_by_name(file, log):
    found = log_by_name(file)
    assert (found.name if found else None) == log


@pytest.mark.parametrize(("file", "day"), [
    ("a_2026-10-31.csv", dt.date(2026, 10, 31)), ("a20261031.csv", dt.date(2026, 10, 31)),
    ("a_2026.csv", None), ("a_2026-13-01.csv", None), ("a_2026-01-01_2026-02-01.csv", None),
    ("a_1202610311.csv", None),
])
def test_date_in_name(file, day):
    assert date_in_name(file) == day


def test_recognise_gives_every_matching_entry_and_knows_bracketed_names():
    mapping = parse_mapping(ENTRY + '[[file]]\nmatch = "[x].csv"\nlog = "stock"\n'
                            '[[file]]\nmatch = "NORTH_?.csv"\nlog = "parts"\n')
    assert [(feed.entry_no, feed.log.name) for feed in recognise("north_1.csv", mapping)] == [
        (1, "installations"), (3, "parts")]
    assert [feed.log.name for feed in recognise("[x].csv", mapping)] == ["stock"]
    assert [feed.log.name for feed in recognise("trials.csv", mapping)] == ["trials"]
    with pytest.raises(InputError, match=r'Add \[\[file\]\] match = "y.csv"'):
        recognise("y.csv", mapping)


def plan(text, header):
    entry = parse_mapping(text).file[0] if text else None
    feed = Feed(1, LOGS["installations"], entry)
    return make_plan("a.csv", feed, tuple(header), [feed])


def test_make_plan_fills_joins_and_leaves_aside():
    made = plan(ENTRY + 'ignore = ["Cl*"]\n[file.columns]\nservice_point = ["A", "B"]\n',
                ["Installed On", "A", "B", "Clerk", "Clerk", "", "hose id"])
    assert made.filled == {"service_point": "nullif(concat_ws(' / ', c1, c2), '')",
                           "installed_on": "c0", "hose_id": "c6"}
    assert made.other == (("Clerk", 3), ("Clerk (2)", 4), ("column 6", 5))


@pytest.mark.parametrize(("text", "header", "said"), [
    ("", ["installed_on", "Position"],
     'Required column service_point of installations is missing; nearest is \'Position\'.'
     ' Add [file.columns] service_point = "Position".'),
    ("", ["installed_on", "service_point", "Serial no"],
     'Unknown column \'Serial no\'. Add [file.columns] hose_id = "Serial no", or'
     ' ignore = ["Serial no"].'),
    ("", ["installed_on", "service_point", 'x"\\y'], 'ignore = ["x\\"\\\\y"]'),
    (ENTRY + '[file.columns]\nhose_id = "Taag"', ["installed_on", "service_point", "Tag"],
     "takes hose_id from column 'Taag', which the file does not have."),
    (ENTRY + '[file.skip]\nstate = ["x"]', ["installed_on", "service_point"],
     "takes rows to skip from column 'state'"),
    (ENTRY + 'ignore = ["*"]', ["installed_on", "service_point"],
     "Required column installed_on of installations is missing; ignore leaves 'installed_on' aside."
     ' Add [file.columns] installed_on = "installed_on".'),
], ids=["missing", "unknown", "quotes in a name", "mapped column absent", "skip column absent",
        "ignored by a pattern"])
def test_make_plan_says_what_to_add(text, header, said):
    with pytest.raises(InputError, match=r"^a\.csv: ") as caught:
        plan(text, header)
    assert said in str(caught.value)


def test_make_plan_asks_for_one_of_the_ways_to_name_a_meter():
    feed = Feed(1, LOGS["usage"], None)
    with pytest.raises(InputError, match="usage needs equipment or service_point"):
        make_plan("a.csv", feed, ("read_on", "clock", "reading"), [feed])


RATES = 'currency = "GBP"\n[rates]\nNOK = 0.0742\nEUR = 0.85\n'
AMOUNTS = "removed_on,service_point,reason,part_cost\n2020-01-01,P1,failed,{}\n"


@pytest.mark.parametrize(("currency", "cell", "expected"), [
    ("NOK", "1000", "74.20"), ("NOK", "0.01", "0.00"), ("EUR", "12.35", "10.50"),
    ("GBP", "12.35", "12.35"), (None, "12.35", "12.35"), ("NOK", "999999999999", "74199999999.93"),
    ("NOK", "9999999999999999.99", None),
])
def test_amounts_of_another_currency_are_turned_into_ours_by_the_declared_rate(
    site, currency, cell, expected
):
    declared = f'currency = "{currency}"\n' if currency else ""
    site.write("columns.toml", RATES + '[[file]]\nmatch = "replacements.csv"\n'
               'log = "replacements"\n' + declared)
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.write("replacements.csv", AMOUNTS.format(cell))
    site.load()
    build_clean(site.con, site.groups)
    assert site.rows("select part_cost::varchar from clean.replacements") == [(expected,)]


@pytest.mark.parametrize(("currency", "said"), [
    ("NKO", "currency 'NKO' has no rate. Did you mean 'NOK'?"),
    ("SEK", "Add a line \"SEK\" = ... to [rates]"),
])
def test_a_currency_without_a_rate_is_refused_with_the_nearest_one(currency, said):
    with pytest.raises(InputError, match=re.escape(said)):
        parse_mapping(RATES + '[[file]]\nmatch = "a.csv"\nlog = "replacements"\n'
                      f'currency = "{currency}"\n')
