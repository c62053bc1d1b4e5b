"""An unknown word is told with a known one only where it can be a slip of it; else with all."""

import pytest

from etl.errors import InputError
from etl.load.check import check_path
from etl.load.columns import LOGS
from etl.load.mapping import parse_mapping
from etl.load.trial_run import try_rows
from etl.load.words import nearest_word

REASON = LOGS["replacements"].column("reason")
FOREIGN = ("Panne", "Lack", "Plan", "Ausfall", "geplante Wartung", "fuite", "usure",
           "pane", "retiro", "falla", "fallo", "plate", "panel", "opportun", "unten", "Wechsel",
           "planta", "retraso", "fermé")
"""Words of other languages, or of other things, as reasons (from memory)."""


@pytest.mark.parametrize(("word", "near"), [
    ("planed", "planned"), ("plannd", "planned"), ("plannned", "planned"), ("Faild", "failed"),
    ("unknwon", "unknown"), ("found-failed", "found_failed"), ("removed_degradet",
    "removed_degraded"), ("oportunty", "opportunity"), ("upgraed", "upgraded"),
    ("relocatd", "relocated"),
])
def test_a_slip_is_told_with_its_word(word, near):
    assert nearest_word(REASON, word) == near


@pytest.mark.parametrize("word", FOREIGN)
def test_a_word_of_its_own_is_told_with_no_guess(word):
    assert nearest_word(REASON, word) is None


def test_without_a_near_one_all_known_words_are_listed_and_none_is_proposed(site):
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.write("replacements.csv", "removed_on,service_point,reason\n2020-01-31,P1,Panne\n")
    report = check_path(site.logs)
    try_rows(site.logs, report)
    assert '# "Panne" = "..."   # 1 row\n' in report.proposal
    [row] = report.refused
    assert row["remedy"].startswith("Use one of failed, found_failed, ")


@pytest.mark.parametrize(("meaning", "said"), [
    ("Panne", "Known: failed, found_failed"), ("planed", "Did you mean 'planned'?")])
def test_a_meaning_in_the_mapping_is_told_the_same_way(meaning, said):
    with pytest.raises(InputError, match=said.replace("?", r"\?")):
        parse_mapping('[[file]]\nmatch = "a"\nlog = "replacements"\n[file.find.reason]\n'
                      f'column = "t"\nwords = {{ x = "{meaning}" }}\n')
