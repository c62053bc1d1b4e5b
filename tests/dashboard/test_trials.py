"""Trials: candidates with worth and size, registered trials, verdicts; one page a trial."""

import csv
import io
import json
import re

import pytest
from plotly.io.json import to_json_plotly

from dashboard.figures.trials import right_choice, running_trial
from dashboard.parts.trial import arms as parts_arms
from dashboard.parts.trial import candidates as parts_trials
from dashboard.parts.trial import plan as parts_trial_plan
from dashboard.parts.trial import rule as parts_trial_rule
from dashboard.parts.trial import watch as parts_trial_watch
from etl.load.columns import LOGS
from tests.dashboard import edition_maker, edition_trials
from tests.dashboard.page_reader import words

NOT_WORDS = re.compile(r"\b(nan|NaN|None|NaT|inf|null|undefined|Traceback)\b")


@pytest.fixture(scope="module")
def made():
    return edition_maker.tables("full")


@pytest.fixture(scope="module")
def text(full):
    return full.text("/trials")


def test_a_candidate_shows_arms_worth_size_and_both_chances(text):
    for part in ("C-316-CP1", "softest that holds 62 bar", "C-321-OP2H", "3.1 times as stiff",
                 "4,200", "6 pairs, 24 months", "80 % chance of choosing rightly",
                 "21 % of showing it", "cannot show it"):
        assert part in text.replace("\u00a0", " ")


def test_groups_that_need_no_trial_say_what_to_do_instead_and_why(text):
    assert "switch without a trial" in text
    assert "too few hoses fail" in text
    assert "A switch is a proposal for a qualified person, not an order" in text


def test_the_cautions_of_a_trial_are_always_there(full):
    for address in ("/trials", "/trials/T-1", "/trials/HD-1%20discharge"):
        shown = full.text(address)
        assert "management of change" in shown
        assert "never trialled" in shown


def test_registered_trials_stand_with_ratio_range_counts_and_state(text):
    shown = text.replace("\u00a0", " ")
    assert "6 of 12 hoses failed, 3.1 expected if alike" in shown
    assert "stiff lasts 1.6 times as long as flexible (0.90 to 2.9)" in shown
    assert "stiff favoured (92 %), not shown" in shown
    assert "next look 30 Nov 2026" in shown


def test_a_decided_trial_leaves_what_is_adopted_and_what_is_left_out(text):
    assert "Adopted" in text
    assert "stiffer outlasts on 31 Mar 2026" in text.replace("\u00a0", " ")


def test_a_plan_shows_rule_size_arms_pairs_and_rows_to_record(full):
    shown = full.text("/trials/HD-1%20discharge").replace("\u00a0", " ")
    for part in ("The rule, to be fixed before the start", "Safety:", "Claim:", "Choice:",
                 "6 pairs of 8 possible pairs, about 26 hoses in all",
                 "74.0 bar allowed at its temperature",
                 "the 24.0 Hz measured there are inside: resonance is possible",
                 "bend or least radius not recorded", "A coin tossed from the number 20260101",
                 "one machine", "one line"):
        assert part in shown, part
    assert not NOT_WORDS.search(shown)


def test_a_running_trial_shows_rule_test_choice_safety_and_mistakes(full):
    shown = full.text("/trials/T-1").replace("\u00a0", " ")
    for part in ("The rule, fixed before the start", "a claim needs more than 3.50 either way",
                 "6 of 13 planned failures seen", "no stop", "limit 12 %",
                 "1 hose of the other construction", "1 removal without a reason",
                 "Nothing is decided"):
        assert part in shown, part
    assert not NOT_WORDS.search(shown)


def test_a_decided_trial_without_pairs_speaks_in_words(full):
    shown = full.text("/trials/T-2")
    assert "No rule was fixed before the start" in shown
    assert "Nothing to look at yet" in shown
    assert not NOT_WORDS.search(shown)


@pytest.mark.parametrize(("address", "status"), [
    ("/trials/T-1", 200), ("/trials/HD-1%20discharge", 200), ("/trials/nothing", 404)])
def test_an_address_of_no_trial_is_not_found(full, address, status):
    assert full.client.get(address).status_code == status


def test_no_page_of_a_trial_stumbles_over_hostile_names(hostile):
    for name in ("T-1", "%3D1%2B1", "a%2Fb%3Fc%3Dd%26e%3Df%23g"):
        shown = hostile.text(f"/trials/{name}")
        assert "could not be shown" not in shown


