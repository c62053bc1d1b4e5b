"""What the scheme is worth in invented worlds of known truth, each goal beside a world or a
method that must miss it. Larger runs: ``python -m tests.bench.bench_evidence``.
"""

import pytest

from tests.bench import bench_evidence as bench

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def learnt():
    return bench.learning(4)


def test_a_hundred_checklists_teach_much_and_twenty_do_no_harm(learnt):
    assert learnt[100][1] >= 0.4
    assert learnt[20][1] >= -0.02


def test_the_prior_alone_does_not_reach_it(learnt):
    assert learnt[100][0] < 0.4


@pytest.fixture(scope="module")
def habits():
    return bench.habits(5)


def test_a_checklist_passes_the_guard(habits):
    dependent, present, fires = habits["checklist"]
    assert dependent <= 0.05
    assert present < 0.30
    assert fires == 0.0


@pytest.mark.parametrize("habit", ["by suspicion", "when present"])
def test_the_guard_fires_on_other_habits(habits, habit):
    dependent, _, fires = habits[habit]
    assert dependent > 0.10
    assert fires == 1.0


@pytest.fixture(scope="module")
def shaken():
    return bench.shaking(6)


def test_the_cap_keeps_vibration_honest_where_everything_shakes(shaken):
    assert shaken[True, True][1] >= 0.80


def test_without_the_cap_a_shaking_machine_is_blamed(shaken):
    assert shaken[True, False][1] < 0.70


def test_the_cap_costs_little_in_a_usual_world(shaken):
    assert shaken[False, True][2] > shaken[False, False][2] - 0.08


def test_ten_chosen_checks_are_worth_twenty_at_random():
    hits, _ = bench.asking(150)
    assert hits["chosen", 10] >= hits["random", 20] - 0.03
    assert hits["random", 10] < hits["random", 20] - 0.03  # the comparison can fail
