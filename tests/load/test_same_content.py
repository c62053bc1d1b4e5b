"""One content delivered in two folders is read once, by check as by load, and both say how."""

import pytest

from etl.load import archive
from etl.load.check import check_path
from tests.load.test_check_as_load import by_check, by_load, write_beside

OUT = "removed_on,service_point,reason,hose_id,Clerk\n"
ROWS = OUT + "2020-01-31,P1,BRKDN,H1,AB\n2020-02-01,P2,WORN,H2,CD\n"
PLAIN = "removed_on,service_point,reason\n2020-01-31,P1,failed\n2020-02-01,P2,failed\n"
ENTRY = '[[file]]\nmatch = "{name}"\nlog = "{log}"\nignore = ["Clerk"]\n{more}'
WORDS = '[file.words.reason]\nBRKDN = "failed"\n'
BOTH = WORDS + 'WORN = "removed_degraded"\n'


def mapping(more="", name="replacements.csv", log="replacements"):
    return ENTRY.format(name=name, log=log, more=more)


CASES = {
    "the last mapping reads more": {"north/replacements.csv": ROWS, "north/columns.toml":
        mapping(WORDS), "south/replacements.csv": ROWS, "south/columns.toml": mapping(BOTH)},
    "the last mapping reads less": {"north/replacements.csv": ROWS, "north/columns.toml":
        mapping(BOTH), "south/replacements.csv": ROWS, "south/columns.toml": mapping(WORDS)},
    "the last has no mapping": {
        "north/replacements.csv": PLAIN, "south/replacements.csv": PLAIN, "north/columns.toml":
        '[[file]]\nmatch = "*"\nlog = "replacements"\n[file.keep]\nservice_point = "P1"\n'},
    "the folder above and one below": {"replacements.csv": ROWS, "columns.toml": mapping(BOTH),
        "south/replacements.csv": ROWS, "south/columns.toml": mapping(WORDS)},
    "three folders, the last as the first": {
        "a/replacements.csv": ROWS, "a/columns.toml": mapping(WORDS),
        "b/replacements.csv": ROWS, "b/columns.toml": mapping(BOTH),
        "c/replacements.csv": ROWS, "c/columns.toml": mapping(WORDS)},
    "another name under another mapping": {"north/replacements.csv": ROWS, "north/columns.toml":
        mapping(WORDS), "south/out.csv": ROWS, "south/columns.toml": mapping(BOTH, "out.csv")},
    "another ending whose name alone tells the log": {
        "export.csv": PLAIN, "replacements.txt": PLAIN},
    "a later file of the same rows between them": {
        "a/replacements.csv": ROWS, "a/columns.toml": mapping(WORDS),
        "b/replacements_b.csv": OUT + "2020-01-31,P1,planned,H1,EF\n",
        "b/columns.toml": mapping(name="replacements_b.csv"),
        "c/replacements.csv": ROWS, "c/columns.toml": mapping(BOTH)},
    "swaps of the mapping that counts": {
        "north/replacements.csv": ROWS, "north/columns.toml":
        '[[swap]]\non = 2020-01-05\nplaces = ["P1", "P2"]\n' + mapping(BOTH),
        "south/replacements.csv": ROWS, "south/columns.toml": mapping(BOTH)},
}


@pytest.mark.parametrize("name", CASES)
def test_check_and_load_read_one_content_by_the_same_mapping(site, name):
    write_beside(site, CASES[name])
    _, said = by_check(site)
    done = by_load(site)
    assert done == said
    assert any(log == "replacements" for _, log in done[0])


def two_folders(site, north=WORDS, south=BOTH):
    for folder, words in (("north", north), ("south", south)):
        site.write(f"{folder}/replacements.csv", ROWS)
        if words is not None:
            site.write(f"{folder}/columns.toml", mapping(words))


def told(site):
    """Return what load says of both files, and what check says."""
    notes = {item.note for item in archive.add(site.store, site.logs) if item.note}
    return notes, {file.note for file in check_path(site.logs).files if file.note}


def test_both_name_the_two_files_and_their_mappings(site):
    two_folders(site)
    said = {"north/replacements.csv and south/replacements.csv hold the same content under"
            " different mappings: it is read once, as south/replacements.csv by"
            " south/columns.toml, not by north/columns.toml. Take all but one away, or"
            " give them the same mapping."}
    assert told(site) == (said, said)
    text = check_path(site.logs).text()
    assert next(iter(said)) in text
    assert "replacements.csv: the same content as south/replacements.csv" in text


def test_a_folder_without_a_mapping_is_named_as_such(site):
    two_folders(site, south=None)
    loaded, checked = told(site)
    assert loaded == checked
    assert ("as south/replacements.csv without a columns.toml, not by north/columns.toml"
            in next(iter(loaded)))


def test_nothing_is_said_where_the_mappings_are_the_same(site):
    two_folders(site, WORDS, WORDS)
    assert told(site) == (set(), set())


def test_loading_both_folders_again_changes_nothing(site):
    two_folders(site)
    assert sorted(item.status for item in site.load()) == ["already loaded", "new"]
    before = (site.store / "loads.jsonl").read_bytes()
    assert {item.status for item in site.load()} == {"already loaded"}
    assert (site.store / "loads.jsonl").read_bytes() == before
    assert before.count(b"\n") == 1