def test_a_plan_can_be_saved_as_rows_of_the_trials_log(full, made):
    place = made["trial_candidates"][0]["service_point"]
    answer = full.client.get("/download/trials_log.csv", query_string={"candidate": place})
    rows = list(csv.DictReader(io.StringIO(answer.data.decode("utf-8-sig"))))
    assert len(rows) == 12
    assert set(rows[0]) <= set(LOGS["trials"].names)
    assert {name for name in LOGS["trials"].required} <= set(rows[0])
    assert {row["arm"] for row in rows} == {"flexible", "stiff"}


def test_the_rows_of_a_plan_run_no_formula(hostile):
    answer = hostile.client.get("/download/trials_log.csv")
    cells = [cell for row in csv.reader(io.StringIO(answer.get_data(as_text=True))) for cell in row]
    assert any(cell.startswith("'=") for cell in cells)
    assert not any(cell.startswith(("=", "@")) for cell in cells)


def test_the_two_arms_lie_apart_on_the_axis_and_each_failure_is_marked(made):
    state, stays = made["trial_states"][0], made["trial_stays"]
    figure = running_trial(state, stays, made["trial_looks"])
    bars = [trace for trace in figure.data if trace.yaxis == "y2" and trace.mode == "lines"]
    first = {trace.y[0] for trace in bars if "flexible" in trace.hovertext[0]}
    second = {trace.y[0] for trace in bars if "stiff:" in trace.hovertext[0]}
    assert min(first) > max(second)
    failed = [trace for trace in figure.data if trace.mode == "markers"
              and trace.marker.line.width == 3]
    assert len(failed) == sum(stay["is_failure"] for stay in stays)


def test_pairs_stand_in_the_order_of_their_numbers(made):
    stay = made["trial_stays"][0] | {"is_failure": False}
    stays = [stay | {"pair": name, "service_point": name} for name in ("HD-10", "HD-9", "HD-2")]
    block = parts_trial_watch.pairs_block(made["trial_states"][0], stays, None)
    shown = [word for word in words(json.loads(to_json_plotly(block))) if word.startswith("HD-")]
    assert shown[::2] == ["HD-2", "HD-9", "HD-10"]
    figure = running_trial(made["trial_states"][0], stays, made["trial_looks"])
    lane = {note.text: note.y for note in figure.layout.annotations if note.text.startswith("HD-")}
    assert lane["HD-2"] > lane["HD-9"] > lane["HD-10"]


def test_the_planned_size_is_drawn_among_at_most_four(made):
    place = made["trial_candidates"][0]["service_point"]
    sizes = [row for row in made["trial_sizes"] if row["service_point"] == place]
    figure = right_choice(sizes, 0.9)
    assert sum(trace.mode == "lines" for trace in figure.data) <= 4
    assert any("the plan" == note.text for note in figure.layout.annotations)


def test_a_rule_keeps_every_sentence():
    block = str(parts_trial_rule.rule_block(edition_trials.RULE, is_planned=True))
    assert "The trial is not made longer" in block
    assert block.count("Li(") == 3


def test_no_failure_is_said_in_words():
    row = {"first_hoses": 0, "first_arm": "a"}
    assert parts_arms.arm_counts(row, "first") == "no hose yet"


def test_a_stop_of_an_ended_trial_is_told_as_past():
    row = {"early_failure_limit": 0.1, "first_arm": "a", "second_arm": "b", "first_early": 4.0,
           "second_early": 0.0, "first_hoses": 26, "second_hoses": 16, "stopped_arm": "a",
           "is_running": False, "is_hazardous": True}
    said = parts_trial_watch._safety(row).replace("\u00a0", " ")
    assert said.startswith("would have stopped the a arm; early failures: a 4 of 26 hoses, b")
    assert said.endswith("in this service the first one stops an arm")
    assert parts_trial_watch._safety(row | {"is_running": True}).startswith("stop the a arm")


def test_a_range_of_another_figure_is_not_put_beside_it():
    assert parts_trials.is_within(1.0, 0.5, 2.0)
    assert not parts_trials.is_within(1.0, 1.5, 2.0)
    assert not parts_trials.is_within(None, 0.5, 2.0)


def test_a_plan_not_worth_its_cost_says_so():
    row = {"n_pairs": 6, "flexible_construction": "A", "stiff_construction": "B", "months": 24,
           "right_choice_probability": 0.9, "verdict": "not worth a trial", "value": -5.0,
           "value_unit": "failures"}
    assert "not worth a trial" in "".join(map(str, parts_trial_plan.sentence(row, "GBP")))
