"""What teardown evidence is worth in invented worlds, and what it costs.

Run: ``python -m tests.bench.bench_evidence [sites]``, default 5 sites of 2,000 judged cases each.
Truth follows the table of weights but for errors, so every method that starts from the table is
favoured: this measures methods against each other, not the table. Vibration is 15 % of all
failures unless said otherwise; the worth of calling it depends much on that share. Each line
prints what was found and, in brackets, what is wanted.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from etl.decide.evidence.findings import (
    EvidenceTable,
    contributions,
    coverage,
    log_site_prior,
    posterior,
    with_prevalence_cap,
)
from etl.decide.evidence.learn import checking_habit, learn_weights
from etl.decide.evidence.level import judge
from etl.decide.evidence.next import next_checks
from tests.decide.evidence_world import (
    VIBRATION,
    make_cases,
    make_site,
    metal_rules,
    metal_table,
    scores_of,
)

N_JUDGED = 2000
TABLE = metal_table()
N_MECHANISMS = len(TABLE.mechanisms)


def log_score(probability, truth):
    """Return the mean log probability of the truth."""
    return float(np.log(probability[np.arange(truth.size), truth]).mean())


def learning(n_sites, spread=0.8):
    """Return gains in log score over the table, by number of confirmed cases."""
    gains = {20: [], 100: [], 500: []}
    for seed in range(n_sites):
        rng = np.random.default_rng((1, seed))
        site = make_site(TABLE, rng, spread=spread)
        judged, truth = make_cases(site, rng, N_JUDGED)
        flat = log_score(posterior(scores_of(TABLE, judged), np.zeros(N_MECHANISMS)), truth)
        for n, found in gains.items():
            states, confirmed = make_cases(site, rng, n)
            prior = log_site_prior(np.bincount(confirmed, minlength=N_MECHANISMS))
            learnt = learn_weights(TABLE, states, confirmed)
            own = np.concatenate([learnt.contributions(judged[at:at + 400]).sum(axis=1)
                                  for at in range(0, N_JUDGED, 400)])
            by_prior = log_score(posterior(scores_of(TABLE, judged), prior), truth)
            found.append((by_prior - flat, log_score(posterior(own, prior), truth) - flat))
    return {n: np.mean(found, axis=0) for n, found in gains.items()}


def habits(n_sites):
    """Return how often the guard fires under each habit, with 300 confirmed cases."""
    found = {}
    for habit in ("checklist", "by suspicion", "when present"):
        seen = []
        for seed in range(n_sites):
            rng = np.random.default_rng((2, seed))
            states, confirmed = make_cases(make_site(TABLE, rng), rng, 300, habit)
            seen.append(checking_habit(states, confirmed, N_MECHANISMS))
        found[habit] = (np.mean([item.dependent_share for item in seen]),
                        np.mean([item.present_share for item in seen]),
                        np.mean([not item.is_checklist for item in seen]))
    return found


def called(table: EvidenceTable, states, truth):
    """Return how often vibration leads 3 to 1, how often rightly, and the share found."""
    vibration = table.mechanisms.index("vib_fatigue")
    p = posterior(scores_of(table, states), np.zeros(N_MECHANISMS))
    others = np.delete(p, vibration, axis=1).max(axis=1)
    is_called = p[:, vibration] >= 3.0 * others
    is_right = truth == vibration
    right = is_right[is_called].mean() if is_called.any() else np.nan
    return is_called.mean(), right, is_called[is_right].mean()


def shaking(n_sites, n_unlabelled=50, vibration=VIBRATION):
    """Return what calling vibration is worth where every machine shakes, without and with cap."""
    rows = {(world, cap): [] for world in (False, True) for cap in (False, True)}
    for seed in range(n_sites):
        for world in (False, True):
            rng = np.random.default_rng((3, seed, world))
            site = make_site(TABLE, rng, everything_shakes=world, vibration=vibration)
            known, _ = make_cases(site, rng, n_unlabelled)
            states, truth = make_cases(site, rng, 2 * N_JUDGED)
            capped = with_prevalence_cap(TABLE, (known == 1).sum(axis=0), (known != 0).sum(axis=0))
            rows[world, False].append(called(TABLE, states, truth))
            rows[world, True].append(called(capped, states, truth))
    return {key: np.nanmean(value, axis=0) for key, value in rows.items()}


def levels(n_sites, vibration=VIBRATION):
    """Return what the rule of exclusion and the posterior of 0.80 are worth, with the cap."""
    rules, found = metal_rules(), {}
    for world in (False, True):
        called_right, sure = [], []
        for seed in range(n_sites):
            rng = np.random.default_rng((5, seed, world))
            site = make_site(TABLE, rng, everything_shakes=world, vibration=vibration)
            known, _ = make_cases(site, rng, 50)
            states, truth = make_cases(site, rng, 500)
            table = with_prevalence_cap(TABLE, (known == 1).sum(axis=0), (known != 0).sum(axis=0))
            p = posterior(scores_of(table, states), np.zeros(N_MECHANISMS))
            covered = coverage(table, states)
            column = TABLE.mechanisms.index("vib_fatigue")
            for case in np.flatnonzero(p.argmax(axis=1) == column):
                level = judge(table, rules, states[case], p[case], covered[case],
                              TABLE.mechanisms, TABLE.findings).level
                if level in ("supported", "confirmed"):
                    called_right.append(truth[case] == column)
            is_sure = p.max(axis=1) >= 0.80
            sure += list(p.argmax(axis=1)[is_sure] == truth[is_sure])
        found[world] = (len(called_right) / (500 * n_sites), np.mean(called_right),
                        len(sure) / (500 * n_sites), np.mean(sure))
    return found


def asking(n_cases=300):
    """Return hit rates after 10 and 20 checks at random, and after 10 well-chosen ones."""
    rng = np.random.default_rng(4)
    hits = {("random", 10): 0, ("random", 20): 0, ("chosen", 10): 0}
    flat = np.zeros(N_MECHANISMS)
    spent = 0.0
    for _ in range(n_cases):
        site = make_site(TABLE, rng)
        full, truth = make_cases(site, rng, 1, "everything")
        order = rng.permutation(len(TABLE.findings))
        for n in (10, 20):
            states = np.zeros_like(full)
            states[0, order[:n]] = full[0, order[:n]]
            hits["random", n] += judged_right(states, truth[0], flat)
        states = np.zeros_like(full)
        for _ in range(10):
            start = time.process_time()
            p = posterior(contributions(TABLE, states).sum(axis=1), flat)[0]
            chosen = next_checks(TABLE, states[0], p, 1, per_effort=False)
            spent += time.process_time() - start
            states[0, chosen] = full[0, chosen]
        hits["chosen", 10] += judged_right(states, truth[0], flat)
    return {key: value / n_cases for key, value in hits.items()}, 1e3 * spent / (10 * n_cases)


def judged_right(states, truth, prior):
    """Tell whether the truth leads; a tie counts as its share."""
    p = posterior(contributions(TABLE, states).sum(axis=1), prior)[0]
    leads = p > p.max() - 1e-12
    return float(leads[truth]) / leads.sum()


def main() -> None:
    """Print every figure beside what is wanted."""
    n_sites = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    for n, (by_prior, learnt) in learning(n_sites).items():
        wanted = {20: ">= -0.02", 100: ">= 0.40", 500: "more"}[n]
        print(f"learnt from {n:3d} confirmed: log score {learnt:+.2f} against the table "
              f"[{wanted}]; prior alone {by_prior:+.2f}")
    for habit, (dependent, present, fires) in habits(n_sites).items():
        wanted = "at most 5 % dependent" if habit == "checklist" else "fires always"
        print(f"checking {habit}: {dependent:.0%} of findings depend on the mechanism, "
              f"{present:.2f} of checks present, guard fires in {fires:.0%} [{wanted}]")
    for (world, cap), (share, right, power) in shaking(n_sites).items():
        wanted = {(True, True): ">= 0.80", (True, False): "fails: < 0.70"}.get((world, cap), "-")
        print(f"{'everything shakes' if world else 'usual world'}, {'cap' if cap else 'no cap'}: "
              f"vibration called in {share:.3f}, right {right:.2f} [{wanted}], found {power:.2f}")
    for world, (share, right, sure, sure_right) in levels(2 * n_sites).items():
        print(f"{'everything shakes' if world else 'usual world'}: vibration supported in "
              f"{share:.4f}, right {right:.2f} [>= 0.85]; posterior of 0.80 in {sure:.3f}, right "
              f"{sure_right:.2f} [>= 0.80]")
    print("Where vibration is no commoner than any other mechanism (6 %), no goal set:")
    for (world, cap), (share, right, power) in shaking(n_sites, vibration=1.0).items():
        print(f"{'everything shakes' if world else 'usual world'}, {'cap' if cap else 'no cap'}: "
              f"vibration called in {share:.3f}, right {right:.2f}, found {power:.2f}")
    for world, (share, right, sure, sure_right) in levels(2 * n_sites, vibration=1.0).items():
        print(f"{'everything shakes' if world else 'usual world'}: vibration supported in "
              f"{share:.4f}, right {right:.2f}; posterior of 0.80 in {sure:.3f}, right "
              f"{sure_right:.2f}")
    hits, cost = asking()
    print(f"hits after 10 chosen checks {hits['chosen', 10]:.2f} "
          f"[>= {hits['random', 20] - 0.03:.2f}]; at random 10: "
          f"{hits['random', 10]:.2f}, 20: {hits['random', 20]:.2f}; one case {cost:.1f} ms [<= 10]")


if __name__ == "__main__":
    main()
