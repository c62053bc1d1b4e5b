"""Short texts of maintenance orders, annotated by hand: which are about hoses, and what words say.

Source: repository nlp-tlp/maintie (MIT), data/gold_release.json; Bikaun et al., "MaintIE", LREC-
COLING 2024 (authors from memory). Counts are facts of the file.
"""

import csv
import json
import re

import pytest

from etl.errors import InputError
from etl.load.check import check_path
from tests.field.conftest import gathered, layers

pytestmark = pytest.mark.field
DATA_SET, NAME = "maintenance_short_texts", "maintie_gold_release.json"


@pytest.fixture(scope="module")
def texts(field_data):
    orders = json.loads((field_data / DATA_SET / NAME).read_text(encoding="utf-8"))
    assert len(orders) == 1_076
    return [order["text"] for order in orders]


def test_words_are_guessed_from_as_the_mapping_says(texts, field_data, tmp_path_factory):
    folder = gathered(tmp_path_factory.mktemp("texts"), field_data, (), DATA_SET)
    (folder / "service_points.csv").write_text("service_point,application_class\nP1,any\n")
    with (folder / "orders.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("number", "text"), *enumerate(texts)])
    expected = {str(number): "failed" if re.search(r"\b(blown|leak|burst|split)", text) else None
                for number, text in enumerate(texts) if "hose" in text}
    assert len(expected) == 65
    with layers(folder, tmp_path_factory.mktemp("store")) as con:
        found = dict(con.execute("select row_id, reason from raw.replacements").fetchall())
        guessed = con.execute("select n_cells from raw.corrections where what like '%guessed%'"
                              ).fetchall()
        kinds = con.execute("select distinct reason from clean.replacements order by 1").fetchall()
    assert found == expected
    assert guessed == [(sum(reason is not None for reason in expected.values()),)]
    assert kinds == [("failed",), ("unknown",)]


def test_a_file_of_another_kind_is_refused_in_a_sentence(field_data):
    [file] = check_path(field_data / DATA_SET / NAME).files
    assert any("files ending in .json are not read. Save it as XLSX or CSV." in message
               for message in file.messages)
    with pytest.raises(InputError, match="no log files found"):
        check_path(field_data / DATA_SET)
